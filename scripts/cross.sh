#!/bin/sh
# Compiles the program without cgo for the systems it is meant for.
set -eu
for target in windows/amd64 windows/arm64 darwin/arm64 linux/arm64; do
	echo "build $target"
	CGO_ENABLED=0 GOOS=${target%/*} GOARCH=${target#*/} go build -tags nodynamic -o /dev/null ./cmd/thrum
done
