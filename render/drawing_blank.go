package render

import (
	"thrum/draw"
	"thrum/thread"
	"thrum/unit"
)

// Blank is a part as it should be before the first pass, as it stands in the
// chuck. Lengths that are zero are not drawn.
type Blank struct {
	System         unit.System
	Thread         string      // written at the thread: "M20x2.5-6g"
	Internal       bool        // a bored part
	Crest          thread.Band // limits of the diameter to turn, or to bore
	Root           unit.Length // diameter at the roots of the finished thread
	Length         unit.Length // of full thread
	RunOut         unit.Length // thread that runs out beyond it, where there is no relief
	ReliefWidth    unit.Length
	ReliefDiameter unit.Length
	ReliefCorner   unit.Length // radius in the corner of the relief
	ChamferAngle   unit.Angle  // to the axis
	ChamferTo      unit.Length // diameter at the face
	Shank          unit.Length // diameter behind the thread; of an internal thread the outside diameter. Zero: as the blank, or not known
	HoleDepth      unit.Length // zero: right through
	Stickout       unit.Length // from the jaws to the face
	Centre         bool        // held by a tailstock centre
	Bare           bool        // the page says that it is not to scale, and the unit
}

// BlankDrawing draws the blank in the chuck with its dimensions, as the operator
// sees it: headstock on the left. Long parts are broken off. It is in proportion
// where it can be, and says that it is not to scale.
func BlankDrawing(l *draw.List, box draw.Box, b Blank) {
	if b.mean() <= 0 || b.Length <= 0 {
		return
	}
	l.Group(draw.Group{Title: "Blank for " + b.Thread})
	defer l.End()
	if !b.Bare {
		box = footnote(l, box, "not to scale", unitNote(b.System))
	}
	d := blankDrawing{List: l, Blank: b, box: box}
	d.head()
	d.layOut()
	d.chuck()
	if b.Internal {
		d.bored()
	} else {
		d.turned()
	}
	d.axis()
	d.lengths()
	d.diameters()
}

// blankDrawing is a blank on paper: where its steps lie along the axis, from the
// left, and their radii.
type blankDrawing struct {
	*draw.List
	Blank
	box                     draw.Box
	y                       unit.Length // of the axis
	left, jaw, step         unit.Length // end in the chuck, face of the jaws, shoulder or end of relief
	thread, end             unit.Length // end of full thread, face
	broken                  []unit.Length
	k                       float64
	r, root, relief, shank  unit.Length // radii
	chamferR, chamferLength unit.Length
	headed                  bool // the designation stands above the drawing
	free                    bool // the outside of a bored part is not known
}

// head writes a designation that is too long for a leader above the drawing.
func (d *blankDrawing) head() {
	st := draw.Style{Bold: true}
	if d.headed = st.Width(d.Thread) > 32; d.headed {
		d.box = d.box.Trim(0, d.Paragraph(d.box, d.Thread, st), 0, 0)
	}
}

func (b Blank) mean() unit.Length { return b.Crest.Mean() }

// widest returns the greatest diameter that is drawn.
func (b Blank) widest() unit.Length {
	d := max(b.mean(), b.Shank)
	if b.Internal {
		d = max(b.Shank, 1.5*max(b.Root, b.mean()), 1.25*b.ReliefDiameter)
	}
	return d
}

// What stands around the part on paper.
const (
	jawWide   unit.Length = 11
	jawHigh   unit.Length = 6
	textHigh  unit.Length = 18            // two limits of size, one above the other
	firstRow  unit.Length = jawHigh + 6.5 // from the part to the first row of dimensions
	rowsAbove unit.Length = 26            // callouts
	rowsBelow unit.Length = firstRow + 10 // two rows of dimensions
)

// layOut finds scale and places. The diameter decides the scale; what is then
// too long for the box is broken off, the shank first.
func (d *blankDrawing) layOut() {
	right := unit.Length(15)
	if d.Centre {
		right += 8
	}
	d.jaw = d.box.X + jawWide + 3
	room := d.box.Right() - right - d.jaw
	high := min(max(d.box.H-rowsAbove-rowsBelow, 20), 46)
	beside := d.widest() / d.mean() * textHigh // the limits are written beside the diameter
	high = max(high, min(beside, high+8))
	least := min(high, max(20, beside))
	after := d.after()
	pieces := []unit.Length{d.Length, after, d.shankLength(after)}
	total := pieces[0] + pieces[1] + pieces[2]
	d.k = min(float64(high/d.widest()), max(float64(room/total), float64(least/d.widest())))
	for i := range pieces {
		pieces[i] *= unit.Length(d.k)
	}
	if pieces[1] > 0 {
		pieces[1] = min(max(pieces[1], 3.5), 12)
	}
	full := pieces
	pieces[2] = min(pieces[2], max(12, room-pieces[0]-pieces[1]))
	if words := d.afterWords(); words != "" { // they stand to the left of the relief
		push := max(0, draw.Style{}.Width(words)+7-(d.jaw-d.box.X)-pieces[2])
		d.jaw += push
		room -= push
	}
	pieces[0] = min(pieces[0], max(18, room-pieces[1]-pieces[2]))
	pieces[0] = max(pieces[0], 12)
	d.left = d.jaw - 5
	d.step = d.jaw + pieces[2]
	d.thread = d.step + pieces[1]
	d.end = d.thread + pieces[0]
	if pieces[2] < full[2] {
		d.broken = append(d.broken, d.jaw+pieces[2]*0.55)
	}
	if pieces[0] < full[0] {
		d.broken = append(d.broken, d.thread+pieces[0]*0.4)
	}
	if spare := room - (d.end - d.jaw); spare > 0 { // a short part stands in the middle
		for _, x := range []*unit.Length{&d.left, &d.jaw, &d.step, &d.thread, &d.end} {
			*x += spare / 2
		}
		for i := range d.broken {
			d.broken[i] += spare / 2
		}
	}
	d.y = d.box.Y + rowsAbove + (d.box.H-rowsAbove-rowsBelow)/2
	d.radii()
}

// after returns the length between full thread and shank.
func (d *blankDrawing) after() unit.Length {
	if d.ReliefWidth > 0 {
		return d.ReliefWidth
	}
	return d.RunOut
}

// afterWords says what that length is; nothing where there is none.
func (d *blankDrawing) afterWords() string {
	switch w := size(d.after(), d.System); {
	case d.ReliefWidth > 0:
		return w + " relief"
	case d.RunOut > 0:
		return w + " run-out"
	}
	return ""
}

func (d *blankDrawing) shankLength(after unit.Length) unit.Length {
	if d.Stickout == 0 {
		return 12 / unit.Length(max(d.k, 1))
	}
	return max(d.Stickout-d.Length-after, 0)
}

// radii sets the radii on paper; steps too small to be seen are drawn larger.
func (d *blankDrawing) radii() {
	k := unit.Length(d.k) / 2
	out := unit.Length(1)
	if d.Internal {
		out = -1
	}
	d.r = d.mean() * k
	d.root = d.r - out*max(out*(d.mean()-d.Root)*k, 1)
	if d.Root <= 0 {
		d.root = d.r - out*1.5
	}
	d.relief = d.root - out*0.6
	if d.ReliefDiameter > 0 {
		d.relief = d.r - out*max(out*(d.mean()-d.ReliefDiameter)*k, 1.5)
	}
	depth := out * (d.mean() - d.ChamferTo) * k
	if d.ChamferTo <= 0 {
		depth = 0
	} else {
		depth = max(depth, 1)
	}
	d.chamferR = d.r - out*depth
	if t := d.ChamferAngle.Tan(); t > 0.05 {
		d.chamferLength = min(depth/unit.Length(t), (d.end-d.thread)*0.4)
	}
	d.shank = d.r
	switch {
	case d.Shank > 0:
		d.shank = d.Shank * k
	case d.Internal:
		d.shank, d.free = d.widest()*k, true
	}
}

func (d *blankDrawing) pt(x, r unit.Length) draw.Pt { return draw.Pt{X: x, Y: d.y - r} }

// chuck draws the jaws with narrow lines: they are not part of the drawing's
// subject.
func (d *blankDrawing) chuck() {
	outer := d.outer()
	for _, s := range []unit.Length{1, -1} {
		a, b := d.pt(d.jaw-jawWide, s*(outer+0.4)), d.pt(d.jaw, s*(outer+jawHigh))
		d.Stroke(draw.Rect(draw.Box{X: a.X, Y: min(a.Y, b.Y), W: jawWide, H: (a.Y - b.Y).Abs()}), draw.Adjacent)
	}
	x := d.jaw - jawWide
	d.Stroke(draw.Segment(d.pt(x, outer+jawHigh+0.8), d.pt(x, -outer-jawHigh-0.8)), draw.Adjacent)
}

// outer is the radius by which the part is held.
func (d *blankDrawing) outer() unit.Length {
	if d.Internal || d.Shank > 0 {
		return d.shank
	}
	return d.r
}

// turned draws a shaft: its outline above and below the axis, the edges between,
// and the narrow line at the roots of the thread to come.
func (d *blankDrawing) turned() {
	upper := []draw.Pt{d.pt(d.left, d.shank), d.pt(d.step, d.shank)}
	edges := []unit.Length{d.end}
	if d.ReliefWidth > 0 {
		upper = append(upper, d.pt(d.step, d.relief), d.pt(d.thread, d.relief))
		edges = append(edges, d.step)
	}
	upper = append(upper, d.pt(d.thread, d.r), d.pt(d.end-d.chamferLength, d.r), d.pt(d.end, d.chamferR))
	for _, s := range []unit.Length{1, -1} {
		path := new(draw.Path)
		for _, p := range upper {
			path.Line(draw.Pt{X: p.X, Y: d.y - s*(d.y-p.Y)})
		}
		d.Stroke(path, draw.Visible)
		d.threadLine(s)
	}
	d.Stroke(draw.Segment(d.pt(d.end, d.chamferR), d.pt(d.end, -d.chamferR)), draw.Visible)
	if d.chamferLength > 0 {
		x := d.end - d.chamferLength
		d.Stroke(draw.Segment(d.pt(x, d.r), d.pt(x, -d.r)), draw.Visible)
	}
	for _, x := range edges[1:] {
		d.Stroke(draw.Segment(d.pt(x, d.relief), d.pt(x, -d.relief)), draw.Visible)
	}
	d.Stroke(draw.Segment(d.pt(d.thread, d.r), d.pt(d.thread, -d.r)), draw.Visible)
	d.breaks(func(x unit.Length) unit.Length {
		if x < d.step {
			return d.shank
		}
		return d.r
	})
	d.Stroke(draw.Broken(d.pt(d.left, d.shank), d.pt(d.left, -d.shank)), draw.Break)
}

// threadLine draws the narrow line at the roots, and where the thread runs out
// without a relief the line that leads to the crest.
func (d *blankDrawing) threadLine(s unit.Length) {
	end := d.end
	if d.chamferLength > 0 && (d.r-d.chamferR).Abs() > (d.r-d.root).Abs() { // the chamfer cuts the root line
		end -= d.chamferLength * (1 - (d.r-d.root)/(d.r-d.chamferR))
	}
	d.Stroke(draw.Segment(d.pt(d.thread, s*d.root), d.pt(end, s*d.root)), draw.Thin)
	if d.ReliefWidth <= 0 && d.RunOut > 0 {
		d.Stroke(draw.Segment(d.pt(d.thread, s*d.root), d.pt(d.step, s*d.r)), draw.Thin)
	}
}

// breaks blanks a strip across the part and bounds it by freehand lines.
func (d *blankDrawing) breaks(radius func(x unit.Length) unit.Length) {
	for _, x := range d.broken {
		r := radius(x)
		const gap unit.Length = 1.6
		d.Fill(draw.Rect(draw.Box{X: x - gap/2, Y: d.y - r - 0.5, W: gap, H: 2*r + 1}), draw.Paper)
		for _, s := range []unit.Length{-gap / 2, gap / 2} {
			d.Stroke(draw.Broken(d.pt(x+s, r), d.pt(x+s, -r)), draw.Break)
		}
	}
}

// bored draws a hollow part cut open.
func (d *blankDrawing) bored() {
	bottom := d.left
	if d.HoleDepth > 0 {
		bottom = max(d.step-max((d.HoleDepth-d.Length-d.after())*unit.Length(d.k), 0), d.left+3)
	}
	for _, s := range []unit.Length{1, -1} {
		wall := draw.Polyline(d.pt(d.left, s*d.shank), d.pt(d.end, s*d.shank), d.pt(d.end, s*d.chamferR), d.pt(d.end-d.chamferLength, s*d.r), d.pt(d.thread, s*d.r))
		if d.ReliefWidth > 0 {
			wall.Line(d.pt(d.thread, s*d.relief)).Line(d.pt(d.step, s*d.relief)).Line(d.pt(d.step, s*d.r))
		}
		wall.Line(d.pt(bottom, s*d.r))
		if d.HoleDepth > 0 {
			wall.Line(d.pt(bottom, 0)).Line(d.pt(d.left, 0))
		} else {
			wall.Line(d.pt(d.left, s*d.r))
		}
		d.Hatch(new(draw.Path).Append(wall).Close(), draw.HatchAngle, 2.6, draw.HatchLine)
		d.boredEdges(s, bottom)
		d.threadLine(s)
	}
	x := d.end - d.chamferLength
	for _, e := range [][2]unit.Length{{x, d.r}, {d.end, d.chamferR}, {d.thread, d.r}} {
		d.Stroke(draw.Segment(d.pt(e[0], e[1]), d.pt(e[0], -e[1])), draw.Visible)
	}
	if d.HoleDepth > 0 {
		d.Stroke(draw.Segment(d.pt(bottom, d.r), d.pt(bottom, -d.r)), draw.Visible)
	}
	d.breaks(func(unit.Length) unit.Length { return d.shank })
	d.Stroke(draw.Broken(d.pt(d.left, d.shank), d.pt(d.left, -d.shank)), draw.Break)
}

// boredEdges draws the cut edges of one wall. An outside that is not known is a
// freehand line.
func (d *blankDrawing) boredEdges(s, bottom unit.Length) {
	outside := draw.Segment(d.pt(d.left, s*d.shank), d.pt(d.end, s*d.shank))
	if d.free {
		d.Stroke(draw.Broken(d.pt(d.left, s*d.shank), d.pt(d.end, s*d.shank)), draw.Break)
	} else {
		d.Stroke(outside, draw.Visible)
	}
	edge := draw.Polyline(d.pt(d.end, s*d.shank), d.pt(d.end, s*d.chamferR), d.pt(d.end-d.chamferLength, s*d.r), d.pt(d.thread, s*d.r))
	if d.ReliefWidth > 0 {
		edge.Line(d.pt(d.thread, s*d.relief)).Line(d.pt(d.step, s*d.relief)).Line(d.pt(d.step, s*d.r))
	}
	edge.Line(d.pt(bottom, s*d.r))
	d.Stroke(edge, draw.Visible)
	if d.ReliefWidth > 0 {
		d.Stroke(draw.Segment(d.pt(d.step, d.r), d.pt(d.step, -d.r)), draw.Visible)
	}
}

// axis draws the centre line and the tailstock centre.
func (d *blankDrawing) axis() {
	right := d.end + 4
	if d.Centre {
		right = d.end + 11
		const hole unit.Length = 1.6
		body := min(4.5, max(d.r*0.7, 2.5))
		for _, s := range []unit.Length{1, -1} {
			d.Stroke(draw.Polyline(d.pt(d.end, s*hole), d.pt(d.end+(body-hole)*1.732, s*body), d.pt(d.end+9, s*body)), draw.Thin)
		}
		d.Stroke(draw.Broken(d.pt(d.end+9, body), d.pt(d.end+9, -body)), draw.Break)
	}
	d.Stroke(draw.Segment(d.pt(d.left-3, 0), d.pt(right, 0)), draw.Centre)
}

// lengths writes the dimensions along the axis in two rows under the part.
func (d *blankDrawing) lengths() {
	edge := func(x, r unit.Length) draw.Pt { return d.pt(x, -r) }
	row := d.y + max(d.outer(), d.r) + firstRow
	st := draw.Style{}
	words := func(l unit.Length, before, what string, room unit.Length) string {
		s := before + size(l, d.System)
		if st.Width(s+" "+what)+1 <= room {
			return s + " " + what
		}
		return s
	}
	face := d.chamferR
	if d.Internal {
		face = d.shank
	}
	if d.Stickout > 0 {
		d.Dimension(draw.Dim{
			From: edge(d.jaw, d.outer()+jawHigh), To: edge(d.end, face), At: draw.Pt{Y: row + 8},
			Text: words(d.Stickout, "", "from the jaws", d.end-d.jaw), Beside: draw.End,
		})
	}
	d.Dimension(draw.Dim{
		From: edge(d.thread, d.r), To: edge(d.end, face), At: draw.Pt{Y: row},
		Text: words(d.Length, "", "full thread", d.end-d.thread), Beside: draw.End,
	})
	if words := d.afterWords(); words != "" {
		r := d.relief
		if d.ReliefWidth <= 0 {
			r = d.r
		}
		from := edge(d.step, r)
		if !d.Internal && d.shank > r {
			from = edge(d.step, d.shank)
		}
		d.Dimension(draw.Dim{From: edge(d.thread, r), To: from, At: draw.Pt{Y: row}, Text: words, Beside: draw.End, Knock: true})
	}
}

// diameters writes the diameter to turn or bore at the right, and what else
// there is to say above the part.
func (d *blankDrawing) diameters() {
	x := d.end + 13
	if d.Centre {
		x += 8
	}
	upper, lower := "⌀ "+exactly(d.Crest.Max, d.System), exactly(d.Crest.Min, d.System)
	switch {
	case d.Crest.Max <= 0:
		upper, lower = "⌀ "+exactly(d.Crest.Min, d.System)+" min", ""
	case d.Crest.Min <= 0:
		upper, lower = "⌀ "+exactly(d.Crest.Max, d.System)+" max", ""
	case d.Crest.Min == d.Crest.Max:
		lower = ""
	}
	d.Dimension(draw.Dim{
		From: d.pt(d.end-d.chamferLength, -d.r), To: d.pt(d.end-d.chamferLength, d.r), At: draw.Pt{X: x}, Along: 90 * unit.Degree,
		Text: upper, Lower: lower, Beside: draw.Start,
	})
	var items []callout
	if !d.headed {
		items = append(items, callout{tip: d.pt((d.thread*0.45 + d.end*0.55), d.r), text: d.Thread, st: draw.Style{Bold: true}})
	}
	if d.ReliefWidth > 0 && d.ReliefDiameter > 0 {
		text := "relief ⌀ " + size(d.ReliefDiameter, d.System)
		if d.ReliefCorner > 0 {
			text += ", R " + size(d.ReliefCorner, d.System)
		}
		items = append(items, callout{tip: d.pt((d.step+d.thread)/2, d.relief), text: text})
	}
	if d.ChamferTo > 0 {
		text := angleWords(d.ChamferAngle) + " to ⌀ " + size(d.ChamferTo, d.System)
		items = append(items, callout{tip: d.pt(d.end-d.chamferLength/2, (d.r+d.chamferR)/2), text: text})
	}
	if d.Shank > 0 && !d.Internal && d.Shank != d.mean() {
		items = append(items, callout{tip: d.pt((d.jaw*0.5 + d.step*0.5), d.shank), text: "⌀ " + size(d.Shank, d.System)})
	}
	top := d.y - max(d.shank, d.r) - 3
	area := draw.Box{X: d.box.X, Y: d.box.Y, W: d.box.W, H: top - d.box.Y}
	jaws := draw.Box{X: d.jaw - jawWide - 1, Y: d.y - d.outer() - jawHigh - 2, W: jawWide + 2, H: jawHigh + 2}
	placeCallouts(d.List, area, items, []draw.Box{jaws})
}
