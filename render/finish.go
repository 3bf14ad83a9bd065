package render

import (
	"fmt"
	"strings"

	"thrum/plan"
	"thrum/vibe"
)

// finish says what swings, what the passes make of it and whether the centre
// matters; with the outlook and the remedies where the plan has them.
func (s sheet) finish() Section {
	v := s.p.Vibration
	if v == nil {
		return Section{}
	}
	sec := Section{ID: "finish", Title: "Finish: what vibrates", Drawings: s.vibrationCharts()}
	known := "computed, with a usual damping"
	if v.Measured {
		known = "as heard in the knock test"
	}
	sec.Figures = []Value{
		{"vibration.verdict", "marks from vibration", verdictWords(v), "the worst wave, whichever pass it starts in, ends " + plan.TimesOf(v.Growth) + " as high"},
		{"vibration.carry", "each pass leaves", vibe.Times(v.CarryOver.Likely) + " times the last", fmt.Sprintf("%s to %s by what is not known; pass %d is the liveliest", vibe.Times(v.CarryOver.Low), vibe.Times(v.CarryOver.High), v.Worst)},
		{"vibration.mode", "what swings", v.Mode, modeWords(v) + known},
	}
	if v.Centre != "" {
		text := "hardly matters"
		if v.CentreMay {
			text = "matters"
		}
		sec.Figures = append(sec.Figures, Value{"vibration.centre", "the centre", text, v.Centre})
	}
	if v.LastRPM > 0 {
		sec.Facts = append(sec.Facts, Value{
			"vibration.last", "if marks show", fmt.Sprintf("last passes at %.4g rpm", v.LastRPM.RPM()),
			fmt.Sprintf("they leave %.2g times the marks", v.LastLeave),
		})
	}
	if o := v.Outlook; o != nil {
		sec.Facts = append(sec.Facts, Value{"outlook.marks", "marks", plan.InHundred(o.Marks), "waves grow tenfold or more"})
		if c := o.Centre; c != nil {
			sec.Facts = append(sec.Facts, Value{"outlook.centre", "the centre helps", plan.InHundred(c.Helps), ""})
		}
		sec.Lists = append(sec.Lists, plain("How sure", o.Words))
	}
	if tab := remedyTable(v); tab != nil {
		sec.Table = tab
	}
	sec.Lists = append(sec.Lists, plain("Why", v.Words))
	return sec
}

// Finish returns the section about vibration alone; its ID is empty where the plan has
// none.
func Finish(p *plan.Plan) Section { return sheet{p, p.Request.Units}.finish() }

func verdictWords(v *plan.Vibration) string {
	switch v.Verdict {
	case "quiet":
		return "unlikely"
	case "lively":
		return "to be expected"
	}
	return "may come or not"
}

func modeWords(v *plan.Vibration) string {
	if v.Frequency == 0 {
		return ""
	}
	text := fmt.Sprintf("%.0f Hz", v.Frequency.Hz())
	if v.Damping > 0 {
		text += fmt.Sprintf(", %.1f %% of critical damping", 100*v.Damping)
	}
	return text + "; "
}

// remedyTable lists what would help, cheapest first, and then what would not.
func remedyTable(v *plan.Vibration) *Table {
	if len(v.Remedies) == 0 {
		return nil
	}
	tab := &Table{Caption: "What would help, cheapest first; " + v.AsPlanned(), Head: []string{"change", "then each pass leaves", "the worst wave ends", "helps in", "marks remain in"}}
	useful, others := plan.Useful(v.Remedies)
	for i, r := range append(useful, others...) {
		helps := i < len(useful)
		row := Row{Key: "remedy." + r.Name, Strong: helps, Cells: []string{r.Do, plan.TimesOf(r.CarryOver), plan.TimesOf(r.Growth), "–", "–"}}
		if r.Name == plan.RemedyOil {
			row.Cells[1], row.Cells[2] = "–", "–"
		}
		if h := r.Holds; h != nil && h.Of > 0 {
			row.Cells[3] = fmt.Sprintf("%.0f of 100", 100*h.Share)
		}
		if m := r.Marks; m != nil {
			row.Cells[4] = fmt.Sprintf("%.0f of 100", 100*m.Share)
		}
		row.Note = remedyNote(r, helps)
		tab.Rows = append(tab.Rows, row)
	}
	return tab
}

// RemedyNote says what a remedy costs and what to mind, beside its figures.
func RemedyNote(r plan.Remedy) string { return remedyNote(r, r.Helps) }

// remedyNote says what a remedy costs and what to mind.
func remedyNote(r plan.Remedy, helps bool) string {
	var notes []string
	if !helps {
		notes = append(notes, "does not help here")
	}
	if r.Mesh != nil {
		notes = append(notes, fmt.Sprintf("waves of %s then grow %.2g times", r.Mesh.Name, r.Mesh.Growth))
	}
	notes = append(notes, "torn flanks are then "+r.Tearing)
	if r.Size != "" {
		notes = append(notes, "size: "+r.Size)
	}
	if r.Warning != "" {
		notes = append(notes, "mind: "+r.Warning)
	}
	return strings.Join(notes, "; ")
}
