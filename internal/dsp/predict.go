package dsp

import "gonum.org/v1/gonum/mat"

// Predictor returns the coefficients a of the linear prediction
//
//	x[n] ~ a[0] x[n-1] + a[1] x[n-2] + ...
//
// whose sum of squared errors over x is least (the covariance method). Signals that
// die away or grow are predicted as well as steady ones. It returns nil when x is
// too short or zero.
//
// Source: Makhoul 1975, Proc. IEEE 63:561, section II.
func Predictor(x []float64, order int) []float64 {
	if len(x) < 3*order {
		return nil
	}
	a := mat.NewSymDense(order, nil)
	b := mat.NewVecDense(order, nil)
	now := x[order:]
	for i := range order {
		lagged := x[order-1-i : len(x)-1-i]
		for j := i; j < order; j++ {
			a.SetSym(i, j, dot(lagged, x[order-1-j:len(x)-1-j]))
		}
		b.SetVec(i, dot(lagged, now))
	}
	ridge := 1e-10 * mat.Trace(a) // keeps the equations solvable when x has no noise
	for i := range order {
		a.SetSym(i, i, a.At(i, i)+ridge)
	}
	var chol mat.Cholesky
	if ridge == 0 || !chol.Factorize(a) {
		return nil
	}
	var sol mat.VecDense
	if err := chol.SolveVecTo(&sol, b); err != nil {
		return nil
	}
	return sol.RawVector().Data
}

// PredictionError returns x[n] minus its prediction for n from first to end-1;
// first must not be less than len(a).
func PredictionError(x, a []float64, first, end int) []float64 {
	out := make([]float64, max(end-first, 0))
	for i := range out {
		n := first + i
		e := x[n]
		for j, c := range a {
			e -= c * x[n-1-j]
		}
		out[i] = e
	}
	return out
}
