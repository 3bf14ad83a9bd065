package vibe

import (
	"math"
	"math/cmplx"

	"thrum/unit"
)

// StepResult is what comes of cutting the last passes at another spindle speed.
type StepResult struct {
	Step
	Frequency unit.Frequency // at which the waves that stand on the thread meet the tool
	CleanUp   float64        // what one pass, the last, leaves of those waves
	Product   float64        // what all the last passes together leave of them
	Growth    float64        // over the whole schedule, any wave, with the last passes at this speed
	CarryOver float64        // of the last pass's own waves at this speed
}

// cleanUp tries the last passes at each speed. The waves that stand on the
// thread are those that the passes before the last ones, at their own speed, have
// grown most: wave is their frequency at the speed ref. At rpm' they come at
// wave rpm'/ref.
//
// Linear theory, and so only for real cuts deeper than the marks: a pass without
// infeed leaves marks at any speed, since the tool leaves the metal.
func (r *run) cleanUp(sp []spectrum, steps []Step, last int, wave unit.Frequency, ref unit.Rotation, d unit.Length) []StepResult {
	n := len(r.gains)
	first := n - min(last, n)
	trial := *r
	trial.speeds, trial.rub = append([]unit.Rotation(nil), r.speeds...), append([]float64(nil), r.rub...)
	mixed := append([]spectrum(nil), sp...)
	for k := first; k < n; k++ {
		mixed[k] = make(spectrum, 0, len(r.h.hz))
	}
	var scratch spectrum
	out := make([]StepResult, len(steps))
	for i, st := range steps {
		s := StepResult{Step: st, Frequency: wave * unit.Frequency(st.Speed/ref), Product: 1}
		for k := first; k < n; k++ {
			trial.speeds[k], trial.rub[k] = st.Speed, rubs(r.trial.process, st.Speed, d)
			mixed[k] = trial.one(k, trial.rub[k], mixed[k])
			s.CleanUp = cmplx.Abs(trial.exactAt(k, s.Frequency))
			s.Product *= s.CleanUp
		}
		s.CarryOver, _ = trial.largest(n-1, mixed[n-1])
		scratch = trial.grown(mixed, ref, scratch)
		_, least := r.lowest(scratch)
		s.Growth = 1 / math.Sqrt(least)
		out[i] = s
	}
	return out
}

// choose returns the index of the speed that leaves least, -1 when none may be
// used or none leaves much less than the present one does. Of speeds within a tenth
// of the best the slowest is taken: it gives more room to stop and more rubbing.
func choose(steps []StepResult, present float64) int {
	best := math.Inf(1)
	for _, s := range steps {
		if s.Refuse == "" {
			best = min(best, s.Growth)
		}
	}
	if present <= max(1, 1.1*best) {
		return -1
	}
	at := -1
	for i, s := range steps {
		if s.Refuse == "" && s.Growth <= 1.1*best && (at < 0 || s.Speed < steps[at].Speed) {
			at = i
		}
	}
	return at
}

// DeepEnough tells whether passes with this radial infeed each can clean up marks
// of this height, valley to peak: the infeed must be at least that height, so
// that the edge stays in the metal all along. With less, and above all with none, the
// tool skips from crest to crest and leaves the valleys.
func DeepEnough(infeed, marks unit.Length) bool { return infeed > 0 && infeed >= marks }
