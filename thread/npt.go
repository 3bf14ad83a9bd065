package thread

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"thrum/unit"
)

// NPTFamily is the American pipe thread of ASME B1.20.1: NPT, a taper thread that
// seals with a compound, and NPSM, a parallel thread for mechanical joints.
const NPTFamily Family = "NPT"

// nptForm is the form of B1.20.1 clause 2: 60 degrees, crest and root truncated by
// at least 0.033 P, which leaves a height of 0.8 P.
var nptForm = Form{
	Name: "60° American pipe", Source: "ASME B1.20.1 clause 2", Leading: 30 * unit.Degree, Trailing: 30 * unit.Degree,
	H: 0.8660254037844386, Depth: 0.8, CrestFlat: 0.038105, RootFlat: 0.038105, // 2 x 0.033 tan 30°
}

// nptTruncation is the greatest truncation of crest and root by threads per inch,
// B1.20.1 table 1, in inches.
var nptTruncation = map[string]float64{"27": 0.0036, "18": 0.0049, "14": 0.0056, "11 1/2": 0.0063, "8": 0.0078}

// nptVanish is the length of the vanish thread V by threads per inch, B1.20.1 table
// 2, in inches. The standard calls it 3.47 threads; 14 and 8 to the inch are printed
// a ten-thousandth below 3.47 p, so the table governs.
var nptVanish = map[string]float64{"27": 0.1285, "18": 0.1928, "14": 0.2478, "11 1/2": 0.3017, "8": 0.4337}

//go:embed data/npt.csv
var nptText string

//go:embed data/npsm.csv
var npsmText string

type nptRow struct {
	size          string
	bore, pipe    unit.Ratio // nominal size, outside diameter of the pipe, inches
	tpi           unit.Ratio
	plane         unit.Ratio // L1, inches
	allowance     float64    // NPSM, inches
	d, d2, D1, D2 [2]float64 // NPSM limits, least first, inches; zero when NPSM has no such size
	hasNPSM       bool
}

var nptTable = sync.OnceValue(func() []nptRow {
	straight := map[string][]string{}
	for _, f := range readTable(npsmText) {
		straight[f[0]] = f
	}
	var out []nptRow
	for _, f := range readTable(nptText) {
		r := nptRow{size: f[0], bore: number(f[0]), pipe: number(f[1]), tpi: number(f[2]), plane: number(f[3])}
		if s, ok := straight[r.size]; ok {
			v := func(i int) float64 { return number(s[i]).Float() }
			r.hasNPSM, r.allowance = true, v(2)
			r.d, r.d2, r.D1, r.D2 = [2]float64{v(4), v(3)}, [2]float64{v(6), v(5)}, [2]float64{v(7), v(8)}, [2]float64{v(9), v(10)}
		}
		out = append(out, r)
	}
	return out
})

func nptSeries() []SeriesRow {
	var out []SeriesRow
	for _, series := range []string{"NPT", "NPSM"} {
		for _, r := range nptTable() {
			if series == "NPSM" && !r.hasNPSM {
				continue
			}
			p, _ := perInch(r.tpi)
			out = append(out, SeriesRow{
				Family: NPTFamily, Series: series, Designation: nptName(r, series),
				Nominal: inches(r.pipe.Float()), Pitch: p, System: unit.Inches,
			})
		}
	}
	return out
}

func nptName(r nptRow, series string) string {
	tpi := mixed(r.tpi)
	if tpi == "11 1/2" {
		tpi = "11.5"
	}
	return fmt.Sprintf("%s-%s %s", r.size, tpi, series)
}

var (
	nptClaim = lazy(`\bNP[TS][A-Z]*\b`)
	nptAfter = lazy(`^` + pipeSize + `(?:(?: ?- ?| )` + tpiPattern + `(?: TPI)?)?[ -]*(NP[TS][A-Z]*)[ -]*(.*)$`)
	nptFirst = lazy(`^(NP[TS][A-Z]*)[ -]*` + pipeSize + `(?: ?- ?` + tpiPattern + `(?: TPI)?)?[ -]*(.*)$`)
)

func nptFamily() family {
	return family{
		info: FamilyInfo{
			Name: NPTFamily, What: "American pipe threads, 60°: NPT taper, NPSM parallel", Standard: "ASME B1.20.1",
			Examples: []string{"1/2-14 NPT", "1/2 NPT", "3/4-14 NPSM", "1-11.5 NPT internal"},
		},
		claims: func(c *callout) bool { return nptClaim().MatchString(c.fold) },
		parse:  parseNPT,
		series: nptSeries,
	}
}

func parseNPT(c *callout) (Thread, error) {
	var size, tpi, word, rest string
	if m := nptAfter().FindStringSubmatch(c.fold); m != nil {
		size, tpi, word, rest = m[1], m[2], m[3], m[4]
	} else if m := nptFirst().FindStringSubmatch(c.fold); m != nil {
		size, tpi, word, rest = m[2], m[3], m[1], m[4]
	} else {
		return Thread{}, c.errorf("write 1/2-14 NPT", "cannot be read as an American pipe thread")
	}
	if word != "NPT" && word != "NPSM" {
		return Thread{}, c.errorf("NPT and NPSM are known; others need their own standard's figures in a form file", "series %s is not known here", word)
	}
	if rest = strings.Trim(rest, " -"); rest != "" {
		return Thread{}, c.errorf("", "%s has no class %q", word, rest)
	}
	row, err := nptFind(c, size, tpi)
	if err != nil {
		return Thread{}, err
	}
	side, err := c.pickSide(nil)
	if err != nil {
		return Thread{}, err
	}
	pitch, err := perInch(row.tpi)
	if err != nil {
		return Thread{}, c.errorf("", "threads per inch: %v", err)
	}
	t := c.thread(NPTFamily)
	t.Series, t.Side, t.System, t.Form = word, side, unit.Inches, nptForm
	t.Nominal, t.Pitch = inches(row.pipe.Float()), pitch
	if word == "NPSM" {
		if !row.hasNPSM {
			return Thread{}, c.errorf("sizes of NPSM: 1/8 to 6", "NPSM has no size %s", row.size)
		}
		npsmLimits(&t, row)
	} else {
		nptFill(&t, row)
	}
	t.Designation = nptName(row, word)
	if t.Hand == Left {
		t.Designation += "-LH"
	}
	t.Designation += sideWord(t) + startsSuffix(t)
	return c.settled(t)
}

func nptFind(c *callout, size, tpi string) (nptRow, error) {
	want, err := unit.ParseRatio(size)
	if err != nil {
		return nptRow{}, c.errorf("write 1/2-14 NPT", "size %q is not a number", size)
	}
	var best nptRow
	gap := -1.0
	for _, r := range nptTable() {
		if g := max(r.bore.Float()-want.Float(), want.Float()-r.bore.Float()); gap < 0 || g < gap {
			best, gap = r, g
		}
	}
	if best.bore != want {
		return nptRow{}, c.errorf("the nearest is "+best.size, "%s is not a nominal pipe size", mixed(want))
	}
	if tpi != "" {
		if n, err := unit.ParseRatio(tpi); err != nil || n != best.tpi {
			return nptRow{}, c.errorf("leave the threads per inch out", "%s NPT has %s threads per inch, not %s", best.size, mixed(best.tpi), tpi)
		}
	}
	return best, nil
}

// nptFill fills a taper thread by the formulas of B1.20.1 clause 3, in inches;
// D is the outside diameter of the pipe:
//
//	E0 = D - (0.05 D + 1.1) p     pitch diameter at the small end
//	E1 = E0 + L1/16               at the gauge plane, hand tight
//	L2 = (0.80 D + 6.8) p         effective thread;  E2 = E0 + L2/16
//	L3 = 3 p, from 2 1/2 in 2 p   make-up by wrench; E3 = E0 - L3/16
//	V = 3.47 p (table), L4 = L2 + V   vanish thread, overall
//	L5 = L2 - 2 p                 ridges full at root and crest; E5 = E0 + L5/16
//	K0 = E0 - 0.8 p               minor diameter at the small end
//
// A part may be one turn large or small at the gauge plane. Limits there: the
// pitch diameter p/16 to either side, crest and root between the least and the
// greatest truncation.
func nptFill(t *Thread, row nptRow) {
	p := 1 / row.tpi.Float()
	d, l1 := row.pipe.Float(), row.plane.Float()
	e0 := d - (0.05*d+1.1)*p
	l2, l3, v := (0.80*d+6.8)*p, 3*p, nptVanish[mixed(row.tpi)]
	if row.bore.Float() >= 2.5 {
		l3 = 2 * p
	}
	l5 := l2 - 2*p
	e1 := e0 + l1/16
	h := nptForm.Depth * p
	at := func(e float64) Diameters {
		return Diameters{inches(roundEven(e+h, 5)), inches(roundEven(e, 5)), inches(roundEven(e-h, 5))}
	}
	g := &TaperGauge{
		Plane: inches(roundEven(l1, 4)), Tolerance: inches(p), Complete: inches(roundEven(l5, 4)), Useful: inches(roundEven(l2, 4)),
		Wrench: inches(roundEven(l3, 4)), Vanish: inches(v), Overall: inches(roundEven(roundEven(l2, 4)+v, 4)),
	}
	t.Taper, t.Gauge, t.Basic, t.Engagement = pipeTaper, g, at(e1), g.Plane+g.Wrench
	if t.Side == External {
		g.Sections = []TaperSection{
			{"E0, small end", 0, at(e0)},
			{"E1, gauge plane", g.Plane, at(e1)},
			{"E5, end of full ridges", g.Complete, at(e0 + l5/16)},
			{"E2, end of effective thread", g.Useful, at(e0 + l2/16)},
		}
		t.Engagement = g.Useful
	} else {
		g.Plane = 0 // hand tight, the gauge plane of the external thread stands in the face
		g.Sections = []TaperSection{
			{"E3, end of wrench make-up", inches(roundEven(l1+l3, 4)), at(e0 - l3/16)},
			{"E0, small end of the external thread, hand tight", inches(l1), at(e0)},
			{"E1, gauge plane, in the face", 0, at(e1)},
		}
	}
	cut := nptTruncation[mixed(row.tpi)]
	sharp := nptForm.H * p
	turn := p / 16
	t.Limits = Limits{
		Major: inchBand(e1-turn+sharp-2*cut, e1+turn+h, 5),
		Pitch: inchBand(e1-turn, e1+turn, 5),
		Minor: inchBand(e1-turn-h, e1+turn-sharp+2*cut, 5),
	}
	where := "L1 from the small end"
	if t.Side == Internal {
		where = "in the face"
	}
	t.Notes = append(t.Notes,
		Note{Text: "Limits hold at the gauge plane, " + where + "; they are one turn large and one turn small.", Source: "ASME B1.20.1 clause 8"},
		Note{Text: "A sealing compound belongs on the thread; gas and pressure work is for licensed fitters and local codes.", Source: "ASME B1.20.1 clause 3.1"})
}

// npsmLimits are the limits of B1.20.1 table 5 for free-fitting mechanical joints.
func npsmLimits(t *Thread, r nptRow) {
	p := 1 / r.tpi.Float()
	band := func(v [2]float64) Band { return Band{inches(v[0]), inches(v[1])} }
	t.Engagement = inches(r.pipe.Float())
	e := r.D2[0]
	half := 0.666025 / 2 * p // depth of the pipe thread form, truncated for free fits, on either side of the pitch line
	t.Form.Depth, t.Form.CrestFlat, t.Form.RootFlat = 0.666025, 0.115470, 0.115470
	t.Basic = Diameters{inches(roundEven(e+2*half, 4)), inches(e), inches(roundEven(e-2*half, 4))}
	t.Notes = append(t.Notes, Note{Text: "Free-fitting mechanical joint; the outside diameter is usually that of the pipe.", Source: "ASME B1.20.1 table 5"})
	if t.Side == Internal {
		t.Limits = Limits{Major: Band{Min: t.Basic.Major}, Pitch: band(r.D2), Minor: band(r.D1)}
		return
	}
	t.Deviation = -inches(r.allowance)
	t.Limits = Limits{Major: band(r.d), Pitch: band(r.d2), Minor: Band{Max: inches(roundEven(r.d2[1]-2*half, 4))}}
}
