#!/usr/bin/env bash
# Holds the time that measuring a recording takes against what decoding it alone
# takes (ffmpeg -i FILE -f null -), on this machine, in turn.
#   bash cmd/speed.sh [SECONDS [ROUNDS]]     default 600 s of recording, 1 round
#   bash cmd/speed.sh 14400                  four hours
# Three recordings of the demonstration's scene are made, 1280 x 720 at 15 and
# 1920 x 1080 at 30 frames a second, and the latter once more as most cameras write it,
# without B-frames (-noB), so that every frame must be decoded: one short run from the dock to the dock is
# drawn, and looped without being encoded again. Prints the ratios of wall time and of processor time, and
# the greatest memory of swathe with the eye, each process by itself.
# SWATHE_SPEED_SIZES="1280x720x15 ..." makes others, SWATHE_SPEED_DIR=DIR keeps them.
set -euo pipefail
cd "$(dirname "$0")/.."
seconds=${1:-600} rounds=${2:-1}
. cmd/cvenv.sh
need_go && need_debian && need_packages $cv_packages ffmpeg time
work=${SWATHE_SPEED_DIR:-$(mktemp -d)}
[ -n "${SWATHE_SPEED_DIR:-}" ] || trap 'rm -rf "$work"' EXIT
mkdir -p "$work"
bash cmd/build.sh "$work/bin"

for size in ${SWATHE_SPEED_SIZES:-1280x720x15 1920x1080x30 1920x1080x30-noB}; do
  lab=$work/$size
  drawn=$work/${size%-noB}
  if [ ! -f "$drawn/lab.yaml" ]; then
    echo "Drawing the recording of ${size%-noB}" >&2
    SWATHE_EYE="$work/bin/swathe-eye" SWATHE_SPEED_LAB="$drawn" SWATHE_SPEED_SIZE=${size%-noB} \
      CGO_ENABLED=0 go test ./track/scene -count 1 -run '^TestMakeSpeedLab$' -timeout 60m >&2
  fi
  if [ ! -f "$lab/lab.yaml" ]; then
    mkdir -p "$lab"
    ffmpeg -v error -y -i "$drawn/short.mp4" -c:v libx264 -bf 0 "$lab/short.mp4"
    cp "$drawn/lab.yaml" "$lab/lab.yaml"
  fi
  short=$lab/short.mp4 long=$lab/recordings/empty/rowan_mapped_1.mp4
  mkdir -p "$(dirname "$long")"
  ffmpeg -v error -y -stream_loop -1 -i "$short" -t "$seconds" -c copy "$long"
  for _ in $(seq "$rounds"); do
    for what in ffmpeg swathe; do
      case $what in
        ffmpeg) call=(ffmpeg -v error -i "$long" -f null -) ;;
        swathe) call=("$work/bin/swathe" measure "$lab" --again) ;;
      esac
      /usr/bin/time -f '%e %U %S %M' -o "$work/time" "${call[@]}" >"$work/said" 2>&1 || { cat "$work/said" >&2; exit 1; }
      echo "$size $what $(cat "$work/time")"
    done
  done
done | tee "$work/times" >&2

# The least of each over the rounds.
awk -v seconds="$seconds" '
  { k = $1 " " $2; c = $4 + $5
    if (!(k in wall) || $3 < wall[k]) wall[k] = $3
    if (!(k in cpu) || c < cpu[k]) cpu[k] = c
    if ($6 > mem[k]) mem[k] = $6
    if (!($1 in seen)) { seen[$1] = 1; order[++n] = $1 } }
  END {
    printf "%-17s %22s %22s %8s %8s %20s\n", seconds " s of", "ffmpeg, wall / CPU", "swathe, wall / CPU", "wall x", "CPU x", "peak of a process"
    for (i = 1; i <= n; i++) { f = order[i] " ffmpeg"; s = order[i] " swathe"
      printf "%-17s %10.1f s / %6.1f s %10.1f s / %6.1f s %8.2f %8.2f %17.0f MB\n", order[i],
        wall[f], cpu[f], wall[s], cpu[s], wall[s] / wall[f], cpu[s] / cpu[f], mem[s] / 1024 }
  }' "$work/times"
