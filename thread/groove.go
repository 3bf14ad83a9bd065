package thread

import (
	"math"

	"thrum/unit"
)

// Groove returns the outline of the finished groove at the target sizes: the
// metal that the tool has taken out of one pitch.
//
// The flanks are placed by the pitch diameter: on the pitch line the groove is
// half a pitch wide, by definition. From there they run out to the crest, and in
// to the root that the form asks for:
//
//   - a root radius, tangent to both flanks;
//   - or the flat at the depth of the root diameter's own limits, when it has two
//     (Acme, trapezoidal, square);
//   - or the form's root flat, in both cases with the form's corner radius.
//
// A rounded crest begins and ends half a pitch from the middle, so that the
// outlines of neighbouring grooves join. The outline is empty when the limits
// are not those of a thread (no pitch diameter).
func (t Thread) Groove() Groove {
	p := float64(t.Pitch.Length())
	g := grooveShape{
		p: p, lead: float64(t.Form.Leading), trail: float64(t.Form.Trailing),
		line:   math.Abs(float64(t.crest()-t.Limits.Pitch.Mean())) / 2,
		corner: t.Form.RootCorner * p,
	}
	if p <= 0 || t.Limits.Pitch.Mean() <= 0 || t.crest() <= 0 {
		return nil
	}
	slope := math.Tan(g.lead) + math.Tan(g.trail)
	rootBand := t.Limits.Minor
	if t.Side == Internal {
		rootBand = t.Limits.Major
	}
	switch {
	case t.Form.RootRadius > 0 && slope > 1e-9:
		g.radius = t.Form.RootRadius * p
		g.depth = g.line + (p/2)/slope - g.radius*(g.centreHeight()-1)
	case rootBand.Min > 0 && rootBand.Max > 0:
		g.depth = math.Abs(float64(t.crest()-rootBand.Mean())) / 2
	case slope > 1e-9:
		g.depth = g.line + (p/2-t.Form.RootFlat*p)/slope
	default:
		g.depth = t.Form.Depth * p
	}
	if g.depth <= g.line { // limits so wide that no groove is left
		return nil
	}
	if t.Form.CrestRadius > 0 && slope > 1e-9 {
		return g.round(slope)
	}
	return g.flat(slope)
}

// Depth returns the depth of the finished groove at the target sizes, square to
// the axis.
func (t Thread) Depth() unit.Length {
	var deepest unit.Length
	for _, s := range t.Groove() {
		deepest = max(deepest, s.From.X, s.To.X)
		if s.Radius > 0 && min(s.From.X, s.To.X) >= s.Centre.X { // a root arc, which goes below its ends
			deepest = max(deepest, s.Centre.X+s.Radius)
		}
	}
	return deepest
}

// grooveShape is a groove in plain numbers of millimetres and radians, measured
// from the crest line.
type grooveShape struct {
	p           float64 // pitch
	lead, trail float64 // flank angles
	line        float64 // depth of the pitch line
	depth       float64 // depth of the root
	radius      float64 // root radius; zero for a flat
	corner      float64 // radius in the corners of a flat root; zero when sharp
}

// centreHeight is the height above the sharp apex of the centre of a circle
// tangent to both flanks, per unit of its radius:
//
//	h / r = (cos a + cos b) / sin(a + b)        (1 / sin a for equal flanks)
func (g grooveShape) centreHeight() float64 {
	return (math.Cos(g.lead) + math.Cos(g.trail)) / math.Sin(g.lead+g.trail)
}

// z returns where the two flanks are at depth x, from the middle of the pitch line.
func (g grooveShape) z(x float64) (trail, lead float64) {
	return -g.p/4 - (g.line-x)*math.Tan(g.trail), g.p/4 + (g.line-x)*math.Tan(g.lead)
}

// flat builds the outline with a flat crest.
func (g grooveShape) flat(slope float64) Groove {
	top := 0.0
	if w := g.p/2 + g.line*slope; w > g.p && slope > 0 { // the crest comes to a point below the crest line
		top = (w - g.p) / slope
	}
	zt, zl := g.z(top)
	start, end := point(zt, top), point(zl, top)
	root := g.root()
	return g.centred(append(append(Groove{{From: start, To: root[0].From}}, root...), Segment{From: root[len(root)-1].To, To: end}))
}

// round builds the outline with crests rounded by the circle that is tangent to
// both flanks and to the crest line.
func (g grooveShape) round(slope float64) Groove {
	h := g.centreHeight()
	above := (g.p/2)/slope - g.line // from the crest line up to the sharp crest
	r := above / (h - 1)
	if r <= 0 { // the crest line lies above the sharp crest
		return g.flat(slope)
	}
	// The ridge behind the groove has its apex where its trailing and leading flanks meet.
	zc, xc := g.apex(true)
	centre := point(zc+g.offset(r, true), xc+r*h)
	tan := Point{Z: centre.Z + unit.Length(r*math.Cos(g.trail)), X: centre.X - unit.Length(r*math.Sin(g.trail))}
	from := Point{Z: centre.Z, X: centre.X - unit.Length(r)}
	root := g.root()
	zc2 := centre.Z + unit.Length(g.p)
	centre2 := Point{Z: zc2, X: centre.X}
	tan2 := Point{Z: zc2 - unit.Length(r*math.Cos(g.lead)), X: centre.X - unit.Length(r*math.Sin(g.lead))}
	to := Point{Z: zc2, X: centre.X - unit.Length(r)}
	out := Groove{{From: from, To: tan, Centre: centre, Radius: unit.Length(r)}, {From: tan, To: root[0].From}}
	out = append(out, root...)
	out = append(out, Segment{From: root[len(root)-1].To, To: tan2}, Segment{From: tan2, To: to, Centre: centre2, Radius: unit.Length(r)})
	return g.centred(out)
}

// apex returns the sharp crest behind the groove, or the sharp root of the groove.
func (g grooveShape) apex(crest bool) (z, x float64) {
	h := (g.p / 2) / (math.Tan(g.lead) + math.Tan(g.trail))
	x = g.line + h
	if crest {
		x = g.line - h
	}
	z, _ = g.z(x)
	return z, x
}

// offset is how far to the side of the apex the centre of the tangent circle
// lies; zero for equal flanks.
func (g grooveShape) offset(r float64, crest bool) float64 {
	h := r * g.centreHeight()
	off := (h*math.Sin(g.lead) - r) / math.Cos(g.lead)
	if crest { // the ridge's leading side is the groove's trailing flank
		off = (r - h*math.Sin(g.lead)) / math.Cos(g.lead)
	}
	return off
}

// root returns the bottom of the groove, from flank to flank.
func (g grooveShape) root() Groove {
	if g.radius == 0 {
		zt, zl := g.z(g.depth)
		if zl < zt { // flanks meet above this depth: a sharp root
			z, x := g.apex(false)
			return Groove{{From: point(z, x), To: point(z, x)}}
		}
		if g.corner > 0 && zl > zt {
			return g.corners(zt, zl)
		}
		return Groove{{From: point(zt, g.depth), To: point(zl, g.depth)}}
	}
	z, x := g.apex(false)
	c := point(z+g.offset(g.radius, false), x-g.radius*g.centreHeight())
	r := unit.Length(g.radius)
	from := Point{Z: c.Z - r*unit.Length(math.Cos(g.trail)), X: c.X + r*unit.Length(math.Sin(g.trail))}
	to := Point{Z: c.Z + r*unit.Length(math.Cos(g.lead)), X: c.X + r*unit.Length(math.Sin(g.lead))}
	return Groove{{From: from, To: to, Centre: c, Radius: r}}
}

// corners returns a flat root whose corners are rounded; zt and zl are where the
// sharp corners would be. An arc of radius r takes r tan((90° - a)/2) of the flat
// and as much of a flank inclined by a. Radii too large for the flat are reduced
// until the two arcs meet.
func (g grooveShape) corners(zt, zl float64) Groove {
	takes := func(flank float64) float64 { return math.Tan((math.Pi/2 - flank) / 2) }
	r := min(g.corner, (zl-zt)/(takes(g.trail)+takes(g.lead)))
	t, l := r*takes(g.trail), r*takes(g.lead)
	centre := func(z float64) Point { return point(z, g.depth-r) }
	out := Groove{{
		From: point(zt-t*math.Sin(g.trail), g.depth-t*math.Cos(g.trail)), To: point(zt+t, g.depth),
		Centre: centre(zt + t), Radius: unit.Length(r),
	}}
	if zl-l > zt+t+1e-12 {
		out = append(out, Segment{From: point(zt+t, g.depth), To: point(zl-l, g.depth)})
	}
	return append(out, Segment{
		From: out[len(out)-1].To, To: point(zl+l*math.Sin(g.lead), g.depth-l*math.Cos(g.lead)),
		Centre: centre(zl - l), Radius: unit.Length(r),
	})
}

// centred shifts an outline so that Z = 0 is the middle of the root.
func (g grooveShape) centred(out Groove) Groove {
	var mid unit.Length
	if g.radius > 0 {
		z, _ := g.apex(false)
		mid = unit.Length(z + g.offset(g.radius, false))
	} else {
		zt, zl := g.z(g.depth)
		mid = unit.Length((zt + zl) / 2)
	}
	for i := range out {
		out[i].From.Z -= mid
		out[i].To.Z -= mid
		if out[i].Radius > 0 {
			out[i].Centre.Z -= mid
		}
	}
	return out
}

func point(z, x float64) Point { return Point{Z: unit.Length(z), X: unit.Length(x)} }
