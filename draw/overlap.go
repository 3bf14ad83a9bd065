package draw

import (
	"fmt"
	"math"

	"thrum/unit"
)

// Faults lists what would be hard to read on a page: words that overlap each
// other, leave the paper, are crossed by a line, or are smaller than least. An
// empty list is what a layout should give; tests of drawings and sheets hold it
// to that. Words with Knock may lie over what was drawn before them.
func (l *List) Faults(page int, least unit.Length) []string {
	c := &faultCanvas{}
	l.play(page, c)
	paper := Box{0, 0, l.pages[page].size.W, l.pages[page].size.H}
	var out []string
	for i, a := range c.words {
		if b := hull(a.corners); !paper.Contains(b) {
			out = append(out, fmt.Sprintf("%q leaves the paper: %.1f, %.1f to %.1f, %.1f", a.s, b.X, b.Y, b.Right(), b.Bottom()))
		}
		if a.size < least-1e-9 {
			out = append(out, fmt.Sprintf("%q is %.2f mm high, less than %.2f", a.s, a.size, least))
		}
		for _, b := range c.words[i+1:] {
			if meet(a.corners, b.corners) {
				out = append(out, fmt.Sprintf("%q overlaps %q", a.s, b.s))
			}
		}
		for _, ln := range c.lines {
			if (ln.order > a.order || !a.knock) && meet(a.corners, ln.ends[:]) {
				out = append(out, fmt.Sprintf("%q is crossed by a %s line at %.1f, %.1f", a.s, ln.pen, ln.ends[0].X, ln.ends[0].Y))
				break
			}
		}
	}
	return out
}

type word struct {
	s       string
	corners []Pt
	size    mm
	knock   bool
	order   int
}

type ruled struct {
	ends  [2]Pt
	pen   string
	order int
}

// faultCanvas collects words and lines instead of drawing them.
type faultCanvas struct {
	words []word
	lines []ruled
	order int
	clips []*Box
}

func (c *faultCanvas) text(at Pt, s string, st Style) {
	c.order++
	// A hair smaller than the letters, so that touching is not overlapping.
	c.words = append(c.words, word{s, textCorners(at, s, st, -0.15), st.Size, st.Knock, c.order})
}

func (c *faultCanvas) stroke(p *Path, pen Pen) {
	c.order++
	if pen.Name == Grid.Name { // grid lines are faint enough to write across
		return
	}
	chains, _ := p.flat(0.1)
	closed := Box{-math.MaxFloat32, -math.MaxFloat32, 2 * math.MaxFloat32, 2 * math.MaxFloat32}
	if len(c.clips) > 0 && c.clips[len(c.clips)-1] != nil {
		closed = *c.clips[len(c.clips)-1]
	}
	for _, ch := range chains {
		for i := 1; i < len(ch); i++ {
			if a, b, ok := closed.cut(ch[i-1], ch[i]); ok {
				c.lines = append(c.lines, ruled{[2]Pt{a, b}, pen.Name, c.order})
			}
		}
	}
}

func (c *faultCanvas) fill(*Path, Colour)       { c.order++ }
func (c *faultCanvas) image(Box, *imageOp)      { c.order++ }
func (c *faultCanvas) link(Box, string, string) {}

func (c *faultCanvas) open(_, _ string, clip *Path) {
	var b *Box
	if len(c.clips) > 0 {
		b = c.clips[len(c.clips)-1]
	}
	if clip != nil {
		nb := clip.Bounds()
		b = &nb
	}
	c.clips = append(c.clips, b)
}

func (c *faultCanvas) shut() { c.clips = c.clips[:len(c.clips)-1] }

// cut returns the part of the line from p to q that lies inside the box.
func (b Box) cut(p, q Pt) (Pt, Pt, bool) {
	t0, t1 := 0.0, 1.0
	clip := func(d, room float64) bool { // d t <= room
		switch {
		case d == 0:
			return room >= 0
		case d > 0:
			t1 = min(t1, room/d)
		default:
			t0 = max(t0, room/d)
		}
		return t0 <= t1
	}
	dx, dy := float64(q.X-p.X), float64(q.Y-p.Y)
	if !clip(-dx, float64(p.X-b.X)) || !clip(dx, float64(b.Right()-p.X)) ||
		!clip(-dy, float64(p.Y-b.Y)) || !clip(dy, float64(b.Bottom()-p.Y)) {
		return p, q, false
	}
	return p.Between(q, t0), p.Between(q, t1), true
}

func hull(pts []Pt) Box { return Polyline(pts...).Bounds() }

// meet reports whether two convex shapes (corners in order, or the two ends of a
// line) overlap: no straight line along a side of either separates them.
func meet(a, b []Pt) bool {
	for _, shape := range [2][]Pt{a, b} {
		for i := range shape {
			p, q := shape[i], shape[(i+1)%len(shape)]
			nx, ny := float64(q.Y-p.Y), float64(p.X-q.X)
			if nx == 0 && ny == 0 {
				continue
			}
			alo, ahi := spread(a, nx, ny)
			blo, bhi := spread(b, nx, ny)
			if ahi <= blo || bhi <= alo {
				return false
			}
		}
	}
	return true
}

func spread(pts []Pt, nx, ny float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		v := float64(p.X)*nx + float64(p.Y)*ny
		lo, hi = min(lo, v), max(hi, v)
	}
	return lo, hi
}
