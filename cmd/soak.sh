#!/usr/bin/env bash
# Faults of every kind, again and again, and one line for each kind at the end:
# how often it was tried, survived, and lost something.
#   bash cmd/soak.sh MINUTES
# Every round has its own random seed; what is lost is printed with it.
set -euo pipefail
cd "$(dirname "$0")/.."
[ $# -eq 1 ] && [ "$1" -ge 1 ] 2>/dev/null || { sed -n '2,5s/^# \{0,1\}//p' "$0" >&2; exit 2; }
until=$((SECONDS + 60 * $1))
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
CGO_ENABLED=0 go test -c -o "$dir/swathe.test" ./cmd/swathe
# name | test of cmd/swathe, or a script
kinds=(
  "measure, watch, export, compare killed|TestKilledAnywhere"
  "serve killed|TestServeKilled"
  "workers killed, lab's own queue|TestQueueSurvivesKills/embedded"
  "workers killed, database stopped|TestQueueSurvivesKills/PostgreSQL"
  "swathe-eye crashes; two programs on one lab|TestServeSurvives"
  "disk full|TestServeFullDisk"
  "folder removed, clock set back, recording changed|TestFaults"
  "damaged recordings under the compiler's checks|cmd/hostile.sh"
)
declare -A tried survived
for k in "${kinds[@]}"; do tried[$k]=0 survived[$k]=0; done
lost=0
while [ $SECONDS -lt $until ]; do
  for k in "${kinds[@]}"; do
    [ $SECONDS -lt $until ] || break
    what=${k#*|}
    tried[$k]=$((tried[$k] + 1))
    if case $what in
      cmd/*) bash "$what" 30 >"$dir/said" 2>&1 ;;
      *) (cd cmd/swathe && "$dir/swathe.test" -test.run "^${what/\//\$/^}\$" -test.v -test.timeout 20m) >"$dir/said" 2>&1 ;;
    esac then
      if grep -q -- "--- SKIP" "$dir/said"; then tried[$k]=$((tried[$k] - 1)); else survived[$k]=$((survived[$k] + 1)); fi
    else
      lost=$((lost + 1))
      echo "LOST: ${k%|*}" >&2
      tail -60 "$dir/said" >&2
    fi
  done
done
printf '%-52s %6s %9s %5s\n' "fault" tried survived lost
for k in "${kinds[@]}"; do
  printf '%-52s %6d %9d %5d\n' "${k%|*}" "${tried[$k]}" "${survived[$k]}" $((tried[$k] - survived[$k]))
done
[ $lost -eq 0 ]
