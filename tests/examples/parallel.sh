#!/usr/bin/env bash
# The dossiers of all enquiries of a data folder in four parts by GNU parallel, two at once, then the reports joined:
#   tests/examples/parallel.sh matrices out
# A part that failed may be run again by itself; `parallel --sshlogin` spreads the parts over machines that see the folder.
set -euo pipefail
data="$1"
out="$2"
mkdir -p "$out/reports"

parallel --jobs 2 --halt never \
    lapwise dossier --all --data "$data" --part {}/4 --jobs 1 -o "$out" --json ">" "$out/reports/part-{}.json" ::: 1 2 3 4

lapwise gather "$out"/reports/part-*.json -o "$out/all.json"
