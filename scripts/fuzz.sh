#!/bin/sh
# Runs each fuzz target for $FUZZ (default 20s).
set -eu
grep -rl --include='*_test.go' '^func Fuzz' . | while read -r file; do
	pkg=$(dirname "$file")
	sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' "$file" | while read -r name; do
		echo "$pkg $name"
		go test -tags nodynamic -run '^$' -fuzz "^$name\$" -fuzztime "${FUZZ:-20s}" "$pkg"
	done
done
