#!/bin/sh
# Runs every test that compares a figure with an outside source, writes
# docs/validation.md, then re-runs the reference programs that are installed.
set -eu
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
THRUM_OUTSIDE_DIR=$dir go test -count=1 ./...
go run ./internal/outside/report "$dir" >docs/validation.md.new
mv docs/validation.md.new docs/validation.md
sed -n '1,/^## /p' docs/validation.md | sed '$d'
[ ! -x docs/validation/run.sh ] || docs/validation/run.sh
