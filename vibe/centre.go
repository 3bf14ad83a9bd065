package vibe

import (
	"fmt"
	"math"

	"thrum/shaft"
	"thrum/unit"
)

// Held is what one way of holding comes to.
type Held struct {
	CarryOver float64 // largest of any pass
	Growth    float64 // over the schedule
	Frequency unit.Frequency
	Mode      Mode
	Place     unit.Length
	Give      shaft.Compliance // static and radial, at that place
	Margin    float64          // by how much the cut may stiffen before waves grow, rubbing left out
}

// Centre compares the work with and without the centre, all else alike.
type Centre struct {
	With, Without Held
	Matters       bool
	Why           string
}

// centre compares at the likely figures: the doubts are the same on both sides.
func (a *Assessment) centre() {
	in := a.in
	here := Held{
		a.Passes[a.Worst].CarryOver.Likely, a.Growth.Factor.Likely, a.Passes[a.Worst].Frequency,
		a.Mode, a.Place, a.run.p.give, a.leastMargin(),
	}
	other := *a.run
	other.h = in.Other
	there := other.held()
	c := &Centre{With: here, Without: there}
	if !in.HasCentre {
		c.With, c.Without = there, here
	}
	c.judge()
	a.Centre = c
}

func (a *Assessment) leastMargin() float64 {
	m := math.Inf(1)
	for _, p := range a.Passes {
		m = min(m, p.Margin)
	}
	return m
}

// held works out the short answer for a schedule in its holding.
func (r *run) held() Held {
	_, i := r.search()
	r.p = &r.h.places[i]
	sp := r.spectra(likely)
	out := Held{Place: r.p.at, Give: r.p.give, Margin: math.Inf(1)}
	worst := 0
	for k := range r.gains {
		if r.gains[k].Spring() {
			continue
		}
		if t, f := r.h.largest(r.p, &r.gains[k], likely, r.rub[k], sp[k]); t > out.CarryOver {
			out.CarryOver, out.Frequency, worst = t, f, k
		}
		out.Margin = min(out.Margin, r.h.margin(r.p, &r.gains[k]))
	}
	out.Growth, _ = r.most(sp, r.speeds[worst], likely)
	out.Mode = r.p.mode(out.Frequency, r.gains[worst])
	return out
}

func (c *Centre) judge() {
	w, o := c.With, c.Without
	stiffer := float64(o.Give / w.Give)
	more, less := max(w.Growth, o.Growth), min(w.Growth, o.Growth)
	c.Matters = more >= hardly && more >= 2*less
	pair := fmt.Sprintf("with the centre each pass leaves %s the last, without it %s", timesOf(w.CarryOver), timesOf(o.CarryOver))
	switch {
	case c.Matters && o.Growth > w.Growth:
		c.Why = fmt.Sprintf("the centre matters: %s; it makes the work and tool %.3g times as stiff at the worst place", pair, stiffer)
	case c.Matters:
		c.Why = fmt.Sprintf("the centre makes it worse: %s; what swings with it is the %s at %.0f Hz", pair, w.Mode.Name, w.Frequency.Hz())
	case more < hardly:
		c.Why = "the centre hardly matters for vibration: waves die out or hardly grow either way; " + pair
	case w.Mode.toolSide():
		c.Why = "the centre is no cure: the tool side swings, which it does not hold; " + pair
	default:
		c.Why = "the centre alone is no cure: waves grow either way; " + pair
	}
}

func (m Mode) toolSide() bool { return m.Name == toolSide || m.Name == toolSideAxial }

// timesOf puts a factor in words: "1.4 times", "a third of", "hardly anything of".
func timesOf(t float64) string {
	switch {
	case t < 0.05:
		return "hardly anything of"
	case t < 0.95:
		return fmt.Sprintf("%.2g times", t)
	case t < 9.95:
		return fmt.Sprintf("%.1f times", t)
	}
	return fmt.Sprintf("%.0f times", t)
}
