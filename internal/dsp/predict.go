package dsp

// Burg returns the coefficients a of the linear predictor
//
//	x[n] ~ a[0] x[n-1] + a[1] x[n-2] + ...
//
// that makes the sum of forward and backward errors least at each order. The
// predictor is stable.
//
// Source: Burg 1975, Maximum Entropy Spectral Analysis, ch. 4; order recursion of
// Andersen 1974, Geophysics 39:69.
func Burg(x []float64, order int) []float64 {
	f := append([]float64(nil), x...)
	b := append([]float64(nil), x...)
	a := make([]float64, 0, order)
	for m := range order {
		num, den := 0.0, 0.0
		for n := m + 1; n < len(x); n++ {
			num += 2 * f[n] * b[n-1]
			den += f[n]*f[n] + b[n-1]*b[n-1]
		}
		if den <= 0 {
			break
		}
		k := num / den
		next := append(a, k)
		for i := range m {
			next[i] = a[i]
		}
		prev := append([]float64(nil), a...)
		for i := range m {
			next[i] = prev[i] - k*prev[m-1-i]
		}
		a = next
		for n := len(x) - 1; n > m; n-- {
			fn := f[n]
			f[n] = fn - k*b[n-1]
			b[n] = b[n-1] - k*fn
		}
	}
	return a
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
