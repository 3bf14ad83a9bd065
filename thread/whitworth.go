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

// WhitworthFamily is the 55 degree thread of BS 84: BSW, BSF, the 26-thread
// brass series, the model engineers' series and any other pitch on that form.
const WhitworthFamily Family = "Whitworth"

// whitworthForm is the basic form of BS 84 clause 4: a 55 degree triangle with a
// sixth of its height rounded off at crest and root.
//
//	H = P / (2 tan 27.5°)   h = 2H/3   r = (H/6) sin 27.5° / (1 - sin 27.5°)
var whitworthForm = roundedForm("55° Whitworth", "BS 84 clause 4", 27.5*unit.Degree, 2.0/3)

// roundedForm is a symmetrical form whose crest and root are one arc each, both
// tangent to the flanks; depth is given as a fraction of the triangle's height.
func roundedForm(name, source string, flank unit.Angle, depth float64) Form {
	h := 1 / (2 * flank.Tan())
	cut := h * (1 - depth) / 2
	r := cut * flank.Sin() / (1 - flank.Sin())
	return Form{
		Name: name, Source: source, Leading: flank, Trailing: flank, H: h, Depth: depth * h,
		CrestFlat: 2 * cut * flank.Tan(), RootFlat: 2 * cut * flank.Tan(), CrestRadius: r, RootRadius: r,
	}
}

//go:embed data/whitworth.csv
var whitworthText string

type whitworthRow struct {
	series, size string
	d, tpi       unit.Ratio // inches, threads per inch
}

var whitworthTable = sync.OnceValue(func() []whitworthRow {
	var out []whitworthRow
	for _, f := range readTable(whitworthText) {
		out = append(out, whitworthRow{f[0], f[1], number(f[1]), number(f[2])})
	}
	return out
})

func whitworthSeries() []SeriesRow {
	var out []SeriesRow
	for _, r := range whitworthTable() {
		p, _ := perInch(r.tpi)
		out = append(out, SeriesRow{
			Family: WhitworthFamily, Series: r.series, Designation: whitworthName(r.size, r.tpi, r.series),
			Nominal: inches(r.d.Float()), Pitch: p, System: unit.Inches,
		})
	}
	return out
}

func whitworthName(size string, tpi unit.Ratio, series string) string {
	return fmt.Sprintf("%s-%s %s", size, mixed(tpi), series)
}

// mixed prints a positive number as drawings do, exactly: 12, 2 7/8, 1/2, 0.333.
func mixed(r unit.Ratio) string {
	whole, rest := r.Num()/r.Den(), r.Num()%r.Den()
	if d := numberText(r); rest == 0 || r.Den() > 64 && !strings.Contains(d, "/") {
		return d
	}
	switch {
	case whole == 0:
		return fmt.Sprintf("%d/%d", rest, r.Den())
	}
	return fmt.Sprintf("%d %d/%d", whole, rest, r.Den())
}

// tpiPattern matches threads per inch: 12, 11.5, 11 1/2, 2 7/8.
const tpiPattern = `([0-9]+(?:\.[0-9]+|[ -][0-9]+/[0-9]+)?)`

const whitworthWord = `(BSW|BSF|BSB|BRASS|WHITWORTH|WHIT|ME|W)`

var (
	whitworthClaim = lazy(`\b(?:BSW|BSF|BSB|BRASS|WHITWORTH|WHIT|ME)\b|^W ?[0-9]`)
	whitworthAfter = lazy(`^` + inchSize + `(?:(?: ?- ?| ?X ?| )` + tpiPattern + `(?: ?TPI)?)?[ -]*` + whitworthWord + `\b[ -]*(.*)$`)
	whitworthFirst = lazy(`^` + whitworthWord + `[ -]*` + inchSize + `(?:(?: ?- ?| ?X ?)` + tpiPattern + `(?: ?TPI)?)?(?:[ -]+([A-Z(].*))?$`)
	dottedInitials = strings.NewReplacer("B.S.W.", "BSW", "B.S.F.", "BSF", "B.S.B.", "BSB", "M.E.", "ME", "B.S.W", "BSW", "B.S.F", "BSF")
)

func whitworthFamily() family {
	return family{
		info: FamilyInfo{
			Name: WhitworthFamily, What: "Whitworth threads, 55°: BSW, BSF, brass, model engineers'", Standard: "BS 84",
			Examples: []string{"1/2 BSW", "1/2-12 BSW", `1/2" BSF-medium`, "1/4-20 B.S.W. (close) bolt", "1/4-40 ME", "7/8-20 WHIT"},
		},
		claims: func(c *callout) bool { return whitworthClaim().MatchString(dottedInitials.Replace(c.fold)) },
		parse:  parseWhitworth,
		series: whitworthSeries,
	}
}

func parseWhitworth(c *callout) (Thread, error) {
	size, n, word, rest, ok := splitWhitworth(dottedInitials.Replace(c.fold))
	if !ok {
		return Thread{}, c.errorf("write 1/2 BSW, 1/2-12 BSW or 7/8-20 WHIT", "cannot be read as a Whitworth thread")
	}
	class, side, err := whitworthClass(c, rest)
	if err != nil {
		return Thread{}, err
	}
	d, err := readInches(size)
	if err != nil {
		return Thread{}, c.errorf("write the size in inches, such as 1/2", "size %q is not a number", size)
	}
	series, tpi, err := whitworthPitch(c, word, d, n)
	if err != nil {
		return Thread{}, err
	}
	pitch, err := boundedInch(c, d, tpi)
	if err != nil {
		return Thread{}, err
	}
	le, given, err := c.engagement(unit.Inches)
	if err != nil {
		return Thread{}, err
	}
	le = inches(roundEven(le.Inches(), 6))
	if !given {
		le = inches(d.Float())
	}
	t := c.thread(WhitworthFamily)
	t.Series, t.Class, t.Side, t.System = series, class, side, unit.Inches
	t.Nominal, t.Pitch, t.Form, t.Engagement = inches(d.Float()), pitch, whitworthForm, le
	t.Designation = whitworthDesignation(t, mixed(d), tpi)
	if given {
		t.Designation += ", LE " + inchText(le.Inches())
	}
	whitworthLimits(&t, series)
	t.Notes = append(t.Notes,
		Note{Text: "Tolerances by formula with length of engagement equal to the diameter unless given; rounded to 0.0001 in.", Source: "BS 84:1956, tolerance formulas, from memory"},
		Note{Text: "Crests may be truncated where the parts need no full form.", Source: "BS 84 annex A"})
	return c.settled(t)
}

// splitWhitworth takes the designation apart, with the series word behind or before the size.
func splitWhitworth(s string) (size, tpi, word, rest string, ok bool) {
	if m := whitworthAfter().FindStringSubmatch(s); m != nil {
		return m[1], m[2], m[3], m[4], true
	}
	if m := whitworthFirst().FindStringSubmatch(s); m != nil {
		return m[2], m[3], m[1], m[4], true
	}
	return "", "", "", "", false
}

var whitworthClasses = map[string][]Side{"close": {External, Internal}, "medium": {External, Internal}, "free": {External}, "normal": {Internal}}

// whitworthClass reads class and side from what follows the series word.
func whitworthClass(c *callout, rest string) (string, Side, error) {
	class, said := "", (*Side)(nil)
	for _, w := range strings.FieldsFunc(strings.ToLower(rest), func(r rune) bool { return r == ' ' || r == '-' || r == '(' || r == ')' }) {
		switch sides, isClass := whitworthClasses[w]; {
		case isClass:
			class = w
			if len(sides) == 1 {
				said = &sides[0]
			}
		case w == "bolt" || w == "screw" || w == "stud":
			s := External
			said = &s
		case w == "nut" || w == "hole":
			s := Internal
			said = &s
		case w == "class" || w == "fit" || w == "form":
		default:
			return "", 0, c.errorf("classes: close, medium, free (bolt); medium, normal (nut)", "%q is not a class of BS 84", w)
		}
	}
	side, err := c.pickSide(said)
	if err != nil {
		return "", 0, err
	}
	if class == "" {
		class = "medium"
		c.assume("No class is given; medium is assumed (bolts: close, medium, free; nuts: medium, normal).")
	}
	if !slices.Contains(whitworthClasses[class], side) {
		return "", 0, c.errorf("bolts are close, medium or free, nuts medium or normal", "has no class %s for an %s thread", class, side)
	}
	return class, side, nil
}

// whitworthPitch settles series and threads per inch.
func whitworthPitch(c *callout, word string, d unit.Ratio, n string) (series string, tpi unit.Ratio, err error) {
	series = map[string]string{"BRASS": "BSB", "WHITWORTH": "WHIT", "W": "WHIT"}[word]
	if series == "" {
		series = word
	}
	table := series
	if series == "WHIT" && n == "" { // "1/2 Whitworth" has always meant the coarse series
		series, table = "BSW", "BSW"
	}
	var std []unit.Ratio
	for _, r := range whitworthTable() {
		if r.series == table && r.d == d {
			std = append(std, r.tpi)
		}
	}
	if n != "" {
		tpi, err = unit.ParseRatio(n)
		if err != nil || tpi.Sign() <= 0 {
			return "", unit.Ratio{}, c.errorf("write 1/2-12 BSW", "%q threads per inch is not a number", n)
		}
		if series == "WHIT" || slices.Contains(std, tpi) {
			return series, tpi, nil
		}
		if c.special {
			return "WHIT", tpi, nil
		}
		if len(std) > 0 {
			return "", unit.Ratio{}, c.errorf(fmt.Sprintf("write %s-%s WHIT for another pitch on the Whitworth form", mixed(d), n),
				"%s %s has %s threads per inch, not %s", mixed(d), series, mixed(std[0]), n)
		}
	}
	switch {
	case len(std) > 1:
		return "", unit.Ratio{}, c.errorf(fmt.Sprintf("write %s-%s %s or %s-%s %s", mixed(d), mixed(std[0]), series, mixed(d), mixed(std[1]), series),
			"%s %s has more than one pitch", mixed(d), series)
	case len(std) == 0:
		return "", unit.Ratio{}, c.errorf(whitworthNearest(series, d), "%s in is not a size of the %s series", mixed(d), series)
	}
	return series, std[0], nil
}

func whitworthNearest(series string, d unit.Ratio) string {
	best, gap := "", math.Inf(1)
	for _, r := range whitworthTable() {
		if g := math.Abs(r.d.Float() - d.Float()); r.series == series && g < gap {
			best, gap = r.size, g
		}
	}
	return fmt.Sprintf("the nearest is %s %s; write %s-N WHIT with the threads per inch for any other", best, series, mixed(d))
}

// boundedInch checks that an inch thread can exist and returns its exact pitch.
func boundedInch(c *callout, d, tpi unit.Ratio) (unit.Ratio, error) {
	if v := d.Float(); !(v >= 0.01 && v <= 100) {
		return unit.Ratio{}, c.errorf("sizes run from 0.01 to 100 in", "a diameter of %s in cannot be used", mixed(d))
	}
	if v := tpi.Float(); !(v >= 1 && v <= 400) {
		return unit.Ratio{}, c.errorf("write threads per inch between 1 and 400", "%s threads per inch cannot be used", mixed(tpi))
	}
	pitch, err := perInch(tpi)
	if err != nil || 1.3/tpi.Float() >= d.Float() {
		return unit.Ratio{}, c.errorf("", "a thread of %s to the inch is too deep for a diameter of %s in", mixed(tpi), mixed(d))
	}
	return pitch, nil
}

func whitworthDesignation(t Thread, size string, tpi unit.Ratio) string {
	kind := "bolt"
	if t.Side == Internal {
		kind = "nut"
	}
	series := t.Series
	if series == "WHIT" {
		series = "Whit"
	}
	return leftSuffix(fmt.Sprintf("%s (%s) %s", whitworthName(size, tpi, series), t.Class, kind), t) + startsSuffix(t)
}

// leftSuffix appends LH to the designation of a left-hand thread.
func leftSuffix(s string, t Thread) string {
	if t.Hand == Left {
		return s + " LH"
	}
	return s
}

// startsSuffix tells the number of starts where a designation has no own way to.
func startsSuffix(t Thread) string {
	if t.Starts > 1 {
		return fmt.Sprintf(" (%d STARTS)", t.Starts)
	}
	return ""
}

// whitworthLimits fills basic sizes and limits by the formulas of BS 84.
//
//	T = 0.002 D^(1/3) + 0.003 sqrt(L) + 0.005 sqrt(P)          inches
//	effective: k T, k = 2/3 close, 1 medium, 3/2 free and normal
//	major of the bolt: k T + 0.01 sqrt(P)
//	minor of the bolt: k T + 0.02 sqrt(P); close 0.013 sqrt(P)
//	minor of the nut: 0.2 P + 0.004 (26 tpi and finer), 0.005 (24, 22), 0.007 (20 and coarser)
//	allowance of medium and free bolts to 3/4 in: 0.3 T; below 1/4 in that of the 1/4 in size
//
// Source: BS 84:1956 as quoted by Machinery's Handbook (Whitworth threads,
// tolerance formulas), from memory; two thirds, one and three halves of T, and
// the allowance of medium and free bolts to 3/4 in, are also on pages read.
func whitworthLimits(t *Thread, series string) {
	d, p, le := t.Nominal.Inches(), t.Pitch.Float()/25.4, t.Engagement.Inches()
	unitT := func(d, le, p float64) float64 {
		return 0.002*math.Cbrt(d) + 0.003*math.Sqrt(le) + 0.005*math.Sqrt(p)
	}
	k := map[string]float64{"close": 2.0 / 3, "medium": 1, "free": 1.5, "normal": 1.5}[t.Class]
	eff := roundEven(d-whitworthForm.Depth*p, 4)
	minor := roundEven(d-2*whitworthForm.Depth*p, 4)
	t.Basic = Diameters{inches(d), inches(eff), inches(minor)}
	tol := k * unitT(d, le, p)
	if t.Side == Internal {
		clear := 0.007
		switch n := 1 / p; {
		case n >= 25.9:
			clear = 0.004
		case n >= 21.9:
			clear = 0.005
		}
		t.Limits = Limits{
			Major: inchBand(d, 0, 4),
			Pitch: inchBand(eff, eff+roundEven(tol, 4), 4),
			Minor: inchBand(minor, minor+roundEven(0.2*p+clear, 4), 4),
		}
		return
	}
	es := 0.0
	if t.Class != "close" && d <= 0.75 {
		ad, ap := d, p
		if d < 0.25 {
			ad = 0.25
			switch series {
			case "BSW":
				ap = 1.0 / 20
			case "BSF", "BSB":
				ap = 1.0 / 26
			}
		}
		es = roundEven(0.3*unitT(ad, ad, ap), 4)
	}
	root := 0.02
	if t.Class == "close" {
		root = 0.013
	}
	t.Deviation = -inches(es)
	t.Limits = Limits{
		Major: inchBand(d-es-roundEven(tol+0.01*math.Sqrt(p), 4), d-es, 4),
		Pitch: inchBand(eff-es-roundEven(tol, 4), eff-es, 4),
		Minor: inchBand(minor-es-roundEven(tol+root*math.Sqrt(p), 4), minor-es, 4),
	}
}

// settled refuses a thread that is too small for its pitch or its tolerances, and
// remarks on a length of engagement that its standard does not use.
func (c *callout) settled(t Thread) (Thread, error) {
	l := t.Limits
	for _, b := range []Band{l.Major, l.Pitch, l.Minor} {
		if b.Min < 0 || b.Max < 0 || b.Mean() <= 0 {
			return Thread{}, c.errorf("", "is too small for the pitch and the tolerances of its class")
		}
	}
	if !(l.Major.Mean() > l.Pitch.Mean() && l.Pitch.Mean() > l.Minor.Mean() && t.Basic.Minor > 0) {
		return Thread{}, c.errorf("", "is too small for the pitch and the tolerances of its class")
	}
	if c.le != "" && t.Family != WhitworthFamily && t.Family != ButtressFamily {
		t.Notes = append(t.Notes, Note{Text: "The length of engagement given does not change the limits of this thread.", Source: t.Form.Source})
	}
	return t, nil
}

// sideWord tells the side where a designation has no own way to.
func sideWord(t Thread) string {
	if t.Side == Internal {
		return " INTERNAL"
	}
	return " EXTERNAL"
}

// inchBand makes a band from two figures in inches, each rounded to the places
// that the standard prints; zero stays "not given".
func inchBand(lo, hi float64, places int) Band {
	return Band{inches(roundEven(lo, places)), inches(roundEven(hi, places))}
}
