package trial

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"thrum/internal/outside"
)

func TestPollAgainstScipy(t *testing.T) {
	want := reference(t, "poll.csv")
	if len(want) != 13 {
		t.Fatalf("%d figures, the script makes 13", len(want))
	}
	one := func(b bool) int {
		if b {
			return 1
		}
		return 0
	}
	p := Poll{Baseline: "A", Changed: "B", Items: []PollItem{{"s0", "A"}, {"s1", "B"}, {"s2", "A"}, {"s3", "B"}}}
	for g := range 12 { // the formula of docs/validation/poll.py
		var ts []Tally
		for i := range 4 {
			for j := range 4 {
				if i != j {
					ts = append(ts, Tally{i, j, float64((3*g+5*i+2*j)%5 + 2*one(i > j) + g%3*(i%2)), float64((2*g+i+4*j)%4 + one(j > i)), float64((g + i + j) % 3)})
				}
			}
		}
		p.Groups = append(p.Groups, ts)
	}
	got, err := AnalyzePoll(p)
	if err != nil {
		t.Fatal(err)
	}
	const source = "docs/validation/poll.py, scipy 1.10.1"
	check := func(name string, ours, tol float64) {
		t.Helper()
		outside.Check(t, outside.Claim{What: "poll: " + name, Source: source, Status: outside.Computed, Published: want[name], Ours: ours, Unit: "1", Tolerance: tol})
	}
	look := func(i, j int) Look {
		for _, l := range got.Looks {
			if l.I == j && l.J == i {
				return l
			}
		}
		t.Fatal("no look", i, j)
		return Look{}
	}
	for name, l := range map[string]Look{"item_1_over_0": look(1, 0), "item_2_over_0": look(2, 0), "item_3_over_0": look(3, 0), "item_3_over_1": look(3, 1)} {
		check(name, -l.LogOdds, 1e-6)
		check(name+"_se", l.SE, 1e-5)
	}
	check("arms_13_over_02", got.Arms.LogOdds, 1e-6)
	check("arms_13_over_02_se", got.Arms.SE, 1e-5)
	check("side", got.Side, 1e-6)
	check("side_se", got.SideSE, 1e-5)
	check("tie_share", got.TieShare, 1e-6)
}

// Judges differ in taste and vote on many pairs. The interval over groups of judges
// must hold the truth about as often as it says; one that takes votes for
// independent must not, or this test shows nothing.
func TestPollErrorsHoldWhenJudgesDiffer(t *testing.T) {
	const polls, judges, truth, taste = 150, 60, .5, .9
	r := rand.New(rand.NewPCG(12, 34))
	inside, naive := 0, 0
	for range polls {
		p := Poll{Items: []PollItem{{"a", ""}, {"b", ""}, {"c", ""}}}
		groups := make([][]Tally, 30)
		var all []Tally
		for j := range judges {
			bias := [3]float64{0, truth + taste*r.NormFloat64(), taste * r.NormFloat64()}
			for range 30 {
				l := r.IntN(3)
				q := (l + 1 + r.IntN(2)) % 3
				v := Tally{Left: l, Right: q}
				if r.Float64() < 1/(1+math.Exp(bias[q]-bias[l]-.2)) {
					v.LeftWins = 1
				} else {
					v.RightWins = 1
				}
				groups[j%30] = append(groups[j%30], v)
				all = append(all, v)
			}
		}
		p.Groups = groups
		f, err := AnalyzePoll(p)
		if err != nil {
			t.Fatal(err)
		}
		// The marginal difference of the population is nearer to nought than that of
		// the mean judge: shrunk by about 1/sqrt(1+.346 var).
		marginal := truth / math.Sqrt(1+.346*taste*taste)
		l := f.Looks[0]
		for _, k := range f.Looks {
			if k.I == 0 && k.J == 1 {
				l = k
			}
		}
		if -l.Interval.High <= marginal && marginal <= -l.Interval.Low {
			inside++
		}
		whole, err := Fit(3, together(all), Model{Side: true, Ties: true})
		if err != nil {
			t.Fatal(err)
		}
		d, se := whole.Contrast(1, 0)
		if math.Abs(d-marginal) < 1.96*se {
			naive++
		}
	}
	t.Logf("of %d intervals %d hold the truth; taking votes for independent %d do", polls, inside, naive)
	if inside < polls*88/100 {
		t.Errorf("%d of %d intervals hold the truth", inside, polls)
	}
	if naive > polls*85/100 {
		t.Errorf("votes taken for independent do as well (%d of %d): the test shows nothing", naive, polls)
	}
}

func TestPollWords(t *testing.T) {
	p := Poll{Baseline: "none", Changed: "centre", Items: []PollItem{{"bar 1", "none"}, {"bar 2", "centre"}, {"bar 1", "none"}}}
	for g := range 12 {
		x := float64(g % 2)
		p.Groups = append(p.Groups, []Tally{{0, 1, 1, 6 - x, 1}, {1, 0, 6, 1, 1}, {1, 2, 5, 1 + x, 0}, {2, 1, 1, 5, 2}, {0, 2, 1 + x, 2 - x, 3}, {2, 0, 2 - x, 1 + x, 3}, {1, 1, 1, 1, 4}})
	}
	p.Repeats = [][]float64{{20, 2, 1}, {3, 15, 2}, {1, 1, 9}}
	f, err := AnalyzePoll(p)
	if err != nil {
		t.Fatal(err)
	}
	for what, has := range map[string][2]string{
		"answer":  {f.Words.Answer, "people prefer the pictures of centre"},
		"means":   {f.Words.Means, "not that the change did it"},
		"errors":  {f.Words.Errors, "12 groups of judges"},
		"same":    {f.Words.Controls[0], "Two pictures of bar 1, which ought to come out even"},
		"twins":   {f.Words.Controls[1], "72 times: 48 ties, 12 for the left, 12 for the right"},
		"repeats": {f.Words.Controls[2], "54 times: the same answer in 81 %"},
	} {
		if !strings.Contains(has[0], has[1]) {
			t.Errorf("%s: %q does not say %q", what, has[0], has[1])
		}
	}
	if !f.Looks[2].Even() {
		t.Errorf("the same bar did not come out even: %+v", f.Looks[2])
	}
	// All one way, by few: nothing is said of errors, and the bound is called one.
	few, err := AnalyzePoll(Poll{Items: p.Items[:2], Groups: [][]Tally{{{0, 1, 0, 3, 0}}}})
	if err != nil {
		t.Fatal(err)
	}
	if few.Clusters || !few.Prior || !strings.Contains(few.Words.Errors, "lower bound") || !strings.Contains(few.Words.Answer, "not shown") {
		t.Errorf("%+v", few.Words)
	}
	if _, err := AnalyzePoll(Poll{Items: p.Items}); err == nil {
		t.Error("no votes, and no error")
	}
}

// play lets judges vote until they have seen all.
func play(r *rand.Rand, items, judges int, fit *Abilities, vote func(Choice) Tally) (choices map[Why]int, totals []Tally, most, least float64) {
	choices = map[Why]int{}
	for range judges {
		var seen []Shown
		for {
			c, ok := Choose(r, items, totals, seen, fit)
			if !ok {
				break
			}
			choices[c.Why]++
			seen = append(seen, Shown{c.Left, c.Right, c.Again})
			if !c.Again {
				totals = together(append(totals, vote(c)))
			}
			if len(seen) > 12 {
				break
			}
		}
	}
	least = math.Inf(1)
	for k, n := range counts(totals) {
		if k[0] != k[1] {
			most, least = max(most, n), min(least, n)
		}
	}
	return choices, totals, most, least
}

func TestChoicesAreBalancedFirst(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	left := 0
	n := 0
	choices, _, most, least := play(r, 6, 200, nil, func(c Choice) Tally {
		if c.Left != c.Right {
			n++
			if c.Left < c.Right {
				left++
			}
		}
		return Tally{Left: c.Left, Right: c.Right, Ties: 1}
	})
	if most-least > 2 {
		t.Errorf("pairs have %.0f to %.0f votes", least, most)
	}
	if z := (float64(left) - float64(n)/2) / math.Sqrt(float64(n)/4); math.Abs(z) > 4 {
		t.Errorf("%d of %d pairs one way round", left, n)
	}
	all := choices[AtRandom] + choices[Repeat] + choices[Control]
	if choices[Adaptive] > 0 || choices[Repeat] < all/30 || choices[Repeat] > all/8 || choices[Control] == 0 {
		t.Errorf("choices %v", choices)
	}
}

func TestAdaptiveChoicesKeepATenthRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	strong := []Tally{{0, 1, 30, 2, 0}, {1, 2, 30, 2, 0}, {2, 3, 9, 8, 0}, {3, 0, 1, 25, 0}, {0, 2, 30, 1, 0}, {1, 3, 28, 2, 0}}
	fit, err := Fit(4, strong, Model{})
	if err != nil {
		t.Fatal(err)
	}
	random, adaptive, close := 0, 0, 0
	for range 4000 {
		c, ok := Choose(r, 4, strong, nil, fit)
		if !ok {
			t.Fatal("nothing left")
		}
		switch c.Why {
		case AtRandom:
			random++
		case Adaptive:
			adaptive++
			if min(c.Left, c.Right) == 2 {
				close++
			}
		}
	}
	if random < 400 || adaptive < 2000 {
		t.Errorf("%d random, %d adaptive of 4000", random, adaptive)
	}
	if close != adaptive {
		t.Errorf("%d of %d adaptive choices show the pair that is least settled", close, adaptive)
	}
}

// A judge sees each pair once, at most once more, and then is told that it is over.
func TestChoicesEnd(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for items := 2; items < 8; items++ {
		var seen []Shown
		at := map[Shown]bool{}
		for {
			c, ok := Choose(r, items, nil, seen, nil)
			if !ok {
				break
			}
			k := Shown{min(c.Left, c.Right), max(c.Left, c.Right), c.Again}
			if at[k] {
				t.Fatalf("%+v came twice", k)
			}
			if at[k] = true; len(at) > 500 {
				t.Fatal("no end")
			}
			seen = append(seen, Shown{c.Left, c.Right, c.Again})
		}
		for i := range items {
			for j := i + 1; j < items; j++ {
				if !at[Shown{i, j, false}] {
					t.Errorf("%d items: %d and %d never came", items, i, j)
				}
			}
		}
	}
}
