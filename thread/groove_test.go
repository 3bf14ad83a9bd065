package thread

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

// basicThread is a thread without tolerance: its sizes to aim at are the basic ones.
func basicThread(f Form, side Side, major, pitch, minor, p unit.Length) Thread {
	one := func(l unit.Length) Band { return Band{l, l} }
	t := Thread{Side: side, Pitch: number("1"), Form: f, Starts: 1}
	t.Pitch, _ = unit.NewRatio(int64(math.Round(float64(p)*1e6)), 1e6)
	t.Limits = Limits{Major: one(major), Pitch: one(pitch), Minor: one(minor)}
	return t
}

// TestGrooveDepthPublished compares the depth of the groove at basic sizes with
// published heights of the thread.
func TestGrooveDepthPublished(t *testing.T) {
	m := mustParse(t, "M10-6h", External)
	p := m.Pitch.Length()
	screw := basicThread(m.Form, External, m.Basic.Major, m.Basic.Pitch, m.Basic.Minor, p)
	n := mustParse(t, "M10-6H", Internal)
	nut := basicThread(n.Form, Internal, n.Basic.Major, n.Basic.Pitch, n.Basic.Minor, p)
	for _, c := range []struct {
		what            string
		published, ours float64
	}{
		{"ISO metric, basic height of the external thread / P", 0.61344, float64(screw.Depth() / p)},
		{"ISO metric, basic height of the internal thread / P", 0.54127, float64(nut.Depth() / p)},
		{"ISO metric, basic radius of the external root / P", 0.1443, screw.Form.RootRadius},
	} {
		outside.Check(t, outside.Claim{
			What: c.what, Source: "page \"ISO Metric Coarse Thread Profile\" (r = 0.1443 p, hs = 0.61344 p, hn = 0.54127 p)",
			Status: outside.Read, Published: c.published, Ours: c.ours, Unit: "P", Tolerance: 0.00005,
		})
	}
}

// outline checks what the type Groove promises.
func outline(t interface {
	Helper()
	Fatalf(string, ...any)
}, th Thread, name string,
) {
	t.Helper()
	g := th.Groove()
	if len(g) < 2 {
		t.Fatalf("%s: groove of %d segments", name, len(g))
	}
	const eps = 1e-9
	near := func(a, b Point) bool { return math.Hypot(float64(a.Z-b.Z), float64(a.X-b.X)) < eps }
	p := float64(th.Pitch.Length())
	depth := float64(th.Depth())
	for i, s := range g {
		if i > 0 && !near(g[i-1].To, s.From) {
			t.Fatalf("%s: segment %d begins at %v, the last ended at %v", name, i, s.From, g[i-1].To)
		}
		if s.To.Z < s.From.Z-eps {
			t.Fatalf("%s: segment %d runs back from %v to %v", name, i, s.From, s.To)
		}
		if s.From.X < -eps || s.To.X < -eps || float64(s.From.X) > depth+eps || float64(s.To.X) > depth+eps {
			t.Fatalf("%s: segment %d leaves the groove: %v", name, i, s)
		}
		if s.Radius > 0 {
			for _, e := range []Point{s.From, s.To} {
				if r := math.Hypot(float64(e.Z-s.Centre.Z), float64(e.X-s.Centre.X)); math.Abs(r-float64(s.Radius)) > eps {
					t.Fatalf("%s: arc %d has an end %g from its centre, radius %g", name, i, r, float64(s.Radius))
				}
			}
		}
	}
	if w := float64(g[len(g)-1].To.Z - g[0].From.Z); w > p+eps {
		t.Fatalf("%s: the groove is %g wide, the pitch %g", name, w, p)
	}
	// On the pitch line the groove is half a pitch wide.
	line := math.Abs(float64(th.crest()-th.Limits.Pitch.Mean())) / 2
	if w, ok := widthAt(g, line); ok && math.Abs(w-p/2) > 1e-6 {
		t.Fatalf("%s: %g wide on the pitch line, want %g", name, w, p/2)
	} else if !ok && len(g) == 3 {
		t.Fatalf("%s: no straight flank crosses the pitch line", name)
	}
	// The size to aim at for the root follows from the depth.
	target := th.Targets()
	if d := math.Abs(float64(target.Major.Size-target.Minor.Size)) / 2; math.Abs(d-depth) > eps {
		t.Fatalf("%s: targets are %g apart, the groove is %g deep", name, d, depth)
	}
}

// widthAt measures a groove at depth x between its straight flanks.
func widthAt(g Groove, x float64) (w float64, ok bool) {
	var z []float64
	for _, s := range g {
		a, b := float64(s.From.X), float64(s.To.X)
		if s.Radius == 0 && a != b && min(a, b) <= x && x <= max(a, b) {
			z = append(z, float64(s.From.Z)+(x-a)/(b-a)*float64(s.To.Z-s.From.Z))
		}
	}
	if len(z) != 2 {
		return 0, false
	}
	return z[1] - z[0], true
}

func TestGrooveOutline(t *testing.T) {
	for _, callout := range []string{
		"1/2-13 UNC-2A", "1/2-13 UNC-2B", "3/4-16 UNRF-3A", "1/4-28 UNJF-3A", "1/4-28 UNJF-3B", "M10", "M10-6H", "MJ6x1-4h6h", "MJ6-4H5H", "M20xPh3P1.5-6H",
	} {
		outline(t, mustParse(t, callout, External), callout)
	}
}

// TestGrooveOfAnyForm draws forms of any flank angles, flat or round at root and
// crest, and checks outline and tangency.
func TestGrooveOfAnyForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := Form{
			Leading:  unit.Angle(rapid.Float64Range(0, 46).Draw(t, "leading")) * unit.Degree,
			Trailing: unit.Angle(rapid.Float64Range(2, 46).Draw(t, "trailing")) * unit.Degree,
		}
		p := unit.Length(rapid.IntRange(2, 120).Draw(t, "pitch/0.1")) / 10
		slope := f.Leading.Tan() + f.Trailing.Tan()
		f.H = 1 / slope
		reach := min(f.H, 1.5)            // of the sharp triangle above and below the pitch line, twice over
		add := unit.Length(0.3*reach) * p // addendum and dedendum
		d2 := 8 * p
		th := basicThread(f, External, d2+2*add, d2, d2-2*add, p)
		switch rapid.IntRange(0, 2).Draw(t, "root") {
		case 1:
			th.Form.RootRadius = 0.08 * reach
		case 2:
			th.Limits.Minor.Min = 0
			th.Form.RootFlat = 0.5 - 0.3*reach*slope
		}
		if rapid.Bool().Draw(t, "round crest") {
			th.Form.CrestRadius = 0.1
		}
		outline(t, th, "drawn form")
		g := th.Groove()
		for i, s := range g {
			if s.Radius == 0 || i == 0 || g[i-1].Radius > 0 {
				continue
			}
			flank := g[i-1]
			// a tangent is square to the radius at the point where they meet
			dot := float64((flank.To.Z-flank.From.Z)*(s.From.Z-s.Centre.Z) + (flank.To.X-flank.From.X)*(s.From.X-s.Centre.X))
			length := math.Hypot(float64(flank.To.Z-flank.From.Z), float64(flank.To.X-flank.From.X))
			if length > 1e-6 && math.Abs(dot)/length/float64(s.Radius) > 1e-6 {
				t.Fatalf("arc %d is not tangent to its flank: %+v after %+v", i, s, flank)
			}
		}
	})
}

func TestGrooveOfSquareThread(t *testing.T) {
	th := basicThread(Form{Depth: 0.5}, External, 20, 18, 16, 4)
	outline(t, th, "square")
	if d := th.Depth(); d != 2 {
		t.Errorf("depth %v, want 2 mm", d)
	}
	if (Thread{}).Groove() != nil || (Thread{}).Depth() != 0 {
		t.Error("an empty thread has a groove")
	}
}

// TestTargets: the sizes to aim at lie inside the limits, where there are two.
func TestTargets(t *testing.T) {
	for _, callout := range []string{"1/2-13 UNC-2A", "1/2-13 UNC-2B", "M10", "M10-6H", "1/4-28 UNJF-3A", "M64-6g", "#0-80 UNF-3B"} {
		th := mustParse(t, callout, External)
		g := th.Targets()
		for what, c := range map[string]struct {
			Band
			Target
		}{"major": {th.Limits.Major, g.Major}, "pitch": {th.Limits.Pitch, g.Pitch}, "minor": {th.Limits.Minor, g.Minor}} {
			if c.Target.Size < c.Band.Min || c.Band.Max > 0 && c.Target.Size > c.Band.Max || c.Reason == "" {
				t.Errorf("%s: %s: aims at %v outside %v to %v (%s)", callout, what, c.Size, c.Band.Min, c.Band.Max, c.Reason)
			}
		}
	}
}
