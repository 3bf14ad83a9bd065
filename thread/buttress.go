package thread

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"thrum/unit"
)

// ButtressFamily is the American buttress thread, ASME B1.9: a pressure flank of 7
// degrees and a back flank of 45.
const ButtressFamily Family = "Buttress"

// buttressForm is the form of B1.9 with its largest root radius.
//
//	H = P / (tan 7° + tan 45°) = 0.89064 P   engagement 0.6 P   depth 0.66271 P
//	crest flat 0.16316 P   root radius 0.0714 P, at least 0.0357 P
//
// The pressure flank is given as the trailing one; whether it leads or trails the
// tool depends on which way the part is loaded and held.
var buttressForm = Form{
	Name: "7°/45° buttress", Source: "ASME B1.9 table 2", Leading: 45 * unit.Degree, Trailing: 7 * unit.Degree,
	H: 1 / (1 + (7 * unit.Degree).Tan()), Depth: 0.66271, CrestFlat: 0.16316, RootFlat: 0.09275,
	RootRadius: 0.0714, RootRadiusLo: 0.0357,
}

//go:embed data/buttress.csv
var buttressText string

var buttressTable = sync.OnceValue(func() []acmeRow {
	var out []acmeRow
	for _, f := range readTable(buttressText) {
		out = append(out, acmeRow{f[0], number(f[0]), number(f[1])})
	}
	return out
})

func buttressSeries() []SeriesRow {
	var out []SeriesRow
	for _, r := range buttressTable() {
		p, _ := perInch(r.tpi)
		out = append(out, SeriesRow{
			Family: ButtressFamily, Series: "BUTT", Designation: fmt.Sprintf("%s-%s BUTT", r.size, mixed(r.tpi)),
			Nominal: inches(r.d.Float()), Pitch: p, System: unit.Inches,
		})
	}
	return out
}

var (
	buttressClaim = lazy(`\bBUTT(?:RESS)?\b`)
	buttressPull  = lazy(`\b(PULL|PUSH)\b`)
	buttressGrade = lazy(`\b([1-9])([AB])?$`)
	buttressShape = lazy(`^(.*?)[ -]*\bBUTT(?:RESS)?\b[ -]*(.*)$`)
)

func buttressFamily() family {
	return family{
		info: FamilyInfo{
			Name: ButtressFamily, What: "American buttress threads, 7°/45°", Standard: "ASME B1.9",
			Examples: []string{"2.5-8 BUTT-2A", "2 1/2-8 BUTTRESS-3B", "4-6 PULL-BUTT-2A-LH"},
		},
		claims: func(c *callout) bool { return buttressClaim().MatchString(c.fold) },
		parse:  parseButtress,
		series: buttressSeries,
	}
}

func parseButtress(c *callout) (Thread, error) {
	pull := strings.Contains(buttressPull().FindString(c.fold), "PULL")
	s := strings.Join(strings.Fields(buttressPull().ReplaceAllString(c.fold, "")), " ")
	m := buttressShape().FindStringSubmatch(s)
	if m == nil {
		return Thread{}, c.errorf("write 2.5-8 BUTT-2A", "cannot be read as a buttress thread")
	}
	d, p, starts, err := inchPitchSize(c, strings.Trim(m[1], " -"), "BUTT-2A")
	if err != nil {
		return Thread{}, err
	}
	class, side, err := buttressClass(c, strings.Trim(m[2], " -"))
	if err != nil {
		return Thread{}, err
	}
	t := c.thread(ButtressFamily)
	t.Class, t.Side, t.System, t.Starts = class, side, unit.Inches, starts
	t.Nominal, t.Pitch, t.Form, t.Engagement = inches(d.Float()), p, buttressForm, 10*p.Length()
	if slices.ContainsFunc(buttressTable(), func(r acmeRow) bool { q, _ := perInch(r.tpi); return r.d == d && q == p }) {
		t.Series = "BUTT"
	}
	le, given, err := c.engagement(unit.Inches)
	if err != nil {
		return Thread{}, err
	}
	if given {
		t.Engagement = inches(roundEven(le.Inches(), 6))
	}
	buttressLimits(&t)
	kind := "BUTT"
	if pull {
		kind = "PULL-BUTT"
	}
	t.Designation = acmeDesignation(t, d, " "+kind+"-"+t.Class)
	if given {
		t.Designation += ", LE " + inchText(t.Engagement.Inches())
	}
	way := "push: the pressure flank faces the end of the screw"
	if pull {
		way = "pull: the pressure flank faces away from the end of the screw"
	}
	t.Notes = append(t.Notes, Note{Text: "The thread is for " + way + ". Check against the drawing which flank carries the load.", Assumed: !pull && !strings.Contains(c.fold, "PUSH")},
		Note{Text: "Allowance equal to the class 3 tolerance on every diameter of the screw; limits rounded to 0.0001 in.", Source: "ASME B1.9; Machinery's Handbook, 27th ed., pp. 1851-1855"})
	return c.settled(t)
}

func buttressClass(c *callout, s string) (string, Side, error) {
	if s == "" {
		side, err := c.pickSide(nil)
		c.assume("No class is given; class 2 is assumed.")
		return "2" + buttressLetter(side), side, err
	}
	m := buttressGrade().FindStringSubmatch(s)
	if m == nil || len(m[0]) != len(s) || m[1] != "2" && m[1] != "3" {
		return "", 0, c.errorf("classes: 2A, 3A for screws, 2B, 3B for nuts", "%q is not a class of B1.9", s)
	}
	var said *Side
	if m[2] != "" {
		side := External
		if m[2] == "B" {
			side = Internal
		}
		said = &side
	}
	side, err := c.pickSide(said)
	return m[1] + buttressLetter(side), side, err
}

func buttressLetter(s Side) string {
	if s == Internal {
		return "B"
	}
	return "A"
}

// buttressLimits fills basic sizes and limits, B1.9 clauses 6 and 7, in inches:
//
//	T = 0.002 D^(1/3) + 0.00278 sqrt(Le) + 0.00854 sqrt(P)    class 2; class 3 two thirds of it
//	    D the middle of the range 0.5 0.7 1 1.5 2.5 4 6 10 16 24 in;  Le = 10 P unless given
//	G = T(3), the allowance of both classes
//	nut:   major D + 0.12542 P   pitch D - 0.6 P   minor D - 1.2 P
//	screw: major D - G   pitch D - 0.6 P - G   minor D - 1.32542 P - G
//
// T is the tolerance of the pitch diameters, of the major diameter of the screw
// and of the minor diameter of the nut.
func buttressLimits(t *Thread) {
	d, p := t.Nominal.Inches(), t.Pitch.Float()/25.4
	e, k := roundEven(d-0.6*p, 4), roundEven(d-1.2*p, 4)
	two := buttressTolerance(d, p, t.Engagement.Inches())
	tol := roundEven(two, 4)
	g := roundEven(two*2/3, 4)
	if t.Class[0] == '3' {
		tol = g
	}
	t.Basic = Diameters{inches(d), inches(e), inches(k)}
	if t.Side == Internal {
		t.Basic.Major = inches(roundEven(d+0.12542*p, 4))
		t.Limits = Limits{Major: Band{Min: t.Basic.Major}, Pitch: inchBand(e, e+tol, 4), Minor: inchBand(k, k+tol, 4)}
		return
	}
	t.Basic.Minor = inches(roundEven(d-1.32542*p, 4))
	t.Deviation = -inches(g)
	t.Limits = Limits{
		Major: inchBand(d-g-tol, d-g, 4),
		Pitch: inchBand(e-g-tol, e-g, 4),
		Minor: Band{Max: inches(roundEven(d-1.32542*p-g, 4))},
	}
}

func buttressTolerance(d, p, le float64) float64 {
	edges := []float64{0.5, 0.7, 1, 1.5, 2.5, 4, 6, 10, 16, 24}
	mean := d
	for i := 1; i < len(edges); i++ {
		if d <= edges[i] && d >= edges[i-1] {
			mean = (edges[i-1] + edges[i]) / 2
			break
		}
	}
	length := 0.00278 * math.Sqrt(le)
	if math.Abs(le-10*p) < 1e-9 { // the printed coefficient for Le = 10 P is 0.0173 in all
		return 0.002*math.Cbrt(mean) + 0.0173*math.Sqrt(p)
	}
	return 0.002*math.Cbrt(mean) + length + 0.00854*math.Sqrt(p)
}
