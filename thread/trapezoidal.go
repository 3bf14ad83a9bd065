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

// TrapezoidalFamily is the metric trapezoidal thread for power and motion, 30
// degrees, ISO 2901 to 2904 (DIN 103).
const TrapezoidalFamily Family = "Tr"

//go:embed data/trapezoidal.csv
var trapezoidalText string

//go:embed data/trapezoidal-pitch.csv
var trapezoidalPitchText string

// planRow is one size of a general plan: diameter and pitch in millimetres.
type planRow struct {
	d, p      unit.Ratio
	preferred bool
}

var trapezoidalPlan = sync.OnceValue(func() []planRow {
	var out []planRow
	for _, f := range readTable(trapezoidalText) {
		out = append(out, planRow{number(f[0]), number(f[1]), f[3] == "yes"})
	}
	return out
})

// trapezoidalPitch is what the standards fix by pitch: clearance in millimetres,
// deviations and tolerances in micrometres.
type trapezoidalPitch struct {
	p, ac, c, e, td, tD1 float64
}

var trapezoidalPitches = sync.OnceValue(func() []trapezoidalPitch {
	var out []trapezoidalPitch
	for _, f := range readTable(trapezoidalPitchText) {
		v := func(i int) float64 { return number(f[i]).Float() }
		out = append(out, trapezoidalPitch{p: v(0), ac: v(1), c: -v(2), e: -v(3), td: v(4), tD1: v(5)})
	}
	return out
})

func planSeries(f Family, name string, plan []planRow) []SeriesRow {
	var out []SeriesRow
	for _, r := range plan {
		series := "general plan"
		if r.preferred {
			series = "preferred"
		}
		out = append(out, SeriesRow{
			Family: f, Series: series, Designation: fmt.Sprintf("%s%sx%s", name, numberText(r.d), numberText(r.p)),
			Nominal: r.d.Length(), Pitch: r.p, System: unit.Metric,
		})
	}
	return out
}

// trapezoidalForm is the design form of ISO 2901: on the basic trapezoid of height
// 0.5 P the root goes deeper by the clearance ac and may have corners of radius ac.
func trapezoidalForm(ac, p float64) Form {
	tan := (15 * unit.Degree).Tan()
	flat := 0.5 - 0.5*tan
	return Form{
		Name: "30° metric trapezoidal", Source: "ISO 2901", Leading: 15 * unit.Degree, Trailing: 15 * unit.Degree,
		H: 1 / (2 * tan), Depth: 0.5 + ac/p, CrestFlat: flat, RootFlat: flat - 2*ac/p*tan, RootCorner: ac / p,
	}
}

const metricNumber = `([0-9]+(?:\.[0-9]+)?)`

var (
	trapezoidalClaim = lazy(`^TR ?[0-9]`)
	trapezoidalShape = lazy(`^TR ?` + metricNumber + ` ?X ?` + metricNumber + `(?: ?\(? ?P ?` + metricNumber + ` ?\)?)?[ -]*(.*)$`)
	trapezoidalClass = lazy(`^([0-9])([A-Za-z])$`)
)

func trapezoidalFamily() family {
	return family{
		info: FamilyInfo{
			Name: TrapezoidalFamily, What: "Metric trapezoidal threads, 30°", Standard: "ISO 2901 to 2904",
			Examples: []string{"Tr20x4-7e", "Tr40x14(P7)LH-7H", "Tr 36 x 6"},
		},
		claims: func(c *callout) bool { return trapezoidalClaim().MatchString(c.fold) },
		parse:  parseTrapezoidal,
		series: func() []SeriesRow { return planSeries(TrapezoidalFamily, "Tr", trapezoidalPlan()) },
	}
}

func parseTrapezoidal(c *callout) (Thread, error) {
	m := trapezoidalShape().FindStringSubmatch(c.fold)
	if m == nil {
		return Thread{}, c.errorf("write Tr20x4-7e, with more starts Tr40x14(P7)", "cannot be read as a trapezoidal thread")
	}
	class := strings.Trim(c.text[len(c.text)-len(m[4]):], " -")
	d, p, starts, err := planSize(c, m[1], m[2], m[3])
	if err != nil {
		return Thread{}, err
	}
	if err := inPlan(c, trapezoidalPlan(), "Tr", d, p); err != nil {
		return Thread{}, err
	}
	row, ok := trapezoidalByPitch(p.Float())
	if !ok {
		return Thread{}, c.errorf("pitches: 1.5 2 3 4 5 6 7 8 9 10 12 14 16 18 20 22", "ISO 2901 has no pitch %s", numberText(p))
	}
	grade, position, side, err := gradeAndPosition(c, class, "ec", "7e", "7H")
	if err != nil {
		return Thread{}, err
	}
	t := c.thread(TrapezoidalFamily)
	t.Side, t.System, t.Starts = side, unit.Metric, starts
	t.Class = fmt.Sprintf("%d%s", grade, position)
	t.Series = planSeriesName(trapezoidalPlan(), d, p)
	t.Nominal, t.Pitch, t.Form = d.Length(), p, trapezoidalForm(row.ac, row.p)
	t.Engagement = normalEngagement(d.Float(), p.Float())
	trapezoidalLimits(&t, row, grade, position)
	t.Designation = planDesignation("Tr", t, d, t.Series == "")
	t.Notes = append(t.Notes, Note{
		Text:   "Class of thread engagement N; pitch diameter tolerances by formula on the R40 series. Root corners up to the clearance in radius, crest corners up to half of it.",
		Source: "ISO 2903 (from memory, checked against a maker's 7e table); ISO 2901",
	})
	if starts > 1 {
		t.Notes = append(t.Notes, Note{Text: fmt.Sprintf("The pitch diameter tolerance is %.4g times that of a single start.", startsFactor(starts)), Source: "ISO 2903 clause 10, from memory"})
	}
	return c.settled(t)
}

// planSize reads diameter, lead and pitch of Tr40x14(P7), and the starts that follow.
func planSize(c *callout, dia, lead, pitch string) (d, p unit.Ratio, starts int, err error) {
	d, err1 := unit.ParseRatio(dia)
	l, err2 := unit.ParseRatio(lead)
	p, starts = l, max(c.starts, 1)
	if pitch != "" {
		var err3 error
		if p, err3 = unit.ParseRatio(pitch); err3 != nil || p.Sign() <= 0 {
			return d, p, 0, c.errorf("", "pitch %q is not a number", pitch)
		}
		n, err3 := l.Quo(p)
		if err3 != nil || !n.IsWhole() || n.Num() < 1 || n.Num() > MaxStarts {
			return d, p, 0, c.errorf("lead = starts x pitch"+nearLeads(l, p, "mm"), "a lead of %s mm is not 1 to %d pitches of %s mm", lead, MaxStarts, pitch)
		}
		starts = int(n.Num())
		if c.starts > 0 && c.starts != starts {
			return d, p, 0, c.errorf("", "says %d starts, but lead and pitch make %d", c.starts, starts)
		}
	}
	switch {
	case err1 != nil || err2 != nil:
		return d, p, 0, c.errorf("", "size cannot be read")
	case !(d.Float() >= 1 && d.Float() <= 2000):
		return d, p, 0, c.errorf("sizes run from 1 to 2000 mm", "a diameter of %s mm cannot be used", dia)
	case !(p.Float() >= 0.1 && 2*p.Float() < d.Float()):
		return d, p, 0, c.errorf("", "a pitch of %s mm cannot be cut on %s mm", numberText(p), dia)
	}
	return d, p, starts, nil
}

// inPlan refuses a size that the general plan does not have, unless SPECIAL is written.
func inPlan(c *callout, plan []planRow, name string, d, p unit.Ratio) error {
	if c.special {
		return nil
	}
	var pitches []string
	near, gap := plan[0].d, math.Inf(1)
	for _, r := range plan {
		if r.d == d {
			if r.p == p {
				return nil
			}
			pitches = append(pitches, numberText(r.p))
		}
		if g := math.Abs(r.d.Float() - d.Float()); g < gap {
			near, gap = r.d, g
		}
	}
	use := "; add SPECIAL to use it anyway"
	if len(pitches) > 0 {
		return c.errorf(fmt.Sprintf("%s%s has the pitches %s%s", name, numberText(d), strings.Join(pitches, ", "), use), "no standard pitch %s for %s%s", numberText(p), name, numberText(d))
	}
	return c.errorf(fmt.Sprintf("the nearest diameter is %s%s", numberText(near), use), "%s%s is not a standard diameter", name, numberText(d))
}

func planSeriesName(plan []planRow, d, p unit.Ratio) string {
	i := slices.IndexFunc(plan, func(r planRow) bool { return r.d == d && r.p == p })
	switch {
	case i < 0:
		return ""
	case plan[i].preferred:
		return "preferred"
	}
	return "general plan"
}

// planDesignation writes Tr40x14(P7)LH-7H.
func planDesignation(name string, t Thread, d unit.Ratio, special bool) string {
	s := fmt.Sprintf("%s%sx%s", name, numberText(d), numberText(t.Lead()))
	if t.Starts > 1 {
		s += fmt.Sprintf("(P%s)", numberText(t.Pitch))
	}
	if t.Hand == Left {
		s += "LH"
	}
	if t.Class != "" {
		s += "-" + t.Class
	}
	if special {
		s += " SPECIAL"
	}
	return s
}

// gradeAndPosition reads a class such as 7e or 7H: grades 7, 8, 9, for an external
// thread with one of the given positions, for an internal one with H.
func gradeAndPosition(c *callout, class, positions, external, internal string) (grade int, position string, side Side, err error) {
	if class == "" {
		side, err = c.pickSide(nil)
		class = external
		if side == Internal {
			class = internal
		}
		if err != nil {
			return 0, "", 0, err
		}
		c.assume("No class is given; %s is assumed.", class)
		return int(class[0] - '0'), class[1:], side, nil
	}
	m := trapezoidalClass().FindStringSubmatch(class)
	if m == nil {
		return 0, "", 0, c.errorf(fmt.Sprintf("write %s or %s", external, internal), "%q is not a class", class)
	}
	said := External
	if m[2] == "H" {
		said = Internal
	}
	if m[1] < "7" || m[1] > "9" || said == External && !strings.Contains(positions, m[2]) {
		return 0, "", 0, c.errorf(fmt.Sprintf("external 7 to 9 with %s, internal 7H, 8H, 9H", strings.Join(strings.Split(positions, ""), " or ")), "has no class %q", class)
	}
	side, err = c.pickSide(&said)
	return int(m[1][0] - '0'), m[2], side, err
}

func trapezoidalByPitch(p float64) (trapezoidalPitch, bool) {
	for _, r := range trapezoidalPitches() {
		if math.Abs(r.p-p) < 1e-9 {
			return r, true
		}
	}
	return trapezoidalPitch{}, false
}

// trapezoidalLimits fills basic sizes and limits, ISO 2904 and ISO 2903, in
// millimetres:
//
//	d2 = D2 = d - 0.5 P   d3 = d - P - 2 ac   D4 = d + 2 ac   D1 = d - P
//	screw: d less Td (grade 4, position h); d2 + es less Td2; d3 less Td3 = 1.25 Td2 + |es|
//	nut:   D4 and more; D2 plus TD2; D1 plus TD1 (grade 4, position H)
func trapezoidalLimits(t *Thread, r trapezoidalPitch, grade int, position string) {
	d, p := t.Nominal.MM(), r.p
	d2, d3, d4, d1 := d-0.5*p, d-p-2*r.ac, d+2*r.ac, d-p
	factor := startsFactor(t.Starts)
	if t.Side == Internal {
		tD2 := pitchTolerance(d, p, grade, true) * factor
		t.Basic = Diameters{unit.Length(d4), unit.Length(d2), unit.Length(d1)}
		t.Limits = Limits{Major: Band{Min: unit.Length(d4)}, Pitch: mmBand(d2, d2+tD2), Minor: mmBand(d1, d1+r.tD1/1000)}
		return
	}
	es := r.e / 1000
	if position == "c" {
		es = r.c / 1000
	}
	td2 := pitchTolerance(d, p, grade, false) * factor
	td3 := math.Floor((1.25*td2-es)*1000+0.5+1e-6) / 1000 // half a micrometre rounds up, as printed
	t.Deviation = unit.Length(es)
	t.Basic = Diameters{unit.Length(d), unit.Length(d2), unit.Length(d3)}
	t.Limits = Limits{Major: mmBand(d-r.td/1000, d), Pitch: mmBand(d2+es-td2, d2+es), Minor: mmBand(d3-td3, d3)}
}

// pitchTolerance is the tolerance of the pitch diameter in millimetres, ISO 2903
// clause 11.4: of grade 6 for an external thread
//
//	Td2(6) = 90 P^0.4 d^0.1 micrometres, d the geometric mean of the range of diameters
//
// rounded to the R40 series; every other grade lies a fixed number of steps up that
// series: 4, 8, 12 for grades 7, 8, 9, and 5 more for internal threads.
func pitchTolerance(d, p float64, grade int, internal bool) float64 {
	ranges := []float64{0.99, 1.4, 2.8, 5.6, 11.2, 22.4, 45, 90, 180, 355, 710, 1400, 2800}
	i := 1
	for i < len(ranges)-1 && d > ranges[i] {
		i++
	}
	mean := math.Sqrt(ranges[i-1] * ranges[i])
	steps := 4 * (grade - 6)
	if internal {
		steps += 5
	}
	return r40(r40Index(90*math.Pow(p, 0.4)*math.Pow(mean, 0.1))+steps) / 1000
}

// r40Series is one decade of the R40 preferred numbers as ISO 965-1 rounds them.
var r40Series = [...]float64{
	100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250, 265, 280, 300,
	315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670, 710, 750, 800, 850, 900, 950,
}

// r40 returns the member of the series with the given index; index 0 is 1.
func r40(i int) float64 {
	decade := int(math.Floor(float64(i) / 40))
	return r40Series[i-40*decade] * math.Pow(10, float64(decade-2))
}

// r40Index returns the index of the nearest member; a tie takes the larger.
func r40Index(v float64) int {
	i := int(math.Round(40 * math.Log10(v)))
	best := i
	for _, k := range []int{i - 1, i, i + 1} {
		if math.Abs(r40(k)-v) < math.Abs(r40(best)-v)+1e-9 && k != best && (math.Abs(r40(k)-v) < math.Abs(r40(best)-v)-1e-9 || k > best) {
			best = k
		}
	}
	return best
}

// startsFactor multiplies the pitch diameter tolerance of a thread of several starts.
func startsFactor(n int) float64 {
	switch {
	case n <= 1:
		return 1
	case n == 2:
		return 1.12
	case n == 3:
		return 1.25
	case n == 4:
		return 1.4
	}
	return 1.6
}

// normalEngagement is the middle of the normal group, 2.24 to 6.7 P d^0.2.
func normalEngagement(d, p float64) unit.Length {
	return unit.Length(roundEven((2.24+6.7)/2*p*math.Pow(d, 0.2), 0))
}
