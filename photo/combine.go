package photo

import (
	"fmt"
	"math"
	"slices"
)

// Combined is what several photographs of one sample say together.
type Combined struct {
	Verdict      Verdict
	Reason       string
	MarksPerTurn float64 // 0 when refused
	Uncertainty  float64
	Used         int // photographs whose number went in
	Refused      int // photographs without a number
	Apart        int // photographs whose number does not go with the others
}

// Combine puts several photographs of one sample together. Numbers are weighted by
// their random part; the systematic part (pitch, diameter, camera) is the same in
// all of them and is kept whole. The largest group that agrees within three
// uncertainties is taken; if it is not more than half of the numbers there is no
// answer. Two doubtful readings that agree make an accepted one, since chance would
// put them together about once in thirty times; but not where the marks lie at the
// same places in every turn, as a lamp's reflection would in every photograph.
func Combine(readings []*Reading) *Combined {
	c := &Combined{Verdict: Refused}
	var with []*Reading
	for _, r := range readings {
		if r != nil && r.Verdict != Refused && r.MarksPerTurn > 0 {
			with = append(with, r)
		} else {
			c.Refused++
		}
	}
	if len(with) == 0 {
		c.Reason = fmt.Sprintf("no regular marks found in any of %d photographs; that does not say that there is no chatter", len(readings))
		return c
	}
	best := agreeing(with)
	c.Used, c.Apart = len(best), len(with)-len(best)
	if 2*c.Used <= len(with) {
		c.Used, c.Apart = 0, len(with)
		c.Reason = fmt.Sprintf("the %d photographs with regular marks do not agree with each other", len(with))
		return c
	}
	var sum, weight, systematic float64
	accepted, still := 0, 0
	for _, r := range best {
		random := math.Max(r.Uncertainty*r.Uncertainty-r.Systematic*r.Systematic, 1e-6*r.MarksPerTurn*r.MarksPerTurn)
		sum += r.MarksPerTurn / random
		weight += 1 / random
		systematic = math.Max(systematic, r.Systematic/r.MarksPerTurn)
		if r.Verdict == Accepted {
			accepted++
		}
		if r.Still {
			still++
		}
	}
	c.MarksPerTurn = sum / weight
	random := math.Sqrt(1/weight) * spread(best, c.MarksPerTurn)
	c.Uncertainty = math.Hypot(random, systematic*c.MarksPerTurn)
	c.Verdict = Doubtful
	if accepted > 0 || len(best)-still >= 2 {
		c.Verdict = Accepted
	}
	c.Reason = fmt.Sprintf("%d of %d photographs agree", c.Used, len(readings))
	return c
}

// agreeing returns the largest set of readings within three uncertainties of one of them.
func agreeing(with []*Reading) []*Reading {
	var best []*Reading
	for _, centre := range with {
		group := slices.DeleteFunc(slices.Clone(with), func(r *Reading) bool {
			return math.Abs(r.MarksPerTurn-centre.MarksPerTurn) > 3*math.Hypot(random(r), random(centre))
		})
		if len(group) > len(best) {
			best = group
		}
	}
	return best
}

// random is the part of the uncertainty that differs between photographs; the
// camera's distance and the fit of the outline make up half a per cent of it.
func random(r *Reading) float64 {
	u := math.Sqrt(math.Max(r.Uncertainty*r.Uncertainty-r.Systematic*r.Systematic, 0))
	return math.Hypot(u, 0.005*r.MarksPerTurn)
}

// spread is 1, or more where the readings differ by more than they should.
func spread(group []*Reading, mean float64) float64 {
	if len(group) < 2 {
		return 1
	}
	chi := 0.0
	for _, r := range group {
		d := (r.MarksPerTurn - mean) / random(r)
		chi += d * d
	}
	return math.Max(1, math.Sqrt(chi/float64(len(group)-1)))
}
