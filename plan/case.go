package plan

import (
	"thrum/cause"
)

// Case returns what this plan knows of what a recording of it may hold: what
// comes round with the spindle, the work's diameter, and, when the vibration was
// assessed (MakeWithVibration), what swings and what a pass leaves of the last
// one's waves. The recordings are for the caller to add.
func (p *Plan) Case() cause.Case {
	k := cause.Case{Diameter: p.Work.Blank.Target}
	for _, l := range p.Lines {
		k.Lines = append(k.Lines, cause.TurningLine(l.Name, l.PerTurn, l.Mesh))
	}
	if v := p.Vibration; v != nil && v.Frequency > 0 {
		m := cause.Mode{Name: v.Mode, Freq: v.Frequency}
		if v.Measured {
			m.Spread = 0.02
		}
		k.Modes = []cause.Mode{m}
		k.CarryOver = &cause.CarryOver{Freq: v.Frequency, Low: v.CarryOver.Low, Likely: v.CarryOver.Likely, High: v.CarryOver.High}
	}
	return k
}
