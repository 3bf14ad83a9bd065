package trial

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"thrum/unit"
)

// Ways is the number of ways of choosing which of nA+nB samples are in B.
func Ways(nA, nB int) float64 {
	if nA < 0 || nB < 0 {
		return 0
	}
	w := 1.0
	for i := 1; i <= min(nA, nB); i++ {
		w = w * float64(max(nA, nB)+i) / float64(i)
	}
	return math.Round(w)
}

// Plan says how many samples of each arm each block will hold.
type Plan struct {
	Blocks int // number of blocks; 1 when there are none
	A, B   int // samples of each arm in each block
}

// Pairs plans n pairs, TwoGroups a samples against b.
func Pairs(n int) Plan        { return Plan{n, 1, 1} }
func TwoGroups(a, b int) Plan { return Plan{1, a, b} }

// Reach is the best that a plan can show, known before anything is cut.
type Reach struct {
	Ways  float64 `json:"ways"`
	BestP float64 `json:"best_p"` // 2 / ways: both ends count
	Can   bool    `json:"can"`    // BestP is at most 5 %
	Words string  `json:"words"`
}

// Reach works it out. Valid: 1 to 1000 blocks, 1 to 1000 samples an arm.
func (p Plan) Reach() (Reach, error) {
	if p.Blocks < 1 || p.Blocks > 1000 || p.A < 1 || p.B < 1 || p.A > 1000 || p.B > 1000 {
		return Reach{}, &unit.InputError{Field: "plan", Value: fmt.Sprintf("%d blocks of %d and %d", p.Blocks, p.A, p.B), Reason: "cannot be cut", Hint: "1 to 1000 of each"}
	}
	return reachOf(math.Pow(Ways(p.A, p.B), float64(p.Blocks))), nil
}

func reachOf(ways float64) Reach {
	r := Reach{Ways: ways, BestP: min(1, 2/ways)}
	r.Can = r.BestP <= .05
	if r.Can {
		r.Words = fmt.Sprintf("at best p = %.2g, so a clear result is possible", r.BestP)
	} else {
		r.Words = fmt.Sprintf("at best p = %.2g: however the cuts come out, this can never reach 5 %%; cut at least 4 and 4, or 6 pairs", r.BestP)
	}
	return r
}

// Run is one cut to make.
type Run struct {
	Order int    `json:"order"`
	Block int    `json:"block"`
	Arm   string `json:"arm"`
	Code  string `json:"code"` // written on the bar; tells a judge nothing
}

// DrawRuns draws run order within blocks and blind codes by lot. Keep what it
// returns before the first cut: the test is only as good as this draw.
func (p Plan) DrawRuns(f Factor, r *rand.Rand) ([]Run, error) {
	if _, err := p.Reach(); err != nil {
		return nil, err
	}
	n := p.Blocks * (p.A + p.B)
	if n > MaxSamples {
		return nil, &unit.InputError{Field: "plan", Value: itoa(n) + " cuts", Reason: "are too many", Hint: "at most 10000"}
	}
	codes := r.Perm(n)
	var runs []Run
	for b := range p.Blocks {
		for _, k := range r.Perm(p.A + p.B) {
			arm := f.Baseline
			if k >= p.A {
				arm = f.Changed
			}
			runs = append(runs, Run{len(runs) + 1, b + 1, arm, fmt.Sprintf("T%04d", codes[len(runs)]+1)})
		}
	}
	return runs, nil
}

// PerArm is how many samples of each arm show a difference with 80 % chance at
// 5 %, two-sided: 2 (1.96+0.84)^2 (sd/diff)^2, and never fewer than 4. It is an
// estimate from the bell curve; small numbers need one or two more.
func PerArm(diff float64, s Spread) (int, bool) {
	z := distuv.UnitNormal.Quantile(.975) + distuv.UnitNormal.Quantile(.8)
	n := math.Ceil(2 * z * z * s.SD * s.SD / (diff * diff))
	if math.IsNaN(n) || n > 1e6 || diff == 0 {
		return 0, false
	}
	return max(4, int(n)), true
}

// Power is the chance of showing a difference that is really there.
type Power float64

// VotesNeeded is how many votes on one pair show, two-sided at 5 %, that a share p
// of people prefers one side: (1.96/2 + z sqrt(p q))^2 / (p - 1/2)^2.
// Valid: p other than one half, within 0 to 1; power 0.5 to 0.999.
func VotesNeeded(p float64, power Power) (int, bool) {
	if !(p > 0 && p < 1) || math.Abs(p-.5) < .001 || !(power >= .5 && power <= .999) {
		return 0, false
	}
	z := distuv.UnitNormal.Quantile(.975)/2 + distuv.UnitNormal.Quantile(float64(power))*math.Sqrt(p*(1-p))
	return int(math.Ceil(z * z / (p - .5) / (p - .5))), true
}
