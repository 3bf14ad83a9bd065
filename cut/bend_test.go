package cut

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/shaft"
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
