package trial

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"
)

func itoa(n int) string     { return strconv.Itoa(n) }
func ftoa(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	s := slices.Clone(x)
	slices.Sort(s)
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// variance has n-1 below; 0 for fewer than two values.
func variance(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	m, s := mean(x), 0.0
	for _, v := range x {
		s += (v - m) * (v - m)
	}
	return s / float64(len(x)-1)
}

func tQuantile(p, df float64) float64 { return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p) }

func tTail(t, df float64) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.CDF(-math.Abs(t))
}

// TTest is a comparison of means that assumes scores spread in a bell curve.
type TTest struct {
	Effect, T, DF, P float64
	Interval         Interval
}

// Welch compares the means of two groups whose spreads may differ.
//
//	t = (mean b - mean a) / sqrt(sa2/na + sb2/nb), df by Welch and Satterthwaite
//
// Valid: two or more values each. Source: Welch, Biometrika 34 (1947) 28.
func Welch(a, b []float64, confidence float64) (TTest, bool) {
	if len(a) < 2 || len(b) < 2 {
		return TTest{}, false
	}
	va, vb := variance(a)/float64(len(a)), variance(b)/float64(len(b))
	if va+vb == 0 {
		return TTest{}, false
	}
	df := (va + vb) * (va + vb) / (va*va/float64(len(a)-1) + vb*vb/float64(len(b)-1))
	return tTest(mean(b)-mean(a), math.Sqrt(va+vb), df, confidence), true
}

// PairedT compares the mean of differences with nought. Valid: two or more.
func PairedT(d []float64, confidence float64) (TTest, bool) {
	if len(d) < 2 || variance(d) == 0 {
		return TTest{}, false
	}
	n := float64(len(d))
	return tTest(mean(d), math.Sqrt(variance(d)/n), n-1, confidence), true
}

func tTest(effect, se, df, confidence float64) TTest {
	h := tQuantile((1+confidence)/2, df) * se
	return TTest{effect, effect / se, df, tTail(effect/se, df), Interval{effect - h, effect + h, confidence, true, 0}}
}

// Share is k of n with two 95 % intervals and the exact two-sided p against one half.
type Share struct {
	K       int      `json:"k"`
	N       int      `json:"n"`
	P       float64  `json:"p"`
	Wilson  Interval `json:"wilson"`
	Exactly Interval `json:"clopper_pearson"`
}

// ShareOf works out k of n.
// Source: Wilson, JASA 22 (1927) 209; Clopper and Pearson, Biometrika 26 (1934) 404.
func ShareOf(k, n int) (Share, bool) {
	if n < 1 || k < 0 || k > n {
		return Share{}, false
	}
	s := Share{K: k, N: n, P: 1}
	z := distuv.UnitNormal.Quantile(.975)
	f, m := float64(k)/float64(n), float64(n)
	mid := (f + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(f*(1-f)/m+z*z/(4*m*m))
	s.Wilson = Interval{mid - half, mid + half, .95, true, 0}
	s.Exactly = Interval{0, 1, .95, true, 0}
	if k > 0 {
		s.Exactly.Low = distuv.Beta{Alpha: float64(k), Beta: float64(n-k) + 1}.Quantile(.025)
	}
	if k < n {
		s.Exactly.High = distuv.Beta{Alpha: float64(k) + 1, Beta: float64(n - k)}.Quantile(.975)
	}
	less := min(k, n-k)
	s.P = min(1, 2*distuv.Binomial{N: m, P: .5}.CDF(float64(less)))
	return s, true
}
