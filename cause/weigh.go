package cause

import (
	"math"
)

// odds holds a natural log-likelihood for each cause; a missing one is zero.
type odds map[Kind]float64

// clue is one piece of evidence: how likely it is under each cause, and in words.
type clue struct {
	text string
	like odds
}

// toneKinds are the causes that can make a tone, with their weight beforehand:
// even, and little for what is not on the list.
var toneKinds = map[Kind]float64{Waves: 1, Gears: 1, Ringing: 1, Motor: 1, Other: 0.2}

// noiseKinds are the causes that make none. Waves can, too: see swellClues.
var noiseKinds = map[Kind]float64{Tearing: 1, Quiet: 1, Other: 0.1}

// probable turns likelihoods of the given causes into probabilities.
func probable(clues []clue, prior map[Kind]float64) map[Kind]float64 {
	sum, top := map[Kind]float64{}, math.Inf(-1)
	for k, p := range prior {
		sum[k] = math.Log(p)
		for _, c := range clues {
			sum[k] += c.like[k]
		}
		top = math.Max(top, sum[k])
	}
	total := 0.0
	for k := range sum {
		sum[k] = math.Exp(sum[k] - top)
		total += sum[k]
	}
	for k := range sum {
		sum[k] /= total
	}
	return sum
}

// likely makes the clue whose probability under each cause is given; what is not
// listed takes the last argument.
func likely(text string, p map[Kind]float64, rest float64) clue {
	c := clue{text: text, like: odds{}}
	for _, k := range Kinds() {
		v, ok := p[k]
		if !ok {
			v = rest
		}
		c.like[k] = math.Log(math.Max(v, 1e-4))
	}
	return c
}

// weight is what a clue moves for one cause, in natural logarithms of the odds
// against the mean of the others.
func (c clue) weight(k Kind, among map[Kind]float64) float64 {
	sum, n := 0.0, 0.0
	for o, p := range among {
		if o != k {
			sum += p * math.Exp(c.like[o])
			n += p
		}
	}
	if n == 0 {
		return 0
	}
	return c.like[k] - math.Log(sum/n)
}

// bell is the density of a normal distribution with a share of a wider one, so that
// no figure is impossible.
func bell(x, mean, sd float64) float64 {
	g := func(s float64) float64 { d := (x - mean) / s; return math.Exp(-d*d/2) / s }
	return 0.95*g(sd) + 0.05*g(3*sd+3)
}
