package sound

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
