#!/usr/bin/env bash
# Builds swathe, makes a demonstration lab in demo/ and measures it.
#   bash cmd/demo.sh
# A second time, only what has changed is built and measured.
set -euo pipefail
cd "$(dirname "$0")/.."
bash cmd/build.sh bin
start=$SECONDS
if [ ! -f demo/lab.yaml ]; then
  bin/swathe demo demo
fi
bin/swathe measure demo
echo "Made and measured in $((SECONDS - start)) s."
echo
echo "The figures and pictures of each run:"
for run in demo/results/*/*/; do
  for picture in passes path curve; do
    [ -f "$run$picture.png" ] && echo "  $run$picture.png"
  done
done
