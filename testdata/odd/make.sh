#!/usr/bin/env bash
# Makes the recordings of this folder anew, out of maple's and out of nothing.
#   bash testdata/odd/make.sh
# Needs ffmpeg. The bytes depend on its version: the files that the tests use
# are the ones that are kept here, with their hashes in testdata/README.md.
set -euo pipefail
cd "$(dirname "$0")"
src=../maple/recordings/cluttered/siskin_mapped_1.mp4
out=recordings/cluttered
mkdir -p $out
ff() { ffmpeg -hide_banner -loglevel error -nostdin -y "$@"; }
x264="-c:v libx264 -preset medium -crf 35 -pix_fmt yuv420p"

# Eight seconds of driving, cut from maple; the others are made of the same.
from=20 long=8
clip="-ss $from -t $long -i $src -an"
ff $clip $x264 -g 30 -movflags +faststart $out/siskin_mapped_1.mp4
one=$out/siskin_mapped_1.mp4

# Containers and codecs.
ff -i $one -c copy $out/siskin_mapped_2.mov
ff -i $one -c copy $out/siskin_mapped_3.mkv
ff $clip -c:v mpeg4 -q:v 14 -g 30 $out/siskin_mapped_4.avi
ff $clip -c:v libvpx-vp9 -crf 45 -b:v 0 -g 30 -cpu-used 4 $out/siskin_mapped_5.webm
ff $clip -c:v libx265 -preset medium -crf 36 -g 30 -x265-params log-level=error -pix_fmt yuv420p10le -tag:v hvc1 $out/siskin_mapped_6.mp4

# What cameras do: stored upside down with the rotation in the container,
# uneven frame times (frames left out here and there,
# the others at their own times), interlaced fields.
ff $clip -vf hflip,vflip $x264 -g 30 upside.mp4
ff -display_rotation 180 -i upside.mp4 -c copy $out/siskin_mapped_7.mp4 2>/dev/null ||
  ff -i upside.mp4 -c copy -metadata:s:v rotate=180 $out/siskin_mapped_7.mp4
rm upside.mp4
ff $clip -vf "select='not(eq(mod(n,5),1)+eq(mod(n,7),3))'" -vsync vfr $x264 -g 30 $out/siskin_mapped_8.mp4
ff $clip $x264 -g 30 -x264opts tff $out/siskin_mapped_9.mp4

# A recording that the camera split.
ff -ss $from -t 4 -i $src -an $x264 -g 30 $out/siskin_mapped_10_part1.mp4
ff -ss $((from + 4)) -t 4 -i $src -an $x264 -g 30 $out/siskin_mapped_10_part2.mp4

# Damage: cut short (its index is in front, so the rest still reads), cut short
# before the index at its end was written, and a hole in the middle.
head -c $(($(stat -c %s $one) * 6 / 10)) $one >$out/siskin_mapped_11.mp4
ff -i $one -c copy tail.mp4
head -c $(($(stat -c %s tail.mp4) * 9 / 10)) tail.mp4 >$out/siskin_mapped_12.mp4
rm tail.mp4
cp $one $out/siskin_mapped_13.mp4
size=$(stat -c %s $one)
dd if=/dev/zero of=$out/siskin_mapped_13.mp4 bs=1 seek=$((size * 42 / 100)) count=12000 conv=notrunc status=none

# No video at all.
: >$out/siskin_mapped_14.mp4
ff -f lavfi -i color=gray:s=960x540 -frames:v 1 picture.png
mv picture.png $out/siskin_mapped_15.mp4
echo "This is a note about a recording, not a recording." >$out/siskin_mapped_16.mov
ff -f lavfi -i sine=frequency=440:duration=3 -c:a aac -b:a 32k $out/siskin_mapped_17.mp4

# Videos that are no run: another frame size, a room without a robot, a robot
# that never moves, a camera that is knocked, a name that says nothing.
ff $clip -t 3 -vf scale=640:360 $x264 $out/siskin_mapped_18.mp4
ff -f lavfi -i color=0x8f8a80:s=960x540:r=15:d=6 -vf noise=alls=6:allf=t $x264 -crf 38 $out/siskin_mapped_19.mp4
ff -ss 174 -i $src -an $x264 -g 30 $out/siskin_mapped_20.mp4
ff -ss $from -t 9 -i $src -an -vf "split[a][b];[a]trim=end=3,setpts=PTS-STARTPTS[a];[b]trim=start=3,setpts=PTS-STARTPTS,crop=iw-60:ih-40:60:40,pad=960:540:0:0[b];[a][b]concat" $x264 -g 30 $out/siskin_mapped_21.mp4
ff -ss $from -t 2 -i $src -an $x264 $out/holiday.mp4
