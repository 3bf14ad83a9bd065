package thread

import (
	"math"
	"strings"
	"testing"

	"thrum/unit"
)

// TestSpecialRules names each rule by which the published tables were made that a
// plain reading of the formulas would miss. The figures are those of the tables
// (see published_test.go and read_test.go, where they are recorded with their
// sources); here each stands for its rule.
func TestSpecialRules(t *testing.T) {
	in := func(t *testing.T, callout, symbol string, want float64) {
		t.Helper()
		got, ok := figure(mustParse(t, callout, External), symbol)
		if !ok || math.Abs(got.Inches()-want) > 1e-9 {
			t.Errorf("%s %s = %.5f in, want %.5f", callout, symbol, got.Inches(), want)
		}
	}
	mm := func(t *testing.T, callout, symbol string, want float64) {
		t.Helper()
		got, ok := figure(mustParse(t, callout, External), symbol)
		if !ok || math.Abs(got.MM()-want) > 1e-9 {
			t.Errorf("%s %s = %.4f mm, want %.4f", callout, symbol, got.MM(), want)
		}
	}
	for _, rule := range []struct {
		name string
		test func(*testing.T)
	}{
		{"the basic diameter is rounded to four places first", func(t *testing.T) {
			in(t, "19/64-36 UNS-2B", "D2 min", 0.2789)
		}},
		{"the pitch diameter is rounded before the tolerance is applied", func(t *testing.T) {
			in(t, "1/2-13 UNC-2A", "d2 min", 0.4435)
			in(t, "2-1/2-6 UN-2B", "D2 max", 2.4033)
		}},
		{"the class multiplies the tolerance of 2A rounded to six places, and is not rounded again", func(t *testing.T) {
			in(t, "1/4-20 UNC-2B", "D2 max", 0.2224)
			in(t, "6-40 UNF-3B", "D2 max", 0.1243)
		}},
		{"class 1A has the allowance of 2A, class 3A none", func(t *testing.T) {
			in(t, "1/2-13 UNC-1A", "es", 0.0015)
			in(t, "1/2-13 UNC-3A", "es", 0)
		}},
		{"class 1A has the wide tolerance of the major diameter", func(t *testing.T) {
			in(t, "1/2-13 UNC-1A", "d min", 0.4822)
		}},
		{"tables of UNC and UNF reckon with one diameter of engagement", func(t *testing.T) {
			if th := mustParse(t, "3/4-10 UNC-2A", External); math.Abs(th.Engagement.Inches()-0.75) > 1e-9 {
				t.Errorf("engagement %v in", th.Engagement.Inches())
			}
		}},
		{"tables of UNEF, UN from 12 tpi, and UNS reckon with nine pitches", func(t *testing.T) {
			for callout, want := range map[string]float64{"1/2-28 UNEF-2A": 9.0 / 28, "1-1/8-16 UN-2A": 9.0 / 16, "2-1/2-10 UNS-2A": 0.9, "2-1/2-8 UN-2A": 2.5} {
				if th := mustParse(t, callout, External); math.Abs(th.Engagement.Inches()-want) > 1e-6 {
					t.Errorf("%s: engagement %v in, want %v", callout, th.Engagement.Inches(), want)
				}
			}
		}},
		{"1-14 follows one diameter though it is a special", func(t *testing.T) {
			in(t, "1-14 UNS-2A", "d2 min", 0.9463)
			in(t, "1-14 UNS-2B", "D2 max", 0.9609)
		}},
		{"the allowance of 5/8-11 is 0.0016", func(t *testing.T) { in(t, "5/8-11 UNC-2A", "es", 0.0016) }},
		{"the table of 5-3/4 inch takes its tolerances at 6 inches", func(t *testing.T) {
			in(t, "5-3/4-14 UNS-2A", "es", 0.0020)
			in(t, "5-3/4-16 UN-3B", "D2 max", 5.7155)
			in(t, "5-3/4-12 UN-2A", "d2 min", 5.6869)
		}},
		{"minor limits of standard nuts are rounded twice", func(t *testing.T) {
			in(t, "1-3/4-5 UNC-2B", "D1 min", 1.534)
			in(t, "1-3/4-5 UNC-2B", "D1 max", 1.568)
			in(t, "10-24 UNC-2B", "D1 max", 0.156)
			in(t, "7/8-14 UNF-2B", "D1 max", 0.814)
		}},
		{"minor limits of special nuts are rounded once", func(t *testing.T) { in(t, "19/64-36 UNS-2B", "D1 max", 0.273) }},
		{"below 0.138 inch minor limits have four places", func(t *testing.T) {
			in(t, "4-40 UNC-2B", "D1 min", 0.0849)
			in(t, "6-32 UNC-2B", "D1 min", 0.104)
		}},
		{"class 3B prints the minimum to three places and the maximum from the unrounded minimum", func(t *testing.T) {
			in(t, "2-1/2-4 UNC-3B", "D1 min", 2.229)
			in(t, "2-1/2-4 UNC-3B", "D1 max", 2.2594)
		}},
		{"small nuts have their own tolerance of the minor diameter, capped at 0.394 P", func(t *testing.T) {
			in(t, "0-80 UNF-2B", "D1 max", 0.0514)
		}},
		{"the minor tolerance of 3B has a floor of 0.23 P - 1.5 P^2, or 0.120 P from 12 tpi", func(t *testing.T) {
			in(t, "1-8 UNC-3B", "D1 max", 0.8797)
			in(t, "2-1/2-16 UN-3B", "D1 max", 2.4408)
		}},
		{"the printed height of the UNR root differs from its formula at some pitches", func(t *testing.T) {
			in(t, "2-56 UNRC-2A", "d3 max", 0.0642)
			in(t, "15/16-16 UNR-2A", "d3 max", 0.8615)
		}},
		{"nuts have the UN form, whatever the callout says", func(t *testing.T) {
			if th := mustParse(t, "3/4-16 UNRF-2B", Internal); th.Designation != "3/4-16 UNF-2B" {
				t.Errorf("got %s", th.Designation)
			}
		}},
		{"metric tables beat their formulas", func(t *testing.T) {
			mm(t, "M3-6g", "Td2(6)", 0.075)
			for _, c := range []struct {
				callout string
				minor   float64
			}{{"M3-6H", 0.140}, {"M6-6H", 0.236}, {"M20-6H", 0.450}} {
				if w := mustParse(t, c.callout, Internal).Limits.Minor.Width(); math.Abs(w.MM()-c.minor) > 1e-9 {
					t.Errorf("%s: TD1 = %v, want %v mm", c.callout, w, c.minor)
				}
			}
			if w := mustParse(t, "M36-6g", External).Limits.Major.Width(); math.Abs(w.MM()-0.475) > 1e-9 {
				t.Errorf("M36-6g: Td = %v, want 0.475 mm", w)
			}
		}},
		{"allowances of pitch 1.25 and 2 follow the table", func(t *testing.T) {
			mm(t, "M8-6g", "es", 0.028)
			mm(t, "M16-6g", "es", 0.038)
			mm(t, "M3-6e", "es", 0.050)
		}},
		{"tolerances that no table lists are preferred numbers", func(t *testing.T) {
			// Pitch 1.6 at 11.2 to 22.4 mm: 90 x 1.6^0.4 x 15.84^0.1 = 143.2, nearest of R40 is 140; reckoned by hand.
			mm(t, "M16x1.6-6g special", "Td2(6)", 0.140)
		}},
		{"an odd grade alone gives the major diameter its own even grade", func(t *testing.T) {
			if th := mustParse(t, "M20xPh3P1.5(two starts)-7g", External); th.Class != "7g6g" || !assumed(th, "7g6g") {
				t.Errorf("class %s, notes %v", th.Class, th.Notes)
			}
		}},
		{"the usual class depends on size and engagement", func(t *testing.T) {
			for callout, want := range map[string]string{"M10": "6g", "M1.4": "6h", "M10x1.5-L": "7g6g", "M10, LE 4": "5g6g", "M10 LE 30": "7g6g", "MJ10x1.5": "4h6h"} {
				if th := mustParse(t, callout, External); th.Class != want {
					t.Errorf("%s: class %s, want %s", callout, th.Class, want)
				}
			}
			for callout, want := range map[string]string{"M10": "6H", "M1.4": "5H", "M10x1.5-S": "5H", "MJ4": "4H6H", "MJ10": "4H5H"} {
				if th := mustParse(t, callout, Internal); th.Class != want {
					t.Errorf("%s: class %s, want %s", callout, th.Class, want)
				}
			}
		}},
		{"a special engagement changes the tolerance, a usual one does not", func(t *testing.T) {
			usual := mustParse(t, "1-1/8-16 UN-2A", External)
			named := mustParse(t, "1.125-16 UN-2A SPECIAL, LE .75", External)
			within := mustParse(t, "1.125-16 UN-2A, LE .75", External)
			beyond := mustParse(t, "1.125-16 UN-2A, LE 1.5", External)
			if within.Limits != usual.Limits {
				t.Error("an engagement within the table's range changed the limits")
			}
			if !(named.Limits.Pitch.Width() > usual.Limits.Pitch.Width()) || !(beyond.Limits.Pitch.Width() > named.Limits.Pitch.Width()) {
				t.Errorf("widths %v, %v, %v should rise", usual.Limits.Pitch.Width(), named.Limits.Pitch.Width(), beyond.Limits.Pitch.Width())
			}
			// Td2 = 0.0015 cbrt(1.125) + 0.0015 sqrt(0.75) + 0.015 cbrt(1/256) = 0.005222, by hand.
			if w := named.Limits.Pitch.Width().Inches(); math.Abs(w-0.0052) > 1e-9 {
				t.Errorf("tolerance %v in, want 0.0052", w)
			}
		}},
	} {
		t.Run(rule.name, rule.test)
	}
}

// assumed reports whether a note marked as an assumption holds the text.
func assumed(th Thread, text string) bool {
	for _, n := range th.Notes {
		if n.Assumed && strings.Contains(n.Text, text) {
			return true
		}
	}
	return false
}

// TestPlating: geometry of a coating square to the flanks. For 60 degrees ASME
// B1.1 states four thicknesses on the pitch diameter and two on the major.
func TestPlating(t *testing.T) {
	micron := unit.Micrometre
	near := func(what string, got, want unit.Length) {
		t.Helper()
		if math.Abs(float64(got-want)) > 1e-9 {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	bolt := mustParse(t, "1/2-13 UNC-3A", External) // no allowance: the maximum is basic
	l, err := bolt.ToPlate(Plating{Thin: 5 * micron, Thick: 8 * micron})
	if err != nil {
		t.Fatal(err)
	}
	near("3A pitch max", l.Pitch.Max, bolt.Basic.Pitch-32*micron)
	near("3A major max", l.Major.Max, bolt.Limits.Major.Max-16*micron)
	near("3A pitch min", l.Pitch.Min, bolt.Limits.Pitch.Min)

	bolt = mustParse(t, "1/2-13 UNC-2A", External) // 0.0015 in of allowance takes 8 um x 4
	l, err = bolt.ToPlate(Plating{Thin: 5 * micron, Thick: 8 * micron})
	if err != nil || l != bolt.Limits {
		t.Errorf("class 2A takes 8 um in its allowance, got %v (%v), want %v", l, err, bolt.Limits)
	}
	l, err = bolt.ToPlate(Plating{Thin: 5 * micron, Thick: 8 * micron, After: true})
	if err != nil {
		t.Fatal(err)
	}
	near("after plating, pitch max", l.Pitch.Max, bolt.Limits.Pitch.Max-32*micron)
	near("after plating, pitch min", l.Pitch.Min, bolt.Limits.Pitch.Min-20*micron)
	near("after plating, major min", l.Major.Min, bolt.Limits.Major.Min-10*micron)

	nut := mustParse(t, "M10-6H", Internal)
	l, err = nut.ToPlate(Plating{Thin: 5 * micron, Thick: 8 * micron, After: true})
	if err != nil {
		t.Fatal(err)
	}
	near("nut, pitch min", l.Pitch.Min, nut.Limits.Pitch.Min+32*micron)
	near("nut, minor max", l.Minor.Max, nut.Limits.Minor.Max+10*micron)

	for _, p := range []Plating{{Thick: 100 * micron, After: true}, {Thin: -1, Thick: 1}, {Thin: 2, Thick: 1}, {Thick: unit.Length(math.NaN())}, {Thick: unit.Length(math.Inf(1))}} {
		if _, err := bolt.ToPlate(p); err == nil {
			t.Errorf("plating %v to %v was accepted", p.Thin, p.Thick)
		}
	}
	if f := (Form{Leading: 14.5 * unit.Degree, Trailing: 14.5 * unit.Degree}); math.Abs(f.growth()-2/math.Sin(14.5*math.Pi/180)) > 1e-12 {
		t.Errorf("growth of equal flanks %v", f.growth())
	}
	if (Form{}).growth() != 0 {
		t.Error("a square form has no growth of the pitch diameter")
	}
}
