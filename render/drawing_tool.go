package render

import (
	"math"

	"thrum/draw"
	"thrum/thread"
	"thrum/unit"
)

// Profile is the outline of a tool's tip or of a thread, to be printed true to
// scale and held against the real thing, or to be cut by a machine that reads DXF.
type Profile struct {
	Name     string // "tool for M12x1.75-6g"
	System   unit.System
	Outline  thread.Groove // of one groove; a tool fills it
	Tool     bool
	Pitch    unit.Length // of a thread, whose grooves repeat
	Internal bool        // the thread's metal lies above
	Leading  unit.Angle
	Trailing unit.Angle
	Flat     unit.Length // at the tip, or at the root
	Radius   unit.Length
	Notes    []string // printed below
}

// ToolTip returns the profile of a tool with straight flanks and a flat or a
// radius at its tip, up to a height, in the plane of its cutting edges. A radius
// is tangent to both flanks; with a radius there is no flat.
func ToolTip(name string, sys unit.System, leading, trailing unit.Angle, flat, radius, height unit.Length) Profile {
	p := Profile{Name: name, System: sys, Tool: true, Leading: leading, Trailing: trailing, Flat: flat, Radius: radius}
	at := func(z, x unit.Length) thread.Point { return thread.Point{Z: z, X: x} }
	tl, tt := unit.Length(leading.Tan()), unit.Length(trailing.Tan())
	if radius <= 0 {
		t, l := at(-flat/2, height), at(flat/2, height)
		p.Outline = thread.Groove{{From: at(-flat/2-height*tt, 0), To: t}}
		if flat > 0 {
			p.Outline = append(p.Outline, thread.Segment{From: t, To: l})
		}
		p.Outline = append(p.Outline, thread.Segment{From: l, To: at(flat/2+height*tl, 0)})
		return p
	}
	c := at(0, height-radius)
	t := at(c.Z-radius*unit.Length(trailing.Cos()), c.X+radius*unit.Length(trailing.Sin()))
	l := at(c.Z+radius*unit.Length(leading.Cos()), c.X+radius*unit.Length(leading.Sin()))
	p.Outline = thread.Groove{
		{From: at(t.Z-t.X*tt, 0), To: t},
		{From: t, To: l, Centre: c, Radius: radius},
		{From: l, To: at(l.Z+l.X*tl, 0)},
	}
	return p
}

// ThreadProfile returns the profile of a thread at its target sizes.
func ThreadProfile(t thread.Thread) Profile {
	return Profile{
		Name: "thread " + t.Designation, System: t.System, Outline: t.Groove(), Pitch: t.Pitch.Length(), Internal: t.Side == thread.Internal,
		Leading: t.Form.Leading, Trailing: t.Form.Trailing, Radius: unit.Length(t.Form.RootRadius) * t.Pitch.Length(),
	}
}

func (p Profile) width() unit.Length {
	if len(p.Outline) == 0 {
		return 0
	}
	return p.Outline[len(p.Outline)-1].To.Z - p.Outline[0].From.Z
}

// Room around a profile: for the flat or radius above, bar and words below.
const (
	profileAbove unit.Length = 12
	profileBelow unit.Length = 18
	profileBody  unit.Length = 5 // of metal beyond the flanks
)

// fits reports whether the profile at a scale fits a box.
func (p Profile) fits(box draw.Box, scale float64) bool {
	k := unit.Length(scale)
	return p.width() > 0 && p.width()*k <= box.W-4 && deepest(p.Outline)*k+profileBody+profileAbove+profileBelow <= box.H
}

// ToolProfile draws a profile at exactly the given scale, with a bar of 10 mm by
// which the print is checked. It draws nothing and returns false when the box is
// too small for that.
func ToolProfile(l *draw.List, box draw.Box, p Profile, scale float64) bool {
	if !p.fits(box, scale) {
		return false
	}
	l.Group(draw.Group{Title: p.Name + " " + scaleWords(scale)})
	defer l.End()
	d := profileDrawing{List: l, p: p, box: box}
	d.v = viewpoint{k: scale, above: p.Tool || p.Internal}
	h := deepest(p.Outline) * unit.Length(scale)
	mid := (p.Outline[0].From.Z + p.Outline[len(p.Outline)-1].To.Z) / 2
	top := box.Y + profileAbove + max(0, box.H-profileAbove-profileBelow-profileBody-h)/2
	d.v.at = draw.Pt{X: box.X + box.W/2 + mid*unit.Length(scale), Y: top}
	d.edge = top + h + profileBody
	if d.v.above {
		d.v.at.Y = top + h
		if p.Internal {
			d.v.at.Y, d.edge = top+h+profileBody, top
		}
	}
	if p.Tool {
		d.tip()
	} else {
		d.thread()
	}
	d.bar()
	return true
}

type profileDrawing struct {
	*draw.List
	p    Profile
	v    viewpoint
	box  draw.Box
	edge unit.Length // height of the break line
}

// tip draws the tool with its point up, as it stands before the work.
func (d *profileDrawing) tip() {
	first, last := d.p.Outline[len(d.p.Outline)-1].To, d.p.Outline[0].From
	a, b := d.v.pt(first), d.v.pt(last)
	body := draw.Polyline(draw.Pt{X: a.X, Y: d.edge})
	d.v.trace(body, backwards(d.p.Outline), 0)
	body.Line(draw.Pt{X: b.X, Y: d.edge})
	d.Fill(new(draw.Path).Append(body).Close(), draw.Shade)
	d.Stroke(body, draw.Visible)
	d.Stroke(draw.Broken(draw.Pt{X: a.X, Y: d.edge}, draw.Pt{X: b.X, Y: d.edge}), draw.Break)
	top := d.v.pt(thread.Point{X: deepest(d.p.Outline)})
	d.Stroke(draw.Segment(draw.Pt{X: top.X, Y: top.Y - 3}, draw.Pt{X: top.X, Y: d.edge + 2}), draw.Centre)
	d.angles()
	d.point(top)
}

// angles writes the included angle inside the tip, or the flank angles on both
// sides of the middle line.
func (d *profileDrawing) angles() {
	p := d.p
	if p.Leading+p.Trailing < 0.01 {
		return
	}
	mid := deepest(p.Outline) / 2
	words := []struct {
		a    unit.Angle
		side unit.Length
	}{{p.Leading, -1}, {p.Trailing, 1}} // leading flank on the left
	st := draw.Style{Rise: draw.Half, Knock: true}
	if math.Abs(float64(p.Leading-p.Trailing)) < 1e-9 {
		at, text := d.v.pt(thread.Point{X: mid}), angleWords(p.Leading+p.Trailing)
		st.Anchor = draw.Middle
		if half := d.halfWidth(mid, 1); half < st.Width(text)/2+1.5 { // beside a narrow tip
			at.X += half + 3
			st.Anchor, st.Knock = draw.Start, false
		}
		d.Text(at, text, st)
		return
	}
	for _, w := range words {
		z := mid
		edge := d.v.pt(thread.Point{X: z})
		reach := d.halfWidth(z, w.side) + 3
		st.Anchor = draw.Start
		if w.side < 0 {
			st.Anchor = draw.End
		}
		st.Knock = false
		d.Text(draw.Pt{X: edge.X + w.side*reach, Y: edge.Y}, "flank "+angleWords(w.a), st)
	}
}

// halfWidth returns how far the outline lies from its middle at a depth, on
// paper; side is -1 for the left.
func (d *profileDrawing) halfWidth(x, side unit.Length) unit.Length {
	far := unit.Length(0)
	for _, s := range d.p.Outline {
		for _, q := range []thread.Point{s.From, s.To} {
			if q.X >= 0 && -q.Z*side > 0 {
				far = max(far, (-q.Z * side))
			}
		}
	}
	return far * unit.Length(d.v.k) * (1 - x/deepest(d.p.Outline)*0.5)
}

// point writes the flat or the radius of the tip.
func (d *profileDrawing) point(top draw.Pt) {
	switch {
	case d.p.Radius > 0:
		tip := d.v.pt(thread.Point{X: deepest(d.p.Outline) - d.p.Radius}).Polar(d.p.Radius*unit.Length(d.v.k), 60*unit.Degree)
		d.Leader(tip, tip.Polar(7, 60*unit.Degree), "R "+size3(d.p.Radius, d.p.System))
	case d.p.Flat > 0:
		half := d.p.Flat / 2
		x := deepest(d.p.Outline)
		d.Level(d.v.pt(thread.Point{Z: half, X: x}), d.v.pt(thread.Point{Z: -half, X: x}), top.Y-5, size3(d.p.Flat, d.p.System))
	}
}

// size3 prints a small size with a place more than a dimension has.
func size3(l unit.Length, sys unit.System) string {
	if sys == unit.Inches {
		return l.Number(unit.Inches, 4)
	}
	return trimmed(l.MM(), 3)
}

// thread draws as many grooves as fit, each with half a ridge on both sides.
func (d *profileDrawing) thread() {
	k := unit.Length(d.v.k)
	n := 0
	for unit.Length(2*n+3)*d.p.Pitch*k <= d.box.W-4 && n < 3 {
		n++
	}
	half := max(0, d.p.Pitch-d.p.width()) / 2
	whole := d.p.Pitch*k <= d.box.W-4
	if !whole {
		half = 0
	}
	path := new(draw.Path)
	first, last := d.p.Outline[len(d.p.Outline)-1].To, d.p.Outline[0].From
	first.Z += half + d.p.Pitch*unit.Length(n)
	last.Z -= half + d.p.Pitch*unit.Length(n)
	path.Move(d.v.pt(first))
	for i := n; i >= -n; i-- {
		d.v.trace(path, backwards(d.p.Outline), d.p.Pitch*unit.Length(i))
	}
	path.Line(d.v.pt(last))
	b := path.Bounds()
	metal := new(draw.Path).Append(path)
	metal.Line(draw.Pt{X: b.Right(), Y: d.edge}).Line(draw.Pt{X: b.X, Y: d.edge}).Close()
	d.Hatch(metal, draw.HatchAngle, 2.6, draw.HatchLine)
	d.Stroke(path, draw.Visible)
	d.Stroke(draw.Broken(draw.Pt{X: b.X, Y: d.edge}, draw.Pt{X: b.Right(), Y: d.edge}), draw.Break)
	if !whole {
		return
	}
	ridgeZ := ridge(d.p.Outline, d.p.Pitch)
	from, to := d.v.pt(thread.Point{Z: ridgeZ}), d.v.pt(thread.Point{Z: ridgeZ - d.p.Pitch})
	y := d.v.at.Y - 7
	if d.p.Internal {
		y = d.v.at.Y + 8
	}
	d.Level(from, to, y, size3(d.p.Pitch, d.p.System))
}

// bar draws the 10 mm by which a print is checked.
func (d *profileDrawing) bar() {
	y := d.box.Bottom() - 3
	x := d.box.X + 1
	path := draw.Segment(draw.Pt{X: x, Y: y}, draw.Pt{X: x + 10, Y: y})
	for i := range 11 {
		h := unit.Length(1.2)
		if i%5 == 0 {
			h = 2.4
		}
		path.Move(draw.Pt{X: x + unit.Length(i), Y: y}).Line(draw.Pt{X: x + unit.Length(i), Y: y - h})
	}
	d.Stroke(path, draw.Thin)
	d.Text(draw.Pt{X: x + 12, Y: y}, "10 mm on paper · "+scaleWords(d.v.k), draw.Style{})
}

// ProfileSheet returns a page with the profile at 10:1 and 20:1. Where one of
// them does not fit the page, the next smaller usual scale takes its place.
func ProfileSheet(paper draw.Size, p Profile) *draw.List {
	l := draw.New(paper, p.Name)
	l.Meta.Desc = "Profile true to scale, with a bar of 10 mm to check the print by."
	box := paper.Box(15)
	head := draw.Style{Size: draw.LargeText, Bold: true}
	box = box.Trim(0, l.Paragraph(box, p.Name, head)+2, 0, 0)
	notes := append([]string{"Print at 100 %, not fitted to the page, and measure the bars: each must be 10.0 mm long."}, p.Notes...)
	for _, n := range notes {
		box = box.Trim(0, l.Paragraph(box, n, draw.Style{})+0.8, 0, 0)
	}
	box = box.Trim(0, 5, 0, 0)
	first, second := box.Top((box.H - 8) * 0.42)
	second = second.Trim(0, 8, 0, 0)
	scales := []float64{50, 20, 10, 5, 2, 1}
	start := 1 // 20:1 in the larger place
	for start < len(scales)-1 && !p.fits(second, scales[start]) {
		start++
	}
	if !ToolProfile(l, second, p, scales[start]) {
		l.Paragraph(second, "Too large for this paper.", draw.Style{})
	}
	for i := start + 1; i < len(scales); i++ {
		if ToolProfile(l, first, p, scales[i]) {
			break
		}
	}
	return l
}

// ProfileDXF returns the profile at its true size, one millimetre of paper for a
// millimetre of metal, for the DXF back-end: the tip, or the root, at the origin
// given back. A tool's outline is open at the back.
func ProfileDXF(p Profile) (*draw.List, draw.DXFOptions) {
	l := draw.New(draw.A4, p.Name)
	v := viewpoint{at: draw.Pt{X: 100, Y: 100}, k: 1, above: p.Tool || p.Internal}
	if len(p.Outline) == 0 {
		return l, draw.DXFOptions{}
	}
	n := 0
	if p.Pitch > 0 {
		n = 1
	}
	path := new(draw.Path)
	if n > 0 { // begin and end in the middle of a ridge
		path.Move(v.pt(thread.Point{Z: ridge(p.Outline, p.Pitch) + p.Pitch, X: p.Outline[0].From.X}))
	}
	for i := n; i >= -n; i-- {
		v.trace(path, backwards(p.Outline), p.Pitch*unit.Length(i))
	}
	if n > 0 {
		path.Line(v.pt(thread.Point{Z: ridge(p.Outline, p.Pitch) - 2*p.Pitch, X: p.Outline[0].From.X}))
	}
	l.Stroke(path, draw.Visible)
	low := v.pt(thread.Point{X: deepest(p.Outline)})
	l.Stroke(draw.Segment(v.pt(thread.Point{}), low), draw.Centre)
	return l, draw.DXFOptions{Origin: low}
}
