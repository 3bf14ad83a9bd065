package thread

import (
	"fmt"
	"slices"
	"strings"

	"thrum/unit"
)

// MaxCallout is the length of the longest callout that Parse reads, in bytes.
const MaxCallout = 200

// Parse reads a thread callout as a drawing writes it and returns the thread
// with its limits of size. Upper and lower case, the sign for "by", the kind of
// dash and quote, a decimal comma and remarks (LH, LEFT HAND, SPECIAL, LE .75,
// 2 STARTS, EXTERNAL, INTERNAL) are read as a machinist reads them.
//
// Where the callout does not say whether the thread is external or internal,
// prefer decides, and a Note says so.
func Parse(s string, prefer Side) (Thread, error) {
	c, err := readCallout(s, prefer)
	if err != nil {
		return Thread{}, err
	}
	for _, f := range families() {
		if f.claims(c) {
			return f.parse(c)
		}
	}
	return Thread{}, c.errorf("nearest forms: "+strings.Join(nearest(c, 4), ", "),
		"is not a thread designation that is known here")
}

// nearest returns the n example callouts most like the one typed.
func nearest(c *callout, n int) []string {
	type cand struct {
		text string
		dist int
	}
	var all []cand
	for _, f := range families() {
		for _, e := range f.info.Examples {
			all = append(all, cand{e, distance(shape(c.fold), shape(strings.ToUpper(e)))})
		}
	}
	slices.SortStableFunc(all, func(a, b cand) int { return a.dist - b.dist })
	var out []string
	for _, a := range all[:min(n, len(all))] {
		out = append(out, a.text)
	}
	return out
}

// shape replaces each run of digits by one 0, so that likeness of form counts
// and likeness of size does not.
func shape(s string) string {
	var b strings.Builder
	digit := false
	for _, r := range s {
		isDigit := r >= '0' && r <= '9'
		switch {
		case isDigit && !digit:
			b.WriteByte('0')
		case !isDigit && r != ' ':
			b.WriteRune(r)
		}
		digit = isDigit
	}
	return b.String()
}

// distance is the number of letters to insert, delete or replace to turn a into b.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diag := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diag
			if a[i] != b[j] {
				cost++
			}
			diag = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// errorf reports a fault of the callout; hint may be empty.
func (c *callout) errorf(hint, format string, args ...any) error {
	return &unit.InputError{Field: "thread", Value: c.raw, Reason: fmt.Sprintf(format, args...), Hint: hint}
}
