#!/bin/sh
# Fuzzes every fuzz test for a while: tools/fuzz.sh 60s
set -eu
cd "$(dirname "$0")/.."
grep -rl --include='*_test.go' '^func Fuzz' internal | while read -r file; do
	room=$(dirname "$file")
	sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' "$file" | while read -r name; do
		echo "$room $name"
		go test "./$room" -run '^$' -fuzz "^$name\$" -fuzztime "$1"
	done
done
