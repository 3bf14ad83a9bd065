package vibe

import (
	"math"

	"thrum/shaft"
	"thrum/unit"
)

// turns works out ordinary turn-to-turn chatter for the worst pass, along the
// direction in which it swings.
func (a *Assessment) turns() {
	w := a.Passes[a.Worst]
	if a.in.Overlap == 0 || w.Spring || w.Frequency == 0 {
		return
	}
	g, p := w.Gain, a.run.p
	whole := float64(g.Kn) * g.Width.MM()
	x, z, c := complex(float64(g.Radial)/whole, 0), complex(float64(g.Axial)/whole, 0), complex(2*float64(g.Cross)/whole, 0)
	if g.Cross == 0 { // directions go their own ways: take the one that swings
		if a.Mode.Direction == "axial" {
			x = 0
		} else {
			z = 0
		}
	}
	phi := func(f unit.Frequency) shaft.Receptance {
		e := p.exact(f, likely)
		return shaft.Receptance(x*e.xx + z*e.zz + c*e.xz)
	}
	const steps = 2000
	lo, hi := 0.8*w.Frequency.Hz(), 1.6*w.Frequency.Hz()
	step := max(0.2*w.Speed.Hz().Hz(), (hi-lo)/steps)
	var at []unit.Frequency
	for f := lo; f < hi; f += step {
		at = append(at, unit.Frequency(f))
	}
	t := &TurnToTurn{Overlap: a.in.Overlap, Width: g.Width, Least: unit.Length(math.Inf(1))}
	for _, l := range Lobes(phi, g.Kn, a.in.Overlap, at, 1) {
		t.Least = min(t.Least, l.Width)
	}
	t.Limit = LobeLimit(phi, g.Kn, a.in.Overlap, w.Speed, at)
	if math.IsInf(float64(t.Limit), 1) { // lobes too close to tell apart
		t.Limit = t.Least
	}
	t.Grows = t.Width > t.Limit
	a.Turns = t
}
