#!/usr/bin/env bash
# Fails when go generate changes a file: then what is checked in is stale. The
# slow tables (directives that name tablegen) are left out; their own test
# compares their header and a sample.
set -euo pipefail
cd "$(dirname "$0")/.."

state() { # a line per file that git knows or would take, with its hash
	git ls-files -z --cached --others --exclude-standard | sort -zu |
		while IFS= read -r -d '' f; do if [ -f "$f" ]; then printf '%s\0' "$f"; fi; done |
		xargs -0 sha256sum
}

before="$(state)"
"${GO:-go}" generate -skip tablegen ./...
after="$(state)"
if [ "$before" != "$after" ]; then
	echo "go generate changed these files (-before +after); look at them and keep them with the change:"
	diff <(echo "$before") <(echo "$after") | sed -n 's/^< [0-9a-f]* */-/p; s/^> [0-9a-f]* */+/p'
	exit 1
fi
