package dsp

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

// Window makes the n weights of a spectral window.
type Window func(n int) []float64

// Hann is the periodic Hann window, the one for spectra:
//
//	w[k] = 0.5 - 0.5 cos(2 pi k / n)
//
// It is the symmetric window of n+1 points without its last.
func Hann(n int) []float64 { return periodic(window.Hann, n) }

// Hamming is the periodic Hamming window.
func Hamming(n int) []float64 { return periodic(window.Hamming, n) }

// BlackmanHarris is the periodic four-term Blackman-Harris window; its side lobes
// stay 92 dB down, for weak tones beside strong ones.
func BlackmanHarris(n int) []float64 { return periodic(window.BlackmanHarris, n) }

// FlatTop is the periodic five-term flat-top window, for levels of tones.
func FlatTop(n int) []float64 { return periodic(window.FlatTop, n) }

func periodic(symmetric func([]float64) []float64, n int) []float64 {
	w := make([]float64, n+1)
	for i := range w {
		w[i] = 1
	}
	return symmetric(w)[:n]
}

// sums returns the sum of the weights and the sum of their squares.
func sums(w []float64) (s1, s2 float64) {
	for _, v := range w {
		s1 += v
		s2 += v * v
	}
	return s1, s2
}

// Periodogram turns stretches of a signal into power spectra. It reuses its
// buffers; one may be used by one goroutine at a time.
type Periodogram struct {
	n      int
	weight []float64
	s1, s2 float64
	fft    *fourier.FFT
	buf    []float64
	coef   []complex128
}

// NewPeriodogram prepares transforms of n samples, weighted by w.
func NewPeriodogram(n int, w Window) *Periodogram {
	p := &Periodogram{n: n, weight: w(n), fft: fourier.NewFFT(n), buf: make([]float64, n), coef: make([]complex128, n/2+1)}
	p.s1, p.s2 = sums(p.weight)
	return p
}

// Len returns the number of samples in a stretch.
func (p *Periodogram) Len() int { return p.n }

// Bins returns the number of frequencies, n/2+1.
func (p *Periodogram) Bins() int { return p.n/2 + 1 }

// NoiseBandwidth returns the equivalent noise bandwidth of the window in bins.
func (p *Periodogram) NoiseBandwidth() float64 { return float64(p.n) * p.s2 / (p.s1 * p.s1) }

// Transform removes the mean of x, weights it and returns its coefficients, which
// are valid until the next call. x must have n samples.
func (p *Periodogram) Transform(x []float64) []complex128 {
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(p.n)
	for i, v := range x {
		p.buf[i] = (v - mean) * p.weight[i]
	}
	return p.fft.Coefficients(p.coef, p.buf)
}

// Density adds the one-sided power spectral density of x to dst:
//
//	S[k] = 2 |X[k]|^2 / (rate sum w^2),   without the 2 at 0 and at half the rate
func (p *Periodogram) Density(dst, x []float64, rate float64) {
	scale := 2 / (rate * p.s2)
	c := p.Transform(x)
	for k, v := range c {
		dst[k] += scale * (real(v)*real(v) + imag(v)*imag(v))
	}
	p.halveEnds(dst, c, scale)
}

// Power adds the mean square of a tone at each bin to dst: a sine of amplitude a
// in the middle of bin k adds a^2/2 there.
func (p *Periodogram) Power(dst, x []float64) {
	scale := 2 / (p.s1 * p.s1)
	c := p.Transform(x)
	for k, v := range c {
		dst[k] += scale * (real(v)*real(v) + imag(v)*imag(v))
	}
	p.halveEnds(dst, c, scale)
}

func (p *Periodogram) halveEnds(dst []float64, c []complex128, scale float64) {
	half := func(k int) {
		v := c[k]
		dst[k] -= scale / 2 * (real(v)*real(v) + imag(v)*imag(v))
	}
	half(0)
	if p.n%2 == 0 {
		half(p.n / 2)
	}
}

// Welch returns the one-sided power spectral density of x, averaged over
// stretches of n samples, each hop after the last, and the number of stretches.
// A signal shorter than n gives none.
//
// Source: Welch 1967, IEEE Trans. Audio Electroacoust. 15:70.
func Welch(x []float64, rate float64, n, hop int, w Window) (density []float64, averages int) {
	p := NewPeriodogram(n, w)
	density = make([]float64, p.Bins())
	for at := 0; at+n <= len(x); at += hop {
		p.Density(density, x[at:at+n], rate)
		averages++
	}
	for k := range density {
		density[k] /= math.Max(float64(averages), 1)
	}
	return density, averages
}

// DB returns 10 log10 of a power, no lower than -200 dB.
func DB(power float64) float64 { return 10 * math.Log10(math.Max(power, 1e-20)) }
