package render

import (
	"math"

	"thrum/draw"
	"thrum/thread"
	"thrum/unit"
)

// PassOutline is the groove as one pass leaves it.
type PassOutline struct {
	Number  string // "1", "4 spring"
	Depth   string // "0.35", as on the pass table
	Outline thread.Groove
	Measure bool // stop and measure after this pass
}

// GroovePasses draws one groove as it grows pass by pass. What a pass takes is
// shaded by turns, its outline continuous or dashed by turns, wide where one
// stops to measure; number and depth of each stand at the right at the height of
// its floor. The metal lies above for an internal thread.
func GroovePasses(l *draw.List, box draw.Box, passes []PassOutline, internal bool, sys unit.System) {
	var drawn []PassOutline
	for _, p := range passes {
		if len(p.Outline) > 0 {
			drawn = append(drawn, p)
		}
	}
	if len(drawn) == 0 {
		return
	}
	l.Group(draw.Group{Title: "Passes"})
	defer l.End()
	d := passDrawing{List: l, passes: drawn}
	d.layOut(box, internal)
	foot := "depth square to the axis (" + sys.String() + ")"
	footnote(l, box, "groove "+scaleWords(d.v.k), foot)
	d.metal()
	d.outlines()
	d.labels()
}

type passDrawing struct {
	*draw.List
	passes      []PassOutline
	v           viewpoint
	plot        draw.Box
	beside      unit.Length
	left, right unit.Length // edges of the finished groove, along Z
	depth       unit.Length
}

func (d *passDrawing) layOut(box draw.Box, internal bool) {
	st, strong := draw.Style{}, draw.Style{Bold: true}
	number, depth := st.Width("pass"), st.Width("depth")
	for _, p := range d.passes {
		number, depth = max(number, strong.Width(p.Number)), max(depth, st.Width(p.Depth))
	}
	d.beside = number + depth + 4
	last := d.passes[len(d.passes)-1].Outline
	d.right, d.left = last[0].From.Z, last[len(last)-1].To.Z // Z runs to the left
	for _, p := range d.passes {
		d.depth = max(d.depth, deepest(p.Outline))
		d.right, d.left = min(d.right, p.Outline[0].From.Z), max(d.left, p.Outline[len(p.Outline)-1].To.Z)
	}
	area := box.Trim(1, 7, d.beside+9, 9)
	wide := d.left - d.right
	d.v.k = magnification(min(float64(min(area.W, 110)/wide)/1.3, float64((area.H-6)/d.depth)))
	k := unit.Length(d.v.k)
	d.plot = draw.Box{X: area.X, Y: area.Y + max(0, area.H-d.depth*k-6)/2, W: min(area.W, wide*k*1.3+20), H: d.depth*k + 6}
	if spare := area.W - d.plot.W; spare > 0 {
		d.plot.X += spare / 2
	}
	d.v.at = draw.Pt{X: d.plot.X + (d.plot.W-wide*k)/2 + d.left*k, Y: d.plot.Y}
	if internal {
		d.v.above = true
		d.v.at.Y = d.plot.Bottom()
	}
}

// metal hatches what stays, on the side away from the labels, and draws the
// crests on both sides.
func (d *passDrawing) metal() {
	y := d.plot.Bottom()
	if d.v.above {
		y = d.plot.Y
	}
	last := d.passes[len(d.passes)-1].Outline
	path := new(draw.Path).Move(draw.Pt{X: d.plot.X, Y: d.v.at.Y})
	d.v.trace(path, backwards(last), 0)
	path.Line(draw.Pt{X: d.plot.Right(), Y: d.v.at.Y}).Line(draw.Pt{X: d.plot.Right(), Y: y}).Line(draw.Pt{X: d.plot.X, Y: y}).Close()
	d.List.Group(draw.Group{Clip: draw.Rect(draw.Box{X: d.plot.X, Y: d.plot.Y - 5, W: d.v.pt(thread.Point{}).X - d.plot.X, H: d.plot.H + 10})})
	d.Hatch(path, draw.HatchAngle, 2.6, draw.HatchLine)
	d.End()
	d.Stroke(draw.Broken(draw.Pt{X: d.plot.X, Y: y}, draw.Pt{X: d.plot.Right(), Y: y}), draw.Break)
	for _, s := range [][2]draw.Pt{
		{{X: d.plot.X, Y: d.v.at.Y}, {X: d.v.pt(thread.Point{Z: d.left}).X, Y: d.v.at.Y}},
		{{X: d.v.pt(thread.Point{Z: d.right}).X, Y: d.v.at.Y}, {X: d.plot.Right(), Y: d.v.at.Y}},
	} {
		d.Stroke(draw.Segment(s[0], s[1]), draw.Visible)
	}
}

// outlines shades what each pass takes, the last first, and draws its outline.
func (d *passDrawing) outlines() {
	for i := len(d.passes) - 1; i >= 0; i-- {
		fill := draw.Paper
		if i%2 == 1 {
			fill = draw.Shade
		}
		path := new(draw.Path)
		d.v.trace(path, d.passes[i].Outline, 0)
		d.Fill(path.Close(), fill)
	}
	for i, p := range d.passes {
		path := new(draw.Path)
		d.v.trace(path, p.Outline, 0)
		pen := draw.Thin
		if i%2 == 1 {
			pen = draw.Thin.As(draw.ShortDash)
		}
		if p.Measure {
			pen = draw.Visible
		}
		if i == len(d.passes)-1 {
			pen = draw.Strong
		}
		d.Stroke(path, pen)
	}
}

// labels writes number and depth of each pass at the right, spread where the
// floors lie close; of too many only some, and always those to measure after.
func (d *passDrawing) labels() {
	const step unit.Length = 4.9
	room := int((d.plot.H + 10) / step)
	show := d.labelled(max(room, 2))
	ys := make([]unit.Length, len(show))
	floor := func(i int) draw.Pt { return d.floor(d.passes[i].Outline) }
	for n, i := range show {
		ys[n] = floor(i).Y
	}
	down := unit.Length(1)
	if d.v.above {
		down = -1
	}
	for range 300 {
		for n := 1; n < len(ys); n++ {
			if gap := down * (ys[n] - ys[n-1]); gap < step {
				ys[n-1] -= down * (step - gap) / 2
				ys[n] += down * (step - gap) / 2
			}
		}
	}
	x := d.plot.Right() + 8
	st := draw.Style{Rise: draw.Half}
	head := ys[0] - down*step*1.15
	grey := draw.Style{Rise: draw.Half, Colour: draw.Grey}
	d.Text(draw.Pt{X: x, Y: head}, "pass", grey)
	grey.Anchor = draw.End
	d.Text(draw.Pt{X: x + d.beside, Y: head}, "depth", grey)
	for n, i := range show {
		p, from := d.passes[i], floor(i)
		last := i == len(d.passes)-1
		st.Colour = draw.Ink
		if last {
			st.Colour = draw.Accent
		}
		d.Stroke(draw.Polyline(from, draw.Pt{X: d.plot.Right() + 2, Y: from.Y}, draw.Pt{X: x - 2.5, Y: ys[n]}, draw.Pt{X: x - 0.8, Y: ys[n]}),
			draw.Pen{Name: "leader", Width: 0.13, Colour: draw.Grey})
		st.Anchor, st.Bold = draw.Start, true
		d.Text(draw.Pt{X: x, Y: ys[n]}, p.Number, st)
		st.Anchor, st.Bold = draw.End, p.Measure || last
		d.Text(draw.Pt{X: x + d.beside, Y: ys[n]}, p.Depth, st)
	}
}

// labelled chooses at most n passes to be labelled.
func (d *passDrawing) labelled(n int) []int {
	every := int(math.Ceil(float64(len(d.passes)) / float64(n)))
	for ; ; every++ {
		var show []int
		for i, p := range d.passes {
			if i == 0 || i == len(d.passes)-1 || p.Measure && every < len(d.passes) || i%every == 0 && i+every <= len(d.passes)-1 {
				show = append(show, i)
			}
		}
		if len(show) <= n || every > 2*len(d.passes) {
			return show
		}
	}
}

// floor returns the right end of the deepest part of an outline on paper.
func (d *passDrawing) floor(g thread.Groove) draw.Pt {
	low := deepest(g)
	at := thread.Point{X: low, Z: math.MaxFloat64}
	for _, s := range g {
		for _, p := range []thread.Point{s.From, s.To} {
			if p.X > low-1e-9 && p.Z < at.Z {
				at.Z = p.Z
			}
		}
		if s.Radius > 0 && s.Centre.X+s.Radius > low-1e-9 {
			at.Z = min(at.Z, s.Centre.Z)
		}
	}
	return d.v.pt(at)
}
