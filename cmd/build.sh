#!/usr/bin/env bash
# Builds the programs into DIR, installing what is missing (Debian 12).
#   bash cmd/build.sh DIR            swathe, swathe-eye and swathe-parquet
#   bash cmd/build.sh DIR --store    also swathe-store, for workers that have their
#                                    recordings from an object store
set -euo pipefail
if [ $# -lt 1 ] || [ $# -gt 2 ] || [ "${2:---store}" != --store ]; then
  echo "Usage: bash cmd/build.sh DIR [--store]" >&2
  exit 2
fi
mkdir -p "$1"
dir=$(cd "$1" && pwd)
cd "$(dirname "$0")/.."
. cmd/cvenv.sh
need_go
need_debian
need_packages $cv_packages

echo "Building swathe and swathe-parquet" >&2
CGO_ENABLED=0 go build -o "$dir/swathe" ./cmd/swathe
CGO_ENABLED=0 go build -ldflags "-s -w" -o "$dir/swathe-parquet" ./cmd/swathe-parquet
echo "Building swathe-eye (the first time takes some minutes: OpenCV's binding is compiled)" >&2
go build -tags customenv -o "$dir/swathe-eye" ./cmd/swathe-eye
built="$dir/swathe $dir/swathe-eye $dir/swathe-parquet"
if [ "${2:-}" = --store ]; then
  echo "Building swathe-store" >&2
  CGO_ENABLED=0 go build -ldflags "-s -w" -o "$dir/swathe-store" ./cmd/swathe-store
  built="$built $dir/swathe-store"
fi
echo "Built: $built" >&2
