#!/usr/bin/env bash
# Installs what the tests need (Debian 12) and runs them all.
#   bash cmd/test.sh           the tests, under 12 minutes on two cores
#   bash cmd/test.sh --long    also those that take longer
set -euo pipefail
cd "$(dirname "$0")/.."
for a in "$@"; do
  case $a in
    --long) export SWATHE_LONG=1 ;;
    *) echo "Usage: bash cmd/test.sh [--long]" >&2; exit 2 ;;
  esac
done
# A busy machine needs more than go test's ten minutes a package.
timeout=40m
[ -z "${SWATHE_LONG:-}" ] || timeout=5h
. cmd/cvenv.sh
need_go
need_debian
need_packages $cv_packages $test_packages
start=$SECONDS
step() { echo "== $* ($((SECONDS - start)) s)"; }

step "gofmt"
unformatted=$(gofmt -l cmd coverage geom report track)
if [ -n "$unformatted" ]; then
  echo "not formatted by gofmt:" >&2
  echo "$unformatted" >&2
  exit 1
fi

step "go vet, without C"
CGO_ENABLED=0 go vet ./...
step "go vet, with OpenCV"
go vet -tags customenv ./...

step "building the programs"
bin=$(mktemp -d)
trap 'rm -rf "$bin"' EXIT
bash cmd/build.sh "$bin"

# The tests that look at real recordings need the eye, and the page's tests the
# browser: here both must be there, and a test that cannot find them fails.
export SWATHE_EYE="$bin/swathe-eye" SWATHE_BROWSER=1

step "tests, without C"
CGO_ENABLED=0 go test -timeout $timeout ./...

# With OpenCV, only the packages that hold code of its own under the tags.
step "tests, with OpenCV"
go test -timeout $timeout -tags customenv ./track/cv/... ./cmd/swathe-eye/...

step "no picture leaked (OpenCV's counter of matrices)"
go test -timeout $timeout -tags customenv,matprofile ./track/cv/...

echo "All tests passed in $((SECONDS - start)) s."
