#!/bin/sh
# Runs the scripts of scripts.csv whose tools exist here and compares what they
# compute with the values that are committed and that the tests read.
#
#   run.sh [--update] [name ...]
#
# --update  writes the results over the committed ones instead of comparing
# name      runs only these scripts
#
# Status: 0 all compared alike (or were skipped), 1 some differ or failed, 2 usage.
set -u
cd "$(dirname "$0")" || exit 2
update=no
if [ "${1-}" = --update ]; then
	update=yes
	shift
fi
wanted=" $* "
for name in "$@"; do
	if ! grep -q "^$name," scripts.csv; then
		echo "run.sh: no script called $name in scripts.csv" >&2
		exit 2
	fi
done
work=$(mktemp -d) || exit 2
trap 'rm -rf "$work"' EXIT
: >"$work/failed"

# python_with prints the first Python that has all of the given modules.
python_with() {
	for py in ${PYTHON:-} python3 /usr/bin/python3; do
		if command -v "$py" >/dev/null 2>&1 && "$py" -c "$(printf 'import %s\n' "$@")" >/dev/null 2>&1; then
			echo "$py"
			return 0
		fi
	done
	return 1
}

# same compares two CSV files: numbers within tolerance, everything else exactly;
# lines that begin with # say how a file was made and are left out.
same() {
	grep -v '^#' "$1" >"$work/golden" && grep -v '^#' "$2" >"$work/fresh" || return 1
	awk -v other="$work/fresh" -v rel="$3" -v abs="$4" '
		function number(s) { return s ~ /^[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?$/ }
		function size(x) { return x < 0 ? -x : x }
		{
			if ((getline line < other) < 1) { print "    line " NR ": missing"; bad = 1; exit }
			n = split($0, a, ","); m = split(line, b, ",")
			if (n != m) { print "    line " NR ": " n " fields became " m; bad = 1; exit }
			for (i = 1; i <= n; i++) {
				if (a[i] == b[i]) continue
				if (!number(a[i]) || !number(b[i]) || size(a[i] - b[i]) > abs + rel * size(a[i])) {
					print "    line " NR ", field " i ": " a[i] " became " b[i]; bad = 1
					if (++shown == 5) exit
				}
			}
		}
		END {
			if (!bad && (getline line < other) > 0) { print "    more lines than before"; bad = 1 }
			exit bad
		}' "$work/golden"
}

grep -v '^#' scripts.csv | tail -n +2 >"$work/list"
while IFS=, read -r name needs command golden rel abs; do
	case "$wanted" in "  " | *" $name "*) ;; *) continue ;; esac
	modules= missing= py=python3
	for need in $needs; do
		case $need in
		py:*) modules="$modules ${need#py:}" ;;
		*) command -v "$need" >/dev/null 2>&1 || missing="$missing $need" ;;
		esac
	done
	if [ -n "$modules" ]; then
		# shellcheck disable=SC2086 # the modules are meant as separate words
		py=$(python_with $modules) || missing="$missing python3 with$modules"
	fi
	if [ -n "$missing" ]; then
		echo "skipped   $name: needs$missing"
		continue
	fi
	out="$work/out"
	rm -rf "$out" && mkdir "$out"
	run=$(printf '%s' "$command" | sed "s#{py}#$py#g; s#{out}#$out#g")
	if ! sh -c "$run" >"$work/stdout" 2>"$work/stderr" </dev/null; then
		echo "FAILED    $name: $run"
		tail -n 5 "$work/stderr" | sed 's/^/    /'
		echo "$name" >>"$work/failed"
		continue
	fi
	case $command in
	*'{out}'*) ;;
	*) cp "$work/stdout" "$out/$(basename "$golden")" ;;
	esac
	if [ $update = yes ]; then
		if [ -d "$golden" ]; then cp "$out"/* "$golden"/; else cp "$out/$(basename "$golden")" "$golden"; fi
		echo "updated   $name"
		continue
	fi
	ok=no
	for file in "$out"/*.csv; do
		[ -f "$file" ] || continue
		[ $ok = no ] && ok=yes
		kept=$golden
		[ -d "$golden" ] && kept="$golden/$(basename "$file")"
		if ! same "$kept" "$file" "$rel" "$abs"; then
			ok=different
			echo "    in $kept"
		fi
	done
	if [ $ok = yes ]; then
		echo "alike     $name"
	else
		echo "DIFFERS   $name"
		echo "$name" >>"$work/failed"
	fi
done <"$work/list"
[ ! -s "$work/failed" ]
