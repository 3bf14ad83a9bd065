package vibe

import (
	"errors"
	"fmt"
	"math"

	"thrum/cut"
	"thrum/unit"
)

// Cutting is a complete cut to be followed through time by Simulate: every pass, from
// the tool at rest before the work to the end of the thread.
type Cutting struct {
	Holding  *Holding       // the work as it is held, with the tool side
	Place    int            // which of the holding's places; it stays the same along the thread
	Passes   []Pass         // 1 to 200, each at its own speed
	Force    *cut.Force     //
	Edge     cut.EdgeType   // the edge slides over chips thinner than its MinLo
	Diameter unit.Length    // of the work where it is cut
	Turns    float64        // length of the thread, 0.5 to 5000 turns
	Rate     unit.Frequency // steps per second in the fastest pass; zero chooses
	Rub      unit.Stiffness // damping by rubbing, the C of Process; zero for none

	Starters []Starter   // their amplitudes count; a starter of amplitude zero is silent
	RunIn    float64     // turns over which the chip comes up to its thickness, as at a chamfer; zero: a square end
	Waves    []BlankWave // that stand on the surface which the first pass meets
	Rough    unit.Length // random waviness of that surface: rms of all waves below 10 kHz
	Unsteady float64     // random part of the cutting force, rms below 10 kHz, as a fraction of it: 0.02 for a clean chip
	Seed     uint64      // of everything random: the same seed gives the same cut

	// Linear keeps the edge in the metal whatever happens, lets each pass leave its own
	// path and takes edges as Gain does: what the carry-over is reckoned for.
	Linear bool
	// Turning is the part of every edge that meets what the last turn left; the rest meets
	// fresh metal. It is one plunge cut with the chip's thickness as the feed per turn, and
	// no thread: the classic case with its lobes, kept to check the rest by.
	Turning float64
	Record  bool      // keep movement and force of every step in Ran.Series
	Follow  []float64 // waves a turn whose amplitude is to be told after every pass
}

// BlankWave is a wave on the surface as a tool leaves it that moves along
// Radial and Axial: A cos(2 pi Waves turn + Phase).
type BlankWave struct {
	Waves         float64
	Radial, Axial unit.Length // half heights
	Phase         unit.Angle
}

const (
	mostTurns     = 5000
	mostFollowed  = 64
	mostStepsDone = 60e6 // of time, all passes together
	mostKept      = 20e6 // with Record

	leastRate    = 20000 // steps per second
	mostRate     = 400000
	stepsPerWave = 60    // of the quickest mode that swings; a straight force between them is then good to 0.1 %
	swingsBelow  = 4000  // Hz; quicker modes are taken to give at once
	noiseTop     = 10000 // Hz, for Rough and Unsteady
)

func (in *Cutting) check() error {
	var errs []error
	bad := func(field, value, reason, hint string) {
		errs = append(errs, &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint})
	}
	if in.Holding == nil || len(in.Holding.places) == 0 {
		bad("holding of the work", "", "is missing", "make it with Prepare")
	} else if in.Place < 0 || in.Place >= len(in.Holding.places) {
		bad("place along the work", fmt.Sprint(in.Place), fmt.Sprintf("is not between 0 and %d", len(in.Holding.places)-1), "")
	}
	if in.Force == nil {
		bad("cutting force", "", "is missing", "make it with cut.NewForce")
	}
	in2 := Input{Passes: in.Passes}
	errs = append(errs, in2.checkPasses())
	between := func(field string, v, lo, hi float64, u string) {
		if !(v >= lo && v <= hi) {
			bad(field, fmt.Sprintf("%g%s", v, u), fmt.Sprintf("is not between %g and %g%s", lo, hi, u), "")
		}
	}
	between("diameter of the work", in.Diameter.MM(), 1e-3, 2000, " mm")
	between("length of the thread", in.Turns, 0.5, mostTurns, " turns")
	between("turns of the run-in", in.RunIn, 0, mostTurns, "")
	between("damping by rubbing", float64(in.Rub), 0, 1e5, " N/mm")
	between("roughness of the blank", in.Rough.MM(), 0, 1, " mm")
	between("unsteadiness of the force", in.Unsteady, 0, 1, "")
	if in.Rate != 0 {
		between("steps per second", in.Rate.Hz(), 100, 2e6, "")
	}
	between("overlap with the last turn", in.Turning, 0, 1, "")
	if in.Turning > 0 && len(in.Passes) != 1 {
		bad("passes", fmt.Sprint(len(in.Passes)), "are not one, as in turning they must be", "")
	}
	if len(in.Follow) > mostFollowed || len(in.Waves) > mostFollowed || len(in.Starters) > mostStarters {
		bad("waves", fmt.Sprint(max(len(in.Follow), len(in.Waves))), fmt.Sprintf("are more than %d, or starters more than %d", mostFollowed, mostStarters), "")
		return errors.Join(errs...)
	}
	for i, s := range in.Starters {
		errs = append(errs, s.check(i))
	}
	for _, w := range in.Follow {
		between("waves to follow", w, 0.01, 1e5, " a turn")
	}
	for _, w := range in.Waves {
		between("waves on the blank", w.Waves, 0.01, 1e5, " a turn")
		between("height of waves on the blank", math.Hypot(w.Radial.MM(), w.Axial.MM()), 0, 1, " mm")
	}
	return errors.Join(errs...)
}

func (in *Cutting) fastest() unit.Rotation {
	most := unit.Rotation(0)
	for _, p := range in.Passes {
		most = max(most, p.Speed)
	}
	return most
}

// grid chooses the steps per turn. They are the same in every pass, since a pass cuts
// what the last one left at the same angle; so a slower pass takes longer steps.
func (in *Cutting) grid() (perTurn, steps int, err error) {
	most := in.fastest()
	rate := in.Rate.Hz()
	if rate == 0 {
		slow := most
		for _, p := range in.Passes {
			slow = min(slow, p.Speed)
		}
		quick := 0.0
		for _, m := range in.Holding.places[in.Place].swings() {
			if f := m.Omega / (2 * math.Pi); f < swingsBelow {
				quick = max(quick, f)
			}
		}
		rate = min(max(leastRate, stepsPerWave*quick), mostRate) * float64(most/slow)
	}
	perTurn = max(int(math.Round(rate/most.Hz().Hz())), 8)
	steps = int(math.Round(in.Turns * float64(perTurn)))
	if total := float64(steps) * float64(len(in.Passes)); total > mostStepsDone || in.Record && total > mostKept {
		return 0, 0, &unit.InputError{
			Field: "steps of the simulation", Value: fmt.Sprintf("%.3g", total), Reason: fmt.Sprintf("are more than %.3g", float64(mostStepsDone)),
			Hint: fmt.Sprintf("fewer turns or passes, a lower rate, or a record of fewer (%.3g)", float64(mostKept)),
		}
	}
	return perTurn, steps, nil
}
