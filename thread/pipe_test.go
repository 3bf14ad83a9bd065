package thread

import (
	"math"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// TestTaperSections: the named sections lie on one cone of 1 in 16, inwards
// smaller, and the gauge plane has the basic sizes.
func TestTaperSections(t *testing.T) {
	n := 0
	for _, row := range Series() {
		for _, side := range []Side{External, Internal} {
			for _, callout := range sideCallouts(row, side) {
				th := mustParse(t, callout, side)
				if th.Gauge == nil {
					continue
				}
				n++
				if got := th.DiametersAt(th.Gauge.Plane); got != th.Basic {
					t.Errorf("%s: %v at the gauge plane, basic %v", th.Designation, got, th.Basic)
				}
				for _, s := range th.Gauge.Sections {
					if d := th.DiametersAt(s.At).Pitch; (d - s.Diameters.Pitch).Abs() > 0.0006 {
						t.Errorf("%s, %s: %v by the cone, %v named", th.Designation, s.Name, d, s.Diameters.Pitch)
					}
				}
				if d0, d1 := th.DiametersAt(0).Pitch, th.DiametersAt(10).Pitch; (d1 > d0) != (side == External) || math.Abs(math.Abs((d1-d0).MM())-0.625) > 1e-9 {
					t.Errorf("%s: %v at the end, %v 10 mm further", th.Designation, d0, d1)
				}
				if th.Gauge.Tolerance <= 0 || th.Gauge.Useful < 0 || side == External && th.Gauge.Useful <= th.Gauge.Plane {
					t.Errorf("%s: %+v", th.Designation, th.Gauge)
				}
			}
		}
	}
	if n < 78 {
		t.Errorf("only %d taper threads", n)
	}
	if m := mustParse(t, "M10", External); m.DiametersAt(5) != m.Basic {
		t.Error("a parallel thread is not parallel")
	}
}

func TestSetOver(t *testing.T) {
	th := mustParse(t, "1/2-14 NPT", External)
	// 10 in between centres: the shop rule length x taper per foot / 24 gives 0.3125 in; the axis
	// itself is the longer side of the triangle, so the exact figure is a little less.
	got, err := th.SetOver(10 * unit.Inch)
	if err != nil {
		t.Fatal(err)
	}
	claimNumber(t, "tailstock set-over for 3/4 in per foot, 10 in between centres", "shop rule: half the taper on the whole length, common practice", outside.Memory,
		"0.3125", got.Inches(), "in", "", 0.0002)
	claimNumber(t, "side of the cone of NPT against its axis", "Machinery's Handbook, 27th ed., p. 1861: 1°47'", outside.Read, "1.7833", th.TaperAngle().Degrees(), "deg", "", 0.5/60)
	claimNumber(t, "side of the cone of R against its axis", "article on pipe threads: 1°47'24\"", outside.Read, "1.7900", mustParse(t, "R 1/2", External).TaperAngle().Degrees(), "deg", "", 0.5/3600)
	if want := 10 * unit.Inch * unit.Length(th.TaperAngle().Sin()); got != want {
		t.Errorf("%v, want %v", got, want)
	}
	for _, bad := range []unit.Length{0, -1, unit.Length(math.Inf(1)), unit.Length(math.NaN())} {
		if _, err := th.SetOver(bad); err == nil {
			t.Errorf("a part of %v between centres is accepted", bad)
		}
	}
	if _, err := mustParse(t, "G 1/2 A", External).SetOver(100); err == nil {
		t.Error("a parallel thread has a set-over")
	}
}

func TestOtherSpellings(t *testing.T) {
	for _, c := range []struct{ callout, want string }{
		{"1/2 BSW", "1/2-12 BSW (medium) bolt"},
		{"1/2-12 BSW", "1/2-12 BSW (medium) bolt"},
		{`1/2" BSF-medium LH`, "1/2-16 BSF (medium) bolt LH"},
		{"1/4-20 B.S.W. (close) bolt", "1/4-20 BSW (close) bolt"},
		{"1/4 in. B.S.F. (normal) nut", "1/4-26 BSF (normal) nut"},
		{"BSW 1-1/4", "1 1/4-7 BSW (medium) bolt"},
		{"W 3/8", "3/8-16 BSW (medium) bolt"},
		{"2 1/2 x 4 1/2 WHITWORTH free", "2 1/2-4 1/2 Whit (free) bolt"},
		{"3/8 brass", "3/8-26 BSB (medium) bolt"},
		{"0 BA", "0 BA normal bolt"},
		{"BA 0", "0 BA normal bolt"},
		{"2BA", "2 BA normal bolt"},
		{"No. 6 B.A. nut", "6 BA nut"},
		{"4 BA close LH", "4 BA close bolt LH"},
		{"G 1/2 A", "G 1/2 A"},
		{"G1/2B", "G 1/2 B"},
		{"G 1/2", "G 1/2"},
		{"G 1 1/4 A LH", "G 1 1/4 A-LH"},
		{"G3/4-14A", "G 3/4 A"},
		{"1/2 BSPP", "G 1/2 A"},
		{"R 1/2", "R 1/2"},
		{"Rp1/2", "Rp 1/2"},
		{"RC 1-1/4 LH", "Rc 1 1/4 LH"},
		{"½ BSPT", "R 1/2"},
		{"1/2-14 NPT", "1/2-14 NPT EXTERNAL"},
		{"1/2 NPT", "1/2-14 NPT EXTERNAL"},
		{"NPT 1 1/4", "1 1/4-11.5 NPT EXTERNAL"},
		{"1-11 1/2 NPT internal", "1-11.5 NPT INTERNAL"},
		{"3/4 NPSM-LH", "3/4-14 NPSM-LH EXTERNAL"},
		{"1-5 ACME-2G", "1.000-5-ACME-2G EXTERNAL"},
		{"1 1/2-4 ACME-2G-LH", "1.500-4-ACME-2G-LH EXTERNAL"},
		{"1-5 STUB ACME", "1.000-5 STUB ACME EXTERNAL"},
		{"1/2-10 ACME 4 START", "0.500-0.1P-0.4L-ACME-2G EXTERNAL"},
		{"1.750-0.2P-0.4L ACME-3G", "1.750-0.2P-0.4L-ACME-3G EXTERNAL"},
		{"2.500-0.3333P-0.6667L-ACME-4G (Two Start)", "2.500-0.3333P-0.6667L-ACME-4G EXTERNAL"},
		{"0.500-20 Stub Acme internal", "0.500-20 STUB ACME INTERNAL"},
		{"Tr20x4-7e", "Tr20x4-7e"},
		{"Tr40x14(P7)LH-7H", "Tr40x14(P7)LH-7H"},
		{"Tr 40 x 14 P7 - 7e LH", "Tr40x14(P7)LH-7e"},
		{"tr20×4", "Tr20x4-7e"},
		{"2.5-8 BUTT-2A", "2.500-8 BUTT-2A"},
		{"2 1/2-8 PULL-BUTT-3B-LH", "2.500-8 PULL-BUTT-3B-LH"},
		{"S48x8", "S48x8-7e"},
		{"S40x14(P7)-8c", "S40x14(P7)-8c"},
		{"1-4 SQUARE", "1.000-4 SQUARE EXTERNAL"},
		{"Sq 20x4", "Sq 20x4 EXTERNAL"},
		{"Sq 20x8(P4) LH", "Sq 20x8(P4)LH EXTERNAL"},
		{"Rd 40x1/6", "Rd 40x1/6 EXTERNAL"},
		{"Rd 40", "Rd 40x1/6 EXTERNAL"},
		{"Rd 40x1/3 2 START LH", "Rd 40x1/3 (2 STARTS) LH EXTERNAL"},
	} {
		th, err := Parse(c.callout, External)
		if err != nil {
			t.Errorf("%s: %v", c.callout, err)
			continue
		}
		if th.Designation != c.want {
			t.Errorf("%s reads as %s, want %s", c.callout, th.Designation, c.want)
		}
		fixedPoint(t, th)
	}
}

func TestOtherRefusals(t *testing.T) {
	for _, c := range []struct{ callout, says string }{
		{"1/2-13 BSW", "has 12 threads per inch"},
		{"0.3 BSF", "nearest is 5/16"},
		{"1/2 BSW tight", `"tight" is not a class`},
		{"1/2 BSW free nut", "no class free for an internal"},
		{"1/2 BSW normal bolt", "no class normal for an external"},
		{"3/8 ME", "more than one pitch"},
		{"17 BA", "no number 17"},
		{"G 1/3 A", "nearest is 3/8"},
		{"G 1/2 C", `"C" is not a class`},
		{"G 1/2-16 A", "has 14 threads per inch"},
		{"R 7/8", "no size 7/8"},
		{"Rp 1/2 EXTERNAL", "external"},
		{"5/8 NPT", "nearest is"},
		{"0.6 NPT", "cannot be read"},
		{"1/2-12 NPT", "has 14 threads per inch"},
		{"1/2-14 NPTF", "not known here"},
		{"1-5 ACME-5G", "not known here"},
		{"1-5 ACME-5C", "not known here"},
		{"1.5-0.2P-0.5L ACME-2G", "not a whole number of pitches"},
		{"1/2-10 ACME-2G 30 START", "starts"},
		{"Tr20x5", "pitches 2, 4"},
		{"Tr21x4", "nearest diameter"},
		{"Tr40x15(P7)", "not 1 to 20 pitches"},
		{"Tr20x4-6e", "no class"},
		{"S48x7", "pitches 3, 8, 12"},
		{"2.5-8 BUTT-4A", "not a class"},
		{"Rd 40x1/8", "has 6 threads per inch"},
		{"Rd 50x7", "metric pitch"},
		{"Rd 41", "not a size"},
		{"1/4-4 SQUARE", "too deep"},
		{"0.012-112 WHIT free bolt", "too small"},
		{".1-5 ACME-2G", "too deep"},
	} {
		th, err := Parse(c.callout, External)
		if err == nil {
			t.Errorf("%s reads as %s", c.callout, th.Designation)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want %q", c.callout, err, c.says)
		}
	}
}

// TestTrapezoidalCorners: the root of a trapezoidal thread is a flat between two arcs.
func TestTrapezoidalCorners(t *testing.T) {
	th := mustParse(t, "Tr20x4-7e", External)
	g := th.Groove()
	if len(g) != 5 || g[1].Radius != 0.25 || g[3].Radius != 0.25 || g[2].Radius != 0 || g[2].From.X != g[2].To.X {
		t.Fatalf("%+v", g)
	}
	for _, i := range []int{1, 3} { // tangent to flank and flat
		flank := g[2*(i-1)] // segments 0 and 4
		across := func(p Point) float64 {
			return float64((p.Z-g[i].Centre.Z)*(flank.To.Z-flank.From.Z) + (p.X-g[i].Centre.X)*(flank.To.X-flank.From.X))
		}
		touch := g[i].From
		if i == 3 {
			touch = g[i].To
		}
		if math.Abs(across(touch)) > 1e-9 {
			t.Errorf("arc %d is not square to the flank where they meet: %v", i, across(touch))
		}
	}
	if b := mustParse(t, "2.5-8 BUTT-2A", External); b.Form.Symmetric() || len(b.Groove()) != 3 || b.Groove()[1].Radius <= 0 {
		t.Errorf("buttress: %+v", b.Groove())
	}
	if w := mustParse(t, "1/2 BSW", External).Groove(); len(w) != 5 || w[0].Radius <= 0 || w[2].Radius <= 0 || w[4].Radius <= 0 {
		t.Errorf("Whitworth: %+v", w)
	}
}
