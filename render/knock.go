package render

import (
	"fmt"
	"math"

	"thrum/draw"
	"thrum/sound"
	"thrum/unit"
)

// KnockSection tells what a knock test heard. recording draws its spectrum; without
// one there is no drawing.
func KnockSection(id, title string, k *sound.KnockTest, recording *sound.Recording) Section {
	sec := Section{ID: id, Title: title}
	sec.Figures = append(sec.Figures, Value{Key: id + ".taps", Label: "taps", Text: fmt.Sprintf("%d used", k.Used()), Note: fmt.Sprintf("of %d heard", len(k.Taps))})
	if len(k.Modes) == 0 {
		sec.Alerts = append(sec.Alerts, Alert{Level: "warning", Text: "No natural frequency could be told from these taps.", Cures: []string{
			"tap five to ten times with something hard, at least half a second apart", "hold the phone a hand's breadth away", "let each tap ring out",
		}})
	}
	for i, m := range k.Modes[:min(len(k.Modes), 2)] {
		label := "rings at"
		if i > 0 {
			label = "and at"
		}
		sec.Figures = append(sec.Figures, Value{
			Key: fmt.Sprintf("%s.%d", id, i), Label: label, Text: fmt.Sprintf("%.*f Hz", hertzPlaces(m.Freq), m.Freq.Value.Hz()),
			Note: fmt.Sprintf("damping %.2g %% of critical", m.Damping.Value.Percent()),
		})
	}
	if len(k.Modes) > 0 {
		t := &Table{Caption: "Natural frequencies, lowest first; intervals hold 95 times in 100", Head: []string{"Hz", "between", "damping, %", "between", "level, dB", "taps"}}
		for i, m := range k.Modes {
			t.Rows = append(t.Rows, Row{Key: fmt.Sprint(id, ".mode", i), Cells: []string{
				fmt.Sprintf("%.1f", m.Freq.Value.Hz()), fmt.Sprintf("%.1f to %.1f", m.Freq.Low.Hz(), m.Freq.High.Hz()),
				fmt.Sprintf("%.2f", m.Damping.Value.Percent()), fmt.Sprintf("%.2f to %.2f", m.Damping.Low.Percent(), m.Damping.High.Percent()),
				fmt.Sprintf("%.0f", m.Level), fmt.Sprint(m.Taps),
			}})
		}
		sec.Table = t
	}
	left := Items{Title: "Taps left out"}
	for i, t := range k.Taps {
		if t.Rejected != "" {
			left.Items = append(left.Items, Item{Text: fmt.Sprintf("tap %d at %.2f s: %s", i+1, t.At.S(), t.Rejected)})
		}
	}
	notes := Items{Title: "Keep in mind"}
	for _, n := range k.Notes {
		notes.Items = append(notes.Items, Item{Text: n})
	}
	if k.Rule != "" {
		notes.Items = append(notes.Items, Item{Text: k.Rule})
	}
	sec.Lists = []Items{left, notes}
	if d, ok := knockDrawing(id, k, recording); ok {
		sec.Drawings = append(sec.Drawings, d)
	}
	return sec
}

// hertzPlaces prints tenths only where the interval supports them.
func hertzPlaces(e sound.Estimate[unit.Frequency]) int {
	if float64(e.High-e.Low) < 2 {
		return 1
	}
	return 0
}

const (
	spectrumSpan = 70  // dB of a spectrum that are shown
	labelRoom    = 0.2 // of the axis, from one written figure to the next
)

// knockDrawing is the spectrum of the recording, with the natural frequencies that
// were found marked by their figures.
func knockDrawing(id string, k *sound.KnockTest, r *sound.Recording) (Drawing, bool) {
	if r == nil || len(k.Modes) == 0 {
		return Drawing{}, false
	}
	s, err := sound.Welch(r, 0.25)
	if err != nil {
		return Drawing{}, false
	}
	last := k.Modes[len(k.Modes)-1].Freq.Value
	most := math.Min(float64(r.Rate)/2, math.Max(1000, 1.6*float64(last)))
	peak := 0.0
	for _, d := range s.Density {
		peak = math.Max(peak, d)
	}
	if peak == 0 {
		return Drawing{}, false
	}
	line := draw.Series{Accent: true}
	for i, d := range s.Density {
		f := float64(i) * float64(s.Step)
		if f > most {
			break
		}
		line.X = append(line.X, f)
		line.Y = append(line.Y, math.Max(10*math.Log10(d/peak), -spectrumSpan))
	}
	c := draw.Chart{
		X: draw.Axis{Title: "frequency, Hz", Max: most, Zero: true}, Y: draw.Axis{Title: "level, dB", Min: -spectrumSpan, Max: 0}, Series: []draw.Series{line},
	}
	written := -most
	for _, m := range k.Modes {
		limit := draw.Limit{At: m.Freq.Value.Hz(), Upright: true}
		if limit.At-written > labelRoom*most {
			limit.Name, written = fmt.Sprintf("%.0f Hz", limit.At), limit.At
		}
		c.Limits = append(c.Limits, limit)
	}
	return Drawing{
		ID: id + "-spectrum", Title: "What was heard", Desc: "spectrum of the recording with the natural frequencies marked",
		Draw: func(l *draw.List, b draw.Box) { c.Draw(l, b) },
	}, true
}

// ShiftSection tells what changed from one knock test to another.
func ShiftSection(c *sound.Comparison, first, second string) Section {
	sec := Section{ID: "shift", Title: "What changed"}
	t := &Table{Caption: "From " + first + " to " + second, Head: []string{"Hz " + first, "Hz " + second, "frequency", "damping times", "between"}}
	moved := 0
	for i, s := range c.Shifts {
		row := Row{Key: fmt.Sprint("shift", i)}
		switch {
		case s.A == nil:
			row.Cells = []string{"not heard", fmt.Sprintf("%.1f", s.B.Freq.Value.Hz()), "", "", ""}
		case s.B == nil:
			row.Cells = []string{fmt.Sprintf("%.1f", s.A.Freq.Value.Hz()), "not heard", "", "", ""}
		default:
			if s.FreqVerdict == sound.Moved {
				moved++
			}
			row.Cells = []string{
				fmt.Sprintf("%.1f", s.A.Freq.Value.Hz()), fmt.Sprintf("%.1f", s.B.Freq.Value.Hz()),
				fmt.Sprintf("%s: %+.1f Hz (%+.1f to %+.1f)", s.FreqVerdict, s.Freq.Value.Hz(), s.Freq.Low.Hz(), s.Freq.High.Hz()),
				fmt.Sprintf("%.2f, %s", float64(s.Damping.Value), s.DampingVerdict), fmt.Sprintf("%.2f to %.2f", float64(s.Damping.Low), float64(s.Damping.High)),
			}
		}
		t.Rows = append(t.Rows, row)
	}
	sec.Table = t
	word := "no frequency moved that the taps can tell"
	if moved == 1 {
		word = "1 frequency moved"
	} else if moved > 1 {
		word = fmt.Sprintf("%d frequencies moved", moved)
	}
	sec.Figures = []Value{{Key: "shift.moved", Label: "verdict", Text: word}}
	sec.Lists = []Items{{Title: "Keep in mind", Items: []Item{{Text: c.Rule}}}}
	return sec
}
