package plan

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"thrum/unit"
)

// Timing describes how late an operator ends a pass: the time from the moment at
// which the tool reaches the mark to the moment at which the carriage stands
// still or the tool is clear. It comes from air passes read on an indicator, or
// is assumed.
//
// Delays are taken as normally distributed. With a sample, its mean and spread
// are themselves uncertain; that uncertainty is carried through every risk
// (reference prior: sigma^2 = (n-1) s^2 / chi^2(n-1), mu ~ N(mean, sigma^2/n)).
type Timing struct {
	Mean   unit.Time `json:"mean_s"`   // average delay; negative when usually early
	Spread unit.Time `json:"spread_s"` // standard deviation of one pass
	Passes int       `json:"passes"`   // air passes measured; 0 when assumed
	Lapses int       `json:"lapses"`   // passes among them in which the operator missed altogether
}

// AssumedTiming is used until the operator has measured: a simple reaction to a
// sight takes about 0.19 s (Kosinski's review of reaction times); finding the
// lever and moving it comes on top. The spread is a guess on the wide side.
// Common practice, no source.
func AssumedTiming() Timing { return Timing{Mean: 0.30, Spread: 0.10} }

// leastSpread is the smallest spread that is believed: delays are read to about a
// hundredth of a second, and nobody stops twice alike. Common practice, no source.
const leastSpread unit.Time = 0.02

// TimingFromAirPasses reduces the delays of measured air passes. A pass that was
// missed altogether is given as math.Inf(1). At least three stops are needed.
func TimingFromAirPasses(delays []unit.Time) (Timing, error) {
	var x []float64
	lapses := 0
	for i, d := range delays {
		switch v := float64(d); {
		case math.IsInf(v, 1):
			lapses++
		case math.IsNaN(v) || math.IsInf(v, -1) || math.Abs(v) > 60:
			return Timing{}, &unit.InputError{
				Field: fmt.Sprintf("air pass %d", i+1), Value: fmt.Sprint(v), Reason: "is not a delay in seconds",
				Hint: "give the overrun divided by the carriage speed",
			}
		default:
			x = append(x, v)
		}
	}
	if len(x) < 3 {
		return Timing{}, &unit.InputError{
			Field: "air passes", Value: fmt.Sprint(len(delays)), Reason: "fewer than three stops tell nothing about the spread",
			Hint: "make ten",
		}
	}
	mean, sd := stat.MeanStdDev(x, nil)
	return Timing{Mean: unit.Time(mean), Spread: max(unit.Time(sd), leastSpread), Passes: len(delays), Lapses: lapses}, nil
}

// stops is the number of measured passes that ended with a stop.
func (t Timing) stops() int { return t.Passes - t.Lapses }

// SpreadRange returns the bounds between which the true spread lies with 95 %
// confidence, delays being normal: s sqrt((n-1)/chi^2) at the quantiles .975 and
// .025 of chi^2 with n-1 degrees of freedom. Both are the spread itself when
// nothing was measured.
func (t Timing) SpreadRange() (low, high unit.Time) {
	if t.stops() < 3 {
		return t.Spread, t.Spread
	}
	nu := float64(t.stops() - 1)
	chi := distuv.ChiSquared{K: nu}
	at := func(p float64) unit.Time { return t.Spread * unit.Time(math.Sqrt(nu/chi.Quantile(p))) }
	return at(0.975), at(0.025)
}

// LateRisk returns the probability that at least one of n passes ends later than
// the given time after the mark:
//
//	known mean and spread:   1 - Phi((room-mean)/spread)^n
//	from a sample:           1 - E[Phi((room-mu)/sigma)^n] over what the sample leaves open
//
// Passes of one part share the operator's unknown mean and spread, so with a
// sample they are not independent and the n-th power stays inside the average.
// Missed passes are not part of this; see Floor.
func (t Timing) LateRisk(room unit.Time, n int) float64 {
	return t.missRisk(float64(room), n)
}

// EarlyRisk returns the probability that at least one of n passes ends earlier
// than the given time (negative: before the mark).
func (t Timing) EarlyRisk(at unit.Time, n int) float64 {
	mirrored := t
	mirrored.Mean = -t.Mean
	return mirrored.missRisk(-float64(at), n)
}

func (t Timing) missRisk(room float64, n int) float64 {
	if n < 1 {
		return 0
	}
	mean, sd := float64(t.Mean), float64(t.Spread)
	if t.stops() < 3 {
		return anyBeyond(distuv.UnitNormal.Survival((room-mean)/sd), n)
	}
	m := float64(t.stops())
	nu := m - 1
	chi := distuv.ChiSquared{K: nu}
	// Outer: the quantiles of chi^2; inner: of the mean given sigma. Both are
	// averages over a standard normal variable after the substitution u = Phi(w).
	risk := 0.0
	for _, w := range normalNodes() {
		sigma := sd * math.Sqrt(nu/chi.Quantile(clampProb(distuv.UnitNormal.CDF(w.at))))
		inner := 0.0
		for _, z := range normalNodes() {
			mu := mean + z.at*sigma/math.Sqrt(m)
			inner += z.weight * anyBeyond(distuv.UnitNormal.Survival((room-mu)/sigma), n)
		}
		risk += w.weight * inner
	}
	return risk
}

// anyBeyond is 1-(1-p)^n without losing small p.
func anyBeyond(p float64, n int) float64 { return -math.Expm1(float64(n) * math.Log1p(-p)) }

func clampProb(u float64) float64 { return math.Min(math.Max(u, 1e-15), 1-1e-15) }

// node is a place and a weight for averaging over a standard normal variable.
type node struct{ at, weight float64 }

// normalNodes are Gauss-Legendre nodes over eight standard deviations to either
// side, weighted by the normal density.
var normalNodes = sync.OnceValue(func() []node {
	const n = 48
	x, w := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, -8, 8)
	nodes := make([]node, n)
	for i := range nodes {
		nodes[i] = node{x[i], w[i] * distuv.UnitNormal.Prob(x[i])}
	}
	return nodes
})

// RoomFor returns the time within which all of n passes end with the given risk
// that one does not. Risk must lie between 1e-9 and 0.5.
func (t Timing) RoomFor(risk float64, n int) unit.Time {
	risk = math.Min(math.Max(risk, 1e-9), 0.5)
	if t.stops() < 3 {
		perPass := -math.Expm1(math.Log1p(-risk) / float64(max(n, 1)))
		return t.Mean + t.Spread*unit.Time(-distuv.UnitNormal.Quantile(perPass))
	}
	lo, hi := float64(t.Mean)-10*float64(t.Spread), float64(t.Mean)+10*float64(t.Spread)
	for t.missRisk(hi, n) > risk && hi < 1e4 {
		hi += hi - float64(t.Mean)
	}
	for range 60 {
		mid := (lo + hi) / 2
		if t.missRisk(mid, n) > risk {
			lo = mid
		} else {
			hi = mid
		}
		if hi-lo < 1e-6 {
			break
		}
	}
	return unit.Time(hi)
}

// Floor is the largest chance per pass of a missed end (a lapse) that the sample
// still allows at 95 % confidence: the exact binomial upper limit (Clopper and
// Pearson 1934). No risk smaller than this may be claimed from the sample: ten
// passes without a miss only show that fewer than 26 in 100 are missed. It is 1
// when nothing was measured.
func (t Timing) Floor() float64 {
	if t.Passes == 0 || t.Lapses >= t.Passes {
		return 1
	}
	return distuv.Beta{Alpha: float64(t.Lapses + 1), Beta: float64(t.Passes - t.Lapses)}.Quantile(0.95)
}

// Missed stands for an air pass that the operator did not end at all.
var Missed = unit.Time(math.Inf(1))
