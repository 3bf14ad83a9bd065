package vibe

import (
	"fmt"
	"math"

	"thrum/shaft"
	"thrum/unit"
)

// Held is what one way of holding comes to.
type Held struct {
	CarryOver Range // largest of any pass
	Growth    Range // of the wave that starts in the worst pass for it
	Frequency unit.Frequency
	Mode      Mode
	Place     unit.Length      // the worst
	Give      shaft.Compliance // static and radial, at that place
	Margin    float64          // by how much the cut may stiffen before waves grow, rubbing left out
	Verdict   Verdict
}

// Centre compares the work with and without the centre, all else alike.
type Centre struct {
	With, Without Held
	Matters       bool
	Why           string
}

func (a *Assessment) held() Held {
	h := Held{
		CarryOver: a.Passes[a.Worst].CarryOver, Growth: a.Growth.Factor, Frequency: a.Passes[a.Worst].Frequency,
		Mode: a.Mode, Place: a.Place, Give: a.run.p.give, Margin: math.Inf(1), Verdict: a.Verdict,
	}
	for _, p := range a.Passes {
		h.Margin = min(h.Margin, p.Margin)
	}
	return h
}

func compare(here, there *Assessment, hasCentre bool) *Centre {
	c := &Centre{With: here.held(), Without: there.held()}
	if !hasCentre {
		c.With, c.Without = c.Without, c.With
	}
	c.judge()
	return c
}

// judge takes the centre to matter when it changes the verdict, or when waves are
// likely to grow one way at least twice as much as the other.
func (c *Centre) judge() {
	w, o := c.With, c.Without
	more, less := max(w.Growth.Likely, o.Growth.Likely), min(w.Growth.Likely, o.Growth.Likely)
	c.Matters = w.Verdict != o.Verdict || more >= hardly && more >= 2*less
	pair := fmt.Sprintf("with the centre each pass leaves %s the last, without it %s", w.CarryOver.words(), o.CarryOver.words())
	switch {
	case c.Matters && (o.Verdict > w.Verdict || o.Verdict == w.Verdict && o.Growth.Likely > w.Growth.Likely):
		c.Why = fmt.Sprintf("the centre matters: %s, where work and tool give %.3g times as much", pair, float64(o.Give/w.Give))
	case c.Matters:
		c.Why = fmt.Sprintf("the centre makes it worse: %s; with it the %s swings", pair, w.Mode.Name)
	case w.Verdict == Quiet:
		c.Why = "the centre hardly matters for vibration, though it does for bending: " + pair
	case w.Mode.toolSide():
		c.Why = "the centre is no cure: the tool side swings, which it does not hold; " + pair
	default:
		c.Why = "the centre alone settles nothing: " + pair
	}
}

// Contrast sets two ways of cutting the same thread side by side: two speeds, two
// infeeds, two schedules.
type Contrast struct {
	First, Second Held
	Better        int // 1 or 2; 0 when they are alike
	Why           string
}

// SideBySide compares two assessments under the names they are known by, such as
// "straight infeed" and "compound at 28 degrees". One is better when its verdict is,
// or when with equal verdicts its likely growth is at least a quarter less and the
// other's is above 1.
func SideBySide(a, b *Assessment, first, second string) Contrast {
	c := Contrast{First: a.held(), Second: b.held()}
	x, y := c.First, c.Second
	switch {
	case x.Verdict < y.Verdict, x.Verdict == y.Verdict && y.Growth.Likely > 1 && x.Growth.Likely < 0.75*y.Growth.Likely:
		c.Better = 1
	case y.Verdict < x.Verdict, x.Verdict == y.Verdict && x.Growth.Likely > 1 && y.Growth.Likely < 0.75*x.Growth.Likely:
		c.Better = 2
	}
	pair := fmt.Sprintf("with %s each pass leaves %s the last, with %s %s", first, x.CarryOver.words(), second, y.CarryOver.words())
	c.Why = [...]string{"for vibration they are alike: ", first + " is quieter: ", second + " is quieter: "}[c.Better] + pair
	return c
}

func (m Mode) toolSide() bool { return m.Name == toolSide || m.Name == toolSideAxial }

// words puts a carry-over in words: "1.4 times (0.6 to 2.1)".
func (r Range) words() string {
	return fmt.Sprintf("%s times (%s to %s)", figure(r.Likely), figure(r.Low), figure(r.High))
}

// Times prints a factor as the sentences do: "0.6", "12", "over 1000".
func Times(v float64) string { return figure(v) }

// figure prints a factor with as many digits as it deserves.
func figure(v float64) string {
	switch {
	case v < 0.095:
		return fmt.Sprintf("%.2f", v)
	case v < 9.95:
		return fmt.Sprintf("%.1f", v)
	case v < 1000:
		return fmt.Sprintf("%.0f", v)
	}
	return "over 1000"
}
