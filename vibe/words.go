package vibe

import (
	"fmt"

	"thrum/unit"
)

// Words tells the answer in plain sentences, the most important first: verdict,
// what swings, the centre, the starters, the last passes, marks and rubbing, and
// what the answer hangs on.
func (a *Assessment) Words() []string {
	out := []string{a.verdictWords()}
	w := a.Passes[a.Worst]
	if !w.Spring {
		out = append(out, fmt.Sprintf("Pass %d is the liveliest: it leaves %s the waves of the last. What swings is the %s (%.0f Hz%s), %.0f mm (%.1f in) from the chuck.",
			a.Worst+1, w.CarryOver.words(), a.Mode.Name, a.Mode.Frequency.Hz(), a.Mode.tapped(), a.Place.MM(), a.Place.Inches()))
	}
	if a.InPass.Grows {
		out = append(out, fmt.Sprintf("In pass %d a vibration near %.0f Hz grows within the pass, because the tool side gives aslant. No change of speed cures that: stiffen the tool, shorten its overhang, clamp the slides.",
			a.InPass.Pass+1, a.InPass.Frequency.Hz()))
	}
	if t := a.Turns; t != nil && t.Grows {
		out = append(out, fmt.Sprintf("The edge overlaps the last turn: %.2f mm of chip is more than the %.2f mm that stays quiet from turn to turn at this speed.", t.Width.MM(), t.Limit.MM()))
	}
	if a.Centre != nil {
		out = append(out, sentence(a.Centre.Why))
	}
	for _, s := range a.Starters {
		if s.Amplified {
			out = append(out, fmt.Sprintf("The waves of %s would grow %s times.", s.Name, figure(s.Growth)))
		}
	}
	out = append(out, a.lastWords()...)
	out = append(out, a.markWords()...)
	if len(a.Doubts) > 0 {
		d := a.Doubts[0]
		out = append(out, fmt.Sprintf("The answer hangs most on the %s (%s): alone it makes the carry-over anything from %s to %s; %s.",
			d.Name, d.From, figure(d.Effect.Low), figure(d.Effect.High), d.Cure))
	}
	return append(out, "This is theory checked by independent computation; no published trial with a single-point threading tool is known.")
}

func (a *Assessment) verdictWords() string {
	f := a.Growth.Factor
	switch {
	case a.Verdict == Quiet:
		return "Vibration is unlikely to spoil this thread: waves hardly grow from pass to pass even at the lively end of what is not known."
	case a.Verdict == Lively && f.Likely >= visible:
		return fmt.Sprintf("Expect marks: a wave that starts in the pass that is worst for it ends %s times as high (%s to %s), until it is about as high as the chip is thick.", figure(f.Likely), figure(f.Low), figure(f.High))
	case a.Verdict == Lively:
		return "Expect marks: a vibration grows by itself within a pass or from turn to turn."
	}
	return fmt.Sprintf("Marks may come or not: a wave that starts in the pass that is worst for it ends %s times as high (%s to %s).", figure(f.Likely), figure(f.Low), figure(f.High))
}

// lastWords says which speed to take for the last passes.
func (a *Assessment) lastWords() []string {
	if a.Choice < 0 {
		return nil
	}
	s := a.Steps[a.Choice]
	text := fmt.Sprintf("If marks show, cut the last %d passes at %.0f rev/min: one pass there leaves %s times the marks, all of them %s times.",
		min(a.in.LastPasses, len(a.Passes)), s.Speed.RPM(), figure(s.CleanUp), figure(s.Product))
	if s.Product > 0.3 {
		text = fmt.Sprintf("If marks show, no speed will clean them up well: %.0f rev/min is the best, and its passes leave %s times the marks. Hold the work or the tool stiffer first.",
			s.Speed.RPM(), figure(s.Product))
	}
	deep := "Spring passes will not do it at any speed: each pass must cut deeper than the marks are high."
	if a.Least > 0 {
		deep = fmt.Sprintf("Each of these passes must cut deeper than the marks are high; as planned they clean up marks of at most %.3f mm. Spring passes will not do it at any speed.", a.Least.MM())
	}
	return []string{text, deep}
}

// markWords compares the marks with what rubbing lets grow.
func (a *Assessment) markWords() []string {
	p := a.Process
	if p.Wavelength == 0 {
		return nil
	}
	text := fmt.Sprintf("Its marks would stand %.2f mm apart along the thread. ", p.Wavelength.MM())
	switch {
	case p.RuledOut:
		return []string{text + "Rubbing of the edge keeps marks so close from growing; look elsewhere if there are any: gears, built-up edge, a loose slide."}
	case p.Likely:
		return []string{text + fmt.Sprintf("The edge's rubbing probably keeps marks closer than %.2f mm from growing (%.2f to %.2f); a slower speed makes that surer.",
			p.Critical.Likely, p.Critical.Low, p.Critical.High)}
	}
	return []string{text + fmt.Sprintf("Below about %.1f m/min (%.1f to %.1f) the edge's rubbing would keep it quiet.",
		unit.Velocity(p.Speed.Likely).MPerMin(), unit.Velocity(p.Speed.Low).MPerMin(), unit.Velocity(p.Speed.High).MPerMin())}
}

// sentence gives a clause a capital and a full stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	b := []byte(s)
	if b[0] >= 'a' && b[0] <= 'z' {
		b[0] -= 'a' - 'A'
	}
	return string(b) + "."
}

// tapped says where a frequency comes from when it was heard.
func (m Mode) tapped() string {
	if m.Measured {
		return ", as tapped"
	}
	return ""
}
