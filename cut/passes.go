package cut

import (
	_ "embed"
	"encoding/csv"
	"strconv"
	"strings"
	"sync"

	"thrum/unit"
)

// PassRange is a recommended range of the number of passes.
type PassRange struct {
	Lo, Hi int
	Source string
}

//go:embed data/passes.csv
var passFile string

type passRow struct {
	to        float64
	vee, acme PassRange
}

var passRows = sync.OnceValue(func() []passRow {
	rd := csv.NewReader(strings.NewReader(passFile))
	rd.Comment = '#'
	rows, err := rd.ReadAll()
	if err != nil {
		panic(err) // our own file; a test reads it
	}
	source := strings.TrimPrefix(strings.SplitN(passFile, "\n", 2)[0], "# source: ")
	number := func(s string) float64 {
		if s == "" {
			return 0
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			panic(err)
		}
		return v
	}
	var out []passRow
	for _, r := range rows[1:] {
		out = append(out, passRow{
			number(r[0]),
			PassRange{int(number(r[1])), int(number(r[2])), source},
			PassRange{int(number(r[3])), int(number(r[4])), source},
		})
	}
	return out
})

// UsualPasses returns how many passes makers of threading inserts recommend for a
// pitch, for V forms (60 and 55 degrees) or, with acme, for Acme and trapezoidal
// ones. A light lathe with a sharp tool takes more and lighter ones. It returns
// false outside the table: pitches above 8 mm, and Acme finer than 1.25 mm.
func UsualPasses(pitch unit.Length, acme bool) (PassRange, bool) {
	for _, r := range passRows() {
		if pitch.MM() > r.to*(1+1e-9) {
			continue
		}
		p := r.vee
		if acme {
			p = r.acme
		}
		return p, p.Lo > 0 && pitch > 0
	}
	return PassRange{}, false
}
