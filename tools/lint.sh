#!/bin/sh
# Form and common mistakes: gofmt, go vet, staticcheck at its pinned version.
set -eu
cd "$(dirname "$0")/.."
wrong=$(git ls-files '*.go' | xargs gofmt -l)
if [ -n "$wrong" ]; then
	echo "gofmt would change:" >&2
	echo "$wrong" >&2
	exit 1
fi
go vet ./...
go tool -modfile=go.tool.mod staticcheck ./...
go mod tidy -diff
echo "lint: clean"
