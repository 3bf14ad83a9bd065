package trial

import (
	"math"
	"math/bits"
	"slices"
	"strings"

	"thrum/unit"
)

// Word is a set of factors, bit 0 for A: the effect ABD is 1|2|8.
type Word uint32

// String writes the word in letters, I for the empty one.
func (w Word) String() string {
	if w == 0 {
		return "I"
	}
	var b strings.Builder
	for i := range 26 {
		if w>>i&1 == 1 {
			b.WriteByte(byte('A' + i))
		}
	}
	return b.String()
}

// ParseWord reads letters A to P.
func ParseWord(s string) (Word, error) {
	var w Word
	for _, r := range s {
		if r < 'A' || r > 'P' || w>>(r-'A')&1 == 1 {
			return 0, &unit.InputError{Field: "effect", Value: s, Reason: "is not a set of factors", Hint: "letters A to P, each once, such as ABD"}
		}
		w |= 1 << (r - 'A')
	}
	return w, nil
}

// DefiningGroup lists every product of the generating words, such as ABD and ACE
// to I, ABD, ACE, BCDE; the shortest gives the resolution. Valid: at most 10 words.
func DefiningGroup(words ...Word) ([]Word, error) {
	if len(words) > 10 {
		return nil, &unit.InputError{Field: "generators", Value: itoa(len(words)), Reason: "are too many", Hint: "at most 10"}
	}
	group := []Word{0}
	for _, w := range words {
		if slices.Contains(group, w) {
			return nil, &unit.InputError{Field: "generator", Value: w.String(), Reason: "follows from the others", Hint: "leave it out"}
		}
		for _, g := range slices.Clone(group) {
			group = append(group, g^w)
		}
	}
	return group, nil
}

// Resolution is the length of the shortest word of a group; 0 for a full factorial.
func Resolution(group []Word) int {
	best := 0
	for _, g := range group {
		if n := bits.OnesCount32(uint32(g)); n > 0 && (best == 0 || n < best) {
			best = n
		}
	}
	return best
}

// Aliases lists the effects that cannot be told from e.
func Aliases(e Word, group []Word) []Word {
	var out []Word
	for _, g := range group {
		if g != 0 {
			out = append(out, e^g)
		}
	}
	return out
}

// yates gives every effect of a full two-level factorial from its results in
// standard order (A changes fastest); index 0 is the mean. effects[w] belongs to Word(w).
// Valid: 2 to 65536 results, a power of two.
// Source: Yates, The Design and Analysis of Factorial Experiments, 1937.
func yates(y []float64) ([]float64, error) {
	n := len(y)
	if n < 2 || n > 1<<16 || n&(n-1) != 0 {
		return nil, &unit.InputError{Field: "results", Value: itoa(n), Reason: "is not the number of runs of a full two-level factorial", Hint: "2, 4, 8, 16 ..."}
	}
	e := slices.Clone(y)
	for step := 1; step < n; step *= 2 {
		for i := range e {
			if i&step == 0 {
				lo, hi := e[i], e[i|step]
				e[i], e[i|step] = lo+hi, hi-lo
			}
		}
	}
	for i := range e {
		e[i] /= float64(n) / 2
	}
	e[0] /= 2
	return e, nil
}

// Lenth is the yardstick for effects of a factorial without repeats.
type Lenth struct{ S0, PSE, ME, SME float64 }

// LenthOf works it out from effects (without the mean); an effect within ME either
// way cannot be told from noise, one beyond SME stands out among all of them.
// Source: Lenth, Technometrics 31 (1989) 469.
func LenthOf(effects []float64) (Lenth, bool) {
	if len(effects) < 3 {
		return Lenth{}, false
	}
	var abs, small []float64
	for _, e := range effects {
		abs = append(abs, math.Abs(e))
	}
	l := Lenth{S0: 1.5 * median(abs)}
	for _, a := range abs {
		if a < 2.5*l.S0 {
			small = append(small, a)
		}
	}
	m := float64(len(effects))
	l.PSE = 1.5 * median(small)
	l.ME = tQuantile(.975, m/3) * l.PSE
	l.SME = tQuantile((1+math.Pow(.95, 1/m))/2, m/3) * l.PSE
	return l, true
}
