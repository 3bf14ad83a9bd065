package vibe

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thrum/unit"
)

// OwnCut is what was seen of waves on a thread that was cut: at this speed each pass
// left this times the waves of the last. It comes from the height of the marks or from
// the level of the tone in a recording, in which 6 dB a pass is a factor of two.
type OwnCut struct {
	Speed  unit.Rotation
	Growth float64
}

// Fit is the rubbing of the edge as one's own cuts tell it. Low and High enclose it in
// nine of ten cases.
type Fit struct {
	Process
	Scatter   float64 // of the observations about the fit, as a part: 0.2 is a fifth
	Unbounded bool    // the cuts set no bound on one side: Low or High is the end of what is searched
}

// Ends of what is searched, N/mm: a factor of thirty beyond what is found in print.
const (
	leastRubbing = 1.0
	mostRubbing  = 20000.0
	rubbingSteps = 240
)

// seenWithin is how far a growth read from marks or levels is off at the least, as a
// part. Common practice, no source.
const seenWithin = 0.15

const mostOwnCuts = 50

// FitProcess finds the rubbing of the edge that explains what was seen on threads cut
// in this set-up at one speed or more:
//
//	ln growth_i = ln |T|max(C, speed_i) + error,   sum of squares S(C) least at the fit
//	nine of ten: S(C) <= S_least + s^2 t^2,   s^2 = S_least / (n - 1), at least 0.15^2
//
// t is Student's for n - 1 degrees of freedom, 95 % on either side, or 1.645 while s
// is that of the least error. |T|max is that of the worst pass as assessed; rubbing lets
// it only fall, so that two speeds tell more than two cuts at one.
//
// Valid: waves that are small beside the land of the edge and the chip. Growth that ends
// because the tool leaves the metal says nothing.
func (a *Assessment) FitProcess(cuts []OwnCut) (Fit, error) {
	if len(cuts) == 0 || len(cuts) > mostOwnCuts {
		return Fit{}, &unit.InputError{Field: "own cuts", Value: fmt.Sprint(len(cuts)), Reason: fmt.Sprintf("are not between 1 and %d", mostOwnCuts)}
	}
	for _, c := range cuts {
		if !speedOK(c.Speed) || !(c.Growth >= 0.01 && c.Growth <= 100) {
			return Fit{}, &unit.InputError{
				Field: "own cuts", Value: fmt.Sprintf("%g rpm: %g", c.Speed.RPM(), c.Growth), Reason: "is not a speed with what each pass leaves of the last",
				Hint: "1 to 10000 rev/min, and a factor from 0.01 to 100",
			}
		}
	}
	if a.run.gains[a.Worst].Spring() {
		return Fit{}, &unit.InputError{Field: "own cuts", Reason: "cannot be compared with passes that cut nothing"}
	}
	s := a.misfits(cuts)
	best := 0
	for i := range s {
		if s[i] < s[best] {
			best = i
		}
	}
	within := seenWithin * seenWithin
	t := fifth
	if n := float64(len(cuts) - 1); n > 0 && s[best]/n > within {
		within = s[best] / n
		t = distuv.StudentsT{Sigma: 1, Nu: n}.Quantile(0.95)
	}
	limit := s[best] + within*t*t
	lo, hi := best, best
	for lo > 0 && s[lo] <= limit {
		lo--
	}
	for hi < len(s)-1 && s[hi] <= limit {
		hi++
	}
	f := Fit{Scatter: math.Sqrt(within)}
	f.Unbounded = s[lo] <= limit || s[hi] <= limit
	f.Low, f.High = edgeOf(s, lo, lo+1, limit), edgeOf(s, hi, hi-1, limit)
	f.Likely = unit.Stiffness(lowestAt(s, best))
	f.Low, f.High = min(f.Low, f.Likely), max(f.High, f.Likely)
	return f, nil
}

func rubbingAt(i float64) float64 {
	return leastRubbing * math.Pow(mostRubbing/leastRubbing, i/rubbingSteps)
}

// misfits are the sums of squares over the grid of rubbing.
func (a *Assessment) misfits(cuts []OwnCut) []float64 {
	s := make([]float64, rubbingSteps+1)
	for i := range s {
		for _, c := range cuts {
			e := math.Log(c.Growth / max(a.growthAt(unit.Stiffness(rubbingAt(float64(i))), c.Speed), 1e-9))
			s[i] += e * e
		}
	}
	return s
}

// growthAt is the largest carry-over of the worst pass at a speed with a rubbing.
func (a *Assessment) growthAt(c unit.Stiffness, n unit.Rotation) float64 {
	r := a.run
	rub := rubs(c, n, a.in.Diameter)
	t, _ := r.h.largest(r.p, &r.gains[a.Worst], r.trial.scale, rub, r.one(a.Worst, rub, nil))
	return t
}

// edgeOf is where the sum of squares crosses the limit between two points of the grid;
// the end of the grid where it does not.
func edgeOf(s []float64, out, in int, limit float64) unit.Stiffness {
	if in < 0 || in >= len(s) || s[out] <= limit || s[out] == s[in] {
		return unit.Stiffness(rubbingAt(float64(out)))
	}
	share := (limit - s[in]) / (s[out] - s[in])
	return unit.Stiffness(rubbingAt(float64(in) + share*float64(out-in)))
}

// lowestAt is the rubbing at the lowest point of the parabola through a point of the
// grid and its neighbours.
func lowestAt(s []float64, i int) float64 {
	if i == 0 || i == len(s)-1 {
		return rubbingAt(float64(i))
	}
	x := float64(i)
	_, b, c := parabola(x-1, s[i-1], x, s[i], x+1, s[i+1])
	if c > 0 {
		x += min(max(-b/(2*c), -1), 1)
	}
	return rubbingAt(x)
}
