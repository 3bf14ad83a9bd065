package draw

import (
	"math"

	"thrum/unit"
)

// rootGap is the distance between the lines for crests and roots on paper. ISO
// 6410-1, 2.2.1: about the depth of thread, but not less than twice the wide line
// or 0.7 mm.
func rootGap(depth mm) mm { return max(depth, 2*wide, 0.7) }

// Screw is a thread in a view or section along its axis, drawn as ISO 6410-1
// tells: a wide line at the crests, a narrow line at the roots.
type Screw struct {
	From, To  Pt          // ends of the full thread, on the axis
	Crest     unit.Length // radius on paper at the crests: the major of a screw, the minor of a nut
	Depth     unit.Length // depth of thread on paper
	Internal  bool        // a nut, cut open: roots lie outside the crests
	OpenEnd   bool        // no line for the end of full thread at To
	UpperOnly bool        // only the half above the axis
}

// Screw draws the lines of the thread and returns the radius of the narrow line.
func (l *List) Screw(s Screw) (root unit.Length) {
	root = s.Crest - rootGap(s.Depth)
	if s.Internal {
		root = s.Crest + rootGap(s.Depth)
	}
	dir := s.From.Towards(s.To)
	for _, side := range []unit.Angle{math.Pi / 2, -math.Pi / 2} {
		if s.UpperOnly && side < 0 {
			break
		}
		at := func(p Pt, r mm) Pt { return p.Polar(r, dir+side) }
		l.Stroke(Segment(at(s.From, s.Crest), at(s.To, s.Crest)), Visible)
		l.Stroke(Segment(at(s.From, root), at(s.To, root)), Thin)
		if !s.OpenEnd { // the end of full thread is a wide line, out to the major diameter
			inner := mm(0)
			if s.Internal {
				inner = s.Crest
			}
			l.Stroke(Segment(at(s.To, inner), at(s.To, max(root, s.Crest))), Visible)
		}
	}
	return root
}

// ScrewEnd draws a thread seen along its axis: a wide circle for the crests and
// about three quarters of a narrow circle for the roots, open at the upper right
// (ISO 6410-1, 2.2.2).
func (l *List) ScrewEnd(centre Pt, crest, depth unit.Length, internal bool) {
	root := crest - rootGap(depth)
	if internal {
		root = crest + rootGap(depth)
	}
	l.Stroke(Circle(centre, crest), Visible)
	l.Stroke(new(Path).Arc(centre, root, 95*unit.Degree, 260*unit.Degree), Thin)
	l.CentreMark(centre, max(crest, root))
}

// CentreMark draws the two centre lines of a circle, a little beyond it.
func (l *List) CentreMark(c Pt, r unit.Length) {
	d := r + 2.5
	l.Stroke(Segment(Pt{c.X - d, c.Y}, Pt{c.X + d, c.Y}), Centre)
	l.Stroke(Segment(Pt{c.X, c.Y - d}, Pt{c.X, c.Y + d}), Centre)
}

// Broken returns the freehand line that ends a broken-off view, from a to b. It
// is the same wave every time.
func Broken(a, b Pt) *Path {
	const wave mm = 5
	dir := a.Towards(b)
	n := max(2, int(math.Round(float64(a.Dist(b)/wave))))
	step := a.Dist(b) / mm(n)
	p := new(Path).Move(a)
	for i := range n {
		amp := step * mm(0.22+0.08*math.Sin(2.4*float64(i)))
		if i%2 == 1 {
			amp = -amp
		}
		from, to := a.Polar(step*mm(i), dir), a.Polar(step*mm(i+1), dir)
		lift := dir + math.Pi/2
		p.Curve(from.Polar(step/3, dir).Polar(amp, lift), to.Polar(-step/3, dir).Polar(amp, lift), to)
	}
	return p
}
