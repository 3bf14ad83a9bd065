package trial

import (
	"math"
	"math/rand/v2"
)

// Shown is a pair that a judge has been shown and has voted on.
type Shown struct {
	Left, Right int
	Again       bool
}

// Choice is the next pair for a judge, with the sides drawn by lot.
type Choice struct {
	Left, Right int
	Again       bool
	Why         Why
}

// Why says how a pair came to be chosen.
type Why string

// The ways of choosing.
const (
	AtRandom Why = "random"   // by lot among the pairs with the fewest votes
	Adaptive Why = "adaptive" // where a vote tells most
	Control  Why = "control"  // a picture with itself
	Repeat   Why = "again"    // a pair that this judge has seen, the other way round
)

// Shares of the choices. The random share never falls below a tenth, so that what
// is adapted to can be audited by what is not.
const (
	coverVotes    = 4 // votes on every pair before choices adapt
	shareRepeats  = .1
	shareControls = .05
	shareRandom   = .2
	beforeRepeats = 4 // pairs that a judge has seen before one comes again
)

// Choose draws the next pair for a judge. totals are the votes so far on all pairs,
// seen is what this judge has voted on, fit the abilities so far or nil. ok is false
// when this judge has seen every pair.
//
// First the pairs with the fewest votes come, by lot. When all have been covered,
// four in five go where the expected gain in information is largest,
//
//	g = v p q / (1 + v p q)
//
// with v the variance of the difference and p the chance of a preference for the
// one; the rest stay random. About a tenth are repeats with the sides swapped, a
// twentieth a picture with itself.
func Choose(r *rand.Rand, items int, totals []Tally, seen []Shown, fit *Abilities) (c Choice, ok bool) {
	voted := map[[2]int]bool{}
	var once []Shown
	repeated := map[[2]int]bool{}
	for _, s := range seen {
		k := [2]int{min(s.Left, s.Right), max(s.Left, s.Right)}
		if s.Again {
			repeated[k] = true
			continue
		}
		voted[k] = true
		once = append(once, s)
	}
	left := unseen(items, voted)
	if len(left) == 0 {
		return Choice{}, false
	}
	if len(once) >= beforeRepeats && r.Float64() < shareRepeats {
		if s := once[r.IntN(len(once)-1)]; s.Left != s.Right && !repeated[[2]int{min(s.Left, s.Right), max(s.Left, s.Right)}] { // not the last one
			return Choice{s.Right, s.Left, true, Repeat}, true
		}
	}
	if i := r.IntN(items); len(once) > 0 && !voted[[2]int{i, i}] && r.Float64() < shareControls {
		return Choice{i, i, false, Control}, true
	}
	count, least := counts(totals), math.Inf(1)
	covered := true
	for i := range items {
		for j := i + 1; j < items; j++ {
			covered = covered && count[[2]int{i, j}] >= coverVotes
		}
	}
	pick, why := [2]int{}, AtRandom
	if covered && fit != nil && r.Float64() >= shareRandom {
		pick, why = telling(r, left, fit), Adaptive
	} else {
		r.Shuffle(len(left), func(i, j int) { left[i], left[j] = left[j], left[i] })
		for _, k := range left {
			if n := count[k]; n < least {
				pick, least = k, n
			}
		}
	}
	if r.IntN(2) == 1 {
		pick[0], pick[1] = pick[1], pick[0]
	}
	return Choice{pick[0], pick[1], false, why}, true
}

func unseen(items int, voted map[[2]int]bool) (left [][2]int) {
	for i := range items {
		for j := i + 1; j < items; j++ {
			if k := [2]int{i, j}; !voted[k] {
				left = append(left, k)
			}
		}
	}
	return left
}

func counts(totals []Tally) map[[2]int]float64 {
	count := map[[2]int]float64{}
	for _, t := range totals {
		count[[2]int{min(t.Left, t.Right), max(t.Left, t.Right)}] += t.LeftWins + t.RightWins + t.Ties
	}
	return count
}

// telling is the pair, of those left, on which a vote tells most.
func telling(r *rand.Rand, left [][2]int, fit *Abilities) (pick [2]int) {
	best := math.Inf(-1)
	for _, k := range left {
		d, se := fit.Contrast(k[0], k[1])
		p := 1 / (1 + math.Exp(-d))
		v := se * se * p * (1 - p)
		g := v/(1+v) + 1e-9*r.Float64() // equals are drawn by lot
		if g > best {
			best, pick = g, k
		}
	}
	return pick
}
