#!/usr/bin/env bash
# The C reader of recordings, built with the compiler's checks of addresses and of
# undefined behaviour, is fed recordings that were damaged at random.
#   bash cmd/hostile.sh TIMES [SEED]    TIMES damaged files of each of mp4, mkv, avi
set -euo pipefail
cd "$(dirname "$0")/.."
[ $# -ge 1 ] || { sed -n '2,4s/^# \{0,1\}//p' "$0" >&2; exit 2; }
. cmd/cvenv.sh
need_packages $cv_packages ffmpeg
seed=${2:-$(date +%s)}
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
echo "seed $seed"
# shellcheck disable=SC2046 # a list of flags
cc -Wall -Wextra -g -O1 -fsanitize=address,undefined -fno-sanitize-recover=undefined -o "$dir/hostile" track/cv/testdata/hostile.c track/cv/reader.c \
  $(pkg-config --cflags --libs libavformat libavcodec libavutil libswscale) -lm
film=$(ls testdata/maple/recordings/cluttered/*.mp4 | head -1)
for kind in mp4 mkv avi; do
  codec="-c:v libx264 -preset ultrafast"
  [ $kind != avi ] || codec="-c:v mpeg4"
  ffmpeg -nostdin -v error -t 3 -i "$film" -an -vf scale=480:-2 $codec "$dir/good.$kind"
  ASAN_OPTIONS=detect_leaks=1:allocator_may_return_null=1:quarantine_size_mb=16:exitcode=99 \
    "$dir/hostile" "$dir/good.$kind" "$seed" "$1" "$dir/bad.$kind"
done
