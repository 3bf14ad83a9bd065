package dsp

import (
	"math"
	"slices"
)

// PeakFilter lets through a band around one frequency: the second-order resonator
// with unit gain at f and -3 dB at the edges of a band of the given width,
//
//	H(z) = (1-g) (1 - z^-2) / (1 - 2 g cos(w) z^-1 + (2g-1) z^-2),  g = 1 / (1 + tan(b/2))
//
// with w and b the frequency and the width in radians a sample (Orfanidis,
// Introduction to Signal Processing, 1996, section 11.3; from memory). It runs over x
// forwards and then backwards, in place, so that nothing is delayed and the gain is
// squared. f lies above zero and below half the rate, the width above zero and below
// half the rate; anything else leaves x as it is.
func PeakFilter(x []float64, rate, f, width float64) {
	if !(f > 0 && f < rate/2 && width > 0 && width < rate/2) {
		return
	}
	g := 1 / (1 + math.Tan(math.Pi*width/rate))
	a1, a2 := -2*g*math.Cos(2*math.Pi*f/rate), 2*g-1
	b := 1 - g
	for range 2 {
		var x1, x2, y1, y2 float64
		for i, v := range x {
			y := b*(v-x2) - a1*y1 - a2*y2
			x2, x1, y2, y1 = x1, v, y1, y
			x[i] = y
		}
		slices.Reverse(x)
	}
}
