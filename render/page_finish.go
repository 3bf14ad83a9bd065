package render

import (
	"thrum/draw"
	"thrum/plan"
)

// vibration sets what swings, how sure that is, what would help, and the charts.
func (f *flow) vibration() {
	v := f.s.p.Vibration
	if v == nil {
		return
	}
	f.words("Finish: what is likely to vibrate", v.Words)
	if v.Outlook != nil {
		f.words("How sure", v.Outlook.Words)
	}
	if len(v.Remedies) > 0 {
		f.words("What changes would do", []string{v.AsPlanned()})
	}
	useful, others := plan.Useful(v.Remedies)
	f.remedies("What would help, cheapest first", useful)
	f.remedies("What would not", others)
	const high, scale = 62, 0.84
	for _, d := range f.s.vibrationCharts() {
		f.room(high + 14)
		f.heading(d.Title)
		f.place(d, draw.Box{X: f.c.X, Y: f.c.y, W: f.c.W, H: high}, scale)
		f.c.y += high + 1
	}
}

func (f *flow) remedies(title string, all []plan.Remedy) {
	if len(all) == 0 {
		return
	}
	f.heading(title)
	for _, r := range all {
		text := r.Do
		if w := r.Words(); w != "" {
			text += ": " + w
		}
		text += "; torn flanks are then " + r.Tearing
		if r.Size != "" {
			text += "; size: " + r.Size
		}
		if r.Warning != "" {
			text += "; mind: " + r.Warning
		}
		f.item("·", text, backStyle)
	}
}
