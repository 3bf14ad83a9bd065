package thread

import (
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"sync"

	"thrum/unit"
)

//go:embed data/metric_pitch.csv
var metricPitchData string

//go:embed data/metric_range.csv
var metricRangeData string

// metricPitchRow holds what depends on the pitch alone, in micrometres; zero
// where the standard gives nothing.
type metricPitchRow struct {
	e, f, g float64
	major   [10]float64 // by grade
	minor   [10]float64
}

// metricRangeRow holds what depends on the range of the diameter and the pitch.
type metricRangeRow struct {
	over, to   float64
	pitch      unit.Ratio
	screw, nut [10]float64 // pitch diameter tolerances by grade, micrometres
	nFrom, nTo float64     // normal engagement, mm
}

var metricPitches = sync.OnceValue(func() map[unit.Ratio]metricPitchRow {
	m := map[unit.Ratio]metricPitchRow{}
	for _, f := range readTable(metricPitchData) {
		r := metricPitchRow{e: micro(f[1]), f: micro(f[2]), g: micro(f[3])}
		for i, grade := range []int{4, 6, 8} {
			r.major[grade] = micro(f[4+i])
		}
		for grade := 4; grade <= 8; grade++ {
			r.minor[grade] = micro(f[7+grade-4])
		}
		m[number(f[0])] = r
	}
	return m
})

var metricRanges = sync.OnceValue(func() []metricRangeRow {
	var rows []metricRangeRow
	for _, f := range readTable(metricRangeData) {
		r := metricRangeRow{over: micro(f[0]), to: micro(f[1]), pitch: number(f[2]), nFrom: micro(f[15]), nTo: micro(f[16])}
		for grade := 3; grade <= 9; grade++ {
			r.screw[grade] = micro(f[grade])
		}
		for grade := 4; grade <= 8; grade++ {
			r.nut[grade] = micro(f[10+grade-4])
		}
		rows = append(rows, r)
	}
	return rows
})

// micro reads a plain number of our own tables; an empty field is zero.
func micro(s string) float64 {
	if s == "" {
		return 0
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic("thread: table: " + err.Error())
	}
	return v
}

// metricRange returns the row for a diameter and pitch; ok is false when the
// standard has none. The mean is the geometric mean of the diameter's range, for
// the formulas.
func metricRange(d, p unit.Ratio) (row metricRangeRow, mean float64, ok bool) {
	v := d.Float()
	mean = v
	for _, r := range metricRanges() {
		if v > r.over && v <= r.to {
			mean = math.Sqrt(r.over * r.to)
			if r.pitch == p {
				return r, mean, true
			}
		}
	}
	return metricRangeRow{}, mean, false
}

// metricEngagement returns the range of normal engagement:
//
//	2.24 P d^0.2 to 6.7 P d^0.2
//
// from the table where it has this pitch, else by the formula with d the diameter.
//
// Source: ISO 965-1, length of engagement (formula from memory).
func metricEngagement(d, p unit.Ratio) (from, to float64) {
	if r, _, ok := metricRange(d, p); ok {
		return r.nFrom, r.nTo
	}
	k := p.Float() * math.Pow(d.Float(), 0.2)
	return roundEven(2.24*k, 2), roundEven(6.7*k, 2)
}

// pitchTolerance returns Td2 or TD2 in micrometres:
//
//	Td2(6) = 90 P^0.4 d^0.1, P and d in mm, d the geometric mean of its range
//
// rounded to a preferred number of the series R40, in which each grade is four
// steps from the next (a ratio of 1.25) and the nut is five steps above the screw
// (1.32). The table governs where it has a value.
//
// Source: ISO 965-1; ratios read in Machinery's Handbook, 27th ed., p. 1797.
func (t *metricThread) pitchTolerance() float64 {
	row, mean, ok := metricRange(t.d, t.p)
	table, steps := row.screw, 4*(t.pitchGrade-6)
	if t.side == Internal {
		table, steps = row.nut, steps+5
	}
	if v := table[t.pitchGrade]; ok && v > 0 {
		return v
	}
	t.computed = true
	return r40(r40Index(90*math.Pow(t.p.Float(), 0.4)*math.Pow(mean, 0.1)) + steps)
}

// crestTolerance returns Td of a screw's major or TD1 of a nut's minor diameter:
//
//	Td(6)  = 180 P^(2/3) - 3.15 / P^(1/2)
//	TD1(6) = 433 P - 190 P^1.22 (P up to 0.8), 230 P^0.7 (P from 1)
//
// Source: as pitchTolerance; formulas from memory.
func (t *metricThread) crestTolerance() float64 {
	row, p := metricPitches()[t.p], t.p.Float()
	table, six := row.minor, 230*math.Pow(p, 0.7)
	switch {
	case t.side == External:
		table, six = row.major, 180*math.Cbrt(p*p)-3.15/math.Sqrt(p)
	case p < 0.9:
		six = 433*p - 190*math.Pow(p, 1.22)
	}
	if v := table[t.crestGrade]; v > 0 {
		return v
	}
	t.computed = true
	return r40(r40Index(max(six, 1)) + 4*(t.crestGrade-6))
}

// deviation returns es (negative or zero) or EI (positive or zero) in micrometres:
//
//	g, G: 15 + 11 P;  f: 30 + 11 P;  e: 50 + 11 P;  h, H: 0
//
// from the table where it has this pitch. Source: ISO 965-1.
func (t *metricThread) deviation(pos byte) float64 {
	row, p := metricPitches()[t.p], t.p.Float()
	pick := func(table, base float64) float64 {
		if table > 0 {
			return table
		}
		t.computed = true
		return math.Round(base + 11*p)
	}
	switch pos {
	case 'g':
		return -pick(row.g, 15)
	case 'G':
		return pick(row.g, 15)
	case 'f':
		return -pick(row.f, 30)
	case 'e':
		return -pick(row.e, 50)
	}
	return 0
}

// Coefficients of the metric profile per pitch.
const (
	isoPitch = 0.6495190528383290 // d - d2 = 3H/4
	isoMinor = 1.0825317547305484 // D - D1 = 5H/4
	isoRoot  = 1.2268693221       // d - d3, largest: root radius H/6
	isoLow   = 0.6160254038       // d2 - d3, smallest: root radius 0.125 P
	mjNut    = 0.9742785793       // D - D1 of MJ = 9H/8
	mjRoot   = 1.1547005384       // d - d3, largest, of MJ: root radius 0.18042 P
	mjLow    = 0.5658039838       // d2 - d3, smallest, of MJ: root radius 0.15011 P
)

// thread reckons the limits, in millimetres to three places as the tables have them.
//
// Source: ISO 965-1, limits of sizes; the minor diameter of the screw as in the
// tables of ISO 965-2 (root radius between 0.125 P and H/6).
func (t *metricThread) thread(c *callout) Thread {
	d, p := t.d.Float(), t.p.Float()
	mm := func(v float64) unit.Length { return unit.Length(roundEven(v, 3)) }
	devPitch, devCrest := t.deviation(t.pitchPos)/1000, t.deviation(t.crestPos)/1000
	tolPitch, tolCrest := t.pitchTolerance()/1000, t.crestTolerance()/1000
	d2 := roundEven(d-isoPitch*p, 3)
	nut, root, low := isoMinor, isoRoot, isoLow
	if t.j {
		nut, root, low = mjNut, mjRoot, mjLow
	}
	name, formRoot := MetricFamily, byte('M')
	if t.j {
		name, formRoot = MetricJFamily, 'J'
	}
	out := c.thread(name)
	if t.side == External {
		out.Limits = Limits{
			Major: Band{mm(d + devCrest - tolCrest), mm(d + devCrest)},
			Pitch: Band{mm(d2 + devPitch - tolPitch), mm(d2 + devPitch)},
			Minor: Band{mm(d - isoPitch*p + devPitch - tolPitch - low*p), mm(d - root*p + devPitch)},
		}
	} else {
		d1 := roundEven(d-nut*p, 3)
		out.Limits = Limits{
			Major: Band{mm(d + devPitch), 0},
			Pitch: Band{mm(d2 + devPitch), mm(d2 + devPitch + tolPitch)},
			Minor: Band{mm(d1 + devCrest), mm(d1 + devCrest + tolCrest)},
		}
	}
	t.describe(c)
	out.Notes = c.notes
	out.Designation, out.Series, out.Class = t.designation(c), t.series, t.className()
	out.Side, out.System, out.Nominal, out.Pitch = t.side, unit.Metric, t.d.Length(), t.p
	out.Form = form60(t.side, formRoot)
	out.Engagement = unit.Length(t.nTo)
	if t.le > 0 {
		out.Engagement = unit.Length(t.le)
	}
	out.Basic = Diameters{t.d.Length(), unit.Length(d - isoPitch*p), unit.Length(d - nut*p)}
	out.Deviation = mm(devPitch)
	return out
}

// describe adds the notes that belong to these limits.
func (t *metricThread) describe(c *callout) {
	standard := "ISO 965-1"
	if t.j {
		standard = "ISO 5855-1 (from memory)"
	}
	switch {
	case t.le > 0:
		c.note(standard, "An engagement of %s mm is group %c (N is over %s up to %s mm); the class governs, the group only chooses it.",
			mmText(t.le), t.groupOf(t.le), mmText(t.nFrom), mmText(t.nTo))
	default:
		c.note(standard, "Normal length of engagement: over %s up to %s mm.", mmText(t.nFrom), mmText(t.nTo))
	}
	if t.computed && t.series != "" {
		c.note(standard, "The tables give no value of this grade at this pitch and diameter; the formula of the standard is used.")
	}
	if c.starts > 1 {
		c.assume("A thread of %d starts: the tolerances of a single start are used.", c.starts)
	}
	c.note(standard, "Sizes are those before plating.")
}

func (t *metricThread) className() string {
	pitch := fmt.Sprintf("%d%c", t.pitchGrade, t.pitchPos)
	crest := fmt.Sprintf("%d%c", t.crestGrade, t.crestPos)
	if pitch == crest {
		return pitch
	}
	return pitch + crest
}

// designation writes the callout as ISO 965-1 does, always with its pitch.
func (t *metricThread) designation(c *callout) string {
	s := "M"
	if t.j {
		s = "MJ"
	}
	s += numberText(t.d) + "x"
	if c.starts > 1 {
		lead := exactly(t.p, unit.Whole(int64(c.starts)))
		s += "Ph" + numberText(lead) + "P"
	}
	s += numberText(t.p) + "-" + t.className()
	if t.group != 0 && t.le == 0 {
		s += "-" + string(t.group)
	}
	if c.hand == Left {
		s += "-LH"
	}
	if t.series == "" {
		s += " SPECIAL"
	}
	if t.le > 0 {
		s += ", LE " + mmText(t.le)
	}
	return s
}

func mmText(v float64) string { return strconv.FormatFloat(roundEven(v, 4), 'f', -1, 64) }
