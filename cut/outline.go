package cut

import "math"

// curve is one piece of an outline as a depth over the place along the axis:
// either the line x0 + b (z - z0), or the arc cx + side sqrt(r^2 - (z-cz)^2).
type curve struct {
	z0, z1 float64 // where it holds, z0 < z1
	x0, b  float64 // line: depth at z0 and slope
	cz, cx float64 // arc: centre
	r      float64 // arc: radius; zero for a line
	side   float64 // arc: +1 where the arc lies deeper than its centre, else -1
}

func (c curve) at(z float64) float64 {
	if c.r == 0 {
		return c.x0 + c.b*(z-c.z0)
	}
	u := z - c.cz
	return c.cx + c.side*math.Sqrt(max(c.r*c.r-u*u, 0))
}

// area is the integral of the depth from a to b.
func (c curve) area(a, b float64) float64 {
	if c.r == 0 {
		return (b - a) * (c.x0 + c.b*((a+b)/2-c.z0))
	}
	prim := func(z float64) float64 {
		u := min(max((z-c.cz)/c.r, -1), 1)
		return c.r * c.r / 2 * (u*math.Sqrt(1-u*u) + math.Asin(u))
	}
	return c.cx*(b-a) + c.side*(prim(b)-prim(a))
}

// length is the length of the curve from a to b.
func (c curve) length(a, b float64) float64 {
	if c.r == 0 {
		return (b - a) * math.Sqrt(1+c.b*c.b)
	}
	angle := func(z float64) float64 { return math.Asin(min(max((z-c.cz)/c.r, -1), 1)) }
	return c.r * (angle(b) - angle(a))
}

// split divides a to b into n parts of equal length along the curve and returns
// the ends of the i-th.
func (c curve) split(a, b float64, i, n int) (lo, hi float64) {
	if c.r == 0 {
		return a + (b-a)*float64(i)/float64(n), a + (b-a)*float64(i+1)/float64(n)
	}
	angle := func(z float64) float64 { return math.Asin(min(max((z-c.cz)/c.r, -1), 1)) }
	from, to := angle(a), angle(b)
	place := func(i int) float64 { return c.cz + c.r*math.Sin(from+(to-from)*float64(i)/float64(n)) }
	lo, hi = a, b
	if i > 0 {
		lo = place(i)
	}
	if i < n-1 {
		hi = place(i + 1)
	}
	return lo, hi
}

// shifted returns the curve moved by dz along and dx deeper.
func (c curve) shifted(dz, dx float64) curve {
	c.z0 += dz
	c.z1 += dz
	c.x0 += dx
	c.cz += dz
	c.cx += dx
	return c
}

// crossings returns the places strictly between a and b where two curves have
// the same depth: at most two of them for any pair of lines and arcs.
func crossings(p, q curve, a, b float64) (z [2]float64, n int) {
	add := func(v float64) {
		if v > a && v < b && n < 2 {
			z[n] = v
			n++
		}
	}
	switch {
	case p.r == 0 && q.r == 0:
		if d := p.b - q.b; d != 0 {
			add(p.z0 + (q.at(p.z0)-p.x0)/d)
		}
	case p.r == 0:
		lineArc(p, q, add)
	case q.r == 0:
		lineArc(q, p, add)
	default:
		arcArc(p, q, add)
	}
	if n == 2 && z[0] > z[1] {
		z[0], z[1] = z[1], z[0]
	}
	return z, n
}

// lineArc finds where a line meets an arc: with u = z - cz and the line at the
// height y + b u over the centre, y + b u = side sqrt(r^2 - u^2).
func lineArc(l, c curve, add func(float64)) {
	y := l.at(c.cz) - c.cx
	k := 1 + l.b*l.b
	disc := c.r*c.r*k - y*y
	if disc < 0 {
		return
	}
	root := math.Sqrt(disc)
	for _, s := range []float64{-1, 1} {
		u := (-l.b*y + s*root) / k
		if c.side*(y+l.b*u) >= 0 {
			add(c.cz + u)
		}
	}
}

// arcArc finds where two arcs meet, on the chord common to both circles.
func arcArc(p, q curve, add func(float64)) {
	dz, dx := q.cz-p.cz, q.cx-p.cx
	d2 := dz*dz + dx*dx
	if d2 == 0 {
		return
	}
	t := (p.r*p.r - q.r*q.r + d2) / (2 * d2)
	h2 := p.r*p.r/d2 - t*t
	if h2 < 0 {
		return
	}
	h := math.Sqrt(h2)
	for _, s := range []float64{-1, 1} {
		z, x := t*dz-s*h*dx, t*dx+s*h*dz // from the centre of p
		if p.side*x >= 0 && q.side*(x-dx) >= 0 {
			add(p.cz + z)
		}
	}
}

// source tells which pass and which piece of the tool made a piece of surface;
// pass -1 is the blank.
type source struct{ pass, piece int }

// piece is a stretch of surface.
type piece struct {
	curve
	from source
}

// surface is what the passes so far have left, as a depth over the place along
// the axis: stretches in rising order without gaps.
type surface []piece

// bite is a stretch over which the tool stood deeper than the surface: it cut there.
type bite struct {
	a, b  float64
	piece int     // of the tool
	area  float64 // taken off over the stretch
}

// touching is how much deeper the tool must stand to count as cutting, in
// millimetres: far below any chip, far above rounding.
const touching = 1e-12

// cut runs the tool, whose pieces are in rising order, over the surface. It
// returns the surface left and the stretches that were cut.
func (s surface) cut(pass int, tool []curve, into surface, bites []bite) (surface, []bite) {
	t := 0
	for _, p := range s {
		at := p.z0
		for at < p.z1 {
			for t < len(tool) && tool[t].z1 <= at {
				t++
			}
			if t == len(tool) || tool[t].z0 >= p.z1 { // no tool over the rest of this stretch
				into = into.add(p, at, p.z1)
				break
			}
			if tool[t].z0 > at {
				into = into.add(p, at, tool[t].z0)
				at = tool[t].z0
			}
			end := min(p.z1, tool[t].z1)
			into, bites = overlap(p, piece{tool[t], source{pass, t}}, at, end, into, bites)
			at = end
		}
	}
	return into, bites
}

// overlap keeps the deeper of two pieces on each part of a to b.
func overlap(old, tool piece, a, b float64, into surface, bites []bite) (surface, []bite) {
	z, n := crossings(old.curve, tool.curve, a, b)
	for i := 0; i <= n; i++ {
		end := b
		if i < n {
			end = z[i]
		}
		mid := (a + end) / 2
		if tool.at(mid)-old.at(mid) > touching {
			into = into.add(tool, a, end)
			area := tool.area(a, end) - old.area(a, end)
			if k := len(bites) - 1; k >= 0 && bites[k].piece == tool.from.piece && bites[k].b == a {
				bites[k].b, bites[k].area = end, bites[k].area+area
			} else {
				bites = append(bites, bite{a, end, tool.from.piece, area})
			}
		} else {
			into = into.add(old, a, end)
		}
		a = end
	}
	return into, bites
}

// add appends the part of p from a to b, joining it to the last stretch when both
// come from the same piece in the same pass.
func (s surface) add(p piece, a, b float64) surface {
	if !(b > a) {
		return s
	}
	if n := len(s); n > 0 && s[n-1].from == p.from && s[n-1].z1 == a {
		s[n-1].z1 = b
		return s
	}
	if p.r == 0 {
		p.x0 = p.at(a)
	}
	p.z0, p.z1 = a, b
	return append(s, p)
}

// depth returns the depth just beside z: to the right of it for side > 0.
func (s surface) depth(z, side float64) float64 {
	for _, p := range s {
		if z < p.z1 || z == p.z1 && side < 0 {
			if z < p.z0 {
				break
			}
			return p.at(z)
		}
	}
	return 0
}
