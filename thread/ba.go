package thread

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"thrum/unit"
)

// BAFamily is the British Association thread, BS 93: small metric screws of 47.5
// degrees, numbered from 0 (6 mm) downwards in size.
const BAFamily Family = "BA"

// baForm is the form of BS 93 clause 4: 47.5 degrees, depth 0.6 P, crest and root
// of one radius 0.1808346 P.
var baForm = roundedForm("47.5° British Association", "BS 93 clause 4", 23.75*unit.Degree, 0.6*2*(23.75*unit.Degree).Tan())

//go:embed data/ba.csv
var baText string

type baRow struct {
	number                         string
	pitch, major, effective, minor unit.Ratio // mm
}

var baTable = sync.OnceValue(func() []baRow {
	var out []baRow
	for _, f := range readTable(baText) {
		out = append(out, baRow{f[0], number(f[1]), number(f[2]), number(f[3]), number(f[4])})
	}
	return out
})

func baSeries() []SeriesRow {
	var out []SeriesRow
	for _, r := range baTable() {
		out = append(out, SeriesRow{
			Family: BAFamily, Series: "BA", Designation: r.number + " BA",
			Nominal: r.major.Length(), Pitch: r.pitch, System: unit.Metric,
		})
	}
	return out
}

var (
	baClaim = lazy(`(?:^|[^A-Z])B\.? ?A\b`)
	baForm1 = lazy(`^(?:NO\.? ?|#)?([0-9]{1,2})[ -]*B\.? ?A\b\.?[ -]*(.*)$`)
	baForm2 = lazy(`^B\.? ?A\.?[ -]*(?:NO\.? ?|#)?([0-9]{1,2})\b[ -]*(.*)$`)
)

func baFamily() family {
	return family{
		info: FamilyInfo{
			Name: BAFamily, What: "British Association threads, 47.5°", Standard: "BS 93",
			Examples: []string{"2 BA", "BA 2", "2BA", "4 BA normal", "0 BA nut"},
		},
		claims: func(c *callout) bool { return baClaim().MatchString(c.fold) },
		parse:  parseBA,
		series: baSeries,
	}
}

func parseBA(c *callout) (Thread, error) {
	m := baForm1().FindStringSubmatch(c.fold)
	if m == nil {
		m = baForm2().FindStringSubmatch(c.fold)
	}
	if m == nil {
		return Thread{}, c.errorf("write 2 BA or BA 2", "cannot be read as a British Association thread")
	}
	n, _ := strconv.Atoi(m[1])
	rows := baTable()
	if n >= len(rows) {
		return Thread{}, c.errorf("numbers run from 0 (6 mm) to 16 (0.79 mm)", "BS 93 has no number %d", n)
	}
	class, side, err := baClass(c, m[2])
	if err != nil {
		return Thread{}, err
	}
	row := rows[n]
	t := c.thread(BAFamily)
	t.Series, t.Class, t.Side, t.System = "BA", class, side, unit.Metric
	t.Nominal, t.Pitch, t.Form, t.Engagement = row.major.Length(), row.pitch, baForm, row.major.Length()
	t.Basic = Diameters{row.major.Length(), row.effective.Length(), row.minor.Length()}
	baLimits(&t, n)
	t.Designation = fmt.Sprintf("%d BA %s bolt", n, class)
	if side == Internal {
		t.Designation = fmt.Sprintf("%d BA nut", n)
	}
	t.Designation = leftSuffix(t.Designation, t) + startsSuffix(t)
	t.Notes = append(t.Notes, Note{Text: "Basic sizes and tolerance formulas of BS 93; limits rounded to 0.001 mm.", Source: "Machinery's Handbook, 31st ed., p. 2115"})
	return c.settled(t)
}

// baClass reads the class; nuts have only one.
func baClass(c *callout, rest string) (string, Side, error) {
	class, said := "", (*Side)(nil)
	for _, w := range strings.FieldsFunc(strings.ToLower(rest), func(r rune) bool { return r == ' ' || r == '-' || r == '(' || r == ')' }) {
		switch w {
		case "close", "normal":
			class = w
		case "bolt", "screw", "stud":
			s := External
			said = &s
		case "nut", "hole":
			s := Internal
			said = &s
		case "class", "fit":
		default:
			return "", 0, c.errorf("classes: close and normal for screws; nuts have one class", "%q is not a class of BS 93", w)
		}
	}
	side, err := c.pickSide(said)
	if err != nil {
		return "", 0, err
	}
	if side == Internal {
		return "", side, nil
	}
	if class == "" {
		class = "normal"
		c.assume("No class is given; normal is assumed (screws: close, normal).")
	}
	return class, side, nil
}

// baLimits fills the limits by the formulas of BS 93 (annex B in the edition of
// 2008), all in millimetres:
//
//	             major      effective        minor
//	close        0.15 P     0.08 P + 0.020   0.16 P + 0.04
//	normal 0-10  0.20 P     0.10 P + 0.025   0.20 P + 0.05, allowance 0.025
//	normal 11-16 0.25 P     0.10 P + 0.025   0.20 P + 0.05
//	nut                     0.12 P + 0.030   0.375 P
//
// Source: Machinery's Handbook, 31st ed., p. 2115, read.
func baLimits(t *Thread, n int) {
	p := t.Pitch.Float()
	d, d2, d1 := t.Basic.Major.MM(), t.Basic.Pitch.MM(), t.Basic.Minor.MM()
	if t.Side == Internal {
		t.Limits = Limits{Major: mmBand(d, 0), Pitch: mmBand(d2, d2+0.12*p+0.03), Minor: mmBand(d1, d1+0.375*p)}
		return
	}
	major, pitch, minor, es := 0.15*p, 0.08*p+0.02, 0.16*p+0.04, 0.0
	if t.Class == "normal" {
		major, pitch, minor = 0.20*p, 0.10*p+0.025, 0.20*p+0.05
		if n <= 10 {
			es = 0.025
		} else {
			major = 0.25 * p
		}
	}
	t.Deviation = unit.Length(-es)
	t.Limits = Limits{
		Major: mmBand(d-es-major, d-es),
		Pitch: mmBand(d2-es-pitch, d2-es),
		Minor: mmBand(d1-es-minor, d1-es),
	}
}

// mmBand makes a band from two figures in millimetres, rounded to the
// micrometre; zero stays "not given".
func mmBand(lo, hi float64) Band {
	return Band{unit.Length(roundEven(lo, 3)), unit.Length(roundEven(hi, 3))}
}
