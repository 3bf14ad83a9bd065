package plan

import (
	"math"

	"thrum/thread"
	"thrum/unit"
)

// tip is the end of a threading tool between its two flanks: a flat, or a radius
// that touches both flanks.
type tip struct{ flat, radius unit.Length }

// belowPitchLine returns how far the tip reaches below the pitch line when the
// groove is half a pitch wide there:
//
//	flat f:    y = (P/2 - f) / (tan a1 + tan a2)
//	radius r:  y = P/2 / (tan a1 + tan a2) - r [ (cos a1 + cos a2) / sin(a1 + a2) - 1 ]
//
// a1 and a2 are the flank angles, P the pitch. With parallel flanks (square
// thread) the width says nothing about the depth, and half the form's depth is
// taken.
//
// Source: geometry; for the sharp symmetrical form y = P/4 cot a = H/2.
func (t tip) belowPitchLine(th thread.Thread) unit.Length {
	a1, a2 := th.Form.Leading, th.Form.Trailing
	p := float64(th.Pitch.Length())
	tans := a1.Tan() + a2.Tan()
	if tans < 1e-9 {
		return unit.Length(th.Form.Depth * p / 2)
	}
	if t.radius > 0 {
		cut := float64(t.radius) * ((a1.Cos()+a2.Cos())/(a1+a2).Sin() - 1)
		return unit.Length(p/2/tans - cut)
	}
	return unit.Length((p/2 - float64(t.flat)) / tans)
}

// widthAt returns the axial width of the tool at a height above its tip, split
// into what lies before and behind the middle of the tip.
func (t tip) widthAt(th thread.Thread, height unit.Length) (leading, trailing unit.Length) {
	a1, a2 := th.Form.Leading, th.Form.Trailing
	h := math.Max(float64(height), 0)
	if t.radius > 0 {
		r := float64(t.radius)
		// Above the points of tangency the flank is a line through the virtual apex.
		lead := func(a unit.Angle) float64 {
			touch := r * (1 - a.Sin())
			if h <= touch {
				return math.Sqrt(math.Max(r*r-(r-h)*(r-h), 0))
			}
			return r*a.Cos() + (h-touch)*a.Tan()
		}
		return unit.Length(lead(a1)), unit.Length(lead(a2))
	}
	half := float64(t.flat) / 2
	return unit.Length(half + h*a1.Tan()), unit.Length(half + h*a2.Tan())
}
