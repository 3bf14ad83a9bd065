package dsp

import (
	"math"
	"slices"
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

// halver is one half-band filter followed by taking every second sample. Half of
// its weights are zero but for the middle one, so the samples are kept in two
// lists: those that meet the middle and those that meet the other weights.
type halver struct {
	weight    []float64 // for the odd samples, in order of time
	even, odd []float64 // samples still needed
	swap      bool      // the next sample to come is an odd one
	out       []float64 // buffer for the next stage
}

// newHalver builds a filter of pairs weights on each side by the Kaiser window
// method, beta 8 (80 dB):
//
//	h[m] = sin(pi m/2)/(pi m) w[m],  h[0] = 1/2
func newHalver(pairs int) *halver {
	const beta = 8
	h := &halver{weight: make([]float64, 2*pairs)}
	sum := 0.0
	for i := range pairs {
		m := float64(2*i + 1)
		u := m / float64(2*pairs)
		w := bessel0(beta*math.Sqrt(math.Max(0, 1-u*u))) / bessel0(beta)
		v := math.Sin(math.Pi*m/2) / (math.Pi * m) * w
		h.weight[pairs+i], h.weight[pairs-1-i] = v, v
		sum += 2 * v
	}
	for i := range h.weight { // exactly 1 at zero frequency
		h.weight[i] *= 0.5 / sum
	}
	h.odd = make([]float64, pairs) // before the beginning there was silence
	return h
}

func (h *halver) write(dst, x []float64) []float64 {
	if h.swap && len(x) > 0 {
		h.odd = append(h.odd, x[0])
		x, h.swap = x[1:], false
	}
	n := len(x) / 2
	e, o := len(h.even), len(h.odd)
	h.even, h.odd = slices.Grow(h.even, n+1)[:e+n], slices.Grow(h.odd, n+1)[:o+n]
	even, odd := h.even[e:], h.odd[o:]
	for i := range even {
		even[i], odd[i] = x[2*i], x[2*i+1]
	}
	if len(x)%2 == 1 {
		h.even = append(h.even, x[len(x)-1])
		h.swap = true
	}
	// The sample even[i] lies between odd[i+pairs-1] and odd[i+pairs].
	taps := len(h.weight)
	ready := min(len(h.even), len(h.odd)-taps+1)
	if ready <= 0 {
		return dst
	}
	at := len(dst)
	dst = slices.Grow(dst, ready)[:at+ready]
	convolveEven(dst[at:], h.even, h.odd, h.weight)
	h.even = h.even[:copy(h.even, h.even[ready:])]
	h.odd = h.odd[:copy(h.odd, h.odd[ready:])]
	return dst
}

// convolveEven sets dst[i] to half of middle[i] plus the sum over k of weight[k] side[i+k].
// The weights read the same from both ends, so two samples share a product; weights of
// twelve, those of every halving but the last, are held in variables.
func convolveEven(dst, middle, side, weight []float64) {
	if len(weight) == 12 {
		w0, w1, w2, w3, w4, w5 := weight[0], weight[1], weight[2], weight[3], weight[4], weight[5]
		for i := range dst {
			s := (*[12]float64)(side[i:])
			dst[i] = 0.5*middle[i] + w0*(s[0]+s[11]) + w1*(s[1]+s[10]) + w2*(s[2]+s[9]) + w3*(s[3]+s[8]) + w4*(s[4]+s[7]) + w5*(s[5]+s[6])
		}
		return
	}
	half := weight[:len(weight)/2]
	for i := range dst {
		s := side[i : i+len(weight)]
		a, b := 0.5*middle[i], 0.0
		for k := 0; k+1 < len(half); k += 2 { // two sums, so that one addition need not wait for the other
			a += half[k] * (s[k] + s[len(s)-1-k])
			b += half[k+1] * (s[k+1] + s[len(s)-2-k])
		}
		if k := len(half) - 1; k%2 == 0 {
			a += half[k] * (s[k] + s[len(s)-1-k])
		}
		dst[i] = a + b
	}
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
