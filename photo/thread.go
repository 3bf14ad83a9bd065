package photo

import (
	"math"
	"strconv"

	"thrum/unit"
)

// Thread is what has to be known of the screw in the picture. The pitch is the
// scale of everything that is measured; the outside diameter should be the one a
// micrometer reads, since one per cent of it is one per cent of the marks per turn.
type Thread struct {
	Pitch     unit.Length // from one groove to the next
	Major     unit.Length // outside diameter
	Starts    int         // 0 counts as 1
	Left      bool        // left hand
	HalfAngle unit.Angle  // of the form; 0 counts as 30 degrees
	Depth     unit.Length // of the groove; 0: taken from the half angle
}

// form is a Thread in bare millimetres and radians, with the defaults filled in.
//
// Outside threads only: a V of half angle a, crest flat of P/8 or what is left,
// depth 0.6134 P for 60 degrees (ISO 68-1 basic profile with the root at H/6).
type form struct {
	pitch, radius, depth float64
	lead                 float64 // signed: right hand positive
	crest, root          float64 // widths of the flats as shares of the pitch
}

const defaultHalfAngle = math.Pi / 6

func (t Thread) form() (form, error) {
	var f form
	p, r := t.Pitch.MM(), t.Major.MM()/2
	switch {
	case !(p >= 0.2 && p <= 50):
		return f, &unit.InputError{Field: "pitch", Value: millimetres(t.Pitch), Reason: "is outside what can be measured in a picture", Hint: "0.2 mm to 50 mm"}
	case !(r >= 0.5 && r <= 500):
		return f, &unit.InputError{Field: "major diameter", Value: millimetres(t.Major), Reason: "is outside what can be measured in a picture", Hint: "1 mm to 1000 mm"}
	case t.Starts < 0 || t.Starts > 32:
		return f, &unit.InputError{Field: "starts", Value: strconv.Itoa(t.Starts), Reason: "is not a number of starts", Hint: "1 to 32"}
	}
	half := float64(t.HalfAngle)
	if half == 0 {
		half = defaultHalfAngle
	}
	if !(half >= 0.02 && half <= 1) {
		return f, &unit.InputError{Field: "half angle", Value: strconv.FormatFloat(half*180/math.Pi, 'g', 4, 64) + " deg", Reason: "is not the half angle of a thread form", Hint: "1.2 to 57 degrees"}
	}
	depth := t.Depth.MM()
	if depth == 0 {
		depth = defaultDepth(half) * p
	}
	slope := math.Tan(half)
	if !(depth > 0 && depth < r && 2*depth*slope <= p*1.0001) {
		return f, &unit.InputError{Field: "depth", Value: millimetres(t.Depth), Reason: "does not fit the pitch, diameter and half angle", Hint: "leave it out to have it computed"}
	}
	starts := max(t.Starts, 1)
	f = form{pitch: p, radius: r, depth: depth, lead: p * float64(starts)}
	if t.Left {
		f.lead = -f.lead
	}
	flats := math.Max(0, 1-2*depth*slope/p)
	f.crest = math.Min(0.125, flats/2)
	if half < 0.35 { // trapezoidal forms have equal flats
		f.crest = flats / 2
	}
	f.root = flats - f.crest
	return f, nil
}

// defaultDepth returns the depth of an outside thread over its pitch: 0.6134 for
// 60 degrees (H - H/8 - H/6), in the same way for other V forms, one half for
// trapezoidal ones.
func defaultDepth(half float64) float64 {
	if half < 0.35 {
		return 0.5
	}
	return (1 - 1.0/8 - 1.0/6) / (2 * math.Tan(half))
}

// r returns the radius at u, the place across a groove in pitches, 0 in the middle
// of the root and half at the crest.
func (f form) r(u float64) float64 {
	u = math.Abs(u)
	in, out := f.root/2, 0.5-f.crest/2
	switch {
	case u <= in:
		return f.radius - f.depth
	case u >= out:
		return f.radius
	}
	return f.radius - f.depth*(out-u)/(out-in)
}

func millimetres(l unit.Length) string {
	return strconv.FormatFloat(l.MM(), 'g', 6, 64) + " mm"
}
