package thread

import (
	_ "embed"
	"math"
	"strconv"
	"strings"
	"sync"

	"thrum/unit"
)

//go:embed data/unified_exceptions.csv
var unifiedExceptionData string

// unifiedExceptions are the tabulated figures that differ from the formulas.
var unifiedExceptions = sync.OnceValue(func() map[string]float64 {
	m := map[string]float64{}
	for _, f := range readTable(unifiedExceptionData) {
		key := f[0] + " " + f[2]
		if f[1] != "" {
			key += " " + unifiedTableSize(f[1]).String()
		}
		m[key] = number(f[3]).Float()
	}
	return m
})

// exception returns the table's figure of one kind for this thread.
func (u unifiedThread) exception(kind string) (float64, bool) {
	if u.formulaOnly {
		return 0, false
	}
	tpi := numberText(u.tpi)
	if v, ok := unifiedExceptions()[kind+" "+tpi+" "+u.size.String()]; ok {
		return v, true
	}
	v, ok := unifiedExceptions()[kind+" "+tpi] // for every size of this pitch
	return v, ok
}

// Coefficients of the Unified profile per pitch, to the eight places at which
// the standard rounds them.
const (
	unPitch = 0.64951905 // D - D2 = 3H/4
	unMinor = 1.08253175 // D - D1 = 5H/4, UN
	unrRoot = 1.19078493 // d - d3 of UNR = 11H/8
	unjNut  = 0.97427858 // D - D1 of UNJ = 9H/8
	unjRoot = 1.15470054 // d - d3, largest, of UNJ: root radius 0.18042 P
	unjLow  = 0.56580398 // d2 - d3, smallest, of UNJ: root radius 0.15011 P
)

// inchLimits are limits in decimal inches, rounded as printed.
type inchLimits struct {
	es                  float64
	majorMin, majorMax  float64
	pitchMin, pitchMax  float64
	minorMin, minorMax  float64
	engagement, pdTol2A float64
}

// d and p are the basic diameter, rounded to four places, and the pitch, to eight.
func (u unifiedThread) d() float64 { return roundEven(u.size.Float(), 4) }
func (u unifiedThread) p() float64 { return roundEven(1/u.tpi.Float(), 8) }

// byDiameter tells whether the tables of this series reckon with an engagement
// of one diameter; the other series reckon with nine pitches.
func (u unifiedThread) byDiameter() bool {
	switch u.series {
	case "UNC", "UNF":
		return true
	case "UN":
		return u.tpi.Cmp(unit.Whole(8)) <= 0
	}
	return false
}

// engagement returns the length of engagement to reckon with and the range, in
// inches, for which the tabulated tolerances serve.
func (u unifiedThread) engagement() (le, from, to float64) {
	le, from, to = 9*u.p(), 5*u.p(), 15*u.p()
	if u.byDiameter() {
		le, from, to = u.d(), 0, 1.5*u.d()
	}
	if v, ok := u.exception("engagement"); ok {
		le, from, to = v, 0, 1.5*v
	}
	return le, from, to
}

// tolerance2A returns the pitch diameter tolerance of class 2A, on which all
// others rest, and the engagement it holds for:
//
//	Td2 = 0.0015 D^(1/3) + 0.0015 LE^(1/2) + 0.015 P^(2/3)      inches, 6 places
//
// Source: ASME B1.1, pitch diameter tolerances (from memory; it reproduces the
// 0.003668 that Machinery's Handbook, 31st ed., works out for 1/2-28 UNEF-2A).
func (u unifiedThread) tolerance2A() (td2, le float64) {
	le, from, to := u.engagement()
	d := u.size.Float()
	if v, ok := u.exception("tolerance size"); ok {
		d = v
	}
	if u.le > 0 && (u.leByName || u.le < from || u.le > to) {
		le, d = u.le, u.size.Float()
	}
	p := u.p()
	return roundEven(0.0015*math.Cbrt(d)+0.0015*math.Sqrt(le)+0.015*math.Cbrt(p*p), 6), le
}

// classFactor multiplies the tolerance of class 2A.
//
// Source: ASME B1.1 (from memory; the published limits confirm them).
func (u unifiedThread) classFactor() float64 {
	external := map[byte]float64{'1': 1.5, '2': 1, '3': 0.75}
	internal := map[byte]float64{'1': 1.95, '2': 1.3, '3': 0.975}
	if u.side == Internal {
		return internal[u.grade]
	}
	return external[u.grade]
}

// external returns the limits of a screw. The maximum pitch diameter is rounded
// to four places BEFORE the tolerance is taken off it, and the tolerance of class
// 2A to six places before it is multiplied for the class; so do the tables, and
// any other order misses some of their figures by 0.0001 in.
//
// Source: ASME B1.1, formulas for limits of size.
func (u unifiedThread) external() inchLimits {
	var l inchLimits
	l.pdTol2A, l.engagement = u.tolerance2A()
	if u.grade != '3' {
		l.es = roundEven(0.3*l.pdTol2A, 4)
		if v, ok := u.exception("allowance"); ok && !u.leByName {
			l.es = v
		}
	}
	p := u.p()
	major := 0.060
	if u.grade == '1' {
		major = 0.090
	}
	l.majorMax = roundEven(u.d()-l.es, 4)
	l.majorMin = roundEven(l.majorMax-roundEven(major*math.Cbrt(p*p), 6), 4)
	l.pitchMax = roundEven(l.majorMax-roundEven(unPitch*p, 6), 4)
	l.pitchMin = roundEven(l.pitchMax-u.classFactor()*l.pdTol2A, 4)
	switch u.root {
	case 'R':
		height := roundEven(unrRoot*p, 6)
		if v, ok := u.exception("UNR height"); ok {
			height = v
		}
		l.minorMax = roundEven(l.majorMax-height, 4)
	case 'J':
		l.minorMax = roundEven(l.majorMax-unjRoot*p, 4)
		l.minorMin = roundEven(l.pitchMin-unjLow*p, 4)
	default:
		l.minorMax = roundEven(l.majorMax-roundEven(unMinor*p, 6), 4)
	}
	return l
}

// internal returns the limits of a nut; see minorLimits for its minor diameter.
func (u unifiedThread) internal() inchLimits {
	var l inchLimits
	l.pdTol2A, l.engagement = u.tolerance2A()
	p := u.p()
	l.majorMin = u.d()
	l.pitchMin = roundEven(u.d()-roundEven(unPitch*p, 6), 4)
	l.pitchMax = roundEven(l.pitchMin+u.classFactor()*l.pdTol2A, 4)
	l.minorMin, l.minorMax = u.minorLimits()
	return l
}

// minorTolerance returns TD1. For class 3B, and for 1B and 2B below 1/4 in:
//
//	0.05 P^(2/3) + 0.03 P/D - 0.002, at most 0.394 P, and at least
//	0.25 P - 0.40 P^2 (1B, 2B); 0.23 P - 1.5 P^2 (3B, 13 tpi and finer); 0.120 P (3B, coarser)
//
// For 1B and 2B from 1/4 in up: 0.25 P - 0.40 P^2, or 0.15 P coarser than 4 tpi.
//
// Source: ASME B1.1, minor diameter tolerances; 0.25 P - 0.40 P^2 is read in
// Machinery's Handbook, 31st ed., the rest is from memory and fits every
// published limit that is checked.
func (u unifiedThread) minorTolerance() float64 {
	p, d := u.p(), u.size.Float()
	third := u.grade == '3'
	if !third && d >= 0.25 {
		if u.tpi.Cmp(unit.Whole(4)) < 0 {
			return roundEven(0.15*p, 4)
		}
		return roundEven(0.25*p-0.40*p*p, 4)
	}
	least := 0.25*p - 0.40*p*p
	if third {
		least = 0.23*p - 1.5*p*p
		if u.tpi.Cmp(unit.Whole(13)) < 0 {
			least = 0.120 * p
		}
	}
	t := max(0.05*math.Cbrt(p*p)+0.03*p/d-0.002, least)
	return roundEven(min(t, 0.394*p), 4)
}

// minorLimits rounds the minor diameter of a nut as the tables do. Classes 1B and
// 2B have three places from 0.138 in up, four below. Limits of standard sizes
// come from rounding twice, to four places and then to three: that alone gives
// the published 1.534 and 1.568 of 1 3/4-5 UNC. Specials are rounded once, as
// the worked example of the present standard is. Class 3B prints the minimum to
// three places with a zero added, and the maximum from the unrounded minimum.
func (u unifiedThread) minorLimits() (lo, hi float64) {
	coefficient := unMinor
	if u.root == 'J' {
		coefficient = unjNut
	}
	lo = u.d() - roundEven(coefficient*u.p(), 6)
	hi = lo + u.minorTolerance()
	places3 := func(v float64) float64 {
		if u.standard {
			v = roundEven(v, 4)
		}
		return roundEven(v, 3)
	}
	switch {
	case u.root == 'J' || u.d() < 0.138:
		return roundEven(lo, 4), roundEven(hi, 4)
	case u.grade == '3':
		return places3(lo), roundEven(hi, 4)
	}
	return places3(lo), places3(hi)
}

// thread puts the pieces together.
func (u unifiedThread) thread(c *callout) Thread {
	l := u.external()
	if u.side == Internal {
		l = u.internal()
	}
	u.describe(c, l)
	name := UnifiedFamily
	if u.root == 'J' {
		name = UnifiedJFamily
	}
	t := c.thread(name)
	pitch, err := perInch(u.tpi)
	if err != nil { // readPitch has bounded it
		panic(err)
	}
	d, p := inches(u.size.Float()), pitch.Length()
	t.Designation, t.Series, t.Class = u.designation(c), u.seriesName(), u.className()
	t.Side, t.System, t.Nominal, t.Pitch = u.side, unit.Inches, d, pitch
	t.Form = form60(u.side, u.root)
	t.Engagement = inches(l.engagement)
	minor := unit.Length(unMinor)
	if u.root == 'J' {
		minor = unjNut
	}
	t.Basic = Diameters{d, d - unPitch*p, d - minor*p}
	t.Limits = Limits{
		Major: Band{inches(l.majorMin), inches(l.majorMax)},
		Pitch: Band{inches(l.pitchMin), inches(l.pitchMax)},
		Minor: Band{inches(l.minorMin), inches(l.minorMax)},
	}
	t.Deviation = -inches(l.es)
	return t
}

// describe adds the notes that belong to these limits.
func (u unifiedThread) describe(c *callout, l inchLimits) {
	standard := "ASME B1.1"
	if u.root == 'J' {
		standard = "ASME B1.15 (from memory)"
	}
	_, from, to := u.engagement()
	switch {
	case u.le > 0 && (u.leByName || u.le < from || u.le > to):
		c.note(standard, "Pitch diameter tolerance reckoned for a length of engagement of %s in.", inchText(u.le))
	case u.le > 0:
		c.note(standard, "The length of engagement of %s in is within the range of the table (%s to %s in), so the table's limits hold.",
			inchText(u.le), inchText(from), inchText(to))
	default:
		c.note(standard, "Tolerances hold for a length of engagement of up to %s in.", inchText(to))
	}
	if u.grade == '1' && !u.byDiameter() {
		c.note(standard, "The standard lists class 1 for UNC and UNF only.")
	}
	if c.starts > 1 {
		c.assume("A thread of %d starts: the tolerances of a single start are used.", c.starts)
	}
	c.note(standard, "Sizes are those before plating.")
}

func (u unifiedThread) seriesName() string {
	if u.root == 0 {
		return u.series
	}
	return "UN" + string(u.root) + strings.TrimPrefix(u.series, "UN")
}

func (u unifiedThread) className() string {
	if u.side == Internal {
		return string(u.grade) + "B"
	}
	return string(u.grade) + "A"
}

// designation writes the callout in the standard's own form.
func (u unifiedThread) designation(c *callout) string {
	size := unifiedSizeText(u.size)
	if !u.standard && u.size.IsWhole() { // 2.000-100: a bare 2 might be number 2
		size = decimalInches(u.size)
	}
	s := size + "-" + numberText(u.tpi) + " " + u.seriesName() + "-" + u.className()
	if c.hand == Left {
		s += "-LH"
	}
	if c.starts > 1 {
		s += " (" + strconv.Itoa(c.starts) + " STARTS)"
	}
	switch {
	case u.le > 0 && u.leByName:
		s += " SPECIAL, LE " + inchText(u.le)
	case u.le > 0:
		s += ", LE " + inchText(u.le)
	}
	return s
}

// inchText writes decimal inches without a leading zero: .75, 1.125.
func inchText(v float64) string {
	return strings.TrimPrefix(strconv.FormatFloat(roundEven(v, 6), 'f', -1, 64), "0")
}
