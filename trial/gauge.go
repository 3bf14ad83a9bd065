package trial

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"thrum/unit"
)

// Study is a study of a way of measuring, repeatability and reproducibility:
// several people measure the same parts several times. Figures are standard
// deviations in the units of the measurement.
type Study struct {
	Method        string
	Repeatability float64 // one person, one part, again
	Appraiser     float64 // between people
	Gauge         float64 // both together
	Part          float64 // between parts
	Total         float64
	Categories    int     // how many sizes can be told apart: floor(1.41 part / gauge)
	Percent       float64 // 100 gauge / total
	Pooled        bool    // interaction of people and parts was taken as noise
}

// factors for the mean range and for the range of averages, by count.
// Source: AIAG, Measurement Systems Analysis, 4th ed., tables K1 K2 K3.
var (
	k1 = map[int]float64{2: .8862, 3: .5908}
	k2 = map[int]float64{2: .7071, 3: .5231}
	k3 = map[int]float64{2: .7071, 3: .5231, 4: .4467, 5: .4030, 6: .3742, 7: .3534, 8: .3375, 9: .3249, 10: .3146}
)

// readings[appraiser][part][trial], every cell with the same number of trials.
func shape(readings [][][]float64) (p, n, r int, err error) {
	p = len(readings)
	if p > 0 {
		n = len(readings[0])
	}
	if n > 0 {
		r = len(readings[0][0])
	}
	ok := p >= 2 && n >= 2 && r >= 2 && p*n*r <= 100000
	for _, person := range readings {
		ok = ok && len(person) == n
		for _, part := range person {
			ok = ok && len(part) == r && !slices.ContainsFunc(part, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
		}
	}
	if !ok {
		return 0, 0, 0, &unit.InputError{Field: "study", Value: fmt.Sprintf("%d people, %d parts, %d times", p, n, r), Reason: "is not a full table", Hint: "two or more of each, every person every part equally often"}
	}
	return p, n, r, nil
}

// AverageRange works from ranges, as on paper. Valid: 2 or 3 people, 2 or 3
// times, 2 to 10 parts. readings[person][part][time].
//
//	EV = Rbar K1, AV^2 = (Xdiff K2)^2 - EV^2/(n r), PV = Rp K3
func AverageRange(readings [][][]float64) (Study, error) {
	p, n, r, err := shape(readings)
	if err != nil {
		return Study{}, err
	}
	if k1[r] == 0 || k2[p] == 0 || k3[n] == 0 {
		return Study{}, &unit.InputError{Field: "study", Value: fmt.Sprintf("%d people, %d parts, %d times", p, n, r), Reason: "is beyond the factors for ranges", Hint: "use the analysis of variance"}
	}
	rbar, people, parts := 0.0, make([]float64, p), make([]float64, n)
	for i := range readings {
		for j, cell := range readings[i] {
			rbar += (slices.Max(cell) - slices.Min(cell)) / float64(p*n)
			people[i] += mean(cell) / float64(n)
			parts[j] += mean(cell) / float64(p)
		}
	}
	ev := rbar * k1[r]
	x := (slices.Max(people) - slices.Min(people)) * k2[p]
	s := Study{Method: "average and range", Repeatability: ev, Appraiser: math.Sqrt(max(0, x*x-ev*ev/float64(n*r)))}
	s.Part = (slices.Max(parts) - slices.Min(parts)) * k3[n]
	return s.finish(), nil
}

// Variances works by analysis of variance; the interaction of people and parts is
// pooled with the noise when its p is above 0.25. readings[person][part][time].
func Variances(readings [][][]float64) (Study, error) {
	p, n, r, err := shape(readings)
	if err != nil {
		return Study{}, err
	}
	P, N, R := float64(p), float64(n), float64(r)
	var people, cells []float64
	parts := make([]float64, n)
	within := 0.0
	for i := range readings {
		sum := 0.0
		for j, cell := range readings[i] {
			m := mean(cell)
			cells = append(cells, m)
			within += variance(cell) * (R - 1)
			sum += m / N
			parts[j] += m / P
		}
		people = append(people, sum)
	}
	ssPeople, ssParts := N*R*variance(people)*(P-1), P*R*variance(parts)*(N-1)
	ssInter := max(0, R*variance(cells)*(P*N-1)-ssPeople-ssParts)
	dfInter, dfNoise := (P-1)*(N-1), P*N*(R-1)
	msInter, msNoise := ssInter/dfInter, within/dfNoise
	s := Study{Method: "analysis of variance"}
	if msNoise > 0 {
		s.Pooled = distuv.F{D1: dfInter, D2: dfNoise}.Survival(msInter/msNoise) > .25
	}
	inter := max(0, (msInter-msNoise)/R)
	if s.Pooled {
		msNoise = (ssInter + within) / (dfInter + dfNoise)
		msInter, inter = msNoise, 0
	}
	s.Repeatability = math.Sqrt(msNoise)
	s.Appraiser = math.Sqrt(max(0, (ssPeople/(P-1)-msInter)/(N*R)) + inter)
	s.Part = math.Sqrt(max(0, (ssParts/(N-1)-msInter)/(P*R)))
	return s.finish(), nil
}

func (s Study) finish() Study {
	s.Gauge = math.Hypot(s.Repeatability, s.Appraiser)
	s.Total = math.Hypot(s.Gauge, s.Part)
	if s.Total > 0 {
		s.Percent = 100 * s.Gauge / s.Total
	}
	if s.Gauge > 0 {
		s.Categories = int(min(1e6, math.Floor(1.41*s.Part/s.Gauge)))
	}
	return s
}

// Repeatability is the spread of repeated readings about the mean of their part, pooled
// over the parts: for pairs sqrt(sum d^2 / 2n) on n degrees of freedom. It is known
// once one part was measured twice.
func Repeatability(parts [][]float64) (Spread, bool) {
	ss, df := 0.0, 0
	for _, p := range parts {
		if len(p) > 1 {
			ss += variance(p) * float64(len(p)-1)
			df += len(p) - 1
		}
	}
	if df == 0 {
		return Spread{}, false
	}
	return Spread{SD: math.Sqrt(ss / float64(df)), DF: df}, true
}

// Between is where the standard deviation itself may lie, 95 %: sd sqrt(df / chi^2).
func (s Spread) Between() (low, high float64) {
	c := distuv.ChiSquared{K: float64(s.DF)}
	return s.SD * math.Sqrt(float64(s.DF)/c.Quantile(.975)), s.SD * math.Sqrt(float64(s.DF)/c.Quantile(.025))
}

// Smallest is the smallest difference between one bar and one bar that stands out
// from the spread at 95 %: t sd sqrt 2.
func (s Spread) Smallest() float64 {
	if s.DF < 1 || !(s.SD > 0) {
		return math.Inf(1)
	}
	return tQuantile(.975, float64(s.DF)) * s.SD * math.Sqrt2
}
