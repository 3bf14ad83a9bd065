package trial

import (
	"fmt"
	"math/rand/v2"
	"strings"

	"thrum/unit"
)

// Kind is a way of laying out the cuts of a comparison of two arms.
type Kind string

// The kinds. All but the return share one test: the order is drawn by lot within
// each pair, bar or group, and the scores are dealt out again within the same.
const (
	KindPairs  Kind = "pairs"  // bar by bar: one of each arm, the order of the two tossed for
	KindGroups Kind = "groups" // two groups of bars in one drawn order
	KindBars   Kind = "bars"   // several threads on each bar, arms drawn along it
	KindReturn Kind = "return" // A-B-A: baseline, changed, baseline again
	KindTable  Kind = "table"  // of a table that was not planned here; nothing is drawn for it
)

// Kinds lists them in the order in which they are offered.
func Kinds() []Kind { return []Kind{KindPairs, KindGroups, KindBars, KindReturn} }

// Words says what a kind is.
func (k Kind) Words() string {
	switch k {
	case KindPairs:
		return "Pairs: two bars cut one after the other, one of each arm; which comes first is drawn"
	case KindGroups:
		return "Two groups: all bars in one drawn order"
	case KindBars:
		return "Several threads on each bar: the places along the bar are drawn"
	case KindReturn:
		return "There and back: baseline, changed, baseline again"
	}
	return string(k)
}

// Block names what holds the cuts that are compared with each other; empty when
// there is but one group.
func (k Kind) Block() string {
	switch k {
	case KindPairs:
		return "pair"
	case KindBars:
		return "bar"
	}
	return ""
}

// Design is how a trial is laid out.
//
//	pairs   Blocks pairs
//	groups  A cuts of the baseline, B of the changed arm
//	bars    Blocks bars with A and B threads on each
//	return  A cuts of the baseline, B changed, A of the baseline again
type Design struct {
	Kind   Kind `json:"kind"`
	Blocks int  `json:"blocks"`
	A      int  `json:"baseline"`
	B      int  `json:"changed"`
}

// mostCuts bounds a trial that somebody means to cut by hand.
const mostCuts = 400

// Check reports a design that cannot be cut.
func (d Design) Check() error {
	fault := func(field string, v int, hint string) error {
		return &unit.InputError{Field: field, Value: itoa(v), Reason: "is not a number that can be cut", Hint: hint}
	}
	switch d.Kind {
	case KindPairs, KindBars:
		if d.Blocks < 1 || d.Blocks > 100 {
			return fault(d.Kind.Block()+"s", d.Blocks, "1 to 100")
		}
	case KindGroups, KindReturn:
	default:
		return &unit.InputError{Field: "design", Value: string(d.Kind), Reason: "is not known", Hint: "pairs, groups, bars or return"}
	}
	if d.Kind != KindPairs && (d.A < 1 || d.A > 100) {
		return fault("cuts of the baseline", d.A, "1 to 100")
	}
	if d.Kind != KindPairs && (d.B < 1 || d.B > 100) {
		return fault("cuts of the changed arm", d.B, "1 to 100")
	}
	if n := d.Cuts(); n > mostCuts {
		return fault("cuts", n, fmt.Sprintf("at most %d", mostCuts))
	}
	return nil
}

// Plan is the design as numbers of samples.
func (d Design) Plan() Plan {
	switch d.Kind {
	case KindPairs:
		return Pairs(d.Blocks)
	case KindBars:
		return Plan{d.Blocks, d.A, d.B}
	case KindReturn:
		return TwoGroups(2*d.A, d.B)
	}
	return TwoGroups(d.A, d.B)
}

// Cuts is how many threads the design asks for.
func (d Design) Cuts() int {
	p := d.Plan()
	return p.Blocks * (p.A + p.B)
}

// Drawn reports whether the order is drawn by lot; in a return it is fixed.
func (d Design) Drawn() bool { return d.Kind != KindReturn }

// Words describes the design on one line.
func (d Design) Words(f Factor) string {
	switch d.Kind {
	case KindPairs:
		return fmt.Sprintf("%d pairs, %d cuts", d.Blocks, d.Cuts())
	case KindBars:
		return fmt.Sprintf("%d bars, on each %d with %s and %d with %s, %d cuts", d.Blocks, d.A, f.Baseline, d.B, f.Changed, d.Cuts())
	case KindTable:
		return fmt.Sprintf("a table of %d samples", d.A+d.B)
	case KindReturn:
		return fmt.Sprintf("%s %d, %s %d, %s %d again, %d cuts", f.Baseline, d.A, f.Changed, d.B, f.Baseline, d.A, d.Cuts())
	}
	return fmt.Sprintf("%d with %s and %d with %s, %d cuts", d.A, f.Baseline, d.B, f.Changed, d.Cuts())
}

// Reach is the best that the design can show. A return is not dealt out by lot: it
// shows whether the baseline comes back, and no p.
func (d Design) Reach() (Reach, error) {
	if err := d.Check(); err != nil {
		return Reach{}, err
	}
	r, err := d.Plan().Reach()
	if d.Kind == KindReturn {
		r.Can = false
		r.Words = "the order is fixed, so luck cannot be worked out; it shows cheaply whether the baseline comes back, that is whether something drifted"
	}
	return r, err
}

// drawStream is the second word of the seed of every draw.
const drawStream = 0x7468726561640a

// Draw draws run order and codes from a seed. The same seed gives the same draw, so
// that anybody can draw it again; keep seed and runs before the first cut.
func (d Design) Draw(f Factor, seed uint64) ([]Run, error) {
	if err := d.Check(); err != nil {
		return nil, err
	}
	if err := f.check(); err != nil {
		return nil, err
	}
	r := rand.New(rand.NewPCG(seed, drawStream))
	if d.Kind != KindReturn {
		return d.Plan().DrawRuns(f, r)
	}
	codes := r.Perm(d.Cuts())
	var runs []Run
	for _, part := range []struct {
		arm string
		n   int
	}{{f.Baseline, d.A}, {f.Changed, d.B}, {f.Baseline, d.A}} {
		for range part.n {
			runs = append(runs, Run{len(runs) + 1, 1, part.arm, fmt.Sprintf("T%04d", codes[len(runs)]+1)})
		}
	}
	return runs, nil
}

// mostWord is the longest name of a factor or an arm, in bytes.
const mostWord = 80

func (f Factor) check() error {
	for _, c := range []struct{ field, value string }{{"factor", f.Name}, {"baseline", f.Baseline}, {"changed arm", f.Changed}} {
		switch v := strings.TrimSpace(c.value); {
		case v == "":
			return &unit.InputError{Field: c.field, Reason: "is missing", Hint: "name what is changed and its two states: support, no centre, centre"}
		case v != c.value || len(v) > mostWord || strings.ContainsFunc(v, func(r rune) bool { return r < ' ' }):
			return &unit.InputError{Field: c.field, Value: c.value, Reason: "is not a short name", Hint: fmt.Sprintf("at most %d letters on one line", mostWord)}
		}
	}
	if strings.EqualFold(f.Baseline, f.Changed) {
		return &unit.InputError{Field: "changed arm", Value: f.Changed, Reason: "is the baseline too", Hint: "name two different arms"}
	}
	return nil
}

// Offer is one design with what it can reach, for choosing before anything is cut.
type Offer struct {
	Design Design
	Reach  Reach
}

// Offers lists designs that a hand can cut in a day or a weekend, smallest first.
func Offers() []Offer {
	var out []Offer
	for _, d := range []Design{
		{KindReturn, 1, 1, 1},
		{KindGroups, 1, 2, 2},
		{KindGroups, 1, 3, 3},
		{KindGroups, 1, 4, 4},
		{KindPairs, 4, 1, 1},
		{KindPairs, 5, 1, 1},
		{KindPairs, 6, 1, 1},
		{KindPairs, 8, 1, 1},
		{KindBars, 2, 2, 2},
		{KindBars, 3, 2, 2},
		{KindBars, 4, 2, 2},
	} {
		if r, err := d.Reach(); err == nil {
			out = append(out, Offer{d, r})
		}
	}
	return out
}
