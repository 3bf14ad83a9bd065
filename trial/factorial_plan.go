package trial

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
	"strings"

	"thrum/unit"
)

// Factorial is a plan in which several factors, each at two levels, are cut in
// combination: all of them, or a fraction in which the last factors are set by
// products of the others. What a fraction saves in cuts it pays in effects that
// cannot be told apart; they are listed.
type Factorial struct {
	Names      []string  `json:"factors"` // A, B, C ... in this order
	Basic      int       `json:"basic"`   // how many are varied freely
	Group      []string  `json:"defining_group,omitempty"`
	Resolution int       `json:"resolution,omitempty"` // 0 for the full one
	Aliases    []Aliased `json:"aliases,omitempty"`

	set []Word // of each factor beyond the basic ones: the product that sets it
}

// UsualWords lists the usual plans for so many factors, the largest first: the words that
// set the last factors, empty for all combinations where these can still be cut.
// Source: Box, Hunter and Hunter, Statistics for Experimenters, table of two-level
// fractional factorials; Montgomery, Design and Analysis of Experiments (from memory).
func UsualWords(factors int) []string {
	switch factors {
	case 2:
		return []string{""}
	case 3:
		return []string{"", "C=AB"}
	case 4:
		return []string{"", "D=ABC"}
	case 5:
		return []string{"", "E=ABCD", "D=AB,E=AC"}
	case 6:
		return []string{"E=ABC,F=BCD", "D=AB,E=AC,F=BC"}
	case 7:
		return []string{"E=ABC,F=BCD,G=ACD", "D=AB,E=AC,F=BC,G=ABC"}
	case 8:
		return []string{"E=BCD,F=ACD,G=ABC,H=ABD"}
	}
	return nil
}

// Aliased is an effect with those that cannot be told from it.
type Aliased struct {
	Effect string   `json:"effect"`
	From   []string `json:"cannot_be_told_from"`
}

// Combination is one run of a factorial.
type Combination struct {
	Standard int    `json:"standard_order"` // place in standard order, from 1; results in this order go to Effects
	High     []bool `json:"high"`           // level of each factor
}

const (
	mostFactors = 8
	shownOrder  = 2 // aliases of main effects and of interactions of two are listed
)

// NewFactorial plans it. words set factors by products of earlier ones: D=ABC.
// Valid: 2 to 8 factors; each word sets one of the last factors, in order.
func NewFactorial(names, words []string) (Factorial, error) {
	f := Factorial{Names: names, Basic: len(names) - len(words)}
	if len(names) < 2 || len(names) > mostFactors || f.Basic < 2 {
		return f, &unit.InputError{Field: "factors", Value: strings.Join(names, ","), Reason: "are not a number that can be cut in combination", Hint: "2 to 8 factors, at least two of them free"}
	}
	var defining []Word
	for i, text := range words {
		letter := string(rune('A' + f.Basic + i))
		left, right, ok := strings.Cut(strings.ReplaceAll(strings.ToUpper(text), " ", ""), "=")
		w, err := ParseWord(right)
		if !ok || left != letter || err != nil || bits.OnesCount32(uint32(w)) < 2 || w>>f.Basic != 0 {
			return f, &unit.InputError{Field: "word", Value: text, Reason: "does not set " + letter + " by free factors", Hint: fmt.Sprintf("write it like %s=AB, with letters A to %c", letter, 'A'+f.Basic-1)}
		}
		f.set = append(f.set, w)
		defining = append(defining, w|1<<(f.Basic+i))
	}
	group, err := DefiningGroup(defining...)
	if err != nil {
		return f, err
	}
	f.Resolution = Resolution(group)
	if f.Resolution == 2 {
		return f, &unit.InputError{Field: "word", Value: strings.Join(words, ", "), Reason: "would always change two factors together", Hint: "set each by other letters, such as D=AB,E=AC"}
	}
	for _, g := range group[1:] {
		f.Group = append(f.Group, g.String())
	}
	if len(group) > 1 {
		f.aliases(group)
	}
	return f, nil
}

// aliases lists what main effects and interactions of two cannot be told from.
func (f *Factorial) aliases(group []Word) {
	seen := map[Word]bool{}
	for order := 1; order <= shownOrder; order++ {
		for e := Word(1); e < 1<<len(f.Names); e++ {
			if bits.OnesCount32(uint32(e)) != order || seen[e] {
				continue
			}
			a := Aliased{Effect: e.String()}
			for _, o := range Aliases(e, group) {
				a.From = append(a.From, o.String())
				seen[o] = true
			}
			f.Aliases = append(f.Aliases, a)
		}
	}
}

// Draw lists the runs in an order drawn by lot from a seed.
func (f Factorial) Draw(seed uint64) []Combination {
	n := 1 << f.Basic
	runs := make([]Combination, n)
	for i, k := range rand.New(rand.NewPCG(seed, drawStream)).Perm(n) {
		c := Combination{Standard: k + 1}
		for b := range f.Basic {
			c.High = append(c.High, k>>b&1 == 1)
		}
		for _, w := range f.set {
			low := (bits.OnesCount32(uint32(w))-bits.OnesCount32(uint32(k)&uint32(w)))%2 == 1
			c.High = append(c.High, !low) // the product of the signs of the letters
		}
		runs[i] = c
	}
	return runs
}
