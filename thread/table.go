package thread

import (
	"math"
	"strconv"
	"strings"

	"thrum/unit"
)

// readTable splits one of our own data files into records. Lines that begin with
// # tell the source; the first other line names the columns. Our tables hold no
// quoted commas, which keeps reading them fast: they are read at every start.
// A line with the wrong number of fields is a fault of the file, found by every
// test, and panics.
func readTable(data string) [][]string {
	lines := strings.Split(data, "\n")
	rows := make([][]string, 0, len(lines))
	columns := 0
	for _, line := range lines {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		fields := strings.Split(line, ",")
		for i := range fields {
			fields[i] = strings.TrimSpace(fields[i])
		}
		if columns == 0 {
			columns = len(fields)
			continue
		}
		if len(fields) != columns {
			panic("thread: table line with a wrong number of fields: " + line)
		}
		rows = append(rows, fields)
	}
	return rows
}

// number reads an exact number of one of our own tables: 3, 1.25, 3/8, 1-3/8, 1 3/8.
func number(s string) unit.Ratio {
	bad := func() { panic("thread: table: " + s + " is no number") }
	whole, frac, mixed := strings.Cut(strings.Replace(s, " ", "-", 1), "-")
	if !mixed {
		whole, frac = "0", s
	}
	num, den, fraction := strings.Cut(frac, "/")
	scale := int64(1)
	if !fraction {
		ip, fp, _ := strings.Cut(frac, ".")
		num, den = ip+fp, "1"
		for range fp {
			scale *= 10
		}
	}
	w, err1 := strconv.ParseInt(whole, 10, 64)
	n, err2 := strconv.ParseInt(num, 10, 64)
	d, err3 := strconv.ParseInt(den, 10, 64)
	if err1 != nil || err2 != nil || err3 != nil || d == 0 {
		bad()
	}
	return unit.MustRatio(w*d*scale+n, d*scale)
}

// roundEven rounds to the given number of decimal places after removing the
// noise of binary arithmetic. Exact ties go to the even digit, as the published
// tables of the Unified threads do (docs/threads.md, rounding).
func roundEven(v float64, places int) float64 {
	p := math.Pow(10, float64(places))
	x := v * p
	if half := math.Floor(x) + 0.5; math.Abs(x-half) < 1e-6 {
		x = half
	}
	return math.RoundToEven(x) / p
}

// inches turns a decimal inch into a length.
func inches(v float64) unit.Length { return unit.Length(v) * unit.Inch }

// exactly multiplies two exact numbers of bounded size; running out of 64 bits
// is a broken invariant of the caller, who has checked the input's size.
func exactly(a, b unit.Ratio) unit.Ratio {
	r, err := a.Mul(b)
	if err != nil {
		panic(err)
	}
	return r
}

// perInch is the exact pitch in millimetres of a number of threads per inch.
func perInch(tpi unit.Ratio) (unit.Ratio, error) { return unit.MustRatio(127, 5).Quo(tpi) }
