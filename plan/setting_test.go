package plan

import (
	"math"
	"testing"

	"thrum/unit"
)

// The flank angle in the axial plane, found by walking along the tool's edge and
// asking at which radius each point of it cuts.
func walked(a unit.Angle, crest, root unit.Length, at func(s float64) (x, y float64)) unit.Angle {
	near := func(radius float64) float64 { // distance along the face at which the edge meets a radius
		lo, hi := 0.0, 4*float64(crest)
		for range 200 {
			mid := (lo + hi) / 2
			if x, y := at(mid); math.Hypot(x, y) < radius {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	z := (near(float64(crest)) - near(float64(root))) * a.Tan()
	return unit.Angle(math.Atan(z / float64(crest-root)))
}

func TestSettingErrors(t *testing.T) {
	const a = 30 * unit.Degree
	for _, c := range []struct{ crest, root unit.Length }{{6, 4.8}, {10, 8.4}, {3, 2.4}, {25, 22}} {
		for _, h := range []unit.Length{0, 0.1, 0.5, 1.5} {
			y := float64(h)
			want := walked(a, c.crest, c.root, func(s float64) (float64, float64) { return s, y })
			if got := heightAngle(a, c.crest, c.root, h); math.Abs(float64(got-want)) > 1e-9 {
				t.Errorf("radii %v, %v, %v off height: %v, by walking %v", c.root, c.crest, h, got.Format(4), want.Format(4))
			}
		}
		for _, g := range []unit.Angle{0, 5 * unit.Degree, 15 * unit.Degree} {
			r := float64(c.root)
			want := walked(a, c.crest, c.root, func(s float64) (float64, float64) { return r + s*g.Cos(), -s * g.Sin() })
			if got := rakeAngle(a, c.crest, c.root, g); math.Abs(float64(got-want)) > 1e-9 {
				t.Errorf("radii %v, %v, rake %v: %v, by walking %v", c.root, c.crest, g.Format(0), got.Format(4), want.Format(4))
			}
		}
	}
}
