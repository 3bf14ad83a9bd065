package draw

import (
	"math"

	"thrum/unit"
)

// mm is shorthand inside this package; paper is measured in nothing else.
type mm = unit.Length

// Pt is a point on the paper: X to the right and Y down from the top left corner.
type Pt struct{ X, Y unit.Length }

// Add returns p moved by q.
func (p Pt) Add(q Pt) Pt { return Pt{p.X + q.X, p.Y + q.Y} }

// Sub returns the step from q to p.
func (p Pt) Sub(q Pt) Pt { return Pt{p.X - q.X, p.Y - q.Y} }

// Times returns p with both coordinates multiplied by k.
func (p Pt) Times(k float64) Pt { return Pt{p.X * mm(k), p.Y * mm(k)} }

// Polar returns the point at distance r from p in direction a, anticlockwise
// from three o'clock.
func (p Pt) Polar(r unit.Length, a unit.Angle) Pt {
	return Pt{p.X + r*mm(a.Cos()), p.Y - r*mm(a.Sin())}
}

// Dist returns the distance from p to q.
func (p Pt) Dist(q Pt) unit.Length {
	return mm(math.Hypot(float64(p.X-q.X), float64(p.Y-q.Y)))
}

// Towards returns the direction from p to q, anticlockwise from three o'clock.
func (p Pt) Towards(q Pt) unit.Angle {
	return unit.Angle(math.Atan2(float64(p.Y-q.Y), float64(q.X-p.X)))
}

// Between returns the point at fraction t of the way from p to q.
func (p Pt) Between(q Pt, t float64) Pt { return p.Add(q.Sub(p).Times(t)) }

// Box is an upright rectangle on the paper.
type Box struct{ X, Y, W, H unit.Length }

// Right returns the X of the right edge.
func (b Box) Right() unit.Length { return b.X + b.W }

// Bottom returns the Y of the lower edge.
func (b Box) Bottom() unit.Length { return b.Y + b.H }

// Mid returns the centre of the box.
func (b Box) Mid() Pt { return Pt{b.X + b.W/2, b.Y + b.H/2} }

// Inset returns the box made smaller by d on every side.
func (b Box) Inset(d unit.Length) Box { return Box{b.X + d, b.Y + d, b.W - 2*d, b.H - 2*d} }

// Trim returns the box made smaller by a distance of its own on each side.
func (b Box) Trim(left, top, right, bottom unit.Length) Box {
	return Box{b.X + left, b.Y + top, b.W - left - right, b.H - top - bottom}
}

// Top cuts a strip of height h off the top and returns it and what remains.
func (b Box) Top(h unit.Length) (strip, rest Box) {
	h = min(h, b.H)
	return Box{b.X, b.Y, b.W, h}, Box{b.X, b.Y + h, b.W, b.H - h}
}

// Left cuts a strip of width w off the left and returns it and what remains.
func (b Box) Left(w unit.Length) (strip, rest Box) {
	w = min(w, b.W)
	return Box{b.X, b.Y, w, b.H}, Box{b.X + w, b.Y, b.W - w, b.H}
}

// Columns divides the box into n equal columns with a gap between neighbours.
func (b Box) Columns(n int, gap unit.Length) []Box {
	cols := make([]Box, n)
	w := (b.W - gap*mm(n-1)) / mm(n)
	for i := range cols {
		cols[i] = Box{b.X + (w+gap)*mm(i), b.Y, w, b.H}
	}
	return cols
}

// Contains reports whether o lies inside b.
func (b Box) Contains(o Box) bool {
	return o.X >= b.X && o.Y >= b.Y && o.Right() <= b.Right() && o.Bottom() <= b.Bottom()
}

// Size is a size of paper.
type Size struct{ W, H unit.Length }

// Sizes of paper, upright. Wide is the shape of a video frame, 16:9: at 1920
// pixels across, one millimetre is six pixels.
var (
	A4     = Size{210, 297}     // ISO 216
	Letter = Size{215.9, 279.4} // 8.5 x 11 in
	Wide   = Size{320, 180}
)

// Landscape returns the size turned on its side.
func (s Size) Landscape() Size {
	if s.W < s.H {
		return Size{s.H, s.W}
	}
	return s
}

// Box returns the whole of the paper less a margin on every side.
func (s Size) Box(margin unit.Length) Box { return Box{0, 0, s.W, s.H}.Inset(margin) }
