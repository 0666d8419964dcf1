#!/usr/bin/env bash
# All kept selections of a register judged by a data folder, in four parts by GNU parallel, two at once; then one report:
#   tests/examples/regenerate.sh register matrices out/regenerate
# A part that failed or was ended may be run again by itself: what it had finished it leaves alone.
set -euo pipefail
register="$1"
data="$2"
out="$3"

parallel --jobs 2 --halt never \
    lapwise regenerate --register "$register" --data "$data" --part {}/4 --jobs 1 -o "$out" ::: 1 2 3 4

lapwise gather "$out"/regenerate-*-of-4.json --data "$data" --report "$out"
