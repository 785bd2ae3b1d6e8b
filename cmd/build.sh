#!/usr/bin/env bash
# Builds the programs into DIR, installing what is missing (Debian 12).
#   bash cmd/build.sh DIR
set -euo pipefail
if [ $# -ne 1 ]; then
  echo "Usage: bash cmd/build.sh DIR" >&2
  exit 2
fi
mkdir -p "$1"
dir=$(cd "$1" && pwd)
cd "$(dirname "$0")/.."
. cmd/cvenv.sh
need_go
need_debian
need_packages $cv_packages

echo "Building swathe" >&2
CGO_ENABLED=0 go build -o "$dir/swathe" ./cmd/swathe
echo "Building swathe-eye (the first time takes some minutes: OpenCV's binding is compiled)" >&2
go build -tags customenv -o "$dir/swathe-eye" ./cmd/swathe-eye
echo "Built: $dir/swathe $dir/swathe-eye" >&2
