# shellcheck shell=bash disable=SC2034 # what is set here is used by who sources it
# Sourced, not run: the compiler settings under which the Go binding of OpenCV
# (gocv) builds against Debian's packages, and the list of those packages.
#
#   . cmd/cvenv.sh && go build -tags customenv ./cmd/swathe-eye

# Only the modules that gocv names, instead of the metapackage libopencv-dev,
# which installs some 300 MB more; libopencv-contrib-dev is for markers (aruco),
# the libav ones read and write recordings, the certificates let Go fetch modules.
cv_packages="ca-certificates g++ pkg-config libopencv-core-dev libopencv-imgproc-dev libopencv-imgcodecs-dev
libopencv-videoio-dev libopencv-video-dev libopencv-calib3d-dev libopencv-features2d-dev
libopencv-objdetect-dev libopencv-highgui-dev libopencv-dnn-dev libopencv-photo-dev
libopencv-ml-dev libopencv-stitching-dev libopencv-contrib-dev
libavformat-dev libavcodec-dev libavutil-dev libswscale-dev"

# What the tests need beyond that: chessboard pictures with published
# intrinsics, a second encoder and decoder, a browser without a window, a
# database for the queue of several machines, a check of the scripts, and second
# readers of PDF.
test_packages="opencv-doc ffmpeg chromium postgresql shellcheck qpdf ghostscript poppler-utils curl"

export CGO_ENABLED=1
export CGO_CPPFLAGS="-I/usr/include/opencv4"
export CGO_CXXFLAGS="--std=c++11"
export CGO_LDFLAGS="-lopencv_core -lopencv_imgproc -lopencv_imgcodecs -lopencv_videoio -lopencv_video -lopencv_calib3d -lopencv_features2d -lopencv_objdetect -lopencv_highgui -lopencv_dnn -lopencv_photo -lopencv_stitching -lopencv_aruco"

# missing_packages PACKAGE... prints those that are not installed.
missing_packages() {
  for p in "$@"; do
    [ "$(dpkg-query -W -f '${db:Status-Status}' "$p" 2>/dev/null)" = installed ] || printf '%s ' "$p"
  done
}

# need_packages PACKAGE... installs what is missing, by apt, as root or by sudo.
# A second time it asks dpkg alone and touches no network.
need_packages() {
  local missing
  missing=$(missing_packages "$@")
  [ -z "$missing" ] && return 0
  local as_root=""
  if [ "$(id -u)" != 0 ]; then
    if ! command -v sudo >/dev/null; then
      echo "These packages are missing: $missing" >&2
      echo "Install them as root (apt-get install $missing) and try again." >&2
      return 1
    fi
    as_root=sudo
  fi
  echo "Installing: $missing" >&2
  # --no-remove: a dependency that would take something away is a reason to stop.
  $as_root apt-get update -qq >&2 &&
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends --no-remove $missing >&2 || {
    echo "apt could not install: $missing" >&2
    return 1
  }
}

# need_debian stops on any system whose OpenCV is not the one that gocv fits.
need_debian() {
  local id="" version=""
  if [ -r /etc/os-release ]; then
    id=$(. /etc/os-release && echo "${ID:-}")
    version=$(. /etc/os-release && echo "${VERSION_ID:-}")
  fi
  if [ "$id" != debian ] || [ "$version" != 12 ]; then
    cat >&2 <<EOF
This script installs and builds on Debian 12 (this is ${id:-unknown} ${version}).
Elsewhere, install by hand:
  Go 1.26 or newer, a C++ compiler, pkg-config,
  OpenCV 4.6 with its headers: core, imgproc, imgcodecs, videoio, video, calib3d,
  features2d, objdetect, highgui, dnn, photo, ml, stitching, aruco,
  and the headers of FFmpeg 5 (libavformat, libavcodec, libavutil, libswscale);
then build with the settings of cmd/cvenv.sh:
  CGO_ENABLED=0 go build -o DIR/swathe ./cmd/swathe
  . cmd/cvenv.sh && go build -tags customenv -o DIR/swathe-eye ./cmd/swathe-eye
EOF
    return 1
  fi
}

# need_go stops when there is no Go, or one too old.
need_go() {
  if ! command -v go >/dev/null; then
    echo "Go is missing. Install Go 1.26 or newer (go.dev/dl) and put it on PATH." >&2
    return 1
  fi
}
