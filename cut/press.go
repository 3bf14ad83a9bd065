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
			a, b := e.split(e.z0, e.z1, i, n)
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
	yield   float64 // how far the last pass stayed behind its dial
}

func newHistory(c *Cutter, f *Force) *history {
	return &history{c: c, f: f, far: make([]float64, len(c.press))}
}

func (h *history) reset() {
	for i := range h.far {
		h.far[i] = math.Inf(-1)
	}
	h.reached, h.yield = 0, 0
}

// pass cuts at a dialled position with compliance give. It returns the depth the
// tool stood at and the radial force.
func (h *history) pass(p Position, give float64) (depth, force float64) {
	dial, along := p.Depth.MM(), p.Along.MM()
	depth = dial
	if give > 0 {
		depth = h.settle(dial, along, give)
	}
	force, _ = h.radial(depth, along)
	for i, e := range h.c.press {
		h.far[i] = max(h.far[i], e.nx*depth+e.nz*along)
	}
	h.reached = max(h.reached, depth)
	h.yield = dial - depth
	return depth, force
}

// settled is the accuracy of a depth in millimetres: a tenth of a nanometre.
const settled = 1e-7

// settle solves depth + give radial(depth) = dial. The left side rises with the
// depth, so the answer lies between no force and the dial; Newton's steps are
// taken while they stay between, halving where they do not. The first guess is
// that the tool yields as much as it did in the pass before.
func (h *history) settle(dial, along, give float64) float64 {
	lo, hi := math.Inf(-1), dial
	x := dial - h.yield
	for range 60 {
		r, rise := h.radial(x, along)
		y := x + give*r - dial
		if y > 0 {
			hi = x
		} else {
			lo = x
		}
		next := x - y/(1+give*rise)
		if math.IsInf(lo, -1) { // below this no force is left to push
			if lo = x - y; y <= 0 {
				lo = x
			}
		}
		if !(next >= lo && next <= hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-x) < settled {
			return next
		}
		x = next
	}
	return x
}

// radial is the force that pushes tool and work apart with the tool at a depth,
// and how much it gains per depth from thicker chips and longer edges.
func (h *history) radial(depth, along float64) (force, rise float64) {
	k, m, ke := h.f.kc, h.f.mc, float64(h.f.Edge)
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
		l, grow := e.length, 0.0
		if e.top+up < 0 {
			grow = e.length / (e.bottom - e.top)
			l = grow * (e.bottom + up)
		}
		cut := k * math.Exp((1-m)*math.Log(t))
		force += (cut + ke) * l * e.nx
		rise += ((1-m)*cut/t*e.nx*l + (cut+ke)*grow) * e.nx
		switch e.part {
		case LeadingFlank:
			flank[0] = max(flank[0], t)
		case TrailingFlank:
			flank[1] = max(flank[1], t)
		}
	}
	c := h.f.Thrust * h.f.collision(max(flank[0], flank[1]), min(flank[0], flank[1]))
	return force * c, rise * c
}
