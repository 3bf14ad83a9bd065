package vibe

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// aloneInCut is the mode of the tables cut twice as wide as its limit, work of 12 mm.
func aloneInCut(t *testing.T) *Assessment {
	t.Helper()
	limit, _ := table.Limit(tableK)
	in := input(t, single(t, table), 800, wide(2*limit))
	in.Diameter = 12
	return assess(t, in)
}

// What was seen of cuts is fitted as scipy fits it.
func TestFitAgainstScipy(t *testing.T) {
	a := aloneInCut(t)
	for _, r := range outlookRows(t) {
		if r[0] != "own_cuts" {
			continue
		}
		var f []float64
		for _, w := range r[1:] {
			f = append(f, number(t, w))
		}
		var cuts []OwnCut
		for i := 0; i+1 < len(f)-3; i += 2 {
			cuts = append(cuts, OwnCut{unit.Rotation(f[i]), f[i+1]})
		}
		want := f[len(f)-3:]
		got, err := a.FitProcess(cuts)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range []float64{got.Likely.NPerMM(), got.Low.NPerMM(), got.High.NPerMM()} {
			outside.Check(t, outside.Claim{
				What: "rubbing fitted to own cuts, " + []string{"likely", "low", "high"}[i], Source: fitted, Status: outside.Computed,
				Published: want[i], Ours: v, Unit: "N/mm", Tolerance: 0.01 * want[i],
			})
		}
	}
}

const fitted = "docs/validation/outlook.py: scipy minimize_scalar and brentq"

// Cuts made up with a known rubbing and scatter: the interval holds it in about nine of
// ten.
func TestFitCovers(t *testing.T) {
	a := aloneInCut(t)
	r := rand.New(rand.NewPCG(4, 4))
	const trials = 120
	held := 0
	for range trials {
		c := between(r, 20, 300)
		var cuts []OwnCut
		for _, n := range []unit.Rotation{300, 500, 800, 1200} {
			i := int(math.Round(rubbingSteps * math.Log(c/leastRubbing) / math.Log(mostRubbing/leastRubbing)))
			rub := rubbingAt(float64(i))
			growth := a.growthAt(unit.Stiffness(rub), n) * math.Exp(0.25*r.NormFloat64())
			cuts = append(cuts, OwnCut{n, growth})
			c = rub
		}
		f, err := a.FitProcess(cuts)
		if err != nil {
			t.Fatal(err)
		}
		if float64(f.Low) <= c && c <= float64(f.High) {
			held++
		}
	}
	// 90 % of 120 is 108; three deviations of a binomial are 10.
	if held < 96 || held == trials {
		t.Errorf("the interval holds the rubbing in %d of %d", held, trials)
	}
}

func TestFitRefuses(t *testing.T) {
	a := aloneInCut(t)
	var in *unit.InputError
	for _, cuts := range [][]OwnCut{nil, {{0, 1}}, {{200, -1}}, {{200, math.NaN()}}, {{200, 1e9}}} {
		if _, err := a.FitProcess(cuts); !errors.As(err, &in) {
			t.Errorf("%v: %v", cuts, err)
		}
	}
	f, err := a.FitProcess([]OwnCut{{800, 50}}) // more than any rubbing allows
	if err != nil || !f.Unbounded {
		t.Errorf("an impossible growth: %+v, %v", f, err)
	}
}
