package shaft

import (
	"math"
	"math/cmplx"
	"testing"

	"thrum/unit"
)

// summed puts the parts together again.
func summed(swings []Swing, g Give, f unit.Frequency, force, motion Direction) complex128 {
	w := 2 * math.Pi * f.Hz()
	phi := complex(g.Radial.MMPerN()*force.Radial*motion.Radial+g.Tangential.MMPerN()*force.Tangential*motion.Tangential+g.Axial.MMPerN()*force.Axial*motion.Axial, 0)
	for _, s := range swings {
		phi += complex(s.Along.dot(force)*s.Along.dot(motion)/float64(s.Mass), 0) /
			complex(s.Omega*s.Omega-w*w, 2*s.Damping*s.Omega*w)
	}
	return phi
}

func TestPartsSumToResponse(t *testing.T) {
	x, y, z := Direction{Radial: 1}, Direction{Tangential: 1}, Direction{Axial: 1}
	plain := Tool{Radial: 2e4, Tangential: 3e4, Axial: 1.5e4}
	aslant := Tool{Radial: 2e4, Axial: 1.5e4, Modes: []ToolMode{{Frequency: 520, Stiffness: 12000, Damping: 0.05, Along: Direction{Radial: 0.8, Tangential: 0.6, Axial: -0.1}}}}
	for _, c := range []struct {
		name   string
		tool   Tool
		follow unit.Stiffness
		within float64
	}{
		{"plain", plain, 0, 1e-12},
		{"a slanting mode of the tool", aslant, 0, 1e-12},
		{"follow rest", plain, 4000, 5e-3},
	} {
		b := bar(t, Work{
			Sections: []Section{rod(12, 150)}, Stuff: steel, Head: Joint{Radial: 5e4, Tilt: 8e7}, Tail: Joint{Radial: 8000}, Tool: c.tool, Follow: c.follow,
		}, false)
		r, err := b.Response(90)
		if err != nil {
			t.Fatal(err)
		}
		swings, g := r.Parts()
		for _, f := range []unit.Frequency{0, 90, 333, 1400, 1432, 1900, 5200, 9000} {
			for _, d := range [][2]Direction{{x, x}, {y, y}, {z, z}, {x, y}, {y, z}} {
				want := complex128(r.Between(f, d[0], d[1]))
				got := summed(swings, g, f, d[0], d[1])
				if cmplx.Abs(got-want) > c.within*cmplx.Abs(complex128(r.Between(f, x, x))) {
					t.Errorf("%s, %g Hz, %v: %v, want %v", c.name, f.Hz(), d, got, want)
				}
			}
		}
	}
}
