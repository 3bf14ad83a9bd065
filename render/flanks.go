package render

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"thrum/photo"
	"thrum/plan"
)

// Flanks writes what the photographs of one sample say.
func Flanks(w io.Writer, f *plan.Flanks, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: f.Request.Thread.System}
	t.fact("thread", fmt.Sprintf("%s, pitch %s, outside diameter %s", f.Request.Thread.Designation, t.len(f.Thread.Pitch), t.len(f.Thread.Major)))
	t.fact("marks", t.strong(MarksWords(f.All)))
	t.fact("because", f.All.Reason)
	if f.Tone != nil {
		t.fact("frequency", fmt.Sprintf("%.0f ± %.0f Hz at %.4g rpm: marks per turn x speed / 60", f.Tone.Value.Hz(), math.Max(1, f.Tone.Doubt.Hz()), f.Request.Speed.RPM()))
	}
	if f.All.Verdict != photo.Refused {
		speed := "N"
		if f.Request.Speed > 0 {
			speed = fmt.Sprintf("%g", f.Request.Speed.RPM())
		}
		t.fact("next", fmt.Sprintf("weigh what made them, with a recording of the cut: thrum listen FILE --rpm %s --marks %.0f", speed, f.All.MarksPerTurn))
	}
	for _, p := range f.Photos {
		t.shot(p, len(f.Photos) > 1)
	}
	if advice := f.Advice(); len(advice) > 0 {
		t.line("")
		t.line("%s", t.strong("to take a better photo"))
		for _, a := range advice {
			t.item("  ·", a)
		}
	}
	t.line("")
	for _, n := range f.Notes {
		t.item("  ·", n)
	}
	t.item("  ·", "± is one standard uncertainty; the outline was not confirmed by eye: look at it (--overlay), everything rests on it")
	return t.w.Flush()
}

// FlanksCompared writes two samples and what changed from one to the other.
func FlanksCompared(w io.Writer, before, after *plan.Flanks, words []string, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: before.Request.Thread.System}
	head := func(s string) error {
		t.line("%s", t.strong(s))
		return t.w.Flush()
	}
	for _, side := range []struct {
		name string
		f    *plan.Flanks
	}{{"BEFORE", before}, {"AFTER", after}} {
		if err := head(side.name); err != nil {
			return err
		}
		if err := Flanks(w, side.f, o); err != nil {
			return err
		}
		t.line("")
	}
	t.line("%s", t.strong("WHAT CHANGED"))
	for _, s := range words {
		t.item("  ·", s)
	}
	return t.w.Flush()
}

// MarksWords is the answer in one line.
func MarksWords(c *photo.Combined) string {
	switch c.Verdict {
	case photo.Accepted:
		return fmt.Sprintf("%.0f ± %.0f per turn", c.MarksPerTurn, math.Max(1, c.Uncertainty))
	case photo.Doubtful:
		return fmt.Sprintf("perhaps %.0f ± %.0f per turn; confirm it by another photo or by sound", c.MarksPerTurn, math.Max(1, c.Uncertainty))
	}
	return "not read"
}

// shot writes one photograph: its answer, each part of the groove, its look.
func (t *text) shot(p plan.FlankPhoto, answer bool) {
	r := p.Reading
	t.line("")
	t.line("%s  %s, %d x %d", t.strong(p.Name), p.Meta.Format, p.Meta.Width, p.Meta.Height)
	if answer {
		body := "not read: " + r.Reason
		if c, ok := r.Count(); ok {
			body = fmt.Sprintf("%s: %.1f ± %.1f per turn; %s", r.Verdict, c.Value, c.Doubt, r.Reason)
		}
		t.fact("  reading", body)
	}
	if r.Turns > 0 {
		t.fact("  turns", fmt.Sprintf("%d followed; %.0f %% of them show these marks by themselves; up to %.0f marks per turn could be seen", r.Turns, 100*r.Votes, r.Readable))
	}
	for _, b := range r.Bands {
		body := "no marks of its own to be told"
		if b.Found {
			body = fmt.Sprintf("%.0f ± %.0f per turn", b.Marks.Value, math.Max(1, b.Marks.Doubt))
		}
		if b.Burnt > 0.02 {
			body += fmt.Sprintf("; %.0f %% of it burnt out or out of frame", 100*b.Burnt)
		}
		t.fact("  "+bandShort(b.Name), body)
	}
	if len(r.Comb) > 0 {
		var fits []string
		for _, v := range r.Comb {
			fits = append(fits, fmt.Sprintf("%.2f", v))
		}
		t.fact("  steps fit", strings.Join(fits, ", ")+" (from the step of the marks between turns)")
	}
	t.fact("  look", string(r.Appearance.Look)+": "+strings.Join(r.Appearance.Reasons, "; "))
	if g := r.Geometry; g != nil {
		t.fact("  outline", OutlineWords(g))
		for _, n := range g.Notes {
			t.item("    ·", n)
		}
	}
}

// OutlineWords says how the thread lies in the picture, for checking.
func OutlineWords(g *photo.Geometry) string {
	var seen []string
	if g.Upper.Seen {
		seen = append(seen, "upper")
	}
	if g.Lower.Seen {
		seen = append(seen, "lower")
	}
	edges := "no silhouette seen"
	if len(seen) > 0 {
		edges = strings.Join(seen, " and ") + " silhouette seen"
	}
	return fmt.Sprintf("pitch %.1f pixels, axis turned %+.1f°, camera %.0f ± %.0f mm away, %s", g.PitchPixels, g.Roll.Degrees(), g.Distance.MM(), math.Max(1, g.DistanceDoubt.MM()), edges)
}

func bandShort(b photo.BandName) string {
	switch b {
	case photo.LeftFlank:
		return "left flank"
	case photo.RightFlank:
		return "right flank"
	}
	return string(b)
}

// FlankFacts is one reading for the page.
func FlankFacts(r *photo.Reading) []Value {
	var out []Value
	add := func(key, label, text, note string) {
		out = append(out, Value{Key: key, Label: label, Text: text, Note: note})
	}
	if r.Turns > 0 {
		add("turns", "turns followed", fmt.Sprint(r.Turns), fmt.Sprintf("%.0f %% show these marks by themselves", 100*r.Votes))
		add("most", "could be seen", fmt.Sprintf("up to %.0f per turn", r.Readable), "")
	}
	for i, b := range r.Bands {
		text, note := "none told", ""
		if b.Found {
			text = fmt.Sprintf("%.0f ± %.0f per turn", b.Marks.Value, math.Max(1, b.Marks.Doubt))
		}
		if b.Burnt > 0.02 {
			note = fmt.Sprintf("%.0f %% burnt out or out of frame", 100*b.Burnt)
		}
		add(fmt.Sprintf("band%d", i), bandShort(b.Name), text, note)
	}
	if len(r.Comb) > 0 {
		var fits []string
		for _, v := range r.Comb {
			fits = append(fits, fmt.Sprintf("%.2f", v))
		}
		add("comb", "steps between turns fit", strings.Join(fits, ", "), "")
	}
	add("look", "look", string(r.Appearance.Look), strings.Join(r.Appearance.Reasons, "; "))
	if g := r.Geometry; g != nil {
		add("camera", "camera", fmt.Sprintf("%.0f ± %.0f mm away", g.Distance.MM(), math.Max(1, g.DistanceDoubt.MM())), "")
		add("pitch", "pitch in the photo", fmt.Sprintf("%.1f pixels", g.PitchPixels), strings.Join(g.Notes, "; "))
	}
	return out
}
