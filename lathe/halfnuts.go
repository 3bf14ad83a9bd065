package lathe

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"thrum/unit"
)

// DialKind is the kind of rule that a threading dial follows for a thread.
type DialKind string

// The rules, from the easiest to the hardest.
const (
	DialAnywhere DialKind = "anywhere"  // every closing of the half nuts is right
	DialAnyLine  DialKind = "any line"  // every line of the dial
	DialLines    DialKind = "lines"     // lines some way apart
	DialSameLine DialKind = "same line" // the line of the first pass only
	DialNone     DialKind = "no line"   // no line is right every time
)

// DialRule tells where the half nuts may be closed again with one wheel of the
// threading dial.
type DialRule struct {
	Wheel  DialWheel
	Kind   DialKind
	Step   int     // lines between usable lines; 0 for DialAnywhere and DialNone
	Sets   [][]int // indexes of the lines that may be mixed with each other
	Period int     // every so many threads of the leadscrew the closing is right
	Turns  int     // for DialNone: the same line is right once in so many turns of the dial
	Text   string  // the rule in words, as engraved on this dial
}

// Rule returns the rule of one dial wheel for a thread of the given lead.
//
// The half nuts can close at any thread of the leadscrew, that is whenever the
// screw has moved under the carriage by a whole number k of its pitches p. The tool
// then falls into the old groove if that distance is a whole multiple of the lead P
// of the thread being cut:
//
//	k p = n P
//
// With p/P = a/b in lowest terms, every b-th thread of the screw is right. A wheel
// of T teeth turns the dial once in T threads. So line j of n, which stands for
// j T/n threads, is right if b divides j T/n, and all of it only if b divides T:
// else the same line is right on some turns of the dial and wrong on others.
//
// For an inexact train P is the lead really cut. Everything is exact, for inch and
// metric screws and threads of any number of starts.
func (w DialWheel) Rule(screw Leadscrew, lead unit.Ratio) (DialRule, error) {
	r := DialRule{Wheel: w}
	if lead.Sign() <= 0 || w.Teeth < 1 || len(w.Marks) < 1 {
		return r, &unit.InputError{Field: "lead", Value: lead.String(), Reason: "is not the lead of a thread", Hint: "leads are positive"}
	}
	q, err := screw.Pitch().Quo(lead)
	if err != nil {
		return r, err
	}
	b, n, t := q.Den(), int64(len(w.Marks)), int64(w.Teeth)
	r.Period = int(b)
	switch {
	case b == 1:
		r.Kind = DialAnywhere
		r.Text = "Close the half nuts anywhere; the dial is not needed."
		return r, nil
	case t%b != 0:
		r.Kind, r.Turns = DialNone, int(b/gcd(b, t))
		return r, nil
	}
	step := b * n / gcd(b*n, t)
	r.Step = int(step)
	switch step {
	case n: // also on a dial with a single line
		r.Kind = DialSameLine
	case 1:
		r.Kind = DialAnyLine
	default:
		r.Kind = DialLines
	}
	for first := int64(0); first < step; first++ {
		if first*t%n != 0 {
			continue // between two threads of the screw: the nuts cannot close on this line
		}
		var set []int
		for j := first; j < n; j += step {
			set = append(set, int(j))
		}
		r.Sets = append(r.Sets, set)
	}
	r.Text = r.words()
	return r, nil
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// LineName names a line as a machinist would point at it: by its number, or as
// the plain line after the numbered one before it.
func (w DialWheel) LineName(i int) string {
	if w.Marks[i] != "" {
		return w.Marks[i]
	}
	n := len(w.Marks)
	for back := 1; back < n; back++ {
		if m := w.Marks[(i-back+n)%n]; m != "" {
			if back == 1 {
				return "the plain line after " + m
			}
			return fmt.Sprintf("plain line %d after %s", back, m)
		}
	}
	if n == 1 {
		return "the line"
	}
	return fmt.Sprintf("plain line %d", i+1)
}

// words says which lines may be used.
func (r DialRule) words() string {
	w := r.Wheel
	plain, numbered := 0, 0
	for _, m := range w.Marks {
		if m == "" {
			plain++
		} else {
			numbered++
		}
	}
	switch r.Kind {
	case DialAnyLine:
		if plain > 0 && numbered > 0 {
			return "Any line, numbered or plain."
		}
		return "Any line."
	case DialSameLine:
		return "The same line only: the one you closed on for the first pass."
	}
	if r.isNumbered(numbered) {
		return "Any numbered line."
	}
	var sets []string
	plainSets := false
	for _, set := range r.Sets {
		if slices.ContainsFunc(set, func(j int) bool { return w.Marks[j] != "" }) {
			sets = append(sets, r.names(set))
		} else {
			plainSets = true
		}
	}
	apart := fmt.Sprintf("%d lines apart", r.Step)
	if r.Step*2 == len(w.Marks) {
		apart = "opposite each other"
	}
	switch {
	case len(sets) == 1 && !plainSets:
		return "Only " + sets[0] + "."
	case len(sets) == 0 || len(sets) > 4: // too many to list
		sets = []string{"lines " + apart}
	case plainSets:
		sets = append(sets, "plain lines "+apart)
	}
	return upper(strings.Join(sets, "; or ")) + ". Keep to the lines that go with the one you closed on for the first pass."
}

// isNumbered reports whether one of the sets is exactly the numbered lines.
func (r DialRule) isNumbered(numbered int) bool {
	return slices.ContainsFunc(r.Sets, func(set []int) bool {
		return len(set) == numbered && !slices.ContainsFunc(set, func(j int) bool { return r.Wheel.Marks[j] == "" })
	})
}

func (r DialRule) names(set []int) string {
	var named, plain []string
	for _, j := range set {
		if r.Wheel.Marks[j] != "" {
			named = append(named, r.Wheel.Marks[j])
		} else {
			plain = append(plain, r.Wheel.LineName(j))
		}
	}
	if len(named) == 1 {
		named[0] = "line " + named[0]
	} else if len(named) > 1 {
		named[0] = "lines " + named[0]
	}
	all := append(named, plain...)
	if len(all) == 1 {
		return all[0]
	}
	return strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// Rules returns the rule of every wheel of the threading dial for a lead, the one
// with the most chances to close first. Without a dial, or with half nuts that never
// open, there is none. Where no line will do, the text gives the ways that are left
// on this lathe.
func (l *Lathe) Rules(lead unit.Ratio) ([]DialRule, error) {
	var rules []DialRule
	if l.Leadscrew.Electronic {
		return nil, nil
	}
	for _, w := range l.DialWheels {
		r, err := w.Rule(l.Leadscrew, lead)
		if err != nil {
			return nil, err
		}
		if r.Kind == DialNone {
			r.Text = l.noLine(r)
		}
		rules = append(rules, r)
	}
	slices.SortStableFunc(rules, func(a, b DialRule) int {
		return cmp.Or(cmp.Compare(slices.Index(dialOrder, a.Kind), slices.Index(dialOrder, b.Kind)), cmp.Compare(b.chances(), a.chances()))
	})
	return rules, nil
}

var dialOrder = []DialKind{DialAnywhere, DialAnyLine, DialLines, DialSameLine, DialNone}

// chances is how often the half nuts may be closed, per thread of the screw.
func (r DialRule) chances() float64 {
	if len(r.Sets) == 0 {
		return 0
	}
	return float64(len(r.Sets[0])) / float64(r.Wheel.Teeth)
}

// noLine words what is left when no line is right every time.
func (l *Lathe) noLine(r DialRule) string {
	s := fmt.Sprintf("No line: the same line is right only once in %d turns of the dial. ", r.Turns)
	if ok, why := l.CanReverse(); !ok {
		return s + "Keep the half nuts closed until the thread is finished. " + why
	}
	return s + "Keep the half nuts closed until the thread is finished, and reverse the spindle to go back; " +
		"or open them at the end of the pass without moving the carriage, stop, reverse, and close on the SAME line as it first comes round " +
		"(that holds if the dial has made less than one turn since you opened)."
}

// DialStarts returns, for each line of the dial, which start of a multi-start
// thread the tool meets when the half nuts are closed on it, counting the start cut
// on line 0 as 0; -1 where a line falls between two starts or between two threads
// of the screw. All are -1 when the same line does not always meet the same start.
// Line j of n stands for x = j T/n pitches of the screw, and
//
//	start = frac(x p / lead) x starts
func (w DialWheel) DialStarts(screw Leadscrew, lead unit.Ratio, starts int) []int {
	found := make([]int, len(w.Marks))
	for j := range found {
		found[j] = -1
	}
	r, err := w.Rule(screw, lead)
	if err != nil || starts < 1 || r.Kind == DialNone {
		return found
	}
	q, err := screw.Pitch().Quo(lead)
	if err != nil {
		return found
	}
	n := len(w.Marks)
	for j := range found {
		if j*w.Teeth%n != 0 {
			continue
		}
		x := unit.Whole(int64(j * w.Teeth / n * starts))
		if at, err := q.Mul(x); err == nil && at.IsWhole() {
			found[j] = int(at.Num() % int64(starts))
		}
	}
	return found
}
