#!/bin/sh
# Installs, on Debian, the programs that the tests use and the machine lacks.
# Thrum itself needs none of them.
set -eu

# Checks of the page: a reader of accessibility rules and a type checker.
cd "$(dirname "$0")/.."
if [ ! -d node_modules ]; then
	if command -v npm >/dev/null 2>&1; then
		npm ci --silent || echo "npm ci failed: the checks of the page that need node_modules are skipped"
	else
		echo "no npm: the checks of the page that need node_modules are skipped"
	fi
fi

missing=
need() { # command package
	command -v "$1" >/dev/null 2>&1 || missing="$missing $2"
}
need chromium chromium
need pdftotext poppler-utils
need strace strace
[ -n "$(ls /usr/lib/postgresql/*/bin/initdb 2>/dev/null)" ] || missing="$missing postgresql"

[ -z "$missing" ] && exit 0
if ! command -v apt-get >/dev/null 2>&1; then
	echo "tests that need these are skipped:$missing"
	exit 0
fi
sudo=
if [ "$(id -u)" != 0 ]; then
	if command -v sudo >/dev/null 2>&1; then sudo=sudo; else
		echo "to run every test, install as root: apt-get install$missing"
		exit 0
	fi
fi
echo "installing for the tests:$missing"
export DEBIAN_FRONTEND=noninteractive
$sudo apt-get -o DPkg::Lock::Timeout=300 update -qq
# shellcheck disable=SC2086
$sudo apt-get -o DPkg::Lock::Timeout=300 install -y -qq --no-install-recommends $missing >/dev/null
