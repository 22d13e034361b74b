#!/bin/sh
# Builds the program for every platform into dist/, with checksums. Twice the
# same source and the same Go give twice the same bytes.
#   tools/release.sh VERSION PLATFORM…
set -eu
cd "$(dirname "$0")/.."
version=$1
shift
rm -rf dist
mkdir -p dist
for platform in "$@"; do
	os=${platform%/*}
	arch=${platform#*/}
	name="soakline-$version-$os-$arch"
	[ "$os" = windows ] && name="$name.exe"
	CGO_ENABLED=0 GOOS=$os GOARCH=$arch go build -trimpath -buildvcs=false -ldflags='-s -w -buildid=' -o "dist/$name" ./cmd/soakline
	echo "built $name"
done
cd dist
sha256sum soakline-* >SHA256SUMS
cat SHA256SUMS
