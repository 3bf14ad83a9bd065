package render

import (
	"cmp"
	"math"
	"slices"

	"thrum/draw"
	"thrum/unit"
)

// callout is a text with a leader to the place that it speaks of. Where the text
// stands is found by trying: callouts must not cover each other, cross each
// other's leaders, or lie over the given boxes.
type callout struct {
	tip  draw.Pt
	text string
	st   draw.Style
}

// stand is one place for a callout.
type stand struct {
	elbow, end draw.Pt
	text       draw.Box
	cost       float64
}

const calloutRow unit.Length = 5.3

// placeCallouts draws the callouts with their texts in the area, which lies above
// the tips (or below them), as near to the tips as can be.
func placeCallouts(l *draw.List, area draw.Box, items []callout, avoid []draw.Box) {
	options := make([][]stand, len(items))
	for i, c := range items {
		options[i] = c.stands(area, avoid)
	}
	best, bestCost := make([]int, len(items)), math.Inf(1)
	pick := make([]int, len(items))
	var try func(i int, cost float64)
	try = func(i int, cost float64) {
		if cost >= bestCost {
			return
		}
		if i == len(items) {
			bestCost = cost
			copy(best, pick)
			return
		}
		for n, s := range options[i] {
			c := cost + s.cost
			if c >= bestCost { // the options come in order of their cost
				return
			}
			for k := range i {
				c += clash(items[i].tip, s, items[k].tip, options[k][pick[k]])
			}
			pick[i] = n
			try(i+1, c)
		}
	}
	try(0, 0)
	for i, c := range items {
		c.draw(l, options[i][best[i]])
	}
}

// stands lists the places that a callout may take, the nearest rows first.
func (c callout) stands(area draw.Box, avoid []draw.Box) []stand {
	w, h := c.st.Width(c.text)+1, c.st.Cap()+1.6
	rows := max(1, int(area.H/calloutRow))
	var out []stand
	for row := range rows {
		y := area.Bottom() - unit.Length(row)*calloutRow - 0.6
		if c.tip.Y < area.Y { // the texts stand below the part
			y = area.Y + unit.Length(row+1)*calloutRow - 0.6
		}
		rise := (c.tip.Y - y).Abs()
		for _, dir := range []unit.Length{1, -1} {
			for _, lean := range []unit.Length{rise * 0.5, 1.2, rise, 8, 14, 20, 27, 34} {
				s := stand{elbow: draw.Pt{X: c.tip.X + dir*lean, Y: y}}
				s.end = draw.Pt{X: s.elbow.X + dir*w, Y: y}
				s.text = draw.Box{X: min(s.elbow.X, s.end.X), Y: y - h, W: w, H: h}
				s.cost = float64(row)*1.5 + math.Abs(float64(lean-rise*0.5))*0.08 + float64(max(0, lean-1.2*rise))
				if s.text.X < area.X || s.text.Right() > area.Right() {
					s.cost += 5000 // off the paper is worse than anything
				}
				for _, b := range avoid {
					if boxesMeet(b, s.text) {
						s.cost += 1200
					}
					if crosses(c.tip, s.elbow, b) {
						s.cost += 40
					}
				}
				out = append(out, s)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b stand) int { return cmp.Compare(a.cost, b.cost) })
	return out
}

func (c callout) draw(l *draw.List, s stand) {
	l.LeaderStyle(c.tip, s.elbow, c.text, c.st)
}

// clash is what it costs when two callouts are in each other's way.
func clash(tipA draw.Pt, a stand, tipB draw.Pt, b stand) float64 {
	cost := 0.0
	roomy := draw.Box{X: a.text.X - 2, Y: a.text.Y, W: a.text.W + 4, H: a.text.H}
	if boxesMeet(roomy, b.text) {
		cost += 1000
	}
	if crosses(tipA, a.elbow, b.text) || crosses(tipB, b.elbow, a.text) {
		cost += 1000
	}
	if segmentsCross(tipA, a.elbow, tipB, b.elbow) || segmentsCross(tipA, a.elbow, b.elbow, b.end) || segmentsCross(tipB, b.elbow, a.elbow, a.end) {
		cost += 500
	}
	return cost
}

func boxesMeet(a, b draw.Box) bool {
	return a.X < b.Right() && b.X < a.Right() && a.Y < b.Bottom() && b.Y < a.Bottom()
}

// crosses reports whether the line from p to q passes through the box.
func crosses(p, q draw.Pt, b draw.Box) bool {
	a, c := draw.Pt{X: b.X, Y: b.Y}, draw.Pt{X: b.Right(), Y: b.Bottom()}
	d, e := draw.Pt{X: b.Right(), Y: b.Y}, draw.Pt{X: b.X, Y: b.Bottom()}
	inside := func(r draw.Pt) bool { return r.X > b.X && r.X < b.Right() && r.Y > b.Y && r.Y < b.Bottom() }
	return inside(p) || inside(q) || segmentsCross(p, q, a, c) || segmentsCross(p, q, d, e)
}

func segmentsCross(a, b, c, d draw.Pt) bool {
	side := func(p, q, r draw.Pt) float64 {
		return float64((q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X))
	}
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}
