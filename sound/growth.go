package sound

import (
	"math"

	"thrum/unit"
)

// sameTone is how near the free tones of two passes must lie to be one: a mode
// rises a little as the cut widens.
const sameTone = 0.015

// growth follows free tones from pass to pass. The factor is that of a straight
// line through the levels in decibels:
//
//	level[n] = a + b n,   each pass leaves 10^(b/20) times the last
//
// with Student's t on the number of passes less two; three passes at least.
func growth(passes []Pass) []Growth {
	type chain struct {
		last   float64
		energy float64
		g      Growth
	}
	var chains []chain
	for i, p := range passes {
		taken := make([]bool, len(chains))
		for _, t := range p.Tones {
			if !t.Free() {
				continue
			}
			f := t.Freq.Value.Hz()
			best, at := math.Inf(1), -1
			for j := range taken {
				reach := math.Max(sameTone*f, 3*t.Freq.SE.Hz())
				if d := math.Abs(chains[j].last - f); !taken[j] && d < reach && d < best {
					best, at = d, j
				}
			}
			if at < 0 {
				chains = append(chains, chain{})
				at = len(chains) - 1
			} else {
				taken[at] = true
			}
			c := &chains[at]
			c.last = f
			c.g.Passes = append(c.g.Passes, i)
			c.g.Levels = append(c.g.Levels, t.Level)
			w := math.Pow(10, t.Level/10)
			c.g.Freq = unit.Frequency((c.g.Freq.Hz()*c.energy + f*w) / (c.energy + w))
			c.energy += w
		}
	}
	var out []Growth
	for _, c := range chains {
		if len(c.g.Passes) >= 3 {
			c.g.PerPass = slope(c.g.Passes, c.g.Levels)
			out = append(out, c.g)
		}
	}
	return out
}

// slope fits the line.
func slope(passes []int, levels []float64) Estimate[Factor] {
	n := float64(len(passes))
	var mx, my, sxx, sxy, syy float64
	for i, p := range passes {
		mx, my = mx+float64(p)/n, my+levels[i]/n
	}
	for i, p := range passes {
		dx, dy := float64(p)-mx, levels[i]-my
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	b := sxy / sxx
	se := math.Sqrt(math.Max(syy-b*sxy, 0) / (n - 2) / sxx)
	toRatio := math.Ln10 / 20
	return logEstimate(Factor(math.Exp(b*toRatio)), se*toRatio, n-2)
}
