#!/usr/bin/env bash
# Remakes the pictures of the README: tests/pictures/remake.sh [LAPWISE]; needs pdftoppm (poppler-utils) and chromium.
set -euo pipefail
cd "$(dirname "$0")/../.."
lapwise=$(realpath "${1:-target/release/lapwise}")
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT

"$lapwise" dossier Q-101 -o "$work" >/dev/null
pdftoppm -r 63 -png -f 1 -l 1 -singlefile "$work/Q-101_draft.pdf" tests/pictures/dossier
"$lapwise" matrix Q-101 --format html -o "$work/findings.html"
chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --user-data-dir="$work/browser" \
    --window-size=1040,600 --screenshot="$work/findings.png" "file://$work/findings.html" 2>/dev/null
mv "$work/findings.png" tests/pictures/findings.png
ls -l tests/pictures/*.png
