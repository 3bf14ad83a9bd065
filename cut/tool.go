package cut

import (
	"fmt"
	"math"

	"thrum/thread"
	"thrum/unit"
)

// ToolMaterial is what the cutting edge is made of.
type ToolMaterial int

// The two kinds of tool used for threading on a manual lathe.
const (
	HSS ToolMaterial = iota
	Carbide
)

// String prints "HSS" or "carbide".
func (t ToolMaterial) String() string {
	if t == Carbide {
		return "carbide"
	}
	return "HSS"
}

// Edges says which edges of the tool are sharpened with clearance to cut.
type Edges int

// A tool for straight infeed cuts on both edges; one ground for compound infeed
// only may cut on its leading edge alone.
const (
	BothEdges Edges = iota
	LeadingEdgeOnly
	TrailingEdgeOnly
)

// Tool is a threading tool. The flank angles are those between the flank and the
// normal to the work's axis, as in thread.Form.
type Tool struct {
	Leading, Trailing unit.Angle
	NoseRadius        unit.Length // zero when the nose is flat or sharp
	NoseFlat          unit.Length // width of the flat; zero when the nose is round
	FullProfile       bool        // also forms the crest, so the blank is left oversize; otherwise the crest is left as turned
	Edges             Edges
	Edge              EdgeType
	Rake              unit.Angle // top rake; zero for a form tool that keeps its angle
}

// LeadingSide tells which edge leads, seen from above with the headstock on the
// left: the left one when the carriage travels towards the chuck, the right one
// when it travels away from it. The same holds for external and internal threads.
func LeadingSide(towardsChuck bool) string {
	if towardsChuck {
		return "left"
	}
	return "right"
}

// noseHeight is how far the nose stays above the point where the flanks would
// meet: w / (tan a + tan b) for a flat, r (h - 1) for a radius, with
// h = (cos a + cos b) / sin(a + b).
func (t Tool) noseHeight() float64 {
	slope := t.Leading.Tan() + t.Trailing.Tan()
	if t.NoseRadius > 0 {
		return t.NoseRadius.MM() * (t.centreHeight() - 1)
	}
	return t.NoseFlat.MM() / slope
}

func (t Tool) centreHeight() float64 {
	return (t.Leading.Cos() + t.Trailing.Cos()) / (t.Leading + t.Trailing).Sin()
}

// BelowPitchLine returns how deep the tip stands below the pitch line when the
// groove is half a pitch wide on that line, which is what makes the pitch
// diameter right:
//
//	(P/2) / (tan a + tan b) - height of the nose over the sharp point
//
// A finer nose than the form asks for goes deeper. The whole depth of thread is
// this plus the distance from the blank's surface to the pitch line.
// Source: geometry.
func (t Tool) BelowPitchLine(pitch unit.Length) (unit.Length, error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	d := pitch.MM()/2/(t.Leading.Tan()+t.Trailing.Tan()) - t.noseHeight()
	if !(d > 0) {
		return 0, &unit.InputError{
			Field: "tool nose", Value: max(t.NoseFlat, t.NoseRadius).String(), Reason: fmt.Sprintf("is too wide for a pitch of %v", pitch),
			Hint: "the groove would be more than half a pitch wide before it is deep enough",
		}
	}
	return unit.Length(d), nil
}

// Groove returns the outline that the tool leaves at a depth below the blank's
// surface, at most one pitch wide: where neighbouring grooves meet, the crest
// comes to a point below the surface.
func (t Tool) Groove(pitch, depth unit.Length) (thread.Groove, error) {
	if err := t.check(); err != nil {
		return nil, err
	}
	if !(depth > 0) || !(pitch > 0) || depth > 1000 || pitch > 1000 {
		return nil, &unit.InputError{Field: "depth and pitch", Value: depth.String() + ", " + pitch.String(), Reason: "do not make a groove"}
	}
	tl, tt := t.Leading.Tan(), t.Trailing.Tan()
	apex := depth.MM() + t.noseHeight()
	top := max(apex-pitch.MM()/(tl+tt), 0) // depth at which the groove is one pitch wide
	flank := func(x float64) (trail, lead float64) { return -(apex - x) * tt, (apex - x) * tl }
	p := func(z, x float64) thread.Point { return thread.Point{Z: unit.Length(z), X: unit.Length(x)} }
	root, ok := t.root(apex, depth.MM())
	if !ok || root.From.X.MM() < top || root.To.X.MM() < top {
		return nil, &unit.InputError{Field: "depth of thread", Value: depth.String(), Reason: "is less than the tool's nose is high"}
	}
	z0, z1 := flank(top)
	g := thread.Groove{{From: p(z0, top), To: root.From}, root, {From: root.To, To: p(z1, top)}}
	mid := (root.From.Z + root.To.Z) / 2
	if root.Radius > 0 {
		mid = root.Centre.Z
	}
	for i := range g {
		g[i].From.Z, g[i].To.Z = g[i].From.Z-mid, g[i].To.Z-mid
		if g[i].Radius > 0 {
			g[i].Centre.Z -= mid
		}
	}
	return g, nil
}

// root is the nose's outline with the sharp point at depth apex.
func (t Tool) root(apex, depth float64) (thread.Segment, bool) {
	p := func(z, x float64) thread.Point { return thread.Point{Z: unit.Length(z), X: unit.Length(x)} }
	if t.NoseRadius == 0 {
		h := apex - depth
		return thread.Segment{From: p(-h*t.Trailing.Tan(), depth), To: p(h*t.Leading.Tan(), depth)}, true
	}
	r, h := t.NoseRadius.MM(), t.NoseRadius.MM()*t.centreHeight()
	zc, xc := (h*t.Leading.Sin()-r)/t.Leading.Cos(), apex-h
	s := thread.Segment{
		From:   p(zc-r*t.Trailing.Cos(), xc+r*t.Trailing.Sin()),
		To:     p(zc+r*t.Leading.Cos(), xc+r*t.Leading.Sin()),
		Centre: p(zc, xc), Radius: t.NoseRadius,
	}
	return s, s.From.X >= 0 && s.To.X >= 0
}

func (t Tool) check() error {
	angle := func(a unit.Angle) bool { return a >= 0 && a <= 80*unit.Degree }
	switch {
	case !angle(t.Leading) || !angle(t.Trailing) || !(t.Leading+t.Trailing > unit.Degree):
		return &unit.InputError{
			Field: "tool angle", Value: t.Leading.Format(2) + " and " + t.Trailing.Format(2), Reason: "are not the flanks of a V-shaped tool",
			Hint: "each between 0 and 80 degrees, together more than 1",
		}
	case !(t.NoseFlat >= 0) || !(t.NoseRadius >= 0) || t.NoseFlat > 0 && t.NoseRadius > 0 || math.IsInf(float64(t.NoseFlat+t.NoseRadius), 0):
		return &unit.InputError{
			Field: "tool nose", Value: t.NoseFlat.String() + " flat, " + t.NoseRadius.String() + " radius", Reason: "is not a nose", Hint: "give a flat or a radius, not both",
		}
	}
	return nil
}
