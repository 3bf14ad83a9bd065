package plan

import (
	"testing"

	"thrum/unit"
)

// Meshes of a known set-up, reckoned by hand: stud 32, idler 80, screw 52 from a
// spindle that turns the stud once; back gear 24 into 60 and 20 into 48, so the
// bull wheel's 48 teeth come round once a turn and the first mesh 48/20 x 60 times.
func TestKnownLines(t *testing.T) {
	r := exampleRequest(t)
	r.RPM = 115
	p := mustMake(t, r)
	want := map[string]unit.Ratio{
		"headstock gears 20 and 48": unit.Whole(48), "headstock gears 24 and 60": unit.Whole(144),
		"change gears 32 and 80": unit.Whole(32), "change gears 80 and 52": unit.Whole(32),
		"leadscrew": unit.MustRatio(8, 13), "chuck jaws": unit.Whole(3),
	}
	for _, l := range p.Lines {
		if want[l.Name] != l.PerTurn {
			t.Errorf("%s: %s a turn, want %s", l.Name, l.PerTurn, want[l.Name])
		}
		delete(want, l.Name)
	}
	for name := range want {
		t.Errorf("%s is missing", name)
	}
}
