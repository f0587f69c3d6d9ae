#!/bin/sh
# The main job on the shipped notebook: print the plan, write the job sheet and the V, say where they are.
# Then a service text: audit it (three slips are planted in it), read it into a device file, plan with that.
# At last the bench application with an invented depot, until it is stopped.
#
#   tools/demo.sh [PIECE]          what to exchange (default: keyboard)
#   ONCE=1 tools/demo.sh [PIECE]   fetch a few pages of the bench and stop it
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

text=$out/tarn_14.procedure.md
read_device=$out/tarn_14.device.yaml
audit=$out/tarn_14-audit.html
report=$out/tarn_14-reading.html

echo
lastscrew demo tarn_14 --output "$text" --force
# The slips are errors and warnings: exit code 1 says that the audit found some.
lastscrew audit "$text" --report "$audit" && { echo "the planted slips were not found" >&2; exit 1; }
lastscrew read "$text" --output "$read_device" --report "$report" >/dev/null
lastscrew check "$read_device"
lastscrew plan "$read_device" --replace fan

# What was promised is there and is what it claims to be.
head -c 5 "$sheet" | grep -q '%PDF-' || { echo "no PDF was written to $sheet" >&2; exit 1; }
grep -q '</svg>' "$drawing" || { echo "no SVG was written to $drawing" >&2; exit 1; }

echo
echo "The device file    $device"
echo "The job sheet      $sheet"
echo "The V              $drawing"
echo "The service text   $text"
echo "Its audit          $audit"
echo "How it was read    $report"
echo "Its device file    $read_device"

echo
if [ -n "${ONCE:-}" ]; then
    .venv/bin/python tools/bench_once.py "$out/bench-once"
else
    echo "The bench with an invented depot (Ctrl-C stops it):"
    lastscrew serve --data "$out/bench-data" --demo
fi
