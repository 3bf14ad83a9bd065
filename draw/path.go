package draw

import (
	"math"

	"thrum/unit"
)

// Path is an outline of straight lines, circular arcs and cubic curves. It may
// have several parts, each begun by Move. The zero value is an empty path.
//
// When a path of several parts is filled, a part that runs the other way round
// than the one it lies in is a hole.
type Path struct{ steps []step }

type verb byte

const (
	moveTo verb = iota
	lineTo
	arcTo
	curveTo
	closeTo
)

type step struct {
	verb        verb
	to          Pt // where the step ends
	centre      Pt // of an arc
	r           mm
	from, sweep unit.Angle
	c1, c2      Pt // of a curve
}

// Move begins a new part at p.
func (p *Path) Move(to Pt) *Path {
	p.steps = append(p.steps, step{verb: moveTo, to: to})
	return p
}

// Line draws a straight line to the point; on an empty path it begins there.
func (p *Path) Line(to Pt) *Path {
	if len(p.steps) == 0 {
		return p.Move(to)
	}
	p.steps = append(p.steps, step{verb: lineTo, to: to})
	return p
}

// Arc draws part of a circle about the centre: it starts in direction from and
// turns by sweep, anticlockwise when positive, at most one full turn. A straight
// line joins it to what came before when its start is elsewhere.
func (p *Path) Arc(centre Pt, r unit.Length, from, sweep unit.Angle) *Path {
	start := centre.Polar(r, from)
	switch last, ok := p.last(); {
	case !ok:
		p.Move(start)
	case last.Dist(start) > 1e-6:
		p.Line(start)
	}
	sweep = max(-2*math.Pi, min(2*math.Pi, sweep))
	p.steps = append(p.steps, step{
		verb: arcTo, centre: centre, r: r, from: from, sweep: sweep,
		to: centre.Polar(r, from+sweep),
	})
	return p
}

// Curve draws a cubic curve with the two given handles.
func (p *Path) Curve(c1, c2, to Pt) *Path {
	p.steps = append(p.steps, step{verb: curveTo, c1: c1, c2: c2, to: to})
	return p
}

// Close joins the end of the current part to its beginning.
func (p *Path) Close() *Path {
	if start, ok := p.start(); ok {
		p.steps = append(p.steps, step{verb: closeTo, to: start})
	}
	return p
}

// Append adds the parts of o to p.
func (p *Path) Append(o *Path) *Path {
	p.steps = append(p.steps, o.steps...)
	return p
}

func (p *Path) last() (Pt, bool) {
	if len(p.steps) == 0 {
		return Pt{}, false
	}
	return p.steps[len(p.steps)-1].to, true
}

func (p *Path) start() (Pt, bool) {
	for i := len(p.steps) - 1; i >= 0; i-- {
		if p.steps[i].verb == moveTo {
			return p.steps[i].to, true
		}
	}
	return Pt{}, false
}

// Segment returns the straight line from a to b.
func Segment(a, b Pt) *Path { return new(Path).Move(a).Line(b) }

// Polyline returns straight lines through the points.
func Polyline(pts ...Pt) *Path {
	p := new(Path)
	for _, q := range pts {
		p.Line(q)
	}
	return p
}

// Polygon returns the closed outline through the points.
func Polygon(pts ...Pt) *Path { return Polyline(pts...).Close() }

// Rect returns the outline of the box.
func Rect(b Box) *Path {
	return Polygon(Pt{b.X, b.Y}, Pt{b.Right(), b.Y}, Pt{b.Right(), b.Bottom()}, Pt{b.X, b.Bottom()})
}

// Circle returns the full circle.
func Circle(centre Pt, r unit.Length) *Path {
	return new(Path).Arc(centre, r, 0, 2*math.Pi).Close()
}

// Map returns the path moved to a place and scaled about the origin first.
func (p *Path) Map(scale float64, move Pt) *Path {
	f := func(q Pt) Pt { return q.Times(scale).Add(move) }
	out := &Path{steps: make([]step, len(p.steps))}
	for i, s := range p.steps {
		s.to, s.centre, s.c1, s.c2 = f(s.to), f(s.centre), f(s.c1), f(s.c2)
		s.r *= mm(scale)
		out.steps[i] = s
	}
	return out
}

// Bounds returns the smallest upright box that holds the path; curves count with
// their handles.
func (p *Path) Bounds() Box {
	lo, hi := Pt{math.MaxFloat64, math.MaxFloat64}, Pt{-math.MaxFloat64, -math.MaxFloat64}
	take := func(q Pt) {
		lo.X, lo.Y, hi.X, hi.Y = min(lo.X, q.X), min(lo.Y, q.Y), max(hi.X, q.X), max(hi.Y, q.Y)
	}
	for _, s := range p.steps {
		take(s.to)
		switch s.verb {
		case curveTo:
			take(s.c1)
			take(s.c2)
		case arcTo:
			take(s.centre.Polar(s.r, s.from))
			for q := -8; q <= 8; q++ { // the four extreme points, where the arc passes them
				if a := unit.Angle(q) * math.Pi / 2; (a-s.from)*sgn(s.sweep) > 0 && (a-s.from)*sgn(s.sweep) < s.sweep*sgn(s.sweep) {
					take(s.centre.Polar(s.r, a))
				}
			}
		}
	}
	if hi.X < lo.X {
		return Box{}
	}
	return Box{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y}
}

func sgn(a unit.Angle) unit.Angle {
	if a < 0 {
		return -1
	}
	return 1
}

// flat returns the parts of the path as chains of points that stray from it by
// at most tol, and whether each chain is closed.
func (p *Path) flat(tol mm) (chains [][]Pt, closed []bool) {
	var chain []Pt
	end := func(shut bool) {
		if len(chain) > 0 {
			chains, closed = append(chains, chain), append(closed, shut)
		}
		chain = nil
	}
	var at Pt
	for _, s := range p.steps {
		if len(chain) == 0 && s.verb != moveTo && s.verb != closeTo {
			chain = append(chain, at)
		}
		switch s.verb {
		case moveTo:
			end(false)
			chain = append(chain, s.to)
		case lineTo:
			chain = append(chain, s.to)
		case arcTo:
			chain = append(chain, arcPoints(s, tol)...)
		case curveTo:
			chain = append(chain, curvePoints(at, s, tol)...)
		case closeTo:
			end(true)
		}
		at = s.to
	}
	end(false)
	return chains, closed
}

// arcPoints returns points along the arc without its first. A chord of angle a
// strays from a circle of radius r by r(1 - cos a/2).
func arcPoints(s step, tol mm) []Pt {
	n := 1
	if s.r > tol {
		n = int(math.Ceil(math.Abs(s.sweep.Rad()) / (2 * math.Acos(1-float64(tol/s.r)))))
	}
	n = max(1, min(n, 720))
	pts := make([]Pt, n)
	for i := range pts {
		pts[i] = s.centre.Polar(s.r, s.from+s.sweep*unit.Angle(i+1)/unit.Angle(n))
	}
	pts[n-1] = s.to
	return pts
}

func curvePoints(from Pt, s step, tol mm) []Pt {
	bend := from.Dist(s.c1) + s.c1.Dist(s.c2) + s.c2.Dist(s.to)
	n := max(2, min(int(math.Ceil(math.Sqrt(float64(bend/tol)))), 64))
	pts := make([]Pt, n)
	for i := range pts {
		t := float64(i+1) / float64(n)
		a, b, c := from.Between(s.c1, t), s.c1.Between(s.c2, t), s.c2.Between(s.to, t)
		pts[i] = a.Between(b, t).Between(b.Between(c, t), t)
	}
	return pts
}

// cubics returns the arc as cubic curves of at most a quarter turn each, by the
// usual handle length 4/3 tan(a/4) r; the error is below 0.03 % of the radius.
func cubics(s step) [][3]Pt {
	n := max(1, int(math.Ceil(math.Abs(s.sweep.Rad())/(math.Pi/2)-1e-9)))
	da := s.sweep / unit.Angle(n)
	h := s.r * mm(4.0/3*math.Tan(da.Rad()/4))
	out := make([][3]Pt, n)
	for i := range out {
		a := s.from + da*unit.Angle(i)
		p, q := s.centre.Polar(s.r, a), s.centre.Polar(s.r, a+da)
		out[i] = [3]Pt{p.Polar(h, a+math.Pi/2), q.Polar(-h, a+da+math.Pi/2), q}
	}
	return out
}
