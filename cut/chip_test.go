package cut

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

// vee is a V groove with a flat of width w at the root, of depth d.
func vee(d, w float64, leading, trailing unit.Angle) thread.Groove {
	p := func(z, x float64) thread.Point { return thread.Point{Z: unit.Length(z), X: unit.Length(x)} }
	l, t := w/2+d*leading.Tan(), -w/2-d*trailing.Tan()
	g := thread.Groove{{From: p(t, 0), To: p(-w/2, d)}}
	if w > 0 {
		g = append(g, thread.Segment{From: p(-w/2, d), To: p(w/2, d)})
	}
	return append(g, thread.Segment{From: p(w/2, d), To: p(l, 0)})
}

func cutter(t testing.TB, g thread.Groove) *Cutter {
	t.Helper()
	c, err := NewCutter(g)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// chips cuts a groove at the given depths and returns the chip of each pass.
func chips(t testing.TB, c *Cutter, in Infeed, depths ...float64) []Chip {
	t.Helper()
	var d []unit.Length
	for _, v := range depths {
		d = append(d, unit.Length(v))
	}
	at, err := c.Positions(d, in)
	if err != nil {
		t.Fatal(err)
	}
	out, _, err := c.Cut(at)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

const thirty = 30 * unit.Degree

// TestChipTable compares with a worked pass, from 0.6 to 0.7 mm deep in a sharp
// 60 degree V, at six angles of infeed.
func TestChipTable(t *testing.T) {
	const source = "closed forms of a sharp 60 degree V, depth 0.60 to 0.70 mm; printed to five places"
	for _, r := range []struct{ angle, leading, trailing float64 }{
		{0, .05, .05}, {25, .09038, .00962}, {27, .09413, .00587}, {29, .098, .002}, {29.5, .099, .001}, {30, .1, 0},
	} {
		c := cutter(t, vee(0.7, 0, thirty, thirty))
		in := Infeed{Method: Modified, Angle: unit.Angle(r.angle) * unit.Degree}
		got := chips(t, c, in, 0.6, 0.7)[1]
		check := func(what string, published float64, ours float64, u string) {
			outside.Check(t, outside.Claim{
				What: fmt.Sprintf("%s at %g degrees of infeed", what, r.angle), Source: source, Status: outside.Computed,
				Published: published, Ours: ours, Unit: u, Tolerance: 5.1e-6,
			})
		}
		check("chip on the leading flank", r.leading, got.Edges[LeadingFlank].Thickness.MM(), "mm")
		check("chip on the trailing flank", r.trailing, got.Edges[TrailingFlank].Thickness.MM(), "mm")
		check("chip area", 0.07506, got.Area.MM2(), "mm2")
		outside.Check(t, outside.Claim{
			What: fmt.Sprintf("edge length of the leading flank at %g degrees", r.angle), Source: source, Status: outside.Computed,
			Published: 0.8083, Ours: got.Edges[LeadingFlank].Length.MM(), Unit: "mm", Tolerance: 5e-5,
		})
	}
}

// TestForceTable compares with cutting forces of the same pass, both flanks with
// straight infeed and the leading flank alone at 29.5 degrees.
func TestForceTable(t *testing.T) {
	const source = "Kienzle with the tables' kc1.1 and mc, 0.60 to 0.70 mm deep in a sharp 60 degree V; printed to the newton"
	for _, r := range []struct {
		material        string
		straight, flank float64
	}{
		{"1018", 205, 176},
		{"1045", 234, 200},
		{"4140 annealed", 294, 247},
		{"304", 316, 273},
		{"6061", 137, 114},
		{"360 brass", 127, 105},
		{"grey iron", 169, 146},
		{"Ti-6Al-4V", 330, 281},
	} {
		m, err := FindMaterial(r.material)
		if err != nil {
			t.Fatal(err)
		}
		f, err := NewForce(m, Tool{Leading: thirty, Trailing: thirty}, 0, Without(FactorRake, FactorTool, FactorSpeed, FactorWear, FactorCollide))
		if err != nil {
			t.Fatal(err)
		}
		c := cutter(t, vee(0.7, 0, thirty, thirty))
		straight := f.Of(chips(t, c, Infeed{}, 0.6, 0.7)[1])
		flank := chips(t, c, Infeed{Method: Modified, Angle: 29.5 * unit.Degree}, 0.6, 0.7)[1]
		// The printed figure leaves the trailing flank out.
		flank.Elements = slices.DeleteFunc(flank.Elements, func(e Element) bool { return e.Part == TrailingFlank })
		for _, x := range []struct {
			what      string
			published float64
			ours      unit.Force
		}{{"straight", r.straight, straight.Tangential}, {"one flank", r.flank, f.Of(flank).Tangential}} {
			outside.Check(t, outside.Claim{
				What: "cutting force in " + r.material + ", " + x.what, Source: source, Status: outside.Computed,
				Published: x.published, Ours: x.ours.N(), Unit: "N", Tolerance: 0.51,
			})
		}
		// Straight infeed: the flanks' axial parts cancel, each pushes out with sin 30.
		if math.Abs(straight.Axial.N()) > 1e-9 || math.Abs(straight.Radial.N()-0.5*0.5*straight.Tangential.N()) > 1e-9 {
			t.Errorf("%s: straight infeed pushes %v N out and %v N along for %v N of cutting force", r.material, straight.Radial, straight.Axial, straight.Tangential)
		}
		// One flank: 0.866 of the normal force pushes the carriage back, half pushes out.
		one := f.Of(flank)
		n := f.Thrust * one.Tangential.N()
		outside.Check(t, outside.Claim{What: "axial share, one flank, " + r.material, Source: "flank normal of a 60 degree thread: cos 30", Status: outside.Computed, Published: 0.8660254, Ours: one.Axial.N() / n, Unit: "-", Tolerance: 1e-6})
		outside.Check(t, outside.Claim{What: "radial share, one flank, " + r.material, Source: "flank normal of a 60 degree thread: sin 30", Status: outside.Computed, Published: 0.5, Ours: one.Radial.N() / n, Unit: "-", Tolerance: 1e-6})
	}
}

// TestAreaOfEveryPass compares with A_i = (d_i^2 - d_(i-1)^2) tan 30 + w D, which
// holds at every angle of infeed.
func TestAreaOfEveryPass(t *testing.T) {
	const w = 0.15
	depths := []float64{0.25, 0.45, 0.6, 0.75, 0.85, 0.92}
	for _, in := range []Infeed{{}, {Method: OneFlank}, {Method: Modified, Angle: 27 * unit.Degree, FinalStraight: 2}, {Method: Alternating, Angle: 20 * unit.Degree}} {
		c := cutter(t, vee(0.92, w, thirty, thirty))
		before := 0.0
		for i, got := range chips(t, c, in, depths...) {
			d := depths[i]
			outside.Check(t, outside.Claim{
				What: fmt.Sprintf("area of pass %d, %v", i+1, in.Method), Source: "geometry: (d_i^2 - d_(i-1)^2) tan 30 + w D", Status: outside.Computed,
				Published: (d*d-before*before)*math.Tan(math.Pi/6) + w*(d-before), Ours: got.Area.MM2(), Unit: "mm2", Tolerance: 1e-12,
			})
			before = d
		}
	}
}

// grooves returns the groove of every form that package thread knows.
func grooves(t testing.TB) map[string]thread.Groove {
	out := map[string]thread.Groove{
		"square":        {{From: at(-1, 0), To: at(-1, 2)}, {From: at(-1, 2), To: at(1, 2)}, {From: at(1, 2), To: at(1, 0)}},
		"buttress 7/45": vee(2, 0.4, 45*unit.Degree, 7*unit.Degree),
	}
	for _, f := range thread.Families() {
		for _, c := range f.Examples {
			th, err := thread.Parse(c, thread.External)
			if err != nil {
				t.Logf("%s: %v", c, err)
				continue
			}
			if g := th.Groove(); len(g) > 0 {
				out[c] = g
			}
		}
	}
	return out
}

func at(z, x float64) thread.Point { return thread.Point{Z: unit.Length(z), X: unit.Length(x)} }

// TestChipsAddUp: whatever the form, the infeed and the depths, the chips of all
// passes together are the groove.
func TestChipsAddUp(t *testing.T) {
	all := grooves(t)
	var names []string
	for n := range all {
		names = append(names, n)
	}
	slices.Sort(names)
	t.Logf("%d forms: %s", len(names), strings.Join(names, "; "))
	if len(names) < 10 {
		t.Fatalf("only %d forms", len(names))
	}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names).Draw(t, "form")
		g := all[name]
		if rapid.Bool().Draw(t, "mirror") {
			g = mirrored(g)
		}
		c, err := NewCutter(g)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		in := Infeed{Method: Method(rapid.IntRange(0, 3).Draw(t, "method")), FinalStraight: rapid.IntRange(0, 3).Draw(t, "straight")}
		most := c.trailing
		if in.Method == Alternating {
			most = min(most, c.leading)
		}
		in.Angle = unit.Angle(rapid.Float64Range(0, 1).Draw(t, "angle")) * most
		n := rapid.IntRange(1, 20).Draw(t, "passes")
		var depths []unit.Length
		for range n - 1 {
			depths = append(depths, unit.Length(rapid.Float64Range(0, 1).Draw(t, "depth"))*c.Depth())
		}
		slices.Sort(depths)
		depths = append(depths, c.Depth())
		pos, err := c.Positions(depths, in)
		if err != nil {
			t.Fatal(err)
		}
		got, outlines, err := c.Cut(pos)
		if err != nil {
			t.Fatal(err)
		}
		sum, edges := unit.Area(0), unit.Area(0)
		for _, ch := range got {
			if ch.Area < 0 {
				t.Fatalf("%s: negative chip %v", name, ch.Area)
			}
			sum += ch.Area
			for _, e := range ch.Edges {
				edges += unit.Area(e.Length.MM() * e.Mean.MM())
			}
		}
		want := numericArea(g)
		if diff := math.Abs(float64(sum - c.Area())); diff > 1e-9*float64(c.Area()) {
			t.Fatalf("%s: chips %.12g, groove %.12g mm2", name, sum, c.Area())
		}
		if diff := math.Abs(float64(edges - sum)); diff > 1e-9*float64(sum) {
			t.Fatalf("%s: shares of the edges %.12g, chips %.12g mm2", name, edges, sum)
		}
		if diff := math.Abs(float64(c.Area()) - want); diff > 1e-4*want {
			t.Fatalf("%s: area of the groove %.9g, by many strips %.9g mm2", name, c.Area(), want)
		}
		if left := numericArea(outlines[len(outlines)-1]); math.Abs(left-want) > 1e-4*want {
			t.Fatalf("%s: the last outline encloses %.9g, the groove %.9g mm2", name, left, want)
		}
	})
}

// TestChipsAddUpWherever: also with the tool pushed about, deeper and shallower and
// to both sides, the chips are what the last outline encloses.
func TestChipsAddUpWherever(t *testing.T) {
	all := grooves(t)
	var names []string
	for n := range all {
		names = append(names, n)
	}
	slices.Sort(names)
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names).Draw(t, "form")
		c, err := NewCutter(all[name])
		if err != nil {
			t.Fatal(err)
		}
		var pos []Position
		for range rapid.IntRange(1, 12).Draw(t, "passes") {
			pos = append(pos, Position{
				Depth: c.Depth() * unit.Length(rapid.Float64Range(-0.1, 1).Draw(t, "depth")),
				Along: c.Depth() * unit.Length(rapid.Float64Range(-0.3, 0.3).Draw(t, "along")),
			})
		}
		got, outlines, err := c.Cut(pos)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i, ch := range got {
			sum += ch.Area.MM2()
			if left := numericArea(outlines[i]); math.Abs(left-sum) > 2e-4*max(left, 0.01) {
				t.Fatalf("%s: after pass %d the outline encloses %.9g, the chips are %.9g mm2", name, i+1, left, sum)
			}
			for p, e := range ch.Edges {
				if e.Length < 0 || e.Thickness < 0 || math.IsNaN(float64(e.Mean)) {
					t.Fatalf("%s: pass %d, %v: %+v", name, i+1, Part(p), e)
				}
			}
		}
	})
}

// numericArea adds up strips under an outline, without the closed forms under test.
func numericArea(g thread.Groove) float64 {
	sum := 0.0
	for _, s := range g {
		const n = 2000
		z0, z1 := s.From.Z.MM(), s.To.Z.MM()
		for i := range n {
			z := z0 + (z1-z0)*(float64(i)+0.5)/n
			x := s.From.X.MM() + (s.To.X-s.From.X).MM()*(float64(i)+0.5)/n
			if r := s.Radius.MM(); r > 0 {
				u := z - s.Centre.Z.MM()
				h := math.Sqrt(max(r*r-u*u, 0))
				x = s.Centre.X.MM() + h
				if (s.From.X+s.To.X)/2 < s.Centre.X {
					x = s.Centre.X.MM() - h
				}
			}
			sum += x * (z1 - z0) / n
		}
	}
	return sum
}

func mirrored(g thread.Groove) thread.Groove {
	flip := func(p thread.Point) thread.Point { return thread.Point{Z: -p.Z, X: p.X} }
	var out thread.Groove
	for _, s := range slices.Backward(g) {
		out = append(out, thread.Segment{From: flip(s.To), To: flip(s.From), Centre: flip(s.Centre), Radius: s.Radius})
	}
	return out
}
