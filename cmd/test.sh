#!/usr/bin/env bash
# Installs what the tests need (Debian 12) and runs them all.
#   bash cmd/test.sh           the tests, under 12 minutes on two cores
#   bash cmd/test.sh --long    also those that take longer
#   --strict                   a test that this machine can't run (no right to mount, no
#                              symbolic links) is a failure; without, it is listed at the end
set -euo pipefail
cd "$(dirname "$0")/.."
strict=
for a in "$@"; do
  case $a in
    --long) export SWATHE_LONG=1 ;;
    --strict) strict=-strict ;;
    *) echo "Usage: bash cmd/test.sh [--long] [--strict]" >&2; exit 2 ;;
  esac
done
# A busy machine needs more than go test's ten minutes a package.
timeout=40m
[ -z "${SWATHE_LONG:-}" ] || timeout=5h
. cmd/cvenv.sh
need_go
need_debian
# shellcheck disable=SC2086 # lists of packages
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

step "shellcheck"
shellcheck -x -P cmd -S warning cmd/*.sh .ci/run

step "building the programs"
bin=$(mktemp -d)
trap 'rm -rf "$bin"' EXIT
bash cmd/build.sh "$bin"
CGO_ENABLED=0 go build -o "$bin/testlog" ./cmd/internal/testlog

# Long: it looks at every package that is linked, two minutes of a core.
if [ -n "${SWATHE_LONG:-}" ]; then
  step "staticcheck"
  CGO_ENABLED=0 go run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...
  # Its database may be out of reach, as behind a proxy.
  if curl -sfm 10 -o /dev/null https://vuln.go.dev/index/db.json; then
    step "govulncheck"
    CGO_ENABLED=0 go run golang.org/x/vuln/cmd/govulncheck@v1.9.0 ./...
  else
    step "no govulncheck: its database cannot be reached from here"
  fi
  step "changes of the code that the tests must notice"
  CGO_ENABLED=0 go run ./cmd/internal/mutants
fi

# The tests that look at real recordings need the eye, and the page's tests the
# browser: here both must be there, and a test that cannot find them fails.
export SWATHE_EYE="$bin/swathe-eye" SWATHE_BROWSER=1

step "tests, without C"
CGO_ENABLED=0 go test -json -timeout $timeout ./... | "$bin/testlog" $strict

# With OpenCV, only the packages that hold code of its own under the tags.
step "tests, with OpenCV"
go test -json -timeout $timeout -tags customenv ./track/cv/... ./cmd/swathe-eye/... | "$bin/testlog" $strict

step "no picture leaked (OpenCV's counter of matrices)"
go test -json -timeout $timeout -tags customenv,matprofile ./track/cv/... | "$bin/testlog" $strict

echo "All tests passed in $((SECONDS - start)) s."
