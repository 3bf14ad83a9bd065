package shaft

import (
	"testing"

	"thrum/unit"
)

// At a rigid support a force bends nothing.
func TestHeldEndsDoNotYield(t *testing.T) {
	steel := Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre}
	b, err := New(Work{Sections: []Section{{Length: 100, Diameter: 20}}, Stuff: steel, Head: Clamped(), Tail: Pinned()})
	if err != nil {
		t.Fatal(err)
	}
	c, err := b.Compliances([]unit.Length{0, 50, 100})
	if err != nil || c[0] != 0 || c[2] != 0 || c[1] <= 0 {
		t.Errorf("compliances at the chuck, the middle and the centre: %v, %v", c, err)
	}
	for _, at := range []unit.Length{0, 100} {
		y, err := b.Deflection(1000, at, []unit.Length{50})
		if err != nil || y[0] != 0 {
			t.Errorf("a force on the support at %v moves the middle by %v, %v", at, y, err)
		}
	}
}
