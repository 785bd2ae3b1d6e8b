#!/bin/bash
# Times the sweep of an hour (108,000 poses, 20 m2, 5 mm cells, passes counted)
# against OpenCV's fillConvexPoly, which merely sets the same cells, and against
# an exact polygon union, in turn on one core, and prints the ratios of processor time.
# The sweep starts from the path's samples, fillConvexPoly from quadrilaterals made
# beforehand. It is timed in memory that it has used before, as in a Monte Carlo's
# hundreds of sweeps, and, for what it is worth, in fresh memory.
#
#   bash cmd/bench-sweep.sh [ROUNDS]      default 5; the least time of each counts
set -euo pipefail
cd "$(dirname "$0")/.."
rounds=${1:-5}
. cmd/cvenv.sh
need_debian && need_go && need_packages $cv_packages

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export SWATHE_QUADS="$work/quads"
export GOMAXPROCS=1

CGO_ENABLED=0 go test -c -o "$work/coverage" ./coverage
go test -c -tags customenv -o "$work/oracle" ./track/cv/oracle
(cd coverage && "$work/coverage" -test.run '^TestWriteHourQuads$' >/dev/null)

for _ in $(seq "$rounds"); do
  (cd coverage && "$work/coverage" -test.run '^$' -test.bench '^BenchmarkSweep$/hour/room/cell/path=straight' -test.benchmem)
  (cd track/cv/oracle && "$work/oracle" -test.run '^$' -test.bench '^BenchmarkFillConvexPoly$')
done | tee "$work/out"
(cd coverage && "$work/coverage" -test.run '^$' -test.bench '^BenchmarkExactUnion$' -test.benchtime 1x) | tee -a "$work/out"

# The least nanoseconds of processor time a pose of each, and what others take of ours.
awk '
  /^Benchmark/ {
    name = $1; sub(/-[0-9]+$/, "", name)
    if (name ~ /again=no$/) name = "fresh"; else sub(/\/.*/, "", name)
    for (i = 2; i < NF; i++) if ($(i + 1) == "cpu-ns/pose" && (!(name in best) || $i + 0 < best[name])) best[name] = $i + 0
    for (i = 2; i < NF; i++) if (name == "fresh" && $(i + 1) == "B/op") bytes = $i
  }
  END {
    ours = best["BenchmarkSweep"]
    if (!ours || !best["fresh"] || !best["BenchmarkFillConvexPoly"] || !best["BenchmarkExactUnion"]) { print "a benchmark gave no figure" > "/dev/stderr"; exit 1 }
    printf "\nsweep, passes counted: %.1f ms an hour (in fresh memory %.1f ms), %.1f MB\n", ours * 108000 / 1e6, best["fresh"] * 108000 / 1e6, bytes / 1e6
    printf "fillConvexPoly:        %.1f ms an hour, %.2f x ours\n", best["BenchmarkFillConvexPoly"] * 108000 / 1e6, best["BenchmarkFillConvexPoly"] / ours
    printf "exact union:           %.0f ms an hour, %.0f x ours\n", best["BenchmarkExactUnion"] * 108000 / 1e6, best["BenchmarkExactUnion"] / ours
  }' "$work/out"
