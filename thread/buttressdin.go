package thread

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"thrum/unit"
)

// SawtoothFamily is the metric buttress thread S, DIN 513: a pressure flank of 3
// degrees and a back flank of 30.
const SawtoothFamily Family = "S"

// sawtoothForm is the form of DIN 513-1. The root is one arc tangent to both flanks.
//
//	H = P / (tan 3° + tan 30°) = 1.58791 P   engagement 0.75 P   depth of the screw 0.86777 P
//	crest flat 0.26384 P   root radius 0.12427 P
var sawtoothForm = Form{
	Name: "3°/30° metric buttress", Source: "DIN 513-1", Leading: 30 * unit.Degree, Trailing: 3 * unit.Degree,
	H: 1 / ((3 * unit.Degree).Tan() + (30 * unit.Degree).Tan()), Depth: 0.86777, CrestFlat: 0.26384, RootFlat: 0.18967,
	RootRadius: 0.12427,
}

// sawtoothNutForm is the nut: its root is a flat on the nominal diameter.
func sawtoothNutForm() Form {
	f := sawtoothForm
	f.Depth, f.RootFlat, f.RootRadius = 0.75, 0.26384, 0
	return f
}

//go:embed data/buttress-din513.csv
var sawtoothText string

var sawtoothPlan = sync.OnceValue(func() []planRow {
	var out []planRow
	for _, f := range readTable(sawtoothText) {
		out = append(out, planRow{number(f[0]), number(f[1]), f[2] == "yes"})
	}
	return out
})

var (
	sawtoothClaim = lazy(`^S ?[0-9]+(?:\.[0-9]+)? ?X`)
	sawtoothShape = lazy(`^S ?` + metricNumber + ` ?X ?` + metricNumber + `(?: ?\(? ?P ?` + metricNumber + ` ?\)?)?[ -]*(.*)$`)
)

func sawtoothFamily() family {
	return family{
		info: FamilyInfo{
			Name: SawtoothFamily, What: "Metric buttress threads, 3°/30°", Standard: "DIN 513",
			Examples: []string{"S48x8", "S48x8-7e", "S40x14(P7) LH"},
		},
		claims: func(c *callout) bool { return sawtoothClaim().MatchString(c.fold) },
		parse:  parseSawtooth,
		series: func() []SeriesRow { return planSeries(SawtoothFamily, "S", sawtoothPlan()) },
	}
}

func parseSawtooth(c *callout) (Thread, error) {
	m := sawtoothShape().FindStringSubmatch(c.fold)
	if m == nil {
		return Thread{}, c.errorf("write S48x8, with more starts S40x14(P7)", "cannot be read as a buttress thread of DIN 513")
	}
	class := strings.Trim(c.text[len(c.text)-len(m[4]):], " -")
	d, p, starts, err := planSize(c, m[1], m[2], m[3])
	if err != nil {
		return Thread{}, err
	}
	if err := inPlan(c, sawtoothPlan(), "S", d, p); err != nil {
		return Thread{}, err
	}
	row, ok := trapezoidalByPitch(p.Float())
	if !ok {
		return Thread{}, c.errorf("pitches: 2 3 4 5 6 7 8 9 10 12 14 16 18 20 22", "DIN 513 has no pitch %s", numberText(p))
	}
	grade, position, side, err := gradeAndPosition(c, class, "ec", "7e", "7H")
	if err != nil {
		return Thread{}, err
	}
	t := c.thread(SawtoothFamily)
	t.Side, t.System, t.Starts, t.Class = side, unit.Metric, starts, fmt.Sprintf("%d%s", grade, position)
	t.Series = planSeriesName(sawtoothPlan(), d, p)
	t.Nominal, t.Pitch, t.Form = d.Length(), p, sawtoothForm
	t.Engagement = normalEngagement(d.Float(), p.Float())
	sawtoothLimits(&t, row, grade, position)
	t.Designation = planDesignation("S", t, d, t.Series == "")
	t.Notes = append(t.Notes,
		Note{Text: "The tolerances of DIN 513-3 could not be read: those of the trapezoidal thread of the same pitch (ISO 2903) stand in their place. Confirm them on the drawing.", Assumed: true},
		Note{Text: "Check against the drawing which flank carries the load.", Assumed: true})
	return c.settled(t)
}

// sawtoothLimits fills the basic sizes of DIN 513-2 (from memory):
//
//	d2 = D2 = d - 0.75 P   d3 = d - 1.73554 P   D1 = d - 1.5 P   D = d
//
// with the tolerances of ISO 2903 for the same pitch.
func sawtoothLimits(t *Thread, r trapezoidalPitch, grade int, position string) {
	d, p := t.Nominal.MM(), r.p
	d2, d3, d1 := roundEven(d-0.75*p, 3), roundEven(d-1.73554*p, 3), roundEven(d-1.5*p, 3)
	factor := startsFactor(t.Starts)
	if t.Side == Internal {
		t.Form = sawtoothNutForm()
		t.Basic = Diameters{unit.Length(d), unit.Length(d2), unit.Length(d1)}
		t.Limits = Limits{
			Major: Band{Min: unit.Length(d)},
			Pitch: mmBand(d2, d2+pitchTolerance(d, p, grade, true)*factor),
			Minor: mmBand(d1, d1+r.tD1/1000),
		}
		return
	}
	es := r.e / 1000
	if position == "c" {
		es = r.c / 1000
	}
	td2 := pitchTolerance(d, p, grade, false) * factor
	t.Deviation = unit.Length(es)
	t.Basic = Diameters{unit.Length(d), unit.Length(d2), unit.Length(d3)}
	t.Limits = Limits{
		Major: mmBand(d-r.td/1000, d),
		Pitch: mmBand(d2+es-td2, d2+es),
		Minor: mmBand(d3+es-1.25*td2, d3),
	}
}
