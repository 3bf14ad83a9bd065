package dsp

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// Pole is one dying sine wave: exp(-Decay t) cos(2 pi Freq t + phase).
type Pole struct {
	Freq  float64 // hertz
	Decay float64 // 1/s
}

// Damping returns the damping ratio zeta = alpha / sqrt(alpha^2 + omega^2).
func (p Pole) Damping() float64 {
	return p.Decay / math.Hypot(p.Decay, 2*math.Pi*p.Freq)
}

// MatrixPencil finds up to count dying sine waves in x, sampled at rate, by the
// matrix pencil method: the Hankel matrix of x is replaced by its largest
// singular vectors, and the shift from one column to the next has the poles
//
//	z = exp((-Decay + 2 pi i Freq)/rate)
//
// as its eigenvalues. Poles that grow, or that do not oscillate, are left out. The
// work grows with the cube of len(x); a few hundred samples are meant.
//
// Source: Hua and Sarkar 1990, IEEE Trans. Acoust. Speech Signal Process. 38:814.
func MatrixPencil(x []float64, rate float64, count int) []Pole {
	cols := len(x)/3 + 1
	rows := len(x) - cols + 1
	order := 2 * count
	if order > cols-1 || rows < order {
		return nil
	}
	h := mat.NewDense(rows, cols, nil)
	for i := range rows {
		h.SetRow(i, x[i:i+cols])
	}
	var svd mat.SVD
	if !svd.Factorize(h, mat.SVDThin) {
		return nil
	}
	values := svd.Values(nil)
	for order > 0 && values[order-1] <= 1e-12*values[0] {
		order--
	}
	if order == 0 || values[0] == 0 {
		return nil
	}
	var v mat.Dense
	svd.VTo(&v)
	var shift mat.Dense
	if err := shift.Solve(v.Slice(0, cols-1, 0, order), v.Slice(1, cols, 0, order)); err != nil {
		return nil
	}
	var eig mat.Eigen
	if !eig.Factorize(&shift, mat.EigenNone) {
		return nil
	}
	var poles []Pole
	for _, z := range eig.Values(nil) {
		if imag(z) <= 0 || cmplx.Abs(z) >= 1 {
			continue
		}
		l := cmplx.Log(z)
		poles = append(poles, Pole{Freq: imag(l) * rate / (2 * math.Pi), Decay: -real(l) * rate})
	}
	return poles
}
