package trial

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
)

// MaxExact is how many ways of dealing out the arms are counted one by one.
const MaxExact = 200000

// Dealt is how many ways are drawn at random when there are more than MaxExact.
const Dealt = 20000

// Block holds the scores of samples that were cut under like conditions: both
// halves of a pair, one bar, one day.
type Block struct {
	Name string
	A, B []float64
}

// Interval is a range that covers the true value in the given share of trials.
// Where the ways are too few for 95 %, Confidence says what they do reach.
type Interval struct {
	Low        float64 `json:"low"`
	High       float64 `json:"high"`
	Confidence float64 `json:"confidence"`
	Bounded    bool    `json:"bounded"` // false: these samples bound nothing, Low and High mean nothing

	slack float64 // rounding of the limits; a value this near to one is on it
}

// Excludes reports whether the interval is bounded and v lies outside it. Graded
// scores put limits exactly on round values, so rounding must not decide.
func (i Interval) Excludes(v float64) bool {
	return i.Bounded && (v < i.Low-i.slack || v > i.High+i.slack)
}

// Test is the outcome of a randomisation test.
type Test struct {
	Effect   float64  `json:"effect"`    // mean of B less mean of A, blocks weighted by nA nB / (nA+nB)
	Ways     float64  `json:"ways"`      // how many ways the draw could have come out
	Counted  int      `json:"counted"`   // how many of them were tried
	AtLeast  int      `json:"at_least"`  // of those, how many have B-A at least as high
	Extreme  int      `json:"extreme"`   // of those, how many are at least as far from 0
	P        float64  `json:"p"`         // two-sided
	Exact    bool     `json:"exact"`     // every way was tried
	Error    float64  `json:"error"`     // standard error of P from the sampling of ways; 0 when exact
	Interval Interval `json:"interval"`  // of the shift, by inversion of the one-sided tests
	Shift    float64  `json:"hl_effect"` // Hodges-Lehmann estimate
}

// deal is one way of handing out the arms: the effect it gives, and the effect it
// gives to a score that is 1 for every sample really in B and 0 otherwise.
type deal struct{ effect, overlap float64 }

// Randomise tests whether B differs from A by dealing the scores out again within
// blocks. In blocks of one and one this is the sign-flip test of pairs.
//
//	effect = sum_b w_b (mean B_b - mean A_b) / sum_b w_b,  w_b = nA nB / (nA + nB)
//
// A shift d of B turns the effect of a deal into effect - d x overlap, so a deal
// stops being extreme at d = (observed - effect) / (1 - overlap); the limits of the
// interval are order statistics of these. Blocks that lack an arm say nothing and
// are skipped. r is used only beyond MaxExact ways.
// Source: Fisher, The Design of Experiments, 1935, ch. III (test); Lehmann,
// Nonparametrics, 1975, sec. 2.6 and 4.3 (inversion).
func Randomise(bs []Block, confidence float64, r *rand.Rand) Test {
	bs = slices.DeleteFunc(slices.Clone(bs), func(b Block) bool { return len(b.A) == 0 || len(b.B) == 0 })
	if len(bs) == 0 {
		return Test{P: 1}
	}
	t := Test{Ways: 1}
	for _, b := range bs {
		t.Ways *= Ways(len(b.A), len(b.B))
	}
	t.Effect = effect(bs)
	var deals []deal
	if t.Exact = t.Ways <= MaxExact; t.Exact {
		deals = allDeals(bs)
	} else {
		deals = someDeals(bs, t.Effect, r)
	}
	t.Counted = len(deals)
	tol := 1e-9 * (1 + scaleOf(bs))
	for _, d := range deals {
		if d.effect >= t.Effect-tol {
			t.AtLeast++
		}
		if math.Abs(d.effect) >= math.Abs(t.Effect)-tol {
			t.Extreme++
		}
	}
	t.P = float64(t.Extreme) / float64(t.Counted)
	if !t.Exact {
		t.Error = math.Sqrt(t.P * (1 - t.P) / float64(t.Counted))
	}
	t.Interval = invert(deals, t.Effect, confidence)
	t.Interval.slack = tol
	t.Shift = hodgesLehmann(bs)
	return t
}

func invert(deals []deal, observed, confidence float64) Interval {
	var at []float64
	same := 0
	for _, d := range deals {
		if d.overlap > 1-1e-9 {
			same++
			continue
		}
		at = append(at, (observed-d.effect)/(1-d.overlap))
	}
	n := float64(len(deals))
	k := int(math.Floor((1-confidence)/2*n+1e-9)) + 1 - same
	reached := confidence
	if k < 1 { // too few ways: take the outermost and say what it is worth
		k = 1
		reached = 1 - 2*float64(same)/n
	}
	if len(at) == 0 || reached <= 0 || 2*k > len(at)+1 {
		return Interval{}
	}
	sort.Float64s(at)
	return Interval{Low: at[k-1], High: at[len(at)-k], Confidence: reached, Bounded: true}
}

// allDeals lists every way, block by block.
func allDeals(bs []Block) []deal {
	deals := []deal{{}}
	total := weights(bs)
	for _, b := range bs {
		own := blockDeals(b, total)
		next := make([]deal, 0, len(deals)*len(own))
		for _, d := range deals {
			for _, o := range own {
				next = append(next, deal{d.effect + o.effect, d.overlap + o.overlap})
			}
		}
		deals = next
	}
	return deals
}

// blockDeals lists the ways of choosing which nB samples of a block are in B.
func blockDeals(b Block, total float64) []deal {
	ys := slices.Concat(b.A, b.B)
	nA, nB := len(b.A), len(b.B)
	pick := make([]int, nB)
	for i := range pick {
		pick[i] = i
	}
	var out []deal
	for {
		out = append(out, dealOf(ys, pick, nA, total))
		i := nB - 1
		for i >= 0 && pick[i] == nA+i {
			i--
		}
		if i < 0 {
			return out
		}
		pick[i]++
		for j := i + 1; j < nB; j++ {
			pick[j] = pick[j-1] + 1
		}
	}
}

// dealOf gives the block's part of the effect when the picked samples are in B.
func dealOf(ys []float64, pick []int, nA int, total float64) deal {
	nB := len(pick)
	sum, inB, trueB := 0.0, 0.0, 0.0
	for _, y := range ys {
		sum += y
	}
	for _, i := range pick {
		inB += ys[i]
		if i >= nA {
			trueB++
		}
	}
	w := weight(nA, nB) / total
	a, b := float64(nA), float64(nB)
	return deal{w * (inB/b - (sum-inB)/a), w * (trueB/b - (b-trueB)/a)}
}

// someDeals draws ways at random; the one that was seen is always among them, so
// that the test stays valid.
func someDeals(bs []Block, observed float64, r *rand.Rand) []deal {
	if r == nil {
		r = rand.New(rand.NewPCG(1, 2)) //nolint:gosec // not for secrets
	}
	total := weights(bs)
	deals := make([]deal, 1, Dealt)
	deals[0] = deal{observed, 1}
	for len(deals) < Dealt {
		var d deal
		for _, b := range bs {
			ys := slices.Concat(b.A, b.B)
			o := dealOf(ys, r.Perm(len(ys))[:len(b.B)], len(b.A), total)
			d.effect += o.effect
			d.overlap += o.overlap
		}
		deals = append(deals, d)
	}
	return deals
}

func weight(nA, nB int) float64 { return float64(nA) * float64(nB) / float64(nA+nB) }

func weights(bs []Block) (w float64) {
	for _, b := range bs {
		w += weight(len(b.A), len(b.B))
	}
	return w
}

func effect(bs []Block) (e float64) {
	for _, b := range bs {
		e += weight(len(b.A), len(b.B)) * (mean(b.B) - mean(b.A))
	}
	return e / weights(bs)
}

func scaleOf(bs []Block) (s float64) {
	for _, b := range bs {
		for _, y := range slices.Concat(b.A, b.B) {
			s = max(s, math.Abs(y))
		}
	}
	return s
}

// hodgesLehmann is the median of all differences B-A within blocks; of pairs, the
// median of the averages of every two differences (each with itself as well).
// Above 2000 pairs or 2 million differences it is left at the mean effect.
func hodgesLehmann(bs []Block) float64 {
	pairs := paired(bs)
	var all []float64
	n := 0
	for _, b := range bs {
		n += len(b.A) * len(b.B)
	}
	if n > 2000000 || pairs && len(bs) > 2000 {
		return effect(bs)
	}
	for _, b := range bs {
		for _, y := range b.B {
			for _, x := range b.A {
				all = append(all, y-x)
			}
		}
	}
	if pairs {
		var walsh []float64
		for i := range all {
			for j := i; j < len(all); j++ {
				walsh = append(walsh, (all[i]+all[j])/2)
			}
		}
		all = walsh
	}
	return median(all)
}

// paired reports whether the samples form pairs, one of each arm.
func paired(bs []Block) bool {
	if len(bs) < 2 {
		return false
	}
	for _, b := range bs {
		if len(b.A) != 1 || len(b.B) != 1 {
			return false
		}
	}
	return true
}
