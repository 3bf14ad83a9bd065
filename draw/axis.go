package draw

import (
	"math"
	"strconv"
)

// Axis is one axis of a chart. The figures of a chart are plain numbers in the
// unit that the axis title names: "spindle speed, rev/min".
type Axis struct {
	Title    string
	Min, Max float64 // both zero: as far as the data go
	Log      bool    // equal steps are equal factors; data must be above zero
	Zero     bool    // the axis starts at zero even when the data do not
}

// Tick is a place on an axis with its figure; minor ticks have no figure.
type Tick struct {
	At    float64
	Label string
}

// scale maps numbers to fractions 0..1 of the length of an axis.
type scale struct {
	lo, hi float64
	log    bool
}

func (s scale) at(v float64) float64 {
	if s.log {
		return (math.Log(v) - math.Log(s.lo)) / (math.Log(s.hi) - math.Log(s.lo))
	}
	return (v - s.lo) / (s.hi - s.lo)
}

// scaleFor returns the scale and its ticks for data between lo and hi with about
// n figures. Without limits of its own the axis is extended to the next tick.
func (a Axis) scaleFor(lo, hi float64, n int) (scale, []Tick) {
	fixed := a.Min != 0 || a.Max != 0
	if fixed {
		lo, hi = a.Min, a.Max
	}
	if a.Zero {
		lo, hi = min(lo, 0), max(hi, 0)
	}
	if math.IsInf(lo, 0) || math.IsInf(hi, 0) || math.IsNaN(lo) || math.IsNaN(hi) {
		lo, hi = 0, 1
	}
	if a.Log && lo > 0 && hi > lo {
		return logScale(lo, hi, fixed)
	}
	if hi <= lo {
		pad := max(math.Abs(lo)*0.1, 1e-9)
		lo, hi = lo-pad, hi+pad
	}
	step := niceStep((hi - lo) / float64(max(n, 1)))
	if !fixed {
		lo, hi = math.Floor(lo/step+1e-9)*step, math.Ceil(hi/step-1e-9)*step
	}
	var ticks []Tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9 && len(ticks) < 100; k++ {
		ticks = append(ticks, Tick{k * step, figure(k*step, step)})
	}
	return scale{lo, hi, false}, ticks
}

// niceStep returns 1, 2 or 5 times a power of ten, the least that is not below v.
func niceStep(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= v*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// figure prints a tick with as many decimals as its step has.
func figure(v, step float64) string {
	places := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	if math.Abs(v) < step*1e-6 {
		v = 0
	}
	if math.Abs(v) >= 1e6 || places > 6 {
		return strconv.FormatFloat(v, 'g', 4, 64)
	}
	return strconv.FormatFloat(v, 'f', places, 64)
}

// logScale puts figures at 1, 2 and 5 of every decade, only at 1 when there are
// much more than two decades.
func logScale(lo, hi float64, fixed bool) (scale, []Tick) {
	first, last := math.Floor(math.Log10(lo)+1e-9), math.Ceil(math.Log10(hi)-1e-9)
	if !fixed {
		for _, m := range []float64{5, 2} { // start at 2 or 5 where the data allow
			if p := m * math.Pow(10, first); p <= lo*(1+1e-9) {
				lo = p
				break
			} else if m == 2 {
				lo = math.Pow(10, first)
			}
		}
		for _, m := range []float64{0.2, 0.5, 1} {
			if p := m * math.Pow(10, last); p >= hi*(1-1e-9) {
				hi = p
				break
			}
		}
	}
	many := math.Log10(hi/lo) > 2.3
	var ticks []Tick
	for e := first - 1; e <= last && len(ticks) < 100; e++ {
		for m := 1.0; m < 10; m++ {
			v := m * math.Pow(10, e)
			if v < lo*(1-1e-9) || v > hi*(1+1e-9) {
				continue
			}
			t := Tick{At: v}
			if m == 1 || !many && (m == 2 || m == 5) {
				t.Label = strconv.FormatFloat(v, 'g', 3, 64)
				if v >= 1e-3 && v < 1e6 {
					t.Label = strconv.FormatFloat(v, 'f', -1, 64)
				}
			}
			ticks = append(ticks, t)
		}
	}
	return scale{lo, hi, true}, ticks
}
