package cut

import (
	"errors"
	"fmt"
	"math"

	"thrum/thread"
	"thrum/unit"
)

// arcPieces is into how many elements of one thickness an arc's part in the cut
// is divided.
const arcPieces = 8

// Cut returns the chip of each pass and the outline of the groove after it.
//
// The chip is exact: the tool's outline at its place less everything that was
// taken away before, lines and arcs without approximation. So the areas of all
// chips add up to the area of the groove.
//
// The thickness of an edge element is the distance, square to it, from where the
// same edge stood when it last cut there: n . (p_k - p_j), the least over all
// earlier passes j and over the tool just touching the blank. Near the tip, where
// the chips of both flanks meet, and at the blank's surface the real chip thins
// out; Mean tells the thickness that makes area and length agree.
func (c *Cutter) Cut(at []Position) ([]Chip, []thread.Groove, error) {
	if err := checkPositions(at); err != nil {
		return nil, nil, err
	}
	now := surface{piece{curve{z0: c.left, z1: c.right}, source{pass: -1}}}
	var next surface
	var bites []bite
	tool := make([]curve, 0, len(c.edge))
	pieces := make([]int, 0, len(c.edge))
	chips := make([]Chip, len(at))
	outlines := make([]thread.Groove, len(at))
	for k, p := range at {
		tool, pieces = c.stand(p, tool[:0], pieces[:0])
		next, bites = now.cut(k, tool, next[:0], bites[:0])
		for i := range bites {
			bites[i].piece = pieces[bites[i].piece]
		}
		chips[k] = c.chip(at, k, bites, now)
		now, next = next, now
		outlines[k] = now.outline()
	}
	return chips, outlines, nil
}

// stand returns the tool's curves at a position, and to which piece of edge each
// belongs.
func (c *Cutter) stand(p Position, tool []curve, pieces []int) ([]curve, []int) {
	dz, dx := p.Along.MM(), p.Depth.MM()-c.depth
	for i, e := range c.edge {
		if e.upright {
			continue
		}
		s := e.shifted(dz, dx)
		if n := len(tool); n > 0 && s.z0 != tool[n-1].z1 { // rounding of the shift must not open a gap
			s.x0 = s.at(tool[n-1].z1)
			s.z0 = tool[n-1].z1
		}
		tool, pieces = append(tool, s), append(pieces, i)
	}
	return tool, pieces
}

// chip gathers what was bitten off in pass k.
func (c *Cutter) chip(at []Position, k int, bites []bite, before surface) Chip {
	chip := Chip{At: at[k]}
	dz, dx := at[k].Along.MM(), at[k].Depth.MM()-c.depth
	for _, b := range bites {
		chip.Area += unit.Area(b.area)
		e := c.edge[b.piece]
		moved := e.shifted(dz, dx)
		n := 1
		if e.r > 0 {
			n = arcPieces
		}
		for i := range n {
			lo, hi := moved.split(b.a, b.b, i, n)
			nz, nx := e.normal(lo-dz, hi-dz)
			chip.add(e.part, moved.length(lo, hi), thickness(at, k, nz, nx), nz, nx)
		}
	}
	for _, e := range c.edge {
		if !e.upright {
			continue
		}
		// The metal beside an upright flank stood as high as the surface just inside the groove.
		top, bottom := min(e.x0, e.b)+dx, max(e.x0, e.b)+dx
		inside := -1.0
		if e.part == TrailingFlank {
			inside = 1
		}
		if l := bottom - max(top, before.depth(e.z0+dz, inside), 0); l > touching {
			chip.add(e.part, l, thickness(at, k, e.nz, 0), e.nz, 0)
		}
	}
	chip.share()
	return chip
}

func (c *Chip) add(part Part, length, thick, nz, nx float64) {
	c.Elements = append(c.Elements, Element{part, unit.Length(length), unit.Length(thick), nx, nz})
	e := &c.Edges[part]
	e.Length += unit.Length(length)
	e.Thickness = max(e.Thickness, unit.Length(thick))
	e.Area += unit.Area(length * thick)
}

// thickness is how far the edge with the normal n moved into the metal since the
// pass that came nearest.
func thickness(at []Position, k int, nz, nx float64) float64 {
	p := at[k]
	h := nx * p.Depth.MM() // from touching the blank
	for _, q := range at[:k] {
		h = min(h, nx*(p.Depth-q.Depth).MM()+nz*(p.Along-q.Along).MM())
	}
	return max(h, 0)
}

// share divides the chip's area among the edges in proportion to length times
// thickness.
func (c *Chip) share() {
	var sum unit.Area
	for _, e := range c.Edges {
		sum += e.Area
	}
	for i := range c.Edges {
		e := &c.Edges[i]
		if sum > 0 {
			e.Area *= c.Area / sum
		}
		if e.Length > 0 {
			e.Mean = unit.Length(e.Area.MM2() / e.Length.MM())
		}
	}
}

// outline turns a surface into a groove's outline, with upright lines where it jumps.
func (s surface) outline() thread.Groove {
	out := make(thread.Groove, 0, len(s)+2)
	var last thread.Point
	for i, p := range s {
		from := thread.Point{Z: unit.Length(p.z0), X: unit.Length(p.at(p.z0))}
		if i > 0 {
			if math.Abs(float64(from.X-last.X)) > 1e-9 {
				out = append(out, thread.Segment{From: last, To: thread.Point{Z: last.Z, X: from.X}})
			} else {
				from = last
			}
		}
		last = thread.Point{Z: unit.Length(p.z1), X: unit.Length(p.at(p.z1))}
		seg := thread.Segment{From: from, To: last}
		if p.r > 0 {
			seg.Radius, seg.Centre = unit.Length(p.r), thread.Point{Z: unit.Length(p.cz), X: unit.Length(p.cx)}
		}
		out = append(out, seg)
	}
	return out
}

func checkPositions(at []Position) error {
	if len(at) == 0 || len(at) > 2*maxPasses {
		return &unit.InputError{Field: "passes", Value: fmt.Sprint(len(at)), Reason: fmt.Sprintf("are not between 1 and %d", 2*maxPasses)}
	}
	var errs []error
	for i, p := range at {
		if !(math.Abs(p.Depth.MM()) < 1e3) || !(math.Abs(p.Along.MM()) < 1e3) {
			errs = append(errs, &unit.InputError{Field: fmt.Sprintf("position of pass %d", i+1), Value: fmt.Sprint(p), Reason: "is not a position"})
		}
	}
	return errors.Join(errs...)
}
