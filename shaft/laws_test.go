package shaft

import (
	"errors"
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

// drawWork draws a part as it may stand in a lathe.
func drawWork(t *rapid.T) Work {
	w := Work{Stuff: steel, Head: Joint{Radial: unit.Stiffness(rapid.Float64Range(5e3, 2e5).Draw(t, "chuck")), Tilt: unit.AngularStiffness(rapid.Float64Range(1e6, 1e8).Draw(t, "tilt"))}}
	if rapid.Bool().Draw(t, "rigid chuck") {
		w.Head = Clamped()
	}
	for range rapid.IntRange(1, 4).Draw(t, "sections") {
		d := rapid.Float64Range(6, 40).Draw(t, "diameter")
		w.Sections = append(w.Sections, Section{
			Length: unit.Length(rapid.Float64Range(5, 120).Draw(t, "length")), Diameter: unit.Length(d),
			Bore: unit.Length(d * rapid.SampledFrom([]float64{0, 0, 0.3, 0.7}).Draw(t, "bore")),
		})
	}
	if rapid.Bool().Draw(t, "centre") {
		w.Tail.Radial = unit.Stiffness(rapid.Float64Range(1e3, 5e4).Draw(t, "tailstock"))
	}
	return w
}

func length(w Work) unit.Length {
	l := unit.Length(0)
	for _, s := range w.Sections {
		l += s.Length
	}
	return l
}

// TestLaws: deflections are reciprocal and lie between nothing and what less
// support would give; cutting a section in two changes nothing.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWork(t)
		l := length(w)
		at := []unit.Length{l * unit.Length(rapid.Float64Range(0.01, 1).Draw(t, "a")), l * unit.Length(rapid.Float64Range(0.01, 1).Draw(t, "b"))}
		b, err := New(w)
		if err != nil {
			t.Fatal(err)
		}
		ab, err := b.Deflection(100, at[0], at[1:])
		if err != nil {
			t.Fatal(err)
		}
		ba, err := b.Deflection(100, at[1], at[:1])
		if err != nil {
			t.Fatal(err)
		}
		if diff := math.Abs(float64(ab[0] - ba[0])); diff > 1e-7*math.Abs(float64(ab[0]))+1e-12 {
			t.Fatalf("a force at a bends b by %g, one at b bends a by %g", ab[0], ba[0])
		}
		own, err := b.Compliances(at)
		if err != nil {
			t.Fatal(err)
		}
		if own[0] <= 0 || own[1] <= 0 || float64(ab[0])*float64(ab[0]) > 1e4*float64(own[0]*own[1])*(1+1e-9) {
			t.Fatalf("compliances %v do not belong to a body at rest: cross %g", own, ab[0]/100)
		}
		firmer := w
		firmer.Tail.Radial += 5000
		const same = "with a section cut in two"
		split := w
		half := w.Sections[0]
		half.Length /= 2
		split.Sections = append([]Section{half, half}, w.Sections[1:]...)
		for name, other := range map[string]Work{"with a firmer centre": firmer, same: split} {
			b2, err := New(other)
			if err != nil {
				t.Fatal(err)
			}
			c, err := b2.Compliances(at)
			if err != nil {
				t.Fatal(err)
			}
			for i := range c {
				if c[i] > own[i]*(1+1e-7) || name == same && c[i] < own[i]*(1-1e-7) {
					t.Fatalf("%s it gives %g, before %g", name, c[i], own[i])
				}
			}
		}
	})
}

// TestModesAreModes: in rising order, orthogonal over mass and stiffness, and
// Rayleigh's quotient of each is its frequency.
func TestModesAreModes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWork(t)
		b, err := New(w)
		if err != nil {
			t.Fatal(err)
		}
		ms, err := b.Modes(4)
		if err != nil {
			t.Fatal(err)
		}
		g := ms[0].g
		for i, a := range ms {
			if i > 0 && a.Frequency < ms[i-1].Frequency {
				t.Fatalf("mode %d is lower than the one before", i+1)
			}
			for j, c := range ms[:i+1] {
				y := make([]float64, len(a.v))
				mul(g.m, a.v, y)
				m := dot(y, c.v)
				mul(g.k, a.v, y)
				k := dot(y, c.v)
				want, scale := 0.0, math.Sqrt(a.computed*a.computed*c.computed*c.computed)
				if i == j {
					want = 1
				}
				if math.Abs(m-want) > 1e-4 || math.Abs(k-want*scale) > 1e-4*scale {
					t.Fatalf("modes %d and %d: mass %g, stiffness %g of %g", i+1, j+1, m, k, scale)
				}
			}
			if s := a.Shape(unit.Length(b.length)); math.Abs(s) > 1+1e-9 {
				t.Fatalf("mode %d moves %g at the end, 1 is the most", i+1, s)
			}
		}
	})
}

func dot(a, b []float64) float64 {
	return mat.Dot(mat.NewVecDense(len(a), a), mat.NewVecDense(len(b), b))
}

// TestModalMass: the tip of a cantilever moves a quarter of its mass in the first
// mode, and is 3 % stiffer there than under a steady force.
func TestModalMass(t *testing.T) {
	b := bar(t, held(steel, Clamped(), Free(), rod(12, 240)), true)
	ms, err := b.Modes(1)
	if err != nil {
		t.Fatal(err)
	}
	mass := math.Pi / 4 * 12 * 12 * 240 * float64(steel.Density)
	outside.Check(t, outside.Claim{
		What: "modal mass at the tip of a cantilever", Source: "Blevins: fixed-free bar, mode shape 2 at the tip", Status: outside.Memory,
		Published: 0.25, Ours: float64(ms[0].Mass(240)) / mass, Unit: "of the bar's mass", Tolerance: 1e-4,
	})
	outside.Check(t, outside.Claim{
		What: "modal over static stiffness at the tip of a cantilever", Source: "1.87510^4 / 12", Status: outside.Memory,
		Published: 1.0302, Ours: float64(ms[0].Stiffness(240)) * bends(t, b, 240, 1) / 1000, Unit: "-", Tolerance: 2e-4,
	})
}

// TestResponse: at rest the response is the static compliance; in between it is
// that of the whole mesh solved directly; the weights of Oriented are those asked for.
func TestResponse(t *testing.T) {
	w := held(steel, Joint{60 * unit.NewtonPerMicrometre, 6e4 * unit.NewtonMetrePerRadian}, Joint{Radial: 9 * unit.NewtonPerMicrometre}, rod(20, 50), rod(14, 90))
	w.Tool = Tool{Radial: 20 * unit.NewtonPerMicrometre, Axial: 12 * unit.NewtonPerMicrometre}
	w.Damping = 1e-7
	b := bar(t, w, false)
	const at = 95.0
	r, err := b.Response(at)
	if err != nil {
		t.Fatal(err)
	}
	static, err := b.AtTool([]unit.Length{at})
	if err != nil {
		t.Fatal(err)
	}
	x, y, z := r.At(0)
	if math.Abs(real(complex128(x))-float64(static[0])) > 1e-9*float64(static[0]) || imag(complex128(x)) != 0 {
		t.Errorf("at rest %v, static %v", x, static[0])
	}
	if got, want := real(complex128(x-y)), 1/20e3; math.Abs(got-want) > 1e-12 {
		t.Errorf("radial less tangential is %g, the tool's %g", got, want)
	}
	column := 50/(205e3*math.Pi*100) + 45/(205e3*math.Pi*49) + 1/12e3
	if math.Abs(real(complex128(z))-column) > 1e-12 {
		t.Errorf("axially %v, column and saddle %g", z, column)
	}
	for _, f := range []float64{100, 700, 1600, 2500} {
		direct := b.direct(t, at, f) + 1/20e3
		got, _, _ := r.At(unit.Frequency(f))
		if math.Abs(real(complex128(got))-direct) > 0.003*math.Abs(direct) {
			t.Errorf("at %g Hz %v, solved directly %g", f, got, direct)
		}
		x, y, z := r.At(unit.Frequency(f))
		want := 0.25*complex128(x) + 0.1*complex128(y) + 0.75*complex128(z)
		if d := cmplx.Abs(complex128(r.Oriented(unit.Frequency(f), Direction{0.25, 0.1, 0.75})) - want); d > 1e-18 {
			t.Errorf("oriented response is off by %g", d)
		}
	}
}

// direct solves (K - w^2 M) y = F on a fine mesh without damping.
func (b *Bar) direct(t *testing.T, at, f float64) float64 {
	g := b.mesh([]float64{at}, 120)
	n := 2 * len(g.x)
	a := mat.NewDense(n, n, nil)
	w2 := math.Pow(2*math.Pi*f, 2)
	for i := range n {
		for j := max(0, i-reach); j <= min(n-1, i+reach); j++ {
			a.Set(i, j, g.k.At(i, j)-w2*g.m.At(i, j))
		}
	}
	load, y := mat.NewVecDense(n, nil), new(mat.VecDense)
	load.SetVec(2*g.node(at), 1)
	if err := y.SolveVec(a, load); err != nil {
		t.Fatal(err)
	}
	return y.AtVec(2 * g.node(at))
}

// TestResonance: at its natural frequency a single tool mode responds with
// 1/(2 k zeta), a quarter turn late.
func TestResonance(t *testing.T) {
	w := held(steel, Clamped(), Free(), rod(200, 20))
	w.Tool.Modes = []ToolMode{{Frequency: 400, Stiffness: 5000, Damping: 0.03, Along: Direction{Radial: 3, Axial: 4}}}
	r, err := bar(t, w, false).Response(10)
	if err != nil {
		t.Fatal(err)
	}
	x, y, z := r.At(400)
	for what, c := range map[string]struct {
		got   Receptance
		share float64
	}{"radial": {x - y, 0.36}, "axial": {z - Receptance(complex(r.column, 0)), 0.64}} {
		outside.Check(t, outside.Claim{
			What: "resonance of a damped mode, " + what, Source: "one degree of freedom: 1 / (2 k zeta), direction cosines 3/5 and 4/5", Status: outside.Memory,
			Published: c.share / (2 * 5000 * 0.03), Ours: cmplx.Abs(complex128(c.got)), Unit: "mm/N", Tolerance: 1e-9,
		})
		if deg := cmplx.Phase(complex128(c.got)) * 180 / math.Pi; math.Abs(deg+90) > 0.01 {
			t.Errorf("%s: %g degrees", what, deg)
		}
	}
}

// TestSlantingMode: a mode that moves aslant answers a force along its own
// direction with its whole compliance, and one square to it not at all.
func TestSlantingMode(t *testing.T) {
	w := held(steel, Clamped(), Free(), rod(200, 20))
	w.Tool.Modes = []ToolMode{{Frequency: 400, Stiffness: 5000, Damping: 0.03, Along: Direction{Radial: 3, Axial: 4}}}
	r, err := bar(t, w, false).Response(10)
	if err != nil {
		t.Fatal(err)
	}
	w.Tool.Modes = nil
	bare, err := bar(t, w, false).Response(10)
	if err != nil {
		t.Fatal(err)
	}
	with, square := Direction{Radial: 0.6, Axial: 0.8}, Direction{Radial: 0.8, Axial: -0.6}
	tool := func(a, b Direction) float64 { return real(complex128(r.Between(0, a, b) - bare.Between(0, a, b))) }
	if a, b, c := tool(with, with), tool(square, square), tool(with, square); math.Abs(a-1.0/5000) > 1e-12 || math.Abs(b) > 1e-12 || math.Abs(c) > 1e-12 {
		t.Errorf("along its own direction %g, square to it %g, across %g mm/N", a, b, c)
	}
}

// TestKnockReplacesDefaults: a measured frequency and damping take the computed
// one's place, and the mode keeps its mass.
func TestKnockReplacesDefaults(t *testing.T) {
	w := held(steel, Clamped(), Free(), rod(12, 100))
	before, err := bar(t, w, false).Modes(2)
	if err != nil {
		t.Fatal(err)
	}
	w.Measured = []Knock{{Frequency: before[0].Frequency * 0.8, Damping: 0.011}}
	after, err := bar(t, w, false).Modes(2)
	if err != nil {
		t.Fatal(err)
	}
	if after[0].Frequency != before[0].Frequency*0.8 || after[0].Damping != 0.011 || !after[0].Measured || after[1].Measured || after[1].Damping != 0.02 {
		t.Errorf("measured mode is %v Hz, damping %v; second %v", after[0].Frequency, after[0].Damping, after[1].Damping)
	}
	if a, b := after[0].Mass(100), before[0].Mass(100); math.Abs(float64(a-b)) > 1e-12*float64(b) {
		t.Errorf("the mass changed from %g to %g kg", b.Kg(), a.Kg())
	}
	if w.Tail = Pinned(); w.DefaultDamping() <= 0.02 {
		t.Error("a centre does not add damping")
	}
}

// TestFollowRest: a spring at the tool's own place takes its share.
func TestFollowRest(t *testing.T) {
	w := held(steel, Clamped(), Free(), rod(12, 120))
	free, err := bar(t, w, false).Compliances([]unit.Length{60, 120})
	if err != nil {
		t.Fatal(err)
	}
	w.Follow = 10 * unit.NewtonPerMicrometre
	b := bar(t, w, false)
	got, err := b.Compliances([]unit.Length{60, 120})
	if err != nil {
		t.Fatal(err)
	}
	for i := range got {
		want := 1 / (1/float64(free[i]) + 1e4)
		if math.Abs(float64(got[i])-want) > 1e-12 {
			t.Errorf("%g with a follow rest, springs side by side give %g", got[i], want)
		}
	}
	r, err := b.Response(120)
	if err != nil {
		t.Fatal(err)
	}
	if x, _, _ := r.At(0); math.Abs(real(complex128(x))-float64(got[1])) > 1e-9*float64(got[1]) {
		t.Errorf("response at rest %v, static %v", x, got[1])
	}
}

func TestFaults(t *testing.T) {
	good := held(steel, Clamped(), Free(), rod(12, 60))
	nan := math.NaN()
	for name, change := range map[string]func(*Work){
		"no sections":     func(w *Work) { w.Sections = nil },
		"no length":       func(w *Work) { w.Sections[0].Length = 0 },
		"not a length":    func(w *Work) { w.Sections[0].Length = unit.Length(nan) },
		"no wall":         func(w *Work) { w.Sections[0].Bore = 12 },
		"negative bore":   func(w *Work) { w.Sections[0].Bore = -1 },
		"no modulus":      func(w *Work) { w.Stuff.E = 0 },
		"Poisson":         func(w *Work) { w.Stuff.Poisson = 0.7 },
		"floating":        func(w *Work) { w.Head = Free() },
		"tilting":         func(w *Work) { w.Head = Pinned() },
		"negative spring": func(w *Work) { w.Tail.Radial = -1 },
		"steady outside":  func(w *Work) { w.Rests = []Rest{{At: 100, Radial: 1e4}} },
		"too many":        func(w *Work) { w.Rests = make([]Rest, 100) },
		"damping":         func(w *Work) { w.Damping = nan },
		"tool":            func(w *Work) { w.Tool.Radial = unit.Stiffness(nan) },
		"tool mode":       func(w *Work) { w.Tool.Modes = []ToolMode{{Frequency: 100}} },
		"knock":           func(w *Work) { w.Measured = []Knock{{Frequency: -1}} },
		"follow rest":     func(w *Work) { w.Follow = unit.Stiffness(math.Inf(1)) },
	} {
		w := good
		w.Sections = append([]Section(nil), good.Sections...)
		change(&w)
		var in *unit.InputError
		if _, err := New(w); !errors.As(err, &in) {
			t.Errorf("%s: %v", name, err)
		}
	}
	b := bar(t, good, false)
	for _, at := range []unit.Length{-1, 61, unit.Length(nan), unit.Length(math.Inf(1))} {
		if _, err := b.Compliances([]unit.Length{at}); err == nil {
			t.Errorf("a position at %v is taken", at)
		}
		if _, err := b.Response(at); err == nil {
			t.Errorf("a response at %v is given", at)
		}
	}
	if _, err := b.Modes(0); err == nil {
		t.Error("no modes are taken for some")
	}
	if _, err := b.Compliances(make([]unit.Length, mostStations+1)); err == nil {
		t.Error("any number of positions is taken")
	}
	if c, err := b.Compliances(nil); err != nil || len(c) != 0 {
		t.Errorf("no positions: %v, %v", c, err)
	}
}
