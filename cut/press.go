package cut

import "math"

// pressed is a short element of the edge as Follow needs it: how much of it is
// in the metal follows from the tool's depth alone, how thick its chip is from
// its normal.
type pressed struct {
	part        Part
	length      float64
	top, bottom float64 // depth range in the finished groove
	nx, nz      float64
}

// pressedElements divides the edge into straight elements. An element that lies
// in the metal and has moved forward since it last cut is in the cut over its
// whole length, which is what Cut finds too.
func (c *Cutter) pressedElements() []pressed {
	var out []pressed
	for _, e := range c.edge {
		if e.upright {
			out = append(out, pressed{e.part, e.span(), min(e.x0, e.b), max(e.x0, e.b), 0, e.nz})
			continue
		}
		n := 1
		if e.r > 0 {
			n = arcPieces
		}
		for i := range n {
			a, b := e.z0+(e.z1-e.z0)*float64(i)/float64(n), e.z0+(e.z1-e.z0)*float64(i+1)/float64(n)
			nz, nx := e.normal(a, b)
			xa, xb := e.at(a), e.at(b)
			out = append(out, pressed{e.part, e.length(a, b), min(xa, xb), max(xa, xb), nx, nz})
		}
	}
	return out
}

// history is what the passes so far have left at one station: for each element
// the furthest that it stood along its own normal.
type history struct {
	c       *Cutter
	f       *Force
	far     []float64
	reached float64 // deepest so far
}

func newHistory(c *Cutter, f *Force) *history {
	return &history{c: c, f: f, far: make([]float64, len(c.press))}
}

func (h *history) reset() {
	for i := range h.far {
		h.far[i] = math.Inf(-1)
	}
	h.reached = 0
}

// pass cuts at a dialled position with compliance give. It returns the depth the
// tool stood at and the radial force.
func (h *history) pass(p Position, give float64) (depth, force float64) {
	dial, along := p.Depth.MM(), p.Along.MM()
	depth = dial
	if give > 0 {
		depth = h.settle(dial, along, give)
	}
	force = h.radial(depth, along)
	for i, e := range h.c.press {
		h.far[i] = max(h.far[i], e.nx*depth+e.nz*along)
	}
	h.reached = max(h.reached, depth)
	return depth, force
}

// settle solves depth + give radial(depth) = dial. The left side rises with the
// depth, so the answer lies between no force and the dial; Newton's steps are
// taken while they stay between, halving where they do not.
func (h *history) settle(dial, along, give float64) float64 {
	lo, hi := dial-give*h.radial(dial, along), dial
	x := (lo + hi) / 2
	for range 60 {
		y, slope := h.excess(x, dial, along, give)
		if y > 0 {
			hi = x
		} else {
			lo = x
		}
		next := x - y/slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-x) < 1e-10 {
			return next
		}
		x = next
	}
	return x
}

// excess returns depth + give radial(depth) - dial and its slope.
func (h *history) excess(depth, dial, along, give float64) (y, slope float64) {
	const step = 1e-7
	r := h.radial(depth, along)
	rise := (h.radial(depth+step, along) - r) / step
	return depth + give*r - dial, 1 + give*rise
}

// radial is the force that pushes tool and work apart with the tool at a depth.
func (h *history) radial(depth, along float64) float64 {
	sum := 0.0
	var flank [2]float64
	up := depth - h.c.depth // the tool's outline stands this much deeper than in the finished groove
	for i, e := range h.c.press {
		if e.nx <= 0 || e.bottom+up <= 0 {
			continue
		}
		t := min(e.nx*depth, e.nx*depth+e.nz*along-h.far[i])
		if t <= 0 {
			continue
		}
		l := e.length
		if top := e.top + up; top < 0 {
			l *= (e.bottom + up) / (e.bottom - e.top)
		}
		sum += h.f.line(t) * l * e.nx
		switch e.part {
		case LeadingFlank:
			flank[0] = max(flank[0], t)
		case TrailingFlank:
			flank[1] = max(flank[1], t)
		}
	}
	return sum * h.f.Thrust * h.f.collision(max(flank[0], flank[1]), min(flank[0], flank[1]))
}
