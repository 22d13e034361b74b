#!/bin/sh
# Runs every test there is. On a Debian machine as root it installs what the
# suites need; elsewhere it runs what needs only Go and names what it leaves out.
# With CI=true nothing may be left out.
set -eu
cd "$(dirname "$0")/.."
export CGO_ENABLED=0

packages='chromium r-base-core r-cran-glmmtmb poppler-utils qpdf libxml2-utils gcc libc6-dev'
programs='chromium Rscript pdftoppm qpdf xmllint gcc'

missing=
for p in $programs; do
	command -v "$p" >/dev/null 2>&1 || missing="$missing $p"
done
if [ -n "$missing" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
	echo "installing what the suites need:$missing"
	export DEBIAN_FRONTEND=noninteractive
	apt-get update -qq
	# shellcheck disable=SC2086
	apt-get install -y -qq --no-install-recommends $packages >/dev/null
	missing=
	for p in $programs; do
		command -v "$p" >/dev/null 2>&1 || missing="$missing $p"
	done
fi
if [ -z "$missing" ]; then
	export SOAKLINE_ALL=1
elif [ "${CI:-}" = true ]; then
	echo "these programs are missing and nothing may be left out:$missing" >&2
	exit 1
fi

sh tools/lint.sh
go test -timeout 30m ./...
if [ -z "$missing" ]; then
	CGO_ENABLED=1 go test -race -timeout 20m $(sh tools/race-rooms.sh)
else
	echo "Not run here, since these programs are not installed:$missing"
	echo "(the tests that need them were skipped by name, and so was the race detector where gcc is missing)"
fi
