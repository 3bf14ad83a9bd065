package vibe

import (
	"fmt"

	"thrum/unit"
)

// Words tells the answer in plain sentences and in the sheet's units, the most
// important first: verdict, what swings, the centre, the starters, the last passes,
// marks and rubbing, and what the answer hangs on.
func (a *Assessment) Words(sys unit.System) []string {
	out := []string{a.verdictWords()}
	w := a.Passes[a.Worst]
	if !w.Spring {
		out = append(out, fmt.Sprintf("Pass %d is the liveliest: it leaves %s the waves of the last. What swings is the %s (%.0f Hz%s), %s from the chuck.",
			a.Worst+1, w.CarryOver.words(), a.Mode.Name, a.Mode.Frequency.Hz(), a.Mode.tapped(), places(a.Place, sys, 0)))
	}
	if a.InPass.Grows {
		out = append(out, fmt.Sprintf("In pass %d a vibration near %.0f Hz grows within the pass, because the tool side gives aslant. No change of speed cures that: stiffen the tool, shorten its overhang, clamp the slides.",
			a.InPass.Pass+1, a.InPass.Frequency.Hz()))
	}
	if t := a.Turns; t != nil && t.Grows {
		out = append(out, fmt.Sprintf("The edge overlaps the last turn: %s of chip is more than the %s that stays quiet from turn to turn at this speed.", places(t.Width, sys, 2), places(t.Limit, sys, 2)))
	}
	if a.Centre != nil {
		out = append(out, sentence(a.Centre.Why))
	}
	for _, s := range a.Starters {
		if s.Amplified {
			out = append(out, fmt.Sprintf("The waves of %s would grow %s times.", s.Name, figure(s.Growth)))
		}
	}
	out = append(out, a.lastWords(sys)...)
	out = append(out, a.markWords(sys)...)
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
func (a *Assessment) lastWords(sys unit.System) []string {
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
		deep = fmt.Sprintf("Each of these passes must cut deeper than the marks are high; as planned they clean up marks of at most %s. Spring passes will not do it at any speed.", places(a.Least, sys, 3))
	}
	return []string{text, deep}
}

// markWords compares the marks with what rubbing lets grow.
func (a *Assessment) markWords(sys unit.System) []string {
	p := a.Process
	if p.Wavelength == 0 {
		return nil
	}
	text := fmt.Sprintf("Its marks would stand %s apart along the thread. ", places(p.Wavelength, sys, 2))
	switch {
	case p.RuledOut:
		return []string{text + "Rubbing of the edge keeps marks so close from growing; look elsewhere if there are any: gears, built-up edge, a loose slide."}
	case p.Likely:
		return []string{text + fmt.Sprintf("The edge's rubbing probably keeps marks closer than %s from growing (%s to %s); a slower speed makes that surer.",
			places(unit.Length(p.Critical.Likely), sys, 2), places(unit.Length(p.Critical.Low), sys, 2), places(unit.Length(p.Critical.High), sys, 2))}
	}
	return []string{text + fmt.Sprintf("Below about %s (%s to %s) the edge's rubbing would keep it quiet.",
		unit.Velocity(p.Speed.Likely).Format(sys, 1), unit.Velocity(p.Speed.Low).Format(sys, 1), unit.Velocity(p.Speed.High).Format(sys, 1))}
}

// places prints a length with as many places in millimetres, or as fine in inches:
// two places more for whole millimetres and for hundredths, one for thousandths.
func places(l unit.Length, sys unit.System, mm int) string {
	if sys == unit.Inches {
		return l.Number(sys, []int{1, 2, 4, 4}[mm]) + " in"
	}
	return l.Number(sys, mm) + " mm"
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
