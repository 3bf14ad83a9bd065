package sound

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Damping is a damping ratio: the fraction of critical damping, 0.02 for two per
// cent. The logarithmic decrement is about 2 pi times as much, the quality factor
// Q = 1/(2 zeta).
type Damping float64

// Percent returns the damping in per cent of critical.
func (d Damping) Percent() float64 { return float64(d) * 100 }

// Factor is a pure ratio: how many times larger one thing is than another.
type Factor float64

// Estimate is a measured value with its 95 % confidence interval.
type Estimate[T ~float64] struct {
	Value     T
	Low, High T       // ends of the 95 % interval
	SE        T       // standard error
	DF        float64 // degrees of freedom behind the standard error
}

// Contains reports whether v lies in the interval, its ends included.
func (e Estimate[T]) Contains(v T) bool { return e.Low <= v && v <= e.High }

// estimate makes a symmetric interval, value +- t SE.
func estimate[T ~float64](value, se T, df float64) Estimate[T] {
	half := T(t975(df)) * se
	return Estimate[T]{Value: value, Low: value - half, High: value + half, SE: se, DF: df}
}

// logEstimate makes an interval that is symmetric for the logarithm, for what is
// positive by nature: value exp(+- t SE/value).
func logEstimate[T ~float64](value T, relative, df float64) Estimate[T] {
	f := T(math.Exp(math.Min(t975(df)*relative, 50)))
	return Estimate[T]{Value: value, Low: value / f, High: value * f, SE: value * T(relative), DF: df}
}

// t975 is the 97.5 % point of Student's t distribution.
func t975(df float64) float64 {
	if !(df >= 1) {
		df = 1
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.975)
}

// combine averages n measurements, each with its own standard error, when the true
// value also differs from one to the next: taps hit different places in different
// ways. The spread between them, tau, is found so that the weighted sum of squares
// is what it should be (Paule and Mandel), the weights are 1/(se^2 + tau^2), and
// the standard error comes from the weighted scatter itself:
//
//	SE^2 = sum w (y - mean)^2 / ((n-1) sum w),   n-1 degrees of freedom
//
// With equal standard errors it is the ordinary t interval.
//
// Source: Hartung and Knapp 2001, Statistics in Medicine 20:3875; Paule and Mandel
// 1982, J. Res. NBS 87:377.
func combine(y, se []float64) (mean, stdErr, df float64) {
	n := float64(len(y))
	if len(y) == 1 {
		return y[0], se[0], math.Inf(1)
	}
	weigh := func(tau2 float64) (mean, q, sum float64) {
		for i, v := range y {
			w := 1 / (se[i]*se[i] + tau2)
			sum += w
			mean += w * v
		}
		mean /= sum
		for i, v := range y {
			q += (v - mean) * (v - mean) / (se[i]*se[i] + tau2)
		}
		return mean, q, sum
	}
	tau2 := 0.0
	if _, q, _ := weigh(0); q > n-1 { // q falls as tau grows: halve the bracket
		lo, hi := 0.0, 1e-300
		for i := range y {
			hi += (y[i]-y[0])*(y[i]-y[0]) + se[i]*se[i]
		}
		for range 100 {
			tau2 = (lo + hi) / 2
			if _, q, _ := weigh(tau2); q > n-1 {
				lo = tau2
			} else {
				hi = tau2
			}
		}
	}
	mean, q, sum := weigh(tau2)
	return mean, math.Sqrt(q / ((n - 1) * sum)), n - 1
}
