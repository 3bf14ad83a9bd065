package gauge

import (
	"math"

	"thrum/thread"
	"thrum/unit"
)

// enough is the probability of being right that a claim needs: the default of
// ISO 14253-1:2017 (from memory; secondary sources agree).
const enough = 0.95

// phi is the distribution function of the standard normal distribution.
func phi(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// within returns the probability that the true value lies between lo and hi when
// y was measured with standard uncertainty u:
//
//	p = Phi((hi - y)/u) - Phi((lo - y)/u)
//
// Either limit may be infinite. Source: JCGM 106:2012, 7.4 and 7.5.
func within(y, u, lo, hi float64) float64 {
	if u <= 0 {
		if y >= lo && y <= hi {
			return 1
		}
		return 0
	}
	return math.Max(0, phi((hi-y)/u)-phi((lo-y)/u))
}

// limitsOf opens a band: a missing limit becomes infinite.
func limitsOf(b thread.Band) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	if b.Min != 0 {
		lo = float64(b.Min)
	}
	if b.Max != 0 {
		hi = float64(b.Max)
	}
	return lo, hi
}

// ConformanceProbability returns the probability that the true size is within the
// limits when y was measured with standard uncertainty u (normal distribution). A
// limit of zero does not exist.
//
// Source: JCGM 106:2012, 7.4.
func ConformanceProbability(y, u unit.Length, limits thread.Band) float64 {
	lo, hi := limitsOf(limits)
	return within(float64(y), float64(u), lo, hi)
}

// Acceptance returns the limits drawn in by the guard band: measured sizes inside
// it are inside the limits with a probability of at least 95 %. With limits far
// apart the guard band is 1.645 u; it grows when both limits matter. When even a
// reading in the middle would not do, ok is false: the measurement is too coarse
// for this tolerance.
//
// Source: ISO 14253-1:2017 (default 95 %, from memory), JCGM 106:2012, 8.3.
func Acceptance(u unit.Length, limits thread.Band) (accept thread.Band, ok bool) {
	lo, hi := limitsOf(limits)
	if u <= 0 {
		return limits, true
	}
	mid := (lo + hi) / 2
	switch { // with one limit only, far enough inside is as sure as one likes
	case math.IsInf(lo, 0) && math.IsInf(hi, 0):
		return limits, true
	case math.IsInf(hi, 0):
		mid = lo + 20*float64(u)
	case math.IsInf(lo, 0):
		mid = hi - 20*float64(u)
	}
	if within(mid, float64(u), lo, hi) < enough {
		return thread.Band{}, false
	}
	edge := func(limit float64) unit.Length {
		if math.IsInf(limit, 0) {
			return 0
		}
		in, out := mid, limit
		for range 100 {
			if m := (in + out) / 2; within(m, float64(u), lo, hi) >= enough {
				in = m
			} else {
				out = m
			}
		}
		return unit.Length(in)
	}
	return thread.Band{Min: edge(lo), Max: edge(hi)}, true
}
