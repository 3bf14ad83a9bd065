package render

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"thrum/trial"
)

// FindingSummary writes a finding as plain text to stand under a video: short
// paragraphs without a fixed width, no marks but words, and what it cannot say as
// prominent as what it can.
func FindingSummary(w io.Writer, r *trial.Report) error {
	b := bufio.NewWriter(w)
	s := r.Settled
	p := func(format string, args ...any) { fmt.Fprintf(b, format+"\n", args...) }
	p("%s", s.Question)
	p("")
	p("What was done: %s. One thing was changed on purpose: %s (%s against %s). %s", s.Design.Words(s.Factor), s.Factor.Name, s.Factor.Changed, s.Factor.Baseline, drawnWords(s))
	if r.Finding == nil {
		p("")
		p("%s", r.Waiting)
		return b.Flush()
	}
	f := r.Finding
	for _, a := range Answers(r) {
		p("")
		p("%s: %s", strings.ToUpper(a.Name[:1])+a.Name[1:], a.Words)
	}
	if f.Caused.Settle != "" {
		p("")
		p("What would settle it: %s.", f.Caused.Settle)
	}
	p("")
	p("What changed and what was held:")
	for _, status := range []trial.Status{trial.OnPurpose, trial.Together, trial.Drifted, trial.Held, trial.Unknown} {
		var names []string
		for _, c := range f.Conditions {
			if c.Status == status {
				names = append(names, c.Name)
			}
		}
		if len(names) > 0 {
			p("%s: %s", status, strings.Join(names, ", "))
		}
	}
	p("")
	p("%s by sample, in the order they were cut:", upperFirst(f.ScoreIs))
	for _, row := range SampleRows(r) {
		switch {
		case row.LeftOut != "":
			p("%s %s: left out, %s", row.Code, row.Arm, row.LeftOut)
		case row.Score != "" && row.Beyond != "":
			p("%s %s: %s; %s %s beyond its limit of size", row.Code, row.Arm, row.Score, row.Beyond, r.SmallUnit())
		case row.Score != "":
			p("%s %s: %s", row.Code, row.Arm, row.Score)
		}
	}
	p("")
	p("This holds for this lathe and this set-up. Trial cuts are cuts: guard, eye protection, no gloves, chuck key out; your machine's manual and local rules come first.")
	return b.Flush()
}

func drawnWords(s trial.Settled) string {
	if s.Design.Kind == trial.KindTable {
		return "Whether the order of the cuts was drawn by lot, the table does not say."
	}
	if !s.Design.Drawn() {
		return "The order was fixed, not drawn by lot."
	}
	return "The order of the cuts and the codes on the samples were drawn by lot before the first cut."
}
