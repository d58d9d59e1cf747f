#!/usr/bin/env bash
# Measures where updates and next steps spend their time on three arrangements that
# differ most, and writes it where the compiler looks for it.
set -euo pipefail
to="$1"
scratch="$(mktemp -d)"
trap 'rm -rf "$scratch"' EXIT
"$GO" build -o "$scratch/bench" ./internal/bench
for system in isolated-earth-side split-charge coach-24; do
    "$scratch/bench" -only speed -system "$system" -cpuprofile "$scratch/$system.prof"
done
"$GO" tool pprof -proto "$scratch"/*.prof > "$scratch/all"
mv "$scratch/all" "$to"
