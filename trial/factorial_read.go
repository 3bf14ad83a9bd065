package trial

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strings"

	"thrum/unit"
)

// Standing is how far an effect of a factorial stands out of the others.
type Standing string

// The standings, by Lenth's yardstick.
const (
	StandsOut Standing = "stands out"
	Perhaps   Standing = "perhaps"
	InNoise   Standing = "cannot be told from noise"
	Unjudged  Standing = "no yardstick" // there are too few effects for one
)

// Effect is what a factor, or several together, do to the score.
type Effect struct {
	Word     string   `json:"effect"`  // A, AB: the shortest name of it
	Names    []string `json:"factors"` // of its letters
	Size     float64  `json:"size"`    // mean of the score where the product of the levels is high, less the mean where it is low
	From     []string `json:"cannot_be_told_from,omitempty"`
	Standing Standing `json:"standing"`
	Words    string   `json:"words"`
}

// Effects is what a factorial showed, the largest effect first.
type Effects struct {
	Runs    int      `json:"runs"`
	Mean    float64  `json:"mean"`
	Effects []Effect `json:"effects"`
	Margin  float64  `json:"margin,omitempty"`        // Lenth's ME: one effect within it either way is noise
	All     float64  `json:"margin_of_all,omitempty"` // SME: with so many effects looked at
	Words   string   `json:"words"`
}

// fewestJudged is the number of runs below which Lenth's yardstick is so coarse that
// hardly anything can exceed it.
const fewestJudged = 8

// Read works out the effects from one result a run, in the order in which the runs
// were drawn. Lenth's yardstick takes most effects to be nothing but noise; where
// they are not, it is too long and too little stands out.
// Source: Box, Hunter and Hunter, Statistics for Experimenters; Lenth, Technometrics 31 (1989) 469.
func (f Factorial) Read(runs []Combination, results []float64) (*Effects, error) {
	n := 1 << f.Basic
	if len(runs) != n || len(results) != n {
		return nil, &unit.InputError{Field: "results", Value: itoa(len(results)), Reason: fmt.Sprintf("are not one for each of the %d runs", n), Hint: "in the order of the runs"}
	}
	if err := checkScores(results); err != nil {
		return nil, err
	}
	y := make([]float64, n)
	for i, r := range runs {
		if r.Standard < 1 || r.Standard > n {
			return nil, &unit.InputError{Field: "run", Value: itoa(r.Standard), Reason: "is not of this plan", Hint: "1 to " + itoa(n)}
		}
		y[r.Standard-1] = results[i]
	}
	sizes, err := yates(y)
	if err != nil {
		return nil, err
	}
	out := &Effects{Runs: n, Mean: sizes[0]}
	group, err := f.group()
	if err != nil {
		return nil, err
	}
	snap(sizes)
	for w := Word(1); w < Word(n); w++ {
		out.Effects = append(out.Effects, f.effect(w, sizes[w], group))
	}
	if l, ok := LenthOf(sizes[1:]); ok {
		out.Margin, out.All = l.ME, l.SME
	}
	for i := range out.Effects {
		out.Effects[i].judge(out.Margin, out.All)
	}
	slices.SortStableFunc(out.Effects, func(a, b Effect) int { return cmp.Compare(math.Abs(b.Size), math.Abs(a.Size)) })
	out.Words = out.wording()
	return out, nil
}

// snap takes what is only rounding for nothing.
func snap(sizes []float64) {
	most := 0.0
	for _, s := range sizes {
		most = max(most, math.Abs(s))
	}
	for i, s := range sizes {
		if math.Abs(s) < 1e-12*most {
			sizes[i] = 0
		}
	}
}

// mostScore keeps sums of scores finite.
const mostScore = 1e12

func checkScores(results []float64) error {
	for _, y := range results {
		if math.IsNaN(y) || math.Abs(y) > mostScore {
			return &unit.InputError{Field: "result", Value: fmt.Sprint(y), Reason: "is not a score", Hint: "one number for each cut"}
		}
	}
	return nil
}

func (f Factorial) group() ([]Word, error) {
	var defining []Word
	for i, w := range f.set {
		defining = append(defining, w|1<<(f.Basic+i))
	}
	return DefiningGroup(defining...)
}

// effect names what was measured by the shortest of the effects that it may be.
func (f Factorial) effect(w Word, size float64, group []Word) Effect {
	all := append([]Word{w}, Aliases(w, group)...)
	slices.SortFunc(all, func(a, b Word) int {
		return cmp.Or(cmp.Compare(bits.OnesCount32(uint32(a)), bits.OnesCount32(uint32(b))), cmp.Compare(a, b))
	})
	e := Effect{Word: all[0].String(), Size: size}
	for i, name := range f.Names {
		if all[0]>>i&1 == 1 {
			e.Names = append(e.Names, name)
		}
	}
	for _, o := range all[1:] {
		e.From = append(e.From, o.String())
	}
	return e
}

func (e *Effect) judge(one, all float64) {
	switch a := math.Abs(e.Size); {
	case one == 0:
		e.Standing = Unjudged
	case a > all:
		e.Standing = StandsOut
	case a > one:
		e.Standing = Perhaps
	default:
		e.Standing = InNoise
	}
	way := "raises"
	if e.Size < 0 {
		way = "lowers"
	}
	if len(e.Names) == 1 {
		e.Words = fmt.Sprintf("%s at its high level %s the score by %.3g", e.Names[0], way, math.Abs(e.Size))
		return
	}
	e.Words = fmt.Sprintf("%s together: what one does depends on the other, by %.3g either way", strings.Join(e.Names, " and "), math.Abs(e.Size))
	if len(e.Names) > 2 {
		e.Words = fmt.Sprintf("%s together, by %.3g", strings.Join(e.Names, ", "), math.Abs(e.Size))
	}
}

func (x *Effects) wording() string {
	var out, perhaps []string
	for _, e := range x.Effects {
		switch e.Standing {
		case StandsOut:
			out = append(out, e.Words)
		case Perhaps:
			perhaps = append(perhaps, e.Words)
		}
	}
	var s []string
	if len(out) > 0 {
		s = append(s, "Beyond what chance makes among so many effects: "+strings.Join(out, "; ")+".")
	}
	if len(perhaps) > 0 {
		s = append(s, "Perhaps, and worth a trial of its own: "+strings.Join(perhaps, "; ")+".")
	}
	switch {
	case x.Margin == 0:
		s = append(s, "With so few runs, or results so alike, there is nothing to tell an effect from noise by. Cut the plan again, or more factors in combination.")
	case len(s) == 0:
		s = append(s, fmt.Sprintf("No effect can be told from noise: one alone would have to exceed %.3g.", x.Margin))
	}
	if x.Margin > 0 && x.Runs < fewestJudged {
		s = append(s, "Four runs give so coarse a yardstick that hardly anything can exceed it; eight are the least that tell something.")
	}
	return strings.Join(s, " ")
}
