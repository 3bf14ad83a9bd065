package render

import (
	"bufio"
	"fmt"
	"io"
	"math"

	"thrum/cause"
)

// reasonsShown is how many reasons for and against a cause are listed.
const reasonsShown = 3

// Cause writes what made the marks, how sure that is, and what would settle it.
func Cause(w io.Writer, f *cause.Finding, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold}
	t.line("%s  %s", t.strong("cause"), f.Sentence)
	if f.Because != "" {
		t.item("  ·", f.Because)
	}
	if f.Speeds != nil {
		t.item("  ·", f.Speeds.Sentence)
	}
	for _, c := range f.Causes {
		if c.Probability < 0.02 {
			continue
		}
		t.line("%5.0f %%  %s", 100*c.Probability, c.Words)
		if c.Probability < 0.1 {
			continue
		}
		for _, r := range c.For[:min(len(c.For), reasonsShown)] {
			t.item("       for", r.Text)
		}
		for _, r := range c.Against[:min(len(c.Against), reasonsShown)] {
			t.item("       against", r.Text)
		}
	}
	if f.Told && len(f.Causes) > 0 {
		t.line("%s", t.strong("what helps then"))
		t.item("  ·", f.Causes[0].Remedy)
	}
	if s := f.Test; s != nil {
		t.line("%s", t.strong(fmt.Sprintf("to be surer (about %.0f minutes)", math.Ceil(s.Minutes))))
		t.item("  ·", s.Do)
		for i, k := range s.Between {
			t.item("    ", fmt.Sprintf("if it is %s: %s", k.Words(), s.Expect[i]))
		}
		t.item("  !", s.Caution)
	}
	for _, n := range f.Notes {
		t.item("  ·", n)
	}
	return t.w.Flush()
}
