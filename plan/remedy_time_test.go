package plan

import (
	"context"
	"math"
	"testing"

	"thrum/unit"
	"thrum/vibe"
)

// What a remedy is predicted to leave of a wave is what is left when the changed set-up
// is followed through time: the liveliest pass, taken again and again over its own
// wave, by the simulation, which knows nothing of the carry-over.
func TestRemediesInTime(t *testing.T) {
	compared := 0
	for name, req := range stories(t) {
		s, err := Examine(req)
		if err != nil {
			t.Fatal(err)
		}
		all, err := s.Remedies(context.Background(), 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range all {
			if len(r.Settings) == 0 {
				continue
			}
			now := s.whatIf(r.Request)
			got, ok := inTime(t, now)
			if !ok {
				continue
			}
			compared++
			if math.Abs(got/r.CarryOver.Likely-1) > 0.01 {
				t.Errorf("%s: %s: each pass leaves %.4f times the last in time, %.4f predicted", name, r.Do, got, r.CarryOver.Likely)
			}
		}
	}
	if compared < 8 {
		t.Errorf("only %d remedies could be followed through time", compared)
	}
}

// inTime is the ratio of the heights of the wave after the last two of eight equal passes; false where
// nothing resonates.
func inTime(t *testing.T, s *Study) (float64, bool) {
	t.Helper()
	worst := s.a.Passes[s.a.Worst]
	if worst.Frequency == 0 || s.a.Mode.Frequency > 4000 { // the simulation takes quicker modes to give at once
		return 0, false
	}
	c := vibe.Cutting{
		Holding: s.in.Holding, Force: s.in.Force, Edge: s.in.Edge, Diameter: s.in.Diameter, Turns: 4, Linear: true, Rub: vibe.DefaultProcess().Likely,
		Waves: []vibe.BlankWave{{Waves: worst.Waves, Radial: unit.Micrometre, Axial: unit.Micrometre / 2}}, Follow: []float64{worst.Waves},
	}
	for i, p := range s.a.Places {
		if p.At == s.a.Place {
			c.Place = i
		}
	}
	for range 8 {
		c.Passes = append(c.Passes, s.in.Passes[s.a.Worst])
	}
	sim, err := vibe.Simulate(c)
	if err != nil {
		t.Fatal(err)
	}
	n := len(sim.Passes)
	last, before := sim.Passes[n-1].Waves, sim.Passes[n-2].Waves
	tallest, ratio := unit.Length(0), 0.0
	for i := range last {
		h, was := last[i][0].Height(), before[i][0].Height()
		if h != was && h > tallest { // an edge that only rubs leaves its surface as it is
			tallest, ratio = h, float64(h/was)
		}
	}
	return ratio, true
}
