package thread

import (
	_ "embed"
	"fmt"
	"math"
	"strings"
	"sync"

	"thrum/unit"
)

// AcmeFamily is the 29 degree thread for power and motion: general purpose Acme
// (ASME B1.5, classes 2G, 3G, 4G), centralizing Acme, whose screw is borne on its crests
// (classes 2C, 3C, 4C), and Stub Acme (ASME B1.8).
const AcmeFamily Family = "Acme"

//go:embed data/acme.csv
var acmeText string

//go:embed data/acme-allowance.csv
var acmeAllowanceText string

type acmeRow struct {
	size   string
	d, tpi unit.Ratio
}

var acmeTable = sync.OnceValue(func() []acmeRow {
	var out []acmeRow
	for _, f := range readTable(acmeText) {
		out = append(out, acmeRow{f[0], number(f[0]), number(f[1])})
	}
	return out
})

func acmeSeries() []SeriesRow {
	var out []SeriesRow
	for _, series := range []string{"Acme", "Stub Acme"} {
		for _, r := range acmeTable() {
			p, _ := perInch(r.tpi)
			out = append(out, SeriesRow{
				Family: AcmeFamily, Series: series, Designation: fmt.Sprintf("%s-%s %s", r.size, mixed(r.tpi), strings.ToUpper(series)),
				Nominal: inches(r.d.Float()), Pitch: p, System: unit.Inches,
			})
		}
	}
	return out
}

// acmeForm is the form of a screw or nut with the given height of engagement and
// the clearance at the root that its size calls for, both per pitch.
//
//	flank 14.5°   height 0.5 P (stub 0.3 P)   crest flat 0.3707 P (stub 0.4224 P)
func acmeForm(stub bool, clearance float64) Form {
	f := Form{
		Name: "29° Acme", Source: "ASME B1.5 clause 2", Leading: 14.5 * unit.Degree, Trailing: 14.5 * unit.Degree,
		H: 1 / (2 * (14.5 * unit.Degree).Tan()),
	}
	h := 0.5
	if stub {
		f.Name, f.Source, h = "29° Stub Acme", "ASME B1.8 clause 2", 0.3
	}
	tan := (14.5 * unit.Degree).Tan()
	f.CrestFlat = 0.5 - h*tan
	f.RootFlat = f.CrestFlat - 2*clearance*tan
	f.Depth = h + clearance
	return f
}

var (
	acmeClaim = lazy(`\bACME\b`)
	acmeShape = lazy(`^` + inchSize + `(?: ?- ?| ?X ?| )` + tpiPattern + `(?: ?TPI)?$`)
	acmeLead  = lazy(`^` + inchSize + `[ -]+([0-9]*\.[0-9]+|[0-9]+/[0-9]+|[0-9]+) ?P[ -]*([0-9]+\.?[0-9]*|\.[0-9]+|[0-9]+/[0-9]+) ?L$`)
	acmeGrade = lazy(`\b([1-9]) ?([GC])\b`)
	acmeStub  = lazy(`\bSTUB\b`)
)

func acmeFamily() family {
	return family{
		info: FamilyInfo{
			Name: AcmeFamily, What: "Acme and Stub Acme threads, 29°", Standard: "ASME B1.5, B1.8",
			Examples: []string{"1-5 ACME-2G", "1 1/2-4 ACME-2G-LH", "1-5 ACME-3C", "1-5 STUB ACME", "1/2-10 ACME 4 START", "1.750-0.2P-0.4L ACME-3G"},
		},
		claims: func(c *callout) bool { return acmeClaim().MatchString(c.fold) },
		parse:  parseAcme,
		series: acmeSeries,
	}
}

func parseAcme(c *callout) (Thread, error) {
	s := acmeClaim().ReplaceAllString(c.fold, " ")
	stub := acmeStub().MatchString(s)
	s = acmeStub().ReplaceAllString(s, " ")
	class := "2G"
	if m := acmeGrade().FindStringSubmatch(s); m != nil {
		class = m[1] + m[2]
		s = strings.Replace(s, m[0], " ", 1)
	} else {
		c.assume("No class is given; 2G is assumed.")
	}
	if _, known := acmeClasses[class]; !known || stub && class != "2G" {
		return Thread{}, c.errorf("general purpose: 2G, 3G, 4G; centralizing: 2C, 3C, 4C; stub: 2G", "class %s is not known here", class)
	}
	d, p, starts, err := inchPitchSize(c, strings.Trim(strings.Join(strings.Fields(s), " "), " -"), "ACME-2G")
	if err != nil {
		return Thread{}, err
	}
	side, err := c.pickSide(nil)
	if err != nil {
		return Thread{}, err
	}
	t := c.thread(AcmeFamily)
	t.Series, t.Class, t.Side, t.System, t.Starts = "Acme", class, side, unit.Inches, starts
	if stub {
		t.Series = "Stub Acme"
	}
	t.Nominal, t.Pitch, t.Engagement = inches(d.Float()), p, 2*inches(d.Float())
	acmeLimits(&t, stub)
	name := "-ACME-" + t.Class
	if stub {
		name = " STUB ACME"
	}
	t.Designation = acmeDesignation(t, d, name) + sideWord(t)
	acmeNotes(&t, d)
	return c.settled(t)
}

// inchPitchSize reads 1-5, 1 1/2-4 or 1.750-0.2P-0.4L, as it stands before a name
// such as ACME-2G.
func inchPitchSize(c *callout, s, name string) (d, pitch unit.Ratio, starts int, err error) {
	bad := func(reason string, args ...any) (unit.Ratio, unit.Ratio, int, error) {
		return d, pitch, 0, c.errorf(fmt.Sprintf("write 1-5 %s, or 1.750-0.2P-0.4L %s for two starts", name, name), reason, args...)
	}
	starts = max(c.starts, 1)
	var tpi unit.Ratio
	if m := acmeLead().FindStringSubmatch(s); m != nil {
		pIn, err1 := unit.ParseRatio(m[2])
		lead, err2 := unit.ParseRatio(m[3])
		d, err = readInches(m[1])
		if err != nil || err1 != nil || err2 != nil || pIn.Sign() <= 0 {
			return bad("size, pitch and lead of %q cannot be read", s)
		}
		tpi = wholeTPI(c, pIn)
		n := math.Round(min(lead.Float()*tpi.Float(), MaxStarts+1))
		starts = int(n)
		if math.Abs(lead.Float()-n/tpi.Float()) > 0.0001 || starts < 1 || starts > MaxStarts {
			return bad("a lead of %s in is not a whole number of pitches of %s in", m[3], m[2])
		}
		if c.starts > 0 && c.starts != starts {
			return bad("says %d starts, but lead and pitch make %d", c.starts, starts)
		}
	} else if m := acmeShape().FindStringSubmatch(s); m != nil {
		d, err = readInches(m[1])
		if err != nil {
			return bad("size %q is not a number", m[1])
		}
		if tpi, err = unit.ParseRatio(strings.Replace(m[2], "-", " ", 1)); err != nil || tpi.Sign() <= 0 {
			return bad("%q threads per inch is not a number", m[2])
		}
	} else {
		return bad("the size cannot be read")
	}
	pitch, err = boundedInch(c, d, tpi)
	return d, pitch, starts, err
}

// wholeTPI returns the threads per inch of a pitch written as a decimal. Four
// places cannot hold a third of an inch: 0.3333P means 3 to the inch, exactly.
func wholeTPI(c *callout, pitch unit.Ratio) unit.Ratio {
	n, err := pitch.Inv()
	if err != nil {
		return unit.Ratio{}
	}
	twice := math.Round(2 * n.Float())
	near, err := unit.NewRatio(int64(twice), 2)
	if err == nil && near.Sign() > 0 && near != n && math.Abs(1/near.Float()-pitch.Float()) < 0.00006 {
		c.assume("A pitch of %s in is taken as exactly %s threads per inch.", mixed(pitch), mixed(near))
		return near
	}
	return n
}

// acmeClass holds the factors of one class, in inches to the root of inches.
type acmeClass struct {
	allowance, byDiameter, byPitch float64 // of the pitch diameter
	screw, nut                     float64 // tolerance of the major diameter, centralizing classes; zero for the others
}

var acmeClasses = map[string]acmeClass{
	"2G": {0.008, 0.006, 0.030, 0, 0},
	"3G": {0.006, 0.0028, 0.014, 0, 0},
	"4G": {0.004, 0.002, 0.010, 0, 0},
	"2C": {0.008, 0.006, 0.030, 0.0035, 0.0035},
	"3C": {0.006, 0.0028, 0.014, 0.0015, 0.0035},
	"4C": {0.004, 0.002, 0.010, 0.0010, 0.0020},
}

// centralize replaces what B1.5 sets otherwise for centralizing classes, in inches; P is
// the pitch, D the nominal size:
//
//	screw: major D, less 0.0035 sqrt(D) (2C), 0.0015 (3C), 0.0010 (4C)
//	nut:   major D + 0.0010 sqrt(D), and 0.0035 sqrt(D) (2C, 3C), 0.0020 (4C)
//	       minor D - 0.9 P, and 0.05 P or 0.005
//
// Source: Machinery's Handbook, 27th ed., pp. 1837 and 1842, tables 8a and 12.
func (t *Thread) centralize(d, p float64, class acmeClass) {
	root := math.Sqrt(acmeStep(d))
	if t.Side == External {
		t.Limits.Major = inchBand(d-class.screw*root, d, 4)
		return
	}
	clear := 0.0010 * root
	t.Form = acmeForm(false, clear/2/p)
	t.Form.Name = "29° centralizing Acme"
	least := d - 0.9*p
	t.Limits.Major = inchBand(d+clear, d+clear+class.nut*root, 4)
	t.Limits.Minor = inchBand(least, least+max(0.05*p, 0.005), 4)
}

// acmeLimits fills form, basic sizes and limits by the formulas of B1.5 clause 4,
// in inches; D is the nominal size, P the pitch:
//
//	allowance on the pitch diameter of the screw  2G 0.008 sqrt(D*), 3G 0.006, 4G 0.004; D* by range of size
//	pitch diameter tolerance, screw and nut   2G 0.0060 sqrt(D) + 0.030 sqrt(P)
//	                                          3G 0.0028 sqrt(D) + 0.014 sqrt(P)
//	                                          4G 0.0020 sqrt(D) + 0.010 sqrt(P)
//	screw: major D, less 0.05 P or 0.005      minor D - P - 0.020 (to 10 tpi; finer 0.010), less 1.5 pitch diameter tolerances
//	nut:   minor D - P, and 0.05 P or 0.005   major D + 0.020 (0.010), and as much again
//
// The greatest sizes of the screw are rounded to 0.0001 in first; the least follow
// from them with the unrounded tolerance.
//
// Stub Acme (B1.8): 0.6 P in the place of P, class 2G, and one pitch diameter
// tolerance on the minor diameter of the screw and the major diameter of the nut.
func acmeLimits(t *Thread, stub bool) {
	d, p := t.Nominal.Inches(), t.Pitch.Float()/25.4
	h := 0.5
	if stub {
		h = 0.3
	}
	clear := 0.020
	if 1/p > 10.001 {
		clear = 0.010
	}
	t.Form = acmeForm(stub, clear/2/p)
	basic := roundEven(d, 4)
	e, k := roundEven(d-h*p, 4), roundEven(d-2*h*p, 4)
	class := acmeClasses[t.Class]
	raw := class.byDiameter*math.Sqrt(acmeStep(d)) + class.byPitch*math.Sqrt(p)
	tol, crest := roundEven(raw, 4), roundEven(max(0.05*p, 0.005), 6)
	t.Basic = Diameters{inches(basic), inches(e), inches(k)}
	if t.Side == Internal {
		major := roundEven(clear, 4)
		if stub {
			major = tol
		}
		t.Limits = Limits{
			Major: inchBand(basic+clear, basic+clear+major, 4),
			Pitch: inchBand(e, e+tol, 4),
			Minor: inchBand(k, d-2*h*p+crest, 4),
		}
		if class.nut > 0 {
			t.centralize(d, p, class)
		}
		return
	}
	es := roundEven(class.allowance*math.Sqrt(acmeRange(d)), 4)
	root := 1.5 * raw
	if stub {
		root = raw
	}
	eMax := roundEven(d-h*p-es, 4)
	kMax := roundEven(d-2*h*p-clear, 4)
	t.Deviation = -inches(es)
	t.Limits = Limits{
		Major: inchBand(basic-crest, basic, 4),
		Pitch: inchBand(eMax-raw, eMax, 4),
		Minor: inchBand(kMax-root, kMax, 4),
	}
	if class.screw > 0 {
		t.Form.Name = "29° centralizing Acme"
		t.centralize(d, p, class)
	}
}

// acmeRange returns the size by which the allowance of a nominal size is reckoned:
// the tabulated one of its range.
func acmeRange(d float64) float64 {
	rows := acmeAllowances()
	for _, r := range rows {
		if d <= r[1]+1e-9 {
			return r[2]
		}
	}
	return d
}

var acmeAllowances = sync.OnceValue(func() [][3]float64 {
	var out [][3]float64
	for _, f := range readTable(acmeAllowanceText) {
		out = append(out, [3]float64{number(f[0]).Float(), number(f[1]).Float(), number(f[2]).Float()})
	}
	return out
})

// acmeStep returns the size by which the tolerance is reckoned: a size between two
// of the series takes the larger.
func acmeStep(d float64) float64 {
	for _, r := range acmeTable() {
		if d <= r.d.Float()+1e-9 {
			return r.d.Float()
		}
	}
	return d
}

// acmeDesignation writes the thread as B1.5 and B1.8 do, with the given name:
// 1.000-5-ACME-2G, 1.750-0.2P-0.4L-ACME-3G, 0.500-20 STUB ACME.
func acmeDesignation(t Thread, d unit.Ratio, name string) string {
	size := numberText(d)
	if places := len(size) - strings.Index(size, ".") - 1; !strings.Contains(size, "/") && (!strings.Contains(size, ".") || places < 3) {
		size = d.Length().Number(unit.Metric, 3) // a plain number, to three places
	}
	if t.Hand == Left {
		name += "-LH"
	}
	tpi, err := unit.MustRatio(127, 5).Quo(t.Pitch)
	if err != nil { // Parse bounds the pitch
		panic(err)
	}
	if t.Starts == 1 {
		return size + "-" + mixed(tpi) + name
	}
	p, err := tpi.Inv()
	if err != nil {
		panic(err)
	}
	lead := exactly(p, unit.Whole(int64(t.Starts)))
	if short, err := unit.ParseRatio(fmt.Sprintf("%.4f", p.Float())); err == nil && wholeTPI(&callout{}, short) == tpi {
		return fmt.Sprintf("%s-%sP-%sL%s", size, numberText(short), strings.TrimRight(fmt.Sprintf("%.4f", lead.Float()), "0"), name)
	}
	return fmt.Sprintf("%s-%sP-%sL%s", size, numberText(p), numberText(lead), name)
}

func acmeNotes(t *Thread, d unit.Ratio) {
	t.Notes = append(t.Notes,
		Note{Text: "Tolerances hold for an engagement of up to twice the diameter; limits rounded to 0.0001 in.", Source: "ASME B1.5, formulas from memory, checked against a manufacturer's 2G table"})
	if acmeClasses[t.Class].screw > 0 {
		t.Notes = append(t.Notes,
			Note{Text: "The screw is borne on its crests: major diameter of screw and nut are what the fit depends on; the nut's minor diameter is 0.9 pitches below the nominal.", Source: "Machinery's Handbook, 27th ed., pp. 1837 and 1842, tables 8a and 12"},
			Note{Text: "Break the corners of the screw's crests at 45°, a twentieth of the pitch deep, so that they clear the fillets of the nut.", Source: "ASME B1.5, from memory"})
	}
	if t.Starts > 1 {
		t.Notes = append(t.Notes, Note{Text: "The limits are those of a single start; more starts make more errors of spacing between them.", Assumed: true})
	}
	var std []string
	for _, r := range acmeTable() {
		if r.d == d {
			if p, err := perInch(r.tpi); err == nil && p == t.Pitch {
				return
			}
			std = append(std, mixed(r.tpi))
		}
	}
	text := fmt.Sprintf("%s in is not one of the preferred sizes.", mixed(d))
	if len(std) > 0 {
		text = fmt.Sprintf("The preferred pitch for %s in is %s threads per inch.", mixed(d), strings.Join(std, " or "))
	}
	t.Notes = append(t.Notes, Note{Text: text, Source: "ASME B1.5, preferred sizes"})
}
