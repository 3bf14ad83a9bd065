package dsp

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Wave is a dying sine wave with its size:
//
//	x(t) = exp(-Decay t) (C cos(2 pi Freq t) + S sin(2 pi Freq t)),  t from the first sample
type Wave struct {
	Pole
	C, S float64
}

// Amplitude returns the amplitude at t = 0.
func (w Wave) Amplitude() float64 { return math.Hypot(w.C, w.S) }

// Add adds sign times the wave to x.
func (w Wave) Add(x []float64, rate, sign float64) {
	sin, cos := math.Sincos(2 * math.Pi * w.Freq / rate)
	shrink := math.Exp(-w.Decay / rate)
	re, im := sign, 0.0
	for i := range x {
		x[i] += w.C*re + w.S*im
		re, im = shrink*(re*cos-im*sin), shrink*(re*sin+im*cos)
	}
}

// DampedFit is a sum of dying sine waves fitted to samples.
type DampedFit struct {
	Waves    []Wave
	Residual []float64
	// FreqUnit[i], DecayUnit[i] are the standard errors of frequency (Hz) and decay
	// (1/s) of wave i for white noise of standard deviation 1, and Cross[i] their
	// covariance. Multiply by the noise.
	FreqUnit, DecayUnit, Cross []float64
}

// SumSquares returns the sum of squares of the residual.
func (f *DampedFit) SumSquares() float64 { return SumSquares(f.Residual) }

// SumSquares returns the sum of squares of x.
func SumSquares(x []float64) float64 { return dot(x, x) }

// LinearResidual returns the sum of squares that is left of x when the best
// combination of waves with the given poles is taken away.
func LinearResidual(x []float64, rate float64, poles []Pole) (sumSquares float64, ok bool) {
	waves, ok := amplitudes(x, rate, poles)
	if !ok {
		return 0, false
	}
	return SumSquares(residual(x, rate, waves)), true
}

// FitDamped fits a sum of dying sine waves to x by least squares, starting from the
// given poles (Levenberg-Marquardt on all four parameters of every wave). The
// amplitudes start from the linear least-squares solution. It returns nil when the
// waves cannot be told apart in x.
//
// In white noise this is the maximum-likelihood estimate, and the standard errors
// are the Cramer-Rao bounds.
func FitDamped(x []float64, rate float64, start []Pole) *DampedFit {
	waves, ok := amplitudes(x, rate, start)
	if !ok {
		return nil
	}
	fit := &DampedFit{Waves: waves, Residual: residual(x, rate, waves)}
	best := fit.SumSquares()
	duration := float64(len(x)) / rate
	damp := 1e-3
	var normal normalEquations
	for range 60 {
		normal.build(fit, rate, duration)
		improved := false
		for range 8 {
			next, ok := normal.step(fit.Waves, damp, duration)
			if ok {
				res := residual(x, rate, next)
				trial := &DampedFit{Waves: next, Residual: res}
				if s := trial.SumSquares(); s < best {
					improved = best-s > 1e-11*best
					fit, best = trial, s
					damp = math.Max(damp/10, 1e-12)
					break
				}
			}
			damp *= 10
		}
		if !improved {
			break
		}
	}
	normal.build(fit, rate, duration)
	if !normal.errors(fit, duration) {
		return nil
	}
	return fit
}

func residual(x []float64, rate float64, waves []Wave) []float64 {
	r := append([]float64(nil), x...)
	for _, w := range waves {
		w.Add(r, rate, -1)
	}
	return r
}

// amplitudes solves for C and S of given poles.
func amplitudes(x []float64, rate float64, poles []Pole) ([]Wave, bool) {
	n := 2 * len(poles)
	basis := make([][]float64, n)
	for i, p := range poles {
		basis[2*i] = make([]float64, len(x))
		basis[2*i+1] = make([]float64, len(x))
		Wave{Pole: p, C: 1}.Add(basis[2*i], rate, 1)
		Wave{Pole: p, S: 1}.Add(basis[2*i+1], rate, 1)
	}
	sol, ok := solveNormal(basis, x)
	if !ok {
		return nil, false
	}
	waves := make([]Wave, len(poles))
	for i, p := range poles {
		waves[i] = Wave{Pole: p, C: sol[2*i], S: sol[2*i+1]}
	}
	return waves, true
}

// solveNormal solves the linear least-squares problem with the given columns.
func solveNormal(columns [][]float64, y []float64) ([]float64, bool) {
	n := len(columns)
	a := mat.NewSymDense(n, nil)
	b := mat.NewVecDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			a.SetSym(i, j, dot(columns[i], columns[j]))
		}
		b.SetVec(i, dot(columns[i], y))
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) || chol.Cond() > 1e13 {
		return nil, false
	}
	var sol mat.VecDense
	if err := chol.SolveVecTo(&sol, b); err != nil {
		return nil, false
	}
	return sol.RawVector().Data, true
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// normalEquations are J'J and J'r for the parameters, per wave: 2 pi Freq and Decay
// in units of 1/duration, C and S.
type normalEquations struct {
	columns [][]float64
	a       *mat.SymDense
	b       []float64
}

func (n *normalEquations) build(f *DampedFit, rate, duration float64) {
	size := 4 * len(f.Waves)
	if len(n.columns) != size {
		n.columns = make([][]float64, size)
		for i := range n.columns {
			n.columns[i] = make([]float64, len(f.Residual))
		}
	}
	for i, w := range f.Waves {
		n.gradient(4*i, w, rate, duration)
	}
	n.a = mat.NewSymDense(size, nil)
	n.b = make([]float64, size)
	for i := range size {
		for j := i; j < size; j++ {
			n.a.SetSym(i, j, dot(n.columns[i], n.columns[j]))
		}
		n.b[i] = dot(n.columns[i], f.Residual)
	}
}

// gradient fills the four columns of one wave: the derivatives by omega, alpha, C
// and S of exp(-alpha t)(C cos wt + S sin wt).
func (n *normalEquations) gradient(at int, w Wave, rate, duration float64) {
	byFreq, byDecay, byC, byS := n.columns[at], n.columns[at+1], n.columns[at+2], n.columns[at+3]
	sin, cos := math.Sincos(2 * math.Pi * w.Freq / rate)
	shrink := math.Exp(-w.Decay / rate)
	re, im := 1.0, 0.0
	for i := range byC {
		t := float64(i) / rate / duration
		byC[i], byS[i] = re, im
		byFreq[i] = t * (w.S*re - w.C*im)
		byDecay[i] = -t * (w.C*re + w.S*im)
		re, im = shrink*(re*cos-im*sin), shrink*(re*sin+im*cos)
	}
}

// step returns the waves moved by one damped Gauss-Newton step.
func (n *normalEquations) step(waves []Wave, damp, duration float64) ([]Wave, bool) {
	size := len(n.b)
	a := mat.NewSymDense(size, nil)
	a.CopySym(n.a)
	for i := range size {
		a.SetSym(i, i, n.a.At(i, i)*(1+damp)+1e-300)
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return nil, false
	}
	var d mat.VecDense
	if err := chol.SolveVecTo(&d, mat.NewVecDense(size, n.b)); err != nil {
		return nil, false
	}
	out := make([]Wave, len(waves))
	for i, w := range waves {
		w.Freq += d.AtVec(4*i) / duration / (2 * math.Pi)
		w.Decay += d.AtVec(4*i+1) / duration
		w.C += d.AtVec(4*i + 2)
		w.S += d.AtVec(4*i + 3)
		if !(w.Freq > 0) || !(w.Decay > -1/duration) || math.IsInf(w.Freq+w.Decay+w.C+w.S, 0) {
			return nil, false
		}
		out[i] = w
	}
	return out, true
}

// errors fills the standard errors per unit of noise from the inverse of J'J.
func (n *normalEquations) errors(f *DampedFit, duration float64) bool {
	var chol mat.Cholesky
	if !chol.Factorize(n.a) || chol.Cond() > 1e14 {
		return false
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return false
	}
	k := len(f.Waves)
	f.FreqUnit, f.DecayUnit, f.Cross = make([]float64, k), make([]float64, k), make([]float64, k)
	for i := range k {
		f.FreqUnit[i] = math.Sqrt(inv.At(4*i, 4*i)) / duration / (2 * math.Pi)
		f.DecayUnit[i] = math.Sqrt(inv.At(4*i+1, 4*i+1)) / duration
		f.Cross[i] = inv.At(4*i, 4*i+1) / (duration * duration) / (2 * math.Pi)
	}
	return true
}
