package thread

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"thrum/unit"
)

// KnuckleFamily is the round thread Rd of DIN 405: 30 degrees with crest and root
// rounded off to full arcs, diameter in millimetres, pitch as a fraction of an inch.
const KnuckleFamily Family = "Rd"

// knuckleForm is the form of DIN 405-1. The screw is 0.5 P deep with equal arcs at
// crest and root; the nut is moved outwards by the clearance ac = 0.05 P at crest
// and root, so its arcs differ:
//
//	R1 = 0.23851 P (screw)   nut: root R3 = 0.22105 P, crest R2 = 0.25597 P
func knuckleForm(side Side) Form {
	f := roundedForm("30° knuckle", "DIN 405-1", 15*unit.Degree, 0.5*2*(15*unit.Degree).Tan())
	if side == Internal {
		tan, sin := (15 * unit.Degree).Tan(), (15 * unit.Degree).Sin()
		arc := func(fromPitchLine float64) (flat, r float64) {
			cut := f.H/2 - fromPitchLine
			return 2 * cut * tan, cut * sin / (1 - sin)
		}
		f.CrestFlat, f.CrestRadius = arc(0.20)
		f.RootFlat, f.RootRadius = arc(0.30)
	}
	return f
}

//go:embed data/knuckle.csv
var knuckleText string

type knuckleRow struct{ d, tpi unit.Ratio }

var knuckleTable = sync.OnceValue(func() []knuckleRow {
	var out []knuckleRow
	for _, f := range readTable(knuckleText) {
		out = append(out, knuckleRow{number(f[0]), number(f[1])})
	}
	return out
})

func knuckleSeries() []SeriesRow {
	var out []SeriesRow
	for _, r := range knuckleTable() {
		p, _ := perInch(r.tpi)
		out = append(out, SeriesRow{
			Family: KnuckleFamily, Series: "Rd", Designation: fmt.Sprintf("Rd %sx1/%s", numberText(r.d), mixed(r.tpi)),
			Nominal: r.d.Length(), Pitch: p, System: unit.Metric,
		})
	}
	return out
}

var (
	knuckleClaim = lazy(`^R(?:OUN)?D ?[0-9]`)
	knuckleShape = lazy(`^R(?:OUN)?D ?` + metricNumber + `(?: ?X ?(?:([0-9]+) ?/ ?([0-9]+)(?:"| ?IN\.?)?|([0-9.]+)))?[ -]*(.*)$`)
)

func knuckleFamily() family {
	return family{
		info: FamilyInfo{
			Name: KnuckleFamily, What: "Knuckle (round) threads, 30°", Standard: "DIN 405",
			Examples: []string{"Rd 40x1/6", "Rd 20 x 1/8 LH", "Rd 40x1/3 2 START"},
		},
		claims: func(c *callout) bool { return knuckleClaim().MatchString(c.fold) },
		parse:  parseKnuckle,
		series: knuckleSeries,
	}
}

func parseKnuckle(c *callout) (Thread, error) {
	m := knuckleShape().FindStringSubmatch(c.fold)
	if m == nil {
		return Thread{}, c.errorf("write Rd 40x1/6", "cannot be read as a knuckle thread")
	}
	if m[4] != "" {
		return Thread{}, c.errorf("write the pitch of DIN 405 as a fraction of an inch, Rd 40x1/6; describe a thread of DIN 20400 in a form file",
			"has a metric pitch, which DIN 405 does not know")
	}
	if rest := strings.Trim(m[5], " -"); rest != "" && rest != "7H" && rest != "7E" {
		return Thread{}, c.errorf("leave it out", "%q is not known behind a knuckle thread", rest)
	}
	d, p, starts, err := knuckleSize(c, m)
	if err != nil {
		return Thread{}, err
	}
	side, err := c.pickSide(nil)
	if err != nil {
		return Thread{}, err
	}
	t := c.thread(KnuckleFamily)
	t.Series, t.Side, t.System, t.Starts = "Rd", side, unit.Metric, starts
	t.Nominal, t.Pitch, t.Form = d.Length(), p, knuckleForm(side)
	t.Engagement = normalEngagement(d.Float(), p.Float())
	knuckleLimits(&t)
	lead, err := t.Lead().Quo(unit.MustRatio(127, 5))
	if err != nil {
		return Thread{}, c.errorf("", "lead: %v", err)
	}
	t.Designation = fmt.Sprintf("Rd %sx%d/%d%s", numberText(d), lead.Num(), lead.Den(), startsSuffix(t))
	t.Designation = leftSuffix(t.Designation, t) + sideWord(t)
	if c.special {
		t.Designation += " SPECIAL"
	}
	t.Notes = append(t.Notes, Note{
		Text:    "The tolerances of DIN 405-2 could not be read: the pitch diameter has those of grade 7 by the formula of ISO 2903 with no allowance, the crests a twentieth of the pitch. Confirm them on the drawing.",
		Assumed: true,
	})
	return c.settled(t)
}

// knuckleSize reads diameter and pitch; the pitch in the designation is the lead,
// so two starts of 1/6 in are Rd 40x1/3.
func knuckleSize(c *callout, m []string) (d, p unit.Ratio, starts int, err error) {
	d, err = unit.ParseRatio(m[1])
	if err != nil || !(d.Float() >= 4 && d.Float() <= 1000) {
		return d, p, 0, c.errorf("sizes of DIN 405: 8 to 200 mm", "a diameter of %s mm cannot be used", m[1])
	}
	starts = max(c.starts, 1)
	var std unit.Ratio
	for _, r := range knuckleTable() {
		if r.d == d {
			std = r.tpi
		}
	}
	tpi := std
	if m[2] != "" {
		lead, err := unit.ParseRatio(m[2] + "/" + m[3])
		if err != nil || lead.Sign() <= 0 {
			return d, p, 0, c.errorf("", "pitch %s/%s is not a number", m[2], m[3])
		}
		inv, err := lead.Inv()
		if err != nil {
			return d, p, 0, c.errorf("", "pitch %s/%s is not a number", m[2], m[3])
		}
		if tpi, err = inv.Mul(unit.Whole(int64(starts))); err != nil {
			return d, p, 0, c.errorf("", "pitch %s/%s: %v", m[2], m[3], err)
		}
	}
	switch {
	case tpi.IsZero():
		return d, p, 0, c.errorf("add the pitch and SPECIAL, Rd "+numberText(d)+"x1/6 SPECIAL", "Rd %s is not a size of DIN 405", numberText(d))
	case tpi != std && !c.special && !std.IsZero():
		return d, p, 0, c.errorf(fmt.Sprintf("write Rd %sx1/%s, or add SPECIAL", numberText(d), mixed(std)), "Rd %s has %s threads per inch, not %s", numberText(d), mixed(std), mixed(tpi))
	case std.IsZero() && !c.special:
		return d, p, 0, c.errorf("add SPECIAL to use it anyway", "Rd %s is not a size of DIN 405", numberText(d))
	}
	if v := tpi.Float(); !(v >= 0.5 && v <= 100) || 2*25.4/v > d.Float() {
		return d, p, 0, c.errorf("", "%s threads per inch cannot be cut on %s mm", mixed(tpi), numberText(d))
	}
	p, err = perInch(tpi)
	return d, p, starts, err
}

// knuckleLimits fills the sizes of DIN 405-1, in millimetres:
//
//	screw: d   d2 = d - 0.5 P   d3 = d - P
//	nut:   D4 = d + 0.1 P   D2 = d2   D1 = d - 0.9 P
func knuckleLimits(t *Thread) {
	d, p := t.Nominal.MM(), t.Pitch.Float()
	d2 := roundEven(d-0.5*p, 3)
	crest := 0.05 * p
	if t.Side == Internal {
		d4, d1 := roundEven(d+0.1*p, 3), roundEven(d-0.9*p, 3)
		t.Basic = Diameters{unit.Length(d4), unit.Length(d2), unit.Length(d1)}
		t.Limits = Limits{Major: Band{Min: unit.Length(d4)}, Pitch: mmBand(d2, d2+pitchTolerance(d, p, 7, true)), Minor: mmBand(d1, d1+crest)}
		return
	}
	d3 := roundEven(d-p, 3)
	tol := pitchTolerance(d, p, 7, false)
	t.Basic = Diameters{unit.Length(d), unit.Length(d2), unit.Length(d3)}
	t.Limits = Limits{Major: mmBand(d-crest, d), Pitch: mmBand(d2-tol, d2), Minor: Band{Max: unit.Length(d3)}}
}
