package render

import (
	"math"

	"thrum/draw"
	"thrum/unit"
)

// CompoundSetting is how the compound is set for infeed along a flank.
type CompoundSetting struct {
	Angle     unit.Angle  // from the line of the cross slide; zero leaves the compound parallel to the bed
	Reads     *unit.Angle // figure on this lathe's protractor; nil when its zero is not known
	ZeroAtBed bool        // the protractor reads zero when the compound is parallel to the bed
	Internal  bool        // the tool cuts in a bore, towards the operator
	FromChuck bool        // the tool travels away from the chuck
	Reverse   bool        // the spindle runs in reverse
	Words     []string    // what is written below, a line each
}

// CompoundSwing draws the cross slide and compound from above, as the operator
// sees them: headstock on the left, operator below. It shows to which side and
// how far the compound is swung, what the protractor then reads, which way the
// tip moves when the compound is wound, and which way carriage and spindle run.
func CompoundSwing(l *draw.List, box draw.Box, c CompoundSetting) {
	l.Group(draw.Group{Title: "Setting of the compound, from above"})
	defer l.End()
	st := draw.Style{}
	for i := len(c.Words) - 1; i >= 0; i-- {
		lines := unit.Length(len(st.Wrap(c.Words[i], box.W)))
		box.H -= lines*st.Leading() + 0.8
		l.Paragraph(draw.Box{X: box.X, Y: box.Bottom(), W: box.W}, c.Words[i], st)
	}
	d := swingDrawing{List: l, set: c}
	d.layOut(box)
	d.slides()
	if c.Angle > 0 {
		d.protractor()
	}
	if c.Internal {
		d.bore()
	} else {
		d.shaft()
	}
	d.senses()
}

// swingDrawing works in units of a plan 92 wide and 88 high, with the swivel of
// the compound at its origin; k turns them into paper.
type swingDrawing struct {
	*draw.List
	set    CompoundSetting
	box    draw.Box
	swivel draw.Pt
	k      unit.Length
	handle unit.Angle // direction from the swivel to the compound's handle
	side   unit.Angle // +1: swung anticlockwise, handle towards the tailstock
	post   draw.Pt    // tool post, in plan units
}

func (d *swingDrawing) layOut(box draw.Box) {
	d.box = box
	d.k = min(box.W/92, (box.H-11)/88)
	d.swivel = draw.Pt{X: box.X + box.W/2, Y: box.Bottom() - 2 - 38*d.k}
	d.side = 1
	if d.set.Internal != d.set.FromChuck {
		d.side = -1
	}
	d.handle = -90*unit.Degree + d.side*d.set.Angle
	if d.set.Angle == 0 {
		d.handle = 0
	}
	reach := unit.Length(9)
	if d.set.Internal {
		reach = 6
		d.swivel.X += 10 * d.k
	}
	d.post = draw.Pt{}.Polar(-reach, d.handle)
	if d.set.Angle == 0 {
		d.post = draw.Pt{X: 0, Y: -4}
	}
}

// at turns a place of the plan into paper.
func (d *swingDrawing) at(x, y unit.Length) draw.Pt {
	return draw.Pt{X: d.swivel.X + x*d.k, Y: d.swivel.Y + y*d.k}
}

func (d *swingDrawing) polar(r unit.Length, a unit.Angle) draw.Pt {
	return d.swivel.Polar(r*d.k, a)
}

func (d *swingDrawing) rect(x, y, w, h unit.Length) *draw.Path {
	p := d.at(x, y)
	return draw.Rect(draw.Box{X: p.X, Y: p.Y, W: w * d.k, H: h * d.k})
}

// slides draws the cross slide, and on it the compound with handle and tool post.
func (d *swingDrawing) slides() {
	d.Stroke(d.rect(-15, -17, 30, 46), draw.Thin)
	accent := draw.Visible.In(draw.Accent)
	corner := func(along, across unit.Length) draw.Pt {
		return d.polar(along, d.handle).Polar(across*d.k, d.handle+math.Pi/2)
	}
	body := func(from, to, half unit.Length) *draw.Path {
		return draw.Polygon(corner(from, half), corner(to, half), corner(to, -half), corner(from, -half))
	}
	front := unit.Length(-15)
	if d.set.Angle == 0 {
		front = -12
	}
	slide := body(front, 23, 6.5)
	d.Fill(slide, draw.Wash)
	d.Stroke(slide, accent)
	d.Stroke(body(23, 26, 1), accent)
	wheel := body(26, 29, 6)
	d.Fill(wheel, draw.Paper)
	d.Stroke(wheel, accent)
	d.Stroke(d.rect(d.post.X-6.5, d.post.Y-6.5, 13, 13), draw.Visible)
	d.Stroke(draw.Circle(d.at(d.post.X, d.post.Y), 2*d.k), draw.Thin)
}

// protractor draws the scale around the swivel, the mark on the compound, and
// the angle from the line of the cross slide.
func (d *swingDrawing) protractor() {
	const down = -90 * unit.Degree
	d.Stroke(new(draw.Path).Arc(d.swivel, 17*d.k, 170*unit.Degree, 200*unit.Degree), draw.Thin)
	ticks := new(draw.Path)
	for deg := -90; deg <= 90; deg += 10 {
		a := down + unit.Angle(deg)*unit.Degree
		to := unit.Length(18.2)
		if deg%30 == 0 {
			to = 19.5
			d.scaleFigure(deg)
		}
		ticks.Move(d.polar(17, a)).Line(d.polar(to, a))
	}
	d.Stroke(ticks, draw.Thin)
	d.Stroke(draw.Segment(d.at(0, -20), d.at(0, 35)), draw.Centre)
	d.Stroke(draw.Segment(d.polar(-18, d.handle), d.polar(35, d.handle)), draw.Centre)
	from, to := down, d.handle
	if d.side < 0 {
		from, to = to, from
	}
	d.AngleStyle(d.swivel, 34*d.k, from, to, angleWords(d.set.Angle), draw.Style{Bold: true})
	mark := d.polar(17, d.handle)
	d.Fill(draw.Polygon(mark, mark.Polar(2.6, d.handle+160*unit.Degree), mark.Polar(2.6, d.handle-160*unit.Degree)), draw.Accent)
	if d.set.Reads == nil {
		return
	}
	// The figure stands beside the slide, on the side to which it is swung.
	side := d.side
	if d.workBeside() {
		side = 1
	}
	elbow := d.polar(17.6, d.handle).Polar(9.5*d.k, d.handle+side*90*unit.Degree)
	d.Stroke(draw.Segment(d.polar(17.6, d.handle), elbow), draw.Dimension.In(draw.Accent))
	st := draw.Style{Bold: true, Colour: draw.Accent, Rise: draw.Half, Knock: true}
	if side < 0 {
		st.Anchor = draw.End
	}
	at := draw.Pt{X: elbow.X + unit.Length(side)*0.8, Y: elbow.Y}
	text, reads := "scale "+angleWords(*d.set.Reads), angleWords(*d.set.Reads)
	if at.X+st.Width(text) > d.box.Right() { // in two lines where there is little room
		d.Text(at, "scale", st)
		at.Y += st.Leading()
		text = reads
	}
	d.Text(at, text, st)
}

// workBeside reports that a bored work lies where the reading would stand.
func (d *swingDrawing) workBeside() bool {
	return d.set.Internal && d.side < 0 && d.set.Angle > 35*unit.Degree
}

// scaleFigure writes a figure of the scale on the side away from the swing.
func (d *swingDrawing) scaleFigure(deg int) {
	if unit.Angle(deg)*d.side > 0 || d.workBeside() || d.set.Internal && deg*deg == 90*90 { // the work lies there
		return
	}
	v := max(deg, -deg)
	if d.set.ZeroAtBed {
		v = 90 - v
	}
	a := -90*unit.Degree + unit.Angle(deg)*unit.Degree
	if deg == 0 {
		a -= d.side * 9 * unit.Degree // beside the line of the cross slide
	}
	if math.Abs(float64(a-d.handle)) < 25*math.Pi/180 { // the slide covers it
		return
	}
	st := draw.Style{Anchor: draw.Middle, Rise: draw.Half, Colour: draw.Grey}
	d.Text(d.swivel.Polar(19.5*d.k+2.6, a), trimmed(float64(v), 0), st)
}

// Sizes in the plan: the axis of the work above the swivel, chuck, work.
const (
	planAxis  unit.Length = -34
	planWork  unit.Length = 8
	planChuck unit.Length = 14
)

// shaft draws the work in the chuck and the tool that reaches it.
func (d *swingDrawing) shaft() {
	axis := planAxis
	d.chuck(-42, axis)
	end := unit.Length(30)
	d.Stroke(draw.Polyline(d.at(-32, axis-planWork), d.at(end, axis-planWork), d.at(end, axis+planWork), d.at(-32, axis+planWork)), draw.Visible)
	for _, s := range []unit.Length{1, -1} {
		d.Stroke(draw.Segment(d.at(-16, axis+s*(planWork-1.6)), d.at(end, axis+s*(planWork-1.6))), draw.Thin)
	}
	d.Stroke(draw.Segment(d.at(-16, axis-planWork), d.at(-16, axis+planWork)), draw.Visible)
	d.Stroke(draw.Segment(d.at(-44, axis), d.at(end+4, axis)), draw.Centre)
	tip := draw.Pt{X: d.post.X, Y: axis + planWork}
	tool := draw.Polygon(d.at(tip.X-2.2, d.post.Y-6.5), d.at(tip.X-2.2, tip.Y+3.8), d.at(tip.X, tip.Y), d.at(tip.X+2.2, tip.Y+3.8), d.at(tip.X+2.2, d.post.Y-6.5))
	d.Fill(tool, draw.Paper)
	d.Stroke(tool, draw.Visible)
	d.infeed(tip, d.handle+math.Pi, 1)
}

// bore draws the work cut open and the bar inside it.
func (d *swingDrawing) bore() {
	bar := d.post.Y
	tip := draw.Pt{X: d.post.X - 28, Y: bar + 4.4}
	const hole, outside unit.Length = 8, 14
	axis := tip.Y - hole
	end := d.post.X - 15
	left := end - 26
	d.chuck(left-10, axis)
	d.Fill(d.rect(left, axis-outside, end-left, 2*outside), draw.Paper)
	for _, s := range []unit.Length{1, -1} {
		a, b := d.at(left, axis+s*hole), d.at(end, axis+s*outside)
		wall := draw.Rect(draw.Box{X: a.X, Y: min(a.Y, b.Y), W: b.X - a.X, H: (a.Y - b.Y).Abs()})
		d.Hatch(wall, draw.HatchAngle, 2.6, draw.HatchLine)
		d.Stroke(wall, draw.Visible)
		d.Stroke(draw.Segment(d.at(left+10, axis+s*(hole+1.6)), d.at(end, axis+s*(hole+1.6))), draw.Thin)
	}
	d.Stroke(draw.Segment(d.at(end, axis-hole), d.at(end, axis+hole)), draw.Visible)
	d.Stroke(draw.Segment(d.at(left-12, axis), d.at(end+3, axis)), draw.Centre)
	tool := draw.Polygon(d.at(d.post.X-6.5, bar-2), d.at(tip.X-2, bar-2), d.at(tip.X-2, bar+2), d.at(tip.X, tip.Y), d.at(tip.X+2, bar+2), d.at(d.post.X-6.5, bar+2))
	d.Fill(tool, draw.Paper)
	d.Stroke(tool, draw.Visible)
	d.infeed(tip, d.handle, -1)
}

// infeed draws the way of the tip when the compound is wound for a cut. With a
// straight infeed it is the way of the cross slide.
func (d *swingDrawing) infeed(tip draw.Pt, dir unit.Angle, out unit.Angle) {
	if d.set.Angle == 0 {
		dir = out * 90 * unit.Degree
	}
	from := d.at(tip.X, tip.Y)
	d.Arrow(from, from.Polar(max(12*d.k, 6), dir), draw.Pen{Name: "infeed", Width: 0.5, Colour: draw.Accent})
}

func (d *swingDrawing) chuck(x, axis unit.Length) {
	d.Stroke(d.rect(x, axis-planChuck-1, 10, 2*planChuck+2), draw.Adjacent)
}

// jaws names the chuck, over its centre line.
func (d *swingDrawing) jaws(x, axis unit.Length) {
	d.Text(d.at(x+5, axis), "chuck", draw.Style{Turn: 90 * unit.Degree, Colour: draw.Grey, Anchor: draw.Middle, Rise: draw.Half, Knock: true})
}

// senses draws which way the carriage and the top of the work run.
func (d *swingDrawing) senses() {
	way, words := unit.Length(-1), "cut towards the chuck"
	if d.set.FromChuck {
		way, words = 1, "cut away from the chuck"
	}
	spin, run := unit.Length(1), "spindle forward"
	if d.set.Reverse {
		spin, run = -1, "spindle in reverse"
	}
	top := d.box.Y + 3
	d.Text(draw.Pt{X: d.box.X, Y: top}, words, draw.Style{})
	mid := d.box.X + draw.Style{}.Width(words) + 2
	from, to := draw.Pt{X: mid + 9, Y: top - 1.3}, draw.Pt{X: mid, Y: top - 1.3}
	if way > 0 {
		from, to = to, from
	}
	d.Arrow(from, to, draw.Thin)

	axis, x, st := planAxis, d.at(37, 0).X, draw.Style{Anchor: draw.End}
	at := draw.Pt{X: d.at(40, 0).X, Y: d.at(0, axis-planWork-2).Y}
	chuck := unit.Length(-42)
	if d.set.Internal { // there is room on the other side
		chuck = d.post.X - 51
		axis = d.post.Y - 3.6
		x, st.Anchor = d.at(chuck-5, 0).X, draw.Start
		at = draw.Pt{X: max(d.at(chuck-6, 0).X, d.box.X), Y: d.at(0, axis-planChuck-3).Y}
	}
	d.Arrow(draw.Pt{X: x, Y: d.at(0, axis-spin*6).Y}, draw.Pt{X: x, Y: d.at(0, axis+spin*6).Y}, draw.Thin)
	d.Text(at, run, st)
	d.jaws(chuck, axis)
}
