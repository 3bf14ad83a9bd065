package cut

import (
	"testing"

	"thrum/shaft"
	"thrum/thread"
	"thrum/unit"
)

// schedule is fifteen passes of equal area to the bottom of an M16x2, with the
// compound at 29.5 degrees.
func schedule(b *testing.B) (*Cutter, []Position) {
	b.Helper()
	th, err := thread.Parse("M16x2-6g", thread.External)
	if err != nil {
		b.Fatal(err)
	}
	c := cutter(b, th.Groove())
	at, err := c.Positions(EqualArea(c.Depth(), 15, thirty, thirty, 0.25), Infeed{Method: Modified, Angle: 29.5 * unit.Degree, FinalStraight: 2})
	if err != nil {
		b.Fatal(err)
	}
	return c, at
}

func BenchmarkCutFifteenPasses(b *testing.B) {
	c, at := schedule(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := c.Cut(at); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFollowTwentyStations(b *testing.B) {
	c, at := schedule(b)
	f := force(b, "1045")
	stations, give := make([]unit.Length, 20), make([]shaft.Compliance, 20)
	for i := range give {
		stations[i], give[i] = unit.Length(i), shaft.Compliance(1e-6*float64(20+i*i))
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.Follow(f, at, stations, give); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkForceOfChip(b *testing.B) {
	c, at := schedule(b)
	f := force(b, "1045")
	chips, _, err := c.Cut(at)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		f.Of(chips[8])
	}
}

func BenchmarkFindMaterial(b *testing.B) {
	for b.Loop() {
		if _, err := FindMaterial("CuZn39Pb3"); err != nil {
			b.Fatal(err)
		}
	}
}
