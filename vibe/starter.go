package vibe

import (
	"fmt"
	"math"
	"math/cmplx"

	"thrum/unit"
)

// Kind says how a starter comes back from pass to pass.
type Kind int

// Repeating: the same waves at the same angle in every pass, such as the mesh of
// wheels in a train that stays engaged, or runout. Shock: one blow as the edge
// enters, at the same angle in every pass; it holds all waves. Noise: different in
// every pass and holding all waves, such as the break-up of a built-up edge.
const (
	Repeating Kind = iota
	Shock
	Noise
)

// Starter is something that sets the first wave off.
type Starter struct {
	Name      string      // "mesh of stud 40 with screw 80"
	Kind      Kind        //
	Waves     float64     // per turn of the spindle; only for Repeating
	Amplitude unit.Length // half of the height of its own wave on the work; zero when it is not known
	Axial     bool        // moves the tool along the thread, as wheels of the train do, and not into the work; for Simulate
}

// Runout returns a starter for work that runs out: one wave a turn. In threading
// between or without re-chucking it is the same in every pass.
func Runout(tir unit.Length) Starter {
	return Starter{Name: "runout of the work", Kind: Repeating, Waves: 1, Amplitude: tir / 2}
}

// Entry returns a starter for the blow as the tool enters the work.
func Entry(amplitude unit.Length) Starter {
	return Starter{Name: "entry of the tool", Kind: Shock, Amplitude: amplitude}
}

// BuiltUpEdge returns a starter for the crumbling of a built-up edge.
func BuiltUpEdge(amplitude unit.Length) Starter {
	return Starter{Name: "built-up edge", Kind: Noise, Amplitude: amplitude}
}

// Outcome is what becomes of a starter by the end of the schedule.
type Outcome struct {
	Starter
	Frequency unit.Frequency // of its wave at the speed of the worst pass; for Shock and Noise of the wave that grows most
	CarryOver float64        // of that wave in the worst pass
	Growth    float64        // largest product of carry-overs of that wave from any pass to the end
	Amplified bool           // its waves grow from pass to pass
	Left      unit.Length    // half of the height left on the work; zero when the amplitude is not known
}

func (s Starter) check(i int) error {
	field := fmt.Sprintf("starter %d", i+1)
	switch {
	case s.Kind < Repeating || s.Kind > Noise:
		return &unit.InputError{Field: field, Value: fmt.Sprint(int(s.Kind)), Reason: "is not a kind of starter"}
	case s.Kind == Repeating && !(s.Waves > 0 && s.Waves <= 1e5):
		return &unit.InputError{Field: field + ": waves per turn", Value: fmt.Sprint(s.Waves), Reason: "are not between 0 and 100000"}
	case !(s.Amplitude >= 0 && s.Amplitude <= 1):
		return &unit.InputError{Field: field + ": amplitude", Value: s.Amplitude.String(), Reason: "is not between 0 and 1 mm"}
	}
	return nil
}

// outcome follows a starter through the schedule. With r its own wave and y what
// a pass leaves,
//
//	y[n] = T y[n-1] + S r,   S = 1 - T without rubbing (Gain.ownWave)
//
// where |T| < 1 the work ends up with the starter's own wave; otherwise with
// about |T|^N times it. Noise adds by squares.
func (r *run) outcome(s Starter, worst int, grows unit.Frequency) Outcome {
	ref := r.speeds[worst]
	o := Outcome{Starter: s, Frequency: grows}
	if s.Kind == Repeating {
		o.Frequency = unit.Frequency(s.Waves * ref.Hz().Hz())
	}
	n := len(r.gains)
	chain := make([]float64, n)
	y := make([]complex128, n)
	e := make([]float64, n)
	for k := range r.gains {
		t, own := r.exactOwn(k, o.Frequency*unit.Frequency(r.speeds[k]/ref))
		before, met, energy := 1.0, complex128(0), 0.0
		if b := k - r.memory[k]; b >= 0 {
			before, met, energy = min(chain[b], 1), y[b], e[b]
		}
		chain[k] = before / max(size(t), 1/still)
		y[k] = t*met + own
		e[k] = size(t)*energy + size(own)
		if r.gains[k].Spring() {
			y[k], e[k] = met, energy
		}
		if k == worst {
			o.CarryOver = cmplx.Abs(t)
		}
		o.Amplified = o.Amplified || size(t) > 1.0001
	}
	o.Growth = 1 / math.Sqrt(r.left(chain))
	o.Amplified = o.Amplified && o.Growth > 1
	left := cmplx.Abs(y[n-1])
	if s.Kind == Noise {
		left = math.Sqrt(e[n-1])
	}
	o.Left = s.Amplitude * unit.Length(left)
	return o
}
