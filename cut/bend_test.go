package cut

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/shaft"
	"thrum/thread"
	"thrum/unit"
)

func force(t testing.TB, material string, choose ...Choice) *Force {
	t.Helper()
	m, err := FindMaterial(material)
	if err != nil {
		t.Fatal(err)
	}
	f, err := NewForce(m, Tool{Leading: thirty, Trailing: thirty}, 0, choose...)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// linear is a cut whose force is proportional to the chip's thickness, of the
// stiffness kc to the radial direction for a square groove of width w.
func linear(t testing.TB, stress unit.Stress) *Force {
	t.Helper()
	f, err := NewForce(Material{Name: "test", Specific: stress}, Tool{}, 0, Without(FactorRake, FactorTool, FactorSpeed, FactorCollide), ThrustRatio(1))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func follow(t testing.TB, c *Cutter, f *Force, give float64, depths ...float64) *Bend {
	t.Helper()
	var at []Position
	for _, d := range depths {
		at = append(at, Position{Depth: unit.Length(d)})
	}
	b, err := c.Follow(f, at, []unit.Length{0}, []shaft.Compliance{shaft.Compliance(give)})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestSpringPassesContract: with a force proportional to the chip, each spring
// pass leaves Kc/(Kc+k) of the error. A square groove has a constant Kc = stress x
// width, so the law is exact.
func TestSpringPassesContract(t *testing.T) {
	const width, depth = 2.0, 2.0
	g := grooves(t)["square"]
	for _, r := range []struct{ stress, k float64 }{{1500, 3000}, {1500, 500}, {4000, 10000}, {800, 20000}} {
		kc := r.stress * width
		b := follow(t, cutter(t, g), linear(t, unit.Stress(r.stress)), 1/r.k, depth-0.1, depth, depth, depth, depth, depth)
		for i := 2; i < len(b.Achieved); i++ {
			before, after := depth-b.Achieved[i-1][0].MM(), depth-b.Achieved[i][0].MM()
			outside.Check(t, outside.Claim{
				What: fmt.Sprintf("error left by spring pass %d, Kc %g, k %g N/mm", i-1, kc, r.k), Source: "force balance of two springs: e' = e Kc / (Kc + k)",
				Status: outside.Computed, Published: kc / (kc + r.k), Ours: after / before, Unit: "-", Tolerance: 0.01 * kc / (kc + r.k),
			})
		}
	}
}

// TestSpringPassesOfRealCut: with Kienzle's law and growing edges the same holds
// with the secant stiffness of each pass, Kc = force / chip.
func TestSpringPassesOfRealCut(t *testing.T) {
	f := force(t, "1045")
	c := cutter(t, vee(1, 0.1, thirty, thirty))
	for _, k := range []float64{500, 2900, 20000} {
		b := follow(t, c, f, 1/k, 0.4, 0.7, 0.9, 1, 1, 1, 1)
		for i := 4; i < len(b.Achieved); i++ {
			before, after := 1-b.Achieved[i-1][0].MM(), 1-b.Achieved[i][0].MM()
			kc := b.Radial[i][0].N() / (before - after)
			if want := kc / (kc + k); math.Abs(after/before-want) > 0.01*want {
				t.Errorf("k %g N/mm, spring pass %d leaves %.5f of the error, Kc/(Kc+k) is %.5f", k, i-3, after/before, want)
			}
		}
	}
}

// TestStiffLimit: nothing gives, so the dial tells the truth to 0.1 um.
func TestStiffLimit(t *testing.T) {
	for name, g := range grooves(t) {
		c := cutter(t, g)
		d := c.Depth().MM()
		for _, give := range []float64{0, 1e-10} {
			b := follow(t, c, force(t, "304"), give, d/3, d/2, d)
			for i, want := range []float64{d / 3, d / 2, d} {
				if got := b.Achieved[i][0].MM(); math.Abs(got-want) > 1e-4 {
					t.Errorf("%s, compliance %g: pass %d reaches %.6f mm, dialled %.6f", name, give, i+1, got, want)
				}
			}
		}
	}
}

// TestFollowAgreesWithCut: the quick reckoning behind Follow and the exact chips
// at the places where the tool really stood give the same force, to within 4 % (the level end of a round crest is the worst).
func TestFollowAgreesWithCut(t *testing.T) {
	all := grooves(t)
	var names []string
	for n := range all {
		names = append(names, n)
	}
	slices.Sort(names)
	f := force(t, "1018")
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names).Draw(t, "form")
		c, err := NewCutter(all[name])
		if err != nil {
			t.Fatal(err)
		}
		in := Infeed{Method: Method(rapid.IntRange(0, 3).Draw(t, "method"))}
		in.Angle = unit.Angle(rapid.Float64Range(0, 1).Draw(t, "angle")) * min(c.trailing, c.leading)
		d := c.Depth()
		pos, err := c.Positions([]unit.Length{d * 0.3, d * 0.5, d * 0.7, d * 0.8, d * 0.9, d}, in)
		if err != nil {
			t.Fatal(err)
		}
		give := rapid.Float64Range(0, 2e-4).Draw(t, "give")
		b, err := c.Follow(f, pos, []unit.Length{0}, []shaft.Compliance{shaft.Compliance(give)})
		if err != nil {
			t.Fatal(err)
		}
		stood := slices.Clone(pos)
		for i := range stood {
			stood[i].Depth = b.Achieved[i][0]
			if left := float64(pos[i].Depth-stood[i].Depth) - give*b.Radial[i][0].N(); math.Abs(left) > 1e-6 {
				t.Fatalf("%s: pass %d is %g mm out of balance", name, i+1, left)
			}
		}
		got, _, err := c.Cut(stood)
		if err != nil {
			t.Fatal(err)
		}
		for i, ch := range got {
			want, ours := f.Of(ch).Radial.N(), b.Radial[i][0].N()
			if math.Abs(want-ours) > 0.04*want+0.01 {
				t.Fatalf("%s, %v at %v: pass %d, Follow %.4f N, from the exact chip %.4f N", name, in.Method, in.Angle.Format(2), i+1, ours, want)
			}
		}
	})
}

// TestFirstPassOfSprings: with a force proportional to the chip the very first
// pass reaches k/(Kc+k) of the dial.
func TestFirstPassOfSprings(t *testing.T) {
	const stress, width = 1500.0, 2.0
	for _, k := range []float64{500, 3000, 40000} {
		b := follow(t, cutter(t, grooves(t)["square"]), linear(t, stress), 1/k, 0.3)
		outside.Check(t, outside.Claim{
			What: fmt.Sprintf("depth of a first pass of 0.3 mm, k %g N/mm", k), Source: "force balance of two springs: d = c k / (Kc + k)", Status: outside.Computed,
			Published: 0.3 * k / (stress*width + k), Ours: b.Achieved[0][0].MM(), Unit: "mm", Tolerance: 1e-6,
		})
	}
}

// TestShapeAlongTheThread: out of the chuck the far end comes out thickest; with
// a centre the middle does, and everything comes out closer to size; spring
// passes close the gap.
func TestShapeAlongTheThread(t *testing.T) {
	m, err := FindMaterial("1045")
	if err != nil {
		t.Fatal(err)
	}
	w := shaft.Work{
		Sections: []shaft.Section{{Length: 150, Diameter: 12}}, Stuff: m.Stuff(),
		Head: shaft.Joint{Radial: 50 * unit.NewtonPerMicrometre, Tilt: 8e4 * unit.NewtonMetrePerRadian},
		Tool: shaft.Tool{Radial: 20 * unit.NewtonPerMicrometre},
	}
	var stations []unit.Length
	for i := range 13 {
		stations = append(stations, unit.Length(30+10*i))
	}
	c := cutter(t, vee(0.92, 0.18, thirty, thirty))
	at, err := c.Positions(EqualArea(0.92, 8, thirty, thirty, 0.18), Infeed{})
	if err != nil {
		t.Fatal(err)
	}
	errorsOf := func(w shaft.Work, at []Position) []unit.Length {
		bar, err := shaft.New(w)
		if err != nil {
			t.Fatal(err)
		}
		give, err := bar.AtTool(stations)
		if err != nil {
			t.Fatal(err)
		}
		b, err := c.Follow(force(t, "1045"), at, stations, give)
		if err != nil {
			t.Fatal(err)
		}
		return b.Error
	}
	free := errorsOf(w, at)
	w.Tail = shaft.Joint{Radial: 8 * unit.NewtonPerMicrometre}
	centre := errorsOf(w, at)
	sprung := errorsOf(w, append(slices.Clone(at), at[len(at)-1], at[len(at)-1]))
	middle := slices.Index(centre, slices.Max(centre))
	for i := range stations {
		if i > 0 && free[i] <= free[i-1] {
			t.Errorf("without a centre %v at %v is not thicker than %v before it", free[i], stations[i], free[i-1])
		}
		if centre[i] >= free[i] || sprung[i] >= centre[i] || sprung[i] <= 0 {
			t.Errorf("at %v: %v without, %v with a centre, %v after two spring passes", stations[i], free[i], centre[i], sprung[i])
		}
	}
	if middle < 3 || middle > 9 {
		t.Errorf("with a centre the thickest place is at %v", stations[middle])
	}
	if free[12] < 5*centre[12] {
		t.Errorf("the centre hardly helps at the end: %v without, %v with", free[12], centre[12])
	}
}

func TestSpringPassCount(t *testing.T) {
	stoned, err := FindEdge("", HSS)
	if err != nil {
		t.Fatal(err)
	}
	c := cutter(t, vee(0.92, 0.18, thirty, thirty))
	at, err := c.Positions(EqualArea(0.92, 8, thirty, thirty, 0.18), Infeed{})
	if err != nil {
		t.Fatal(err)
	}
	f := force(t, "1045")
	stiff, err := c.SpringPasses(f, at, 1e-9, stoned, 0.005)
	if err != nil || stiff.Passes != 0 || !stiff.Reached {
		t.Errorf("stiff: %+v, %v", stiff, err)
	}
	soft, err := c.SpringPasses(f, at, 1.0/3000, stoned, 0.03)
	if err != nil || soft.Passes < 1 || !soft.Reached || soft.Left > 0.03 {
		t.Errorf("soft: %+v, %v", soft, err)
	}
	limp, err := c.SpringPasses(f, at, 1.0/1500, stoned, 1e-5)
	if err != nil || limp.Reached || limp.Passes != mostSprings || !limp.Rubs {
		t.Errorf("limp: %+v, %v", limp, err)
	}
	// The count is what Follow says of the same passes.
	for range soft.Passes {
		at = append(at, at[len(at)-1])
	}
	b, err := c.Follow(f, at, []unit.Length{0}, []shaft.Compliance{1.0 / 3000})
	if err != nil || math.Abs(float64(b.Error[0]-soft.Left)) > 1e-9 {
		t.Errorf("counted %v, followed %v, %v", soft.Left, b.Error, err)
	}
	if _, err := c.SpringPasses(f, at, 1e-4, stoned, 0); err == nil {
		t.Error("a tolerance of nothing is taken")
	}
}

func TestCutterFaults(t *testing.T) {
	good := vee(1, 0.1, thirty, thirty)
	change := func(f func(g thread.Groove)) thread.Groove {
		g := slices.Clone(good)
		f(g)
		return g
	}
	for name, g := range map[string]thread.Groove{
		"empty":        {},
		"torn":         change(func(g thread.Groove) { g[1].From.X += 0.1 }),
		"backwards":    change(func(g thread.Groove) { slices.Reverse(g) }),
		"wrong arc":    change(func(g thread.Groove) { g[1].Radius, g[1].Centre = 3, at(5, 5) }),
		"not a number": change(func(g thread.Groove) { g[0].To.Z = unit.Length(math.NaN()) }),
		"out of work":  change(func(g thread.Groove) { g[0].From.X = -1 }),
		"flat":         {{From: at(-1, 0), To: at(1, 0)}},
	} {
		var in *unit.InputError
		if _, err := NewCutter(g); !errors.As(err, &in) {
			t.Errorf("%s: %v", name, err)
		}
	}
	c := cutter(t, good)
	for name, r := range map[string]struct {
		depths []unit.Length
		in     Infeed
	}{
		"no passes":        {nil, Infeed{}},
		"going back":       {[]unit.Length{0.5, 0.4}, Infeed{}},
		"not a depth":      {[]unit.Length{unit.Length(math.NaN())}, Infeed{}},
		"past the flank":   {[]unit.Length{1}, Infeed{Method: Modified, Angle: 31 * unit.Degree}},
		"unknown method":   {[]unit.Length{1}, Infeed{Method: 9}},
		"straight passes":  {[]unit.Length{1}, Infeed{FinalStraight: -1}},
		"the other way up": {[]unit.Length{1}, Infeed{Method: Modified, Angle: -5 * unit.Degree}},
	} {
		if _, err := c.Positions(r.depths, r.in); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if _, _, err := c.Cut([]Position{{Depth: unit.Length(math.Inf(1))}}); err == nil {
		t.Error("an endless depth is cut")
	}
	if _, err := c.Follow(force(t, "1018"), []Position{{Depth: 1}}, []unit.Length{0}, nil); err == nil {
		t.Error("a station without its compliance is followed")
	}
	if _, err := NewForce(Material{Name: "nothing"}, Tool{}, 1); err == nil {
		t.Error("a material without force is taken")
	}
	m, err := FindMaterial("1018")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := NewForce(m, Tool{}, 1, Worn(0.2)); err == nil {
		t.Error("an edge sharper than sharp is taken")
	}
}

// TestFactors: each correction stands alone, says where it comes from, and can be
// switched off.
func TestFactors(t *testing.T) {
	m, err := FindMaterial("1045")
	if err != nil {
		t.Fatal(err)
	}
	chip := chips(t, cutter(t, vee(0.7, 0, thirty, thirty)), Infeed{}, 0.6, 0.7)[1]
	all := []string{FactorRake, FactorTool, FactorSpeed, FactorWear, FactorCollide}
	of := func(v float64, tool Tool, choose ...Choice) Forces {
		f, err := NewForce(m, tool, unit.Velocity(v)*unit.MetrePerMinute, choose...)
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range f.Factors {
			if k.Source == "" || k.Why == "" || k.Value <= 0 {
				t.Errorf("%+v: no reason", k)
			}
		}
		return f.Of(chip)
	}
	hss, carbide := Tool{Leading: thirty, Trailing: thirty}, Tool{Leading: thirty, Trailing: thirty, Edge: EdgeType{Material: Carbide}}
	bare := of(50, hss, Without(all...)).Tangential.N()
	ratio := func(v float64, tool Tool, only string, choose ...Choice) float64 {
		off := slices.DeleteFunc(slices.Clone(all), func(n string) bool { return n == only })
		return of(v, tool, append(choose, Without(off...))...).Tangential.N() / bare
	}
	const source = "German handbooks after Kienzle and Victor"
	for _, c := range []struct {
		what            string
		published, ours float64
	}{
		{"rake 0 instead of 6 degrees", 1 + 6/66.7, ratio(50, hss, FactorRake)},
		{"high-speed steel", 1.2, ratio(10, hss, FactorTool)},
		{"carbide at 50 m/min", math.Pow(2, 0.1), ratio(50, carbide, FactorSpeed)},
		{"carbide at 150 m/min", 1, ratio(150, carbide, FactorSpeed)},
		{"normal wear", 1.3, ratio(50, hss, FactorWear, Worn(1.3))},
		{"colliding chips, middle of 1.1 to 1.3", 1.2, ratio(50, hss, FactorCollide)},
	} {
		tol := 1e-9
		if c.what[0] == 'c' && c.what[1] == 'o' {
			tol = 0.1
		}
		outside.Check(t, outside.Claim{What: "force factor, " + c.what, Source: source, Status: outside.Memory, Published: c.published, Ours: c.ours, Unit: "-", Tolerance: tol})
	}
	// A flank alone has nothing to collide with.
	one := chips(t, cutter(t, vee(0.7, 0, thirty, thirty)), Infeed{Method: OneFlank}, 0.6, 0.7)[1]
	f := force(t, "1045")
	g := force(t, "1045", Without(FactorCollide))
	if a, b := f.Of(one), g.Of(one); math.Abs(float64(a.Tangential-b.Tangential)) > 1e-9 {
		t.Errorf("one flank: %v with, %v without the factor for colliding chips", a.Tangential, b.Tangential)
	}
	// The edge force adds Ke per length of edge.
	e := of(50, hss, Without(all...), WithEdgeForce()).Tangential.N() - bare
	if want := float64(m.EdgeForce) * 2 * 0.7 / math.Cos(math.Pi/6); math.Abs(e-want) > 1e-6 {
		t.Errorf("edge force %g N, want %g", e, want)
	}
	if thin := f.Of(chips(t, cutter(t, vee(0.7, 0, thirty, thirty)), Infeed{}, 0.69, 0.7)[1]); thin.Uncertainty != 0.5 || f.Of(chip).Uncertainty != 0.25 {
		t.Error("a thin chip is no less certain")
	}
	p := Forces{Tangential: 300}
	outside.Check(t, outside.Claim{What: "power of 300 N at 20 m/min", Source: "power = force x speed", Status: outside.Computed, Published: 100, Ours: p.Power(20 * unit.MetrePerMinute).W(), Unit: "W", Tolerance: 1e-9})
	outside.Check(t, outside.Claim{What: "torque of 300 N on 20 mm", Source: "torque = force x radius", Status: outside.Computed, Published: 3, Ours: p.Torque(20).NM(), Unit: "N m", Tolerance: 1e-12})
	if s := f.Slope(0.05).MPa(); math.Abs(s-(float64(f.Line(0.05001))-float64(f.Line(0.04999)))/2e-5) > 1e-3*s {
		t.Errorf("slope %g is not that of the force", s)
	}
}
