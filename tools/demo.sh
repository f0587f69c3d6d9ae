#!/bin/sh
# The main job on the shipped notebook: print the plan, write the job sheet and the V, say where they are.
#
#   tools/demo.sh [PIECE]     what to exchange (default: keyboard)
set -eu
cd "$(dirname "$0")/.."
piece=${1:-keyboard}
out=out
lastscrew() { .venv/bin/python -m lastscrew "$@"; }

mkdir -p "$out"
device=$out/notebook.device.yaml
sheet=$out/notebook-$piece-sheet.pdf
drawing=$out/notebook-$piece-v.svg

lastscrew demo notebook --output "$device" --force
lastscrew check "$device"
lastscrew plan "$device" --replace "$piece"
lastscrew sheet "$device" --replace "$piece" --output "$sheet"
lastscrew draw "$device" --replace "$piece" --output "$drawing"

# What was promised is there and is what it claims to be.
head -c 5 "$sheet" | grep -q '%PDF-' || { echo "no PDF was written to $sheet" >&2; exit 1; }
grep -q '</svg>' "$drawing" || { echo "no SVG was written to $drawing" >&2; exit 1; }

echo
echo "The device file    $device"
echo "The job sheet      $sheet"
echo "The V              $drawing"
