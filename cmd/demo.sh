#!/usr/bin/env bash
# Builds swathe, makes a demonstration lab in demo/, measures it and sets the
# figures beside the truth that the recordings were drawn with.
#   bash cmd/demo.sh
# A second time, only what has changed is built and measured.
set -euo pipefail
cd "$(dirname "$0")/.."
bash cmd/build.sh bin
start=$SECONDS
if [ ! -f demo/lab.yaml ]; then
  echo "Drawing the demonstration's recordings" >&2
  bin/swathe demo demo
fi
bin/swathe measure demo
echo
echo "Made and measured in $((SECONDS - start)) s."

# field FILE KEY: the first number under that key of a JSON file; the headline
# figures stand first in run.json.
field() { grep -o "\"$2\": *-\?[0-9.eE+-]*" "$1" | head -n 1 | sed 's/.*: *//'; }

echo
echo "Measured, and the truth (share of the open floor; passes over what was cleaned; start and end of the run):"
printf '  %-28s %17s %17s %21s %21s\n' "" "covered" "mean passes" "start" "end"
for run in demo/results/*/*/; do
  name=${run#demo/results/} name=${name%/}
  truth=demo/truth/$name/truth.json
  [ -f "$truth" ] && [ -f "$run/run.json" ] || continue
  for key in covered_share redundancy start_s end_s; do
    echo "$(field "$run/run.json" $key) $(field "$truth" $key)"
  done | awk -v name="$name" '
    { m[NR] = $1; t[NR] = $2 }
    END {
      printf "  %-28s %6.1f %% / %4.1f %%  %7.3f / %6.3f  %8.1f s / %5.1f s  %8.1f s / %5.1f s\n",
        name, 100 * m[1], 100 * t[1], 1 + m[2], 1 + t[2], m[3], t[3], m[4], t[4]
    }'
done

echo
echo "The pictures of each run:"
for run in demo/results/*/*/; do
  for picture in passes path curve; do
    if [ -f "$run$picture.png" ]; then echo "  $run$picture.png"; fi
  done
done
