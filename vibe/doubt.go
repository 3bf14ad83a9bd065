package vibe

import (
	"math"
	"slices"

	"thrum/unit"
)

// Doubt is one thing that is not well known, and what it does to the carry-over of
// the worst pass when it alone is varied over its range.
type Doubt struct {
	Name   string // "damping", "cutting stiffness", "stiffness of the joints", "rubbing of the edge"
	From   string // "1 to 6 % of critical"
	Effect Range  // carry-over at the quiet end, likely, at the lively end
	Cure   string // what would settle it
}

// giveDoubt: joints' stiffness as found in print scatters by three to one from end
// to end; the whole loop by half either way. A measured frequency narrows it.
const (
	giveDoubt         = 1.5
	giveMeasured      = 1.15
	dampingMeasured   = 1.2
	leastDamping      = 0.01
	mostDamping       = 0.06
	noDampingMeasured = 0.02
)

// trial is one corner: factors on damping, cut and give, and C.
type trial struct {
	scale
	process unit.Stiffness
}

// ends are the quiet and the lively end of each of the four doubts.
type ends struct {
	names       [4]string
	from        [4]string
	cure        [4]string
	quiet, loud [4]float64 // as factors; the fourth on C
}

func (e *ends) with(i int, loud bool, share float64, t trial) trial {
	f := e.quiet[i]
	if loud {
		f = e.loud[i]
	}
	f = math.Pow(f, share)
	switch i {
	case 0:
		t.damping *= f
	case 1:
		t.cut *= f
	case 2:
		t.give *= f
	case 3:
		t.process *= unit.Stiffness(f)
	}
	return t
}

// doubts varies one thing at a time for the worst pass, and returns the two trials
// in which every factor is moved by its part of the whole such that the effects
// add as independent ones do, by squares.
func (r *run) doubts(worst int, e ends, c unit.Stiffness, d unit.Length) (list []Doubt, quiet, loud trial) {
	base := trial{likely, c}
	var sp spectrum
	value := func(t trial) float64 {
		v := r.under(t, d)
		sp = v.one(worst, v.rub[worst], sp)
		most, _ := v.largest(worst, sp)
		return max(most, 1e-9)
	}
	middle := value(base)
	var low, high [4]float64 // effects as logarithms
	for i := range e.names {
		q, l := value(e.with(i, false, 1, base)), value(e.with(i, true, 1, base))
		low[i], high[i] = max(math.Log(middle/q), 0), max(math.Log(l/middle), 0)
		list = append(list, Doubt{e.names[i], e.from[i], Range{min(q, middle), middle, max(l, middle)}, e.cure[i]})
	}
	quiet, loud = base, base
	for i := range e.names {
		quiet = e.with(i, false, shareOf(low, i), quiet)
		loud = e.with(i, true, shareOf(high, i), loud)
	}
	width := func(d Doubt) float64 { return d.Effect.High / d.Effect.Low }
	slices.SortStableFunc(list, func(a, b Doubt) int {
		switch {
		case width(a) > width(b):
			return -1
		case width(a) < width(b):
			return 1
		}
		return 0
	})
	return list, quiet, loud
}

func shareOf(effects [4]float64, i int) float64 {
	sum := 0.0
	for _, e := range effects {
		sum += e * e
	}
	if sum == 0 {
		return 0
	}
	return effects[i] / math.Sqrt(sum)
}
