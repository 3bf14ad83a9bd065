package sound

import (
	"cmp"
	"math"
	"slices"

	"thrum/unit"
)

const pairRule = "a mode of one test is paired with a mode of the other when each is the other's nearest and they lie within a factor of 1.3; " +
	"a shift is told apart from none when its 95 % interval leaves out zero"

// pairReach is the furthest that two modes may lie apart and still be compared.
const pairReach = 1.3

// CompareKnock matches the modes of two tests, usually with and without the
// centre, and gives what changed from a to b. Each interval is that of Welch for
// two unequal samples; over several modes some will leave out zero by chance, one
// in twenty.
func CompareKnock(a, b *KnockTest) *Comparison {
	c := &Comparison{Rule: pairRule}
	taken := make([]bool, len(b.Modes))
	for i := range a.Modes {
		m := &a.Modes[i]
		if j := closest(b.Modes, *m); j >= 0 && closest(a.Modes, b.Modes[j]) == i {
			taken[j] = true
			c.Shifts = append(c.Shifts, shift(m, &b.Modes[j]))
		} else {
			c.Shifts = append(c.Shifts, ModeShift{A: m, FreqVerdict: OnlyFirst, DampingVerdict: OnlyFirst})
		}
	}
	for j := range b.Modes {
		if !taken[j] {
			c.Shifts = append(c.Shifts, ModeShift{B: &b.Modes[j], FreqVerdict: OnlySecond, DampingVerdict: OnlySecond})
		}
	}
	slices.SortStableFunc(c.Shifts, func(x, y ModeShift) int { return cmp.Compare(x.freq(), y.freq()) })
	return c
}

func (s ModeShift) freq() unit.Frequency {
	if s.A != nil {
		return s.A.Freq.Value
	}
	return s.B.Freq.Value
}

// closest returns the mode nearest to m in proportion, within reach, or -1.
func closest(modes []Mode, m Mode) int {
	best, at := math.Log(pairReach), -1
	for i, o := range modes {
		if d := math.Abs(math.Log(float64(o.Freq.Value / m.Freq.Value))); d <= best {
			best, at = d, i
		}
	}
	return at
}

func shift(a, b *Mode) ModeShift {
	s := ModeShift{A: a, B: b, FreqVerdict: NotDistinguishable, DampingVerdict: NotDistinguishable}
	se, df := welch(float64(a.Freq.SE), a.Freq.DF, float64(b.Freq.SE), b.Freq.DF)
	s.Freq = estimate(b.Freq.Value-a.Freq.Value, unit.Frequency(se), df)
	if !s.Freq.Contains(0) {
		s.FreqVerdict = Moved
	}
	ra, rb := float64(a.Damping.SE/a.Damping.Value), float64(b.Damping.SE/b.Damping.Value)
	rel, df := welch(ra, a.Damping.DF, rb, b.Damping.DF)
	s.Damping = logEstimate(Factor(b.Damping.Value/a.Damping.Value), rel, df)
	if !s.Damping.Contains(1) {
		s.DampingVerdict = Moved
	}
	return s
}

// welch returns the standard error of a difference and its degrees of freedom:
//
//	SE^2 = s1^2 + s2^2,  df = SE^4 / (s1^4/df1 + s2^4/df2)
//
// Source: Welch 1947, Biometrika 34:28.
func welch(s1, df1, s2, df2 float64) (se, df float64) {
	v1, v2 := s1*s1, s2*s2
	if v1+v2 == 0 {
		return 0, math.Min(df1, df2)
	}
	return math.Sqrt(v1 + v2), (v1 + v2) * (v1 + v2) / (v1*v1/df1 + v2*v2/df2)
}
