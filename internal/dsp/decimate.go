package dsp

import (
	"math"
)

// Decimator halves the sampling rate of a stream a number of times. Each halving
// runs a half-band filter: flat to 0.4 of the new rate, 80 dB down above 0.6 of
// it, so what folds back lands between 0.4 and 0.5 of the new rate only. Output k
// belongs to input k*Factor: there is no shift, outputs only come out late. It
// keeps its state between calls.
type Decimator struct{ stages []*halver }

// NewDecimator returns a Decimator by 2^halvings; none passes samples through.
func NewDecimator(halvings int) *Decimator {
	d := &Decimator{}
	for i := range halvings {
		// Only the last halving needs the steep filter: what an earlier one lets
		// fold lies above the band that the later ones keep.
		pairs := 6
		if i == halvings-1 {
			pairs = 14
		}
		d.stages = append(d.stages, newHalver(pairs))
	}
	return d
}

// Halvings returns how often a rate can be halved while 0.4 of the result still
// covers frequencies up to top, both in hertz.
func Halvings(rate, top float64) int {
	n := 0
	for rate/2*0.4 >= top && n < 16 {
		rate /= 2
		n++
	}
	return n
}

// Factor returns the ratio of the rates.
func (d *Decimator) Factor() int { return 1 << len(d.stages) }

// Write appends the decimated samples to dst and returns it.
func (d *Decimator) Write(dst, x []float64) []float64 {
	if len(d.stages) == 0 {
		return append(dst, x...)
	}
	for i, s := range d.stages {
		if i == len(d.stages)-1 {
			return s.write(dst, x)
		}
		s.out = s.write(s.out[:0], x)
		x = s.out
	}
	return dst
}

// Decimate halves the rate of a whole signal so often. Beyond its ends the signal
// is taken as zero.
func Decimate(x []float64, halvings int) []float64 {
	if halvings == 0 {
		return x
	}
	d := NewDecimator(halvings)
	f := d.Factor()
	out := d.Write(make([]float64, 0, len(x)/f+2), x)
	out = d.Write(out, make([]float64, 64*f)) // longer than all filters together
	return out[:(len(x)+f-1)/f]
}

// halver is one half-band filter followed by taking every second sample.
type halver struct {
	side  []float64 // weights at distance 1, 3, 5... from the middle
	reach int       // distance of the furthest weight, rounded up to a multiple of 2
	hist  []float64 // the samples still needed
	out   []float64 // buffer for the next stage
}

// newHalver builds a filter of pairs weights on each side by the Kaiser window
// method, beta 8 (80 dB):
//
//	h[m] = sin(pi m/2)/(pi m) w[m],  h[0] = 1/2
func newHalver(pairs int) *halver {
	const beta = 8
	reach := 2 * pairs
	h := &halver{side: make([]float64, pairs), reach: reach}
	sum := 0.0
	for i := range h.side {
		m := float64(2*i + 1)
		u := m / float64(reach)
		w := bessel0(beta*math.Sqrt(math.Max(0, 1-u*u))) / bessel0(beta)
		h.side[i] = math.Sin(math.Pi*m/2) / (math.Pi * m) * w
		sum += 2 * h.side[i]
	}
	for i := range h.side { // exactly 1 at zero frequency
		h.side[i] *= 0.5 / sum
	}
	h.hist = make([]float64, reach)
	return h
}

func (h *halver) write(dst, x []float64) []float64 {
	h.hist = append(h.hist, x...)
	c := h.reach // middle of the next output
	for ; c+h.reach < len(h.hist); c += 2 {
		s := 0.5 * h.hist[c]
		lo, hi := h.hist[c-2*len(h.side):c], h.hist[c+1:c+2*len(h.side)+1]
		for i, w := range h.side {
			s += w * (lo[len(lo)-1-2*i] + hi[2*i])
		}
		dst = append(dst, s)
	}
	keep := c - h.reach
	n := copy(h.hist, h.hist[keep:])
	h.hist = h.hist[:n]
	return dst
}

// bessel0 is the modified Bessel function of the first kind, order zero.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1; k < 60; k++ {
		term *= (x / 2) / float64(k)
		sum += term * term
		if term*term < 1e-17*sum {
			break
		}
	}
	return sum
}
