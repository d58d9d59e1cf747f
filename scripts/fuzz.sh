#!/usr/bin/env bash
# Runs every fuzz target for the given time (default 30s), one after another.
# A find is stored by go test under the package's testdata/fuzz: keep it.
set -euo pipefail
cd "$(dirname "$0")/.."
time="${1:-30s}"
go="${GO:-go}"

targets="$(grep -rl --include='*_test.go' '^func Fuzz' . | xargs -r -n1 dirname | sort -u)"
[ -n "$targets" ] || { echo "no fuzz targets"; exit 0; }

failed=()
for dir in $targets; do
	while read -r name; do
		echo "== $dir $name for $time"
		"$go" test -run '^$' -fuzz "^$name\$" -fuzztime "$time" -fuzzminimizetime 500x "$dir" || failed+=("$dir $name")
	done < <(sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' "$dir"/*_test.go)
done
if [ "${#failed[@]}" -gt 0 ]; then
	printf 'failed: %s\n' "${failed[@]}"
	exit 1
fi
