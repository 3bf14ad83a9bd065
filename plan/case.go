package plan

import (
	"math"

	"thrum/cause"
	"thrum/lathe"
	"thrum/unit"
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

// MarkSpeed is the speed of the last pass, which leaves the marks that are seen on the
// finished thread.
func (p *Plan) MarkSpeed() unit.Rotation {
	if n := len(p.Passes); n > 0 {
		return p.Passes[n-1].RPM
	}
	return p.Speed.RPM
}

// GearsOf asks for the gears of a thread on a lathe and nothing else: the length and
// the material stand for anything. It serves recordings of a cut whose set-up is not
// known any further.
func GearsOf(callout, latheTOML string) Request {
	return Request{Callout: callout, Lathe: latheTOML, Material: "1018", Length: 10, OpenEnd: true}
}

// speedMeant is how far a speed as read off may lie from the one of the lathe's chart
// that is meant; neighbouring speeds lie a quarter or more apart.
const speedMeant = 0.1

// AtSpeed returns the request with the speed of the lathe's chart that is nearest to
// rpm, since the levers decide which gears turn. When none lies within a tenth the
// speed is left to the plan.
func (r Request) AtSpeed(rpm unit.Rotation) (Request, error) {
	la, err := lathe.Parse("lathe", []byte(r.Lathe))
	if err != nil {
		return r, err
	}
	r.RPM = 0
	off := func(s unit.Rotation) float64 { return math.Abs(float64(s/rpm) - 1) }
	for _, s := range la.Speeds {
		if rpm > 0 && off(s.RPM) < speedMeant && (r.RPM == 0 || off(s.RPM) < off(r.RPM)) {
			r.RPM = s.RPM
		}
	}
	return r, nil
}
