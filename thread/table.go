package thread

import (
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strings"

	"thrum/unit"
)

// readTable reads one of the embedded tables of standards: comma-separated, one
// heading line with exactly the given columns, lines that begin with # tell the
// source. The tables are our own, so a fault in them is a broken invariant.
func readTable(name, text string, columns ...string) [][]string {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	r.FieldsPerRecord = len(columns)
	rows, err := r.ReadAll()
	if err != nil || len(rows) == 0 || !slices.Equal(rows[0], columns) {
		panic(fmt.Sprintf("table %s: %v; expected the columns %v", name, err, columns))
	}
	return rows[1:]
}

// cell reads one figure of an embedded table exactly.
func cell(s string) unit.Ratio {
	r, err := unit.ParseRatio(s)
	if err != nil {
		panic(err)
	}
	return r
}

// tidy rounds to the given number of decimal places, ties to even, after taking
// away the noise of binary arithmetic, as the tables of standards do: 0.61875 in
// becomes 0.6188 and 3.340625 in becomes 3.34062.
func tidy(v float64, places int) float64 {
	p := math.Pow(10, float64(places))
	x := v * p
	if half := math.Floor(x) + 0.5; math.Abs(x-half) < 1e-7 {
		x = half
	}
	return math.RoundToEven(x) / p
}

// inches and millis turn a figure of a standard into a length.
func inches(v float64) unit.Length { return unit.Length(v) * unit.Inch }

func millis(v float64) unit.Length { return unit.Length(v) }

// inchBand makes a band from two figures in inches, each rounded to the places
// that the standard prints; zero stays "not given".
func inchBand(lo, hi float64, places int) Band {
	return Band{inches(tidy(lo, places)), inches(tidy(hi, places))}
}

// pitchOfTPI returns the exact pitch in millimetres of a thread with n to the inch.
func pitchOfTPI(n unit.Ratio) (unit.Ratio, error) { return unit.MustRatio(127, 5).Quo(n) }
