package render

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"thrum/trial"
)

// Finding writes what a trial shows: every sample as a dot, what changed and what
// was held, and three answers that are never merged.
func Finding(w io.Writer, f *trial.Finding, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold}
	if f.Question != "" {
		t.line("%s", t.strong(f.Question))
	}
	t.line("%s  %s against %s: %d and %d samples%s", t.strong("trial"), f.Factor.Changed, f.Factor.Baseline, f.NB, f.NA, blockWords(f))
	t.line("")
	t.dots(f)
	t.line("")
	t.line("%s", t.strong("what changed, what was held"))
	for _, c := range f.Conditions {
		t.line("  %-22s %-20s %s / %s", c.Name, c.Status, some(c.Baseline), some(c.Changed))
		if c.Warning != "" {
			t.item("    ·", c.Warning)
		}
	}
	if len(f.Conditions) == 1 {
		t.item("    ·", "nothing else was written down, so nothing else is known to have been held")
	}
	t.line("")
	t.fact("seen", f.Seen.Words)
	t.fact("measured", f.Measured.Words)
	if m := f.Measured; m.Test.Counted > 0 {
		t.item("  ·", pWords(m.Test))
		t.item("  ·", fmt.Sprintf("middle shift (Hodges-Lehmann) %.4g", m.Test.Shift))
		if m.Bell != nil {
			t.item("  ·", fmt.Sprintf("under a bell curve: t = %.3g, p = %.2g, %.4g to %.4g", m.Bell.T, m.Bell.P, m.Bell.Interval.Low, m.Bell.Interval.High))
		}
		if m.Smallest != nil {
			t.item("  ·", fmt.Sprintf("one bar against one stands out from %.4g on", *m.Smallest))
		}
	}
	if f.Measured.Undersize.Words != "" {
		t.fact("size", f.Measured.Undersize.Words)
	}
	t.fact("caused", f.Caused.Words+" ["+string(f.Caused.Level)+"]")
	if f.Caused.Settle != "" {
		t.fact("to settle it", f.Caused.Settle)
	}
	t.line("")
	t.item("  ·", "this plan: "+f.Reach.Words)
	for _, n := range f.Notes {
		t.item("  ·", n)
	}
	return t.w.Flush()
}

func blockWords(f *trial.Finding) string {
	switch {
	case f.Pairs:
		return fmt.Sprintf(", %d pairs", f.Blocks)
	case f.Blocks > 1:
		return fmt.Sprintf(", %d blocks", f.Blocks)
	}
	return ""
}

func pWords(x trial.Test) string {
	if x.Exact {
		return fmt.Sprintf("dealt out again in all %d ways, %d are as far from nought: p = %.3g", x.Counted, x.Extreme, x.P)
	}
	return fmt.Sprintf("dealt out again in %d ways, %d are as far from nought: p = %.3g (standard error %.2g)", x.Counted, x.Extreme, x.P, x.Error)
}

func some(vs []string) string {
	if len(vs) == 0 {
		return "-"
	}
	return strings.Join(vs, ", ")
}

// dotWidth is how many columns the scores are spread over.
const dotWidth = 56

// dots draws the scores of both arms on one scale; a figure stands for as many
// samples at one place.
func (t *text) dots(f *trial.Finding) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range f.Samples {
		lo, hi = min(lo, s.Score), max(hi, s.Score)
	}
	span := hi - lo
	if span == 0 {
		span = 1
	}
	for _, arm := range []string{f.Factor.Baseline, f.Factor.Changed} {
		var n [dotWidth]int
		for _, s := range f.Samples {
			if s.Arm == arm {
				n[int((s.Score-lo)/span*(dotWidth-1)+.5)]++
			}
		}
		var b strings.Builder
		for _, k := range n {
			switch {
			case k == 0:
				b.WriteByte(' ')
			case k == 1:
				b.WriteRune('●')
			case k < 10:
				fmt.Fprint(&b, k)
			default:
				b.WriteByte('#')
			}
		}
		t.line("  %-14.14s |%s|", arm, b.String())
	}
	left, right := fmt.Sprintf("%.4g", lo), fmt.Sprintf("%.4g", hi)
	t.line("  %-14s  %s%s%s  %s", "", left, strings.Repeat(" ", max(1, dotWidth-len(left)-len(right))), right, f.ScoreIs)
}
