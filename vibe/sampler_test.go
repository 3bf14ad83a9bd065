package vibe

import (
	"context"
	"math"
	"testing"

	"thrum/cut"
	"thrum/internal/outside"
	"thrum/shaft"
	"thrum/unit"
)

// sprung is the slender bar with the stiffness of its joints times two factors.
func sprung(t testing.TB, centre bool) Joints {
	return func(chuck, tail float64, at unit.Length) (*Holding, error) {
		w := shaft.Work{
			Sections: []shaft.Section{{Length: 150, Diameter: 12}},
			Stuff:    shaft.Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre},
			Head: shaft.Joint{
				Radial: unit.Stiffness(chuck) * 50 * unit.NewtonPerMicrometre, Tilt: unit.AngularStiffness(chuck) * 8e4 * unit.NewtonMetrePerRadian,
			}, Tail: shaft.Free(), Tool: usualTool,
		}
		if centre {
			w.Tail = shaft.Joint{Radial: unit.Stiffness(tail) * 8 * unit.NewtonPerMicrometre}
		}
		b, err := shaft.New(w)
		if err != nil {
			return nil, err
		}
		return PrepareSparse(b, []unit.Length{at})
	}
}

func sampler(t testing.TB, in cut.Infeed, centre bool, rpm unit.Rotation) *Sampler {
	t.Helper()
	input := bench(t, in, centre)
	for i := range input.Passes {
		input.Passes[i].Speed = rpm
	}
	s, err := NewSampler(input, sprung(t, centre), Known{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The likely case of a sampler is that of the assessment, also when it is reached by
// the sampler's own way: all scores at zero, middle classes, the edge's own least chip.
func TestSamplerAtTheMiddle(t *testing.T) {
	for _, centre := range []bool{true, false} {
		s := sampler(t, cut.Infeed{}, centre, 600)
		s.ranges.wear = Range{1, 1, 1}
		for i := range s.gains {
			s.gains[i] = s.gains[edgeClasses-1] // straight infeed: every chip is thicker than the edge
		}
		got, err := s.one(Case{})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got.CarryOver/s.likely.CarryOver-1) > 1e-3 || math.Abs(got.Growth/s.likely.Growth-1) > 1e-2 {
			t.Errorf("centre %v: sampler %+v, assessment %+v", centre, got, s.likely)
		}
	}
}

// What makes things livelier does so in every case: a softer tool side, a lighter
// damping, a stiffer cut, less rubbing.
func TestSamplerDirections(t *testing.T) {
	s := sampler(t, cut.Infeed{}, false, 600)
	base, err := s.one(Case{})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]Case{
		"damping": {Damping: -1}, "chuck": {Chuck: -1.5}, "cut": {Cut: 1}, "wear": {Wear: 1}, "rubbing": {Rubbing: -1},
	} {
		got, err := s.one(c)
		if err != nil || got.CarryOver <= base.CarryOver {
			t.Errorf("%s: carry-over %.3f, likely %.3f (%v)", name, got.CarryOver, base.CarryOver, err)
		}
	}
}

// Cases are normal scores: mean 0, deviation 1, and the same for the same seed.
func TestCases(t *testing.T) {
	const n = 4000
	all, again := Cases(7, n), Cases(7, n/2)
	var sum, squares float64
	for i, c := range all {
		if i < n/2 && again[i] != c {
			t.Fatalf("case %d differs between two draws", i)
		}
		for _, z := range []float64{c.Damping, c.Chuck, c.Tailstock, c.Tool, c.Cut, c.Wear, c.MinChip, c.Rubbing} {
			sum, squares = sum+z, squares+z*z
		}
	}
	if mean, of := sum/(8*n), float64(8*n); math.Abs(mean) > 4/math.Sqrt(of) || math.Abs(squares/of-1) > 4*math.Sqrt(2/of) {
		t.Errorf("mean %g, mean square %g", mean, squares/of)
	}
	r := Range{10, 20, 80}
	for z, want := range map[float64]float64{0: 20, fifth: 80, -fifth: 10} {
		if got := r.At(z); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("at %g: %g, not %g", z, got, want)
		}
	}
}

// Published intervals for a share.
func TestShare(t *testing.T) {
	for _, c := range []struct {
		x, n      int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		s := ShareOf(c.x, c.n)
		for _, f := range []struct {
			name            string
			ours, published float64
		}{{"lower", s.Low, c.low}, {"upper", s.High, c.high}} {
			outside.Check(t, outside.Claim{
				What: "Wilson interval, " + f.name, Source: "Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3", Status: outside.Memory,
				Published: f.published, Ours: f.ours, Unit: "", Tolerance: 6e-5,
			})
		}
	}
}

func TestPlausibleTable(t *testing.T) {
	for _, p := range PlausibleTable() {
		r := p.Range
		if p.Source == "" || r.Low <= 0 || r.High < r.Low || r.Likely != 0 && (r.Likely < r.Low || r.Likely > r.High) {
			t.Errorf("%+v", p)
		}
	}
	if d := DefaultProcess(); plausibleRange(edgeRubbing) != (Range{float64(d.Low), float64(d.Likely), float64(d.High)}) {
		t.Error("the table's rubbing is not the default")
	}
}

func BenchmarkSampler(b *testing.B) {
	s := sampler(b, cut.Infeed{}, true, 600)
	cases := Cases(1, 200)
	if _, err := s.All(context.Background(), cases); err != nil {
		b.Fatal(err)
	}
	i := 0
	for b.Loop() {
		if _, err := s.one(cases[i%len(cases)]); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// The cheap way to a case and the long one agree: everything that the case varies is
// put into the work, the tool, the material and the rubbing, and assessed afresh.
func TestSamplerAgainstAssessment(t *testing.T) {
	for _, centre := range []bool{false, true} {
		in := bench(t, cut.Infeed{Method: cut.Modified, Angle: 28 * unit.Degree}, centre)
		for i := range in.Passes {
			in.Passes[i].Speed = 500
		}
		s, err := NewSampler(in, sprung(t, centre), Known{})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range Cases(3, 12) {
			// Joints and edge as their classes have them.
			chuck := s.ranges.chuck.At(middle(class(c.Chuck, chuckClasses), chuckClasses))
			tail := s.ranges.tail.At(middle(class(c.Tailstock, tailClasses), tailClasses))
			cheap, err := s.one(c)
			if err != nil {
				t.Fatal(err)
			}
			h, err := sprung(t, centre)(chuck, tail, s.at)
			if err != nil {
				t.Fatal(err)
			}
			likely := h.places[0].work.modes[0].Damping
			long := in
			long.Other, long.Steps, long.Starters = nil, nil, nil
			long.Holding = holdingOf(t, centre, chuck, tail, s.ranges.tool.At(c.Tool), likely*damped(&h.places[0], DampingRange{}, c.Damping), s.at)
			wear := s.ranges.wear.At(c.Wear)
			long.Force = worn(t, s.ranges.cut.At(c.Cut), wear)
			e := (float64(class(c.MinChip, edgeClasses)) + 0.5) / edgeClasses
			long.Edge.MinHi = in.Edge.MinLo + (in.Edge.MinHi-in.Edge.MinLo)*unit.Length(e)
			long.Process = Process{Likely: unit.Stiffness(s.ranges.rub.At(c.Rubbing)), High: 1e5}
			a := assess(t, long)
			if got, want := cheap.CarryOver, a.Passes[a.Worst].CarryOver.Likely; math.Abs(got/want-1) > 0.005 {
				t.Errorf("centre %v, %+v: carry-over %.4f the cheap way, %.4f the long one", centre, c, got, want)
			}
			if got, want := math.Log(cheap.Growth), math.Log(a.Growth.Factor.Likely); math.Abs(got-want) > 0.01+0.002*math.Abs(want) {
				t.Errorf("centre %v, %+v: growth %.4g the cheap way, %.4g the long one", centre, c, cheap.Growth, a.Growth.Factor.Likely)
			}
		}
	}
}

// holdingOf is the slender bar with everything given.
func holdingOf(t testing.TB, centre bool, chuck, tail, tool, damping float64, at unit.Length) *Holding {
	t.Helper()
	k := unit.Stiffness(tool)
	w := shaft.Work{
		Sections: []shaft.Section{{Length: 150, Diameter: 12}},
		Stuff:    shaft.Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre},
		Head: shaft.Joint{
			Radial: unit.Stiffness(chuck) * 50 * unit.NewtonPerMicrometre, Tilt: unit.AngularStiffness(chuck) * 8e4 * unit.NewtonMetrePerRadian,
		}, Tail: shaft.Free(), Damping: damping,
		Tool: shaft.Tool{Radial: k * usualTool.Radial, Tangential: k * usualTool.Tangential},
	}
	if usualTool.Axial > 0 {
		w.Tool.Axial = k * usualTool.Axial
	}
	if centre {
		w.Tail = shaft.Joint{Radial: unit.Stiffness(tail) * 8 * unit.NewtonPerMicrometre}
	}
	b, err := shaft.New(w)
	if err != nil {
		t.Fatal(err)
	}
	h, err := Prepare(b, []unit.Length{at})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// worn is the force on 1018 with the cutting force times a factor and a worn edge.
func worn(t testing.TB, factor, wear float64) *cut.Force {
	t.Helper()
	m, err := cut.FindMaterial("1018")
	if err != nil {
		t.Fatal(err)
	}
	m.Specific *= unit.Stress(factor)
	edge, err := cut.FindEdge("", cut.HSS)
	if err != nil {
		t.Fatal(err)
	}
	f, err := cut.NewForce(m, cut.Tool{Leading: thirty, Trailing: thirty, NoseFlat: 0.25, Edge: edge}, 10*unit.MetrePerMinute, cut.Worn(wear))
	if err != nil {
		t.Fatal(err)
	}
	return f
}
