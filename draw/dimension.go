package draw

import (
	"math"

	"thrum/unit"
)

// Proportions of dimensions, ISO 129-1: filled arrowheads of 18°, three times as long as wide, extension
// lines that begin a little off the part and pass the dimension line by eight
// line widths, text above the line.
const (
	arrowLen  mm = 2.5
	arrowHalf mm = 0.4
	extGap    mm = 0.8
	extPast   mm = 2
	textGap   mm = 0.9
)

// Dim is a linear dimension: the distance between two points, measured along one
// direction, written on a dimension line that may lie anywhere.
type Dim struct {
	From, To Pt          // the points measured
	At       Pt          // any point on the dimension line
	Along    unit.Angle  // direction of the dimension line: 0 is level
	Text     string      // "⌀ 12,7", "1.25 in"
	Lower    string      // a second line under Text: the lower limit of size
	Size     unit.Length // of the lettering; 0 means TextSize
	Beside   Anchor      // when the text does not fit between the arrows: End puts it beyond To, Start beyond From
	Half     bool        // only the arrow at To: the other half of a symmetrical part is not drawn
	Plain    bool        // no extension lines, the points lie on the dimension line already
	Knock    bool        // the text blanks what was drawn under it
	Colour   Colour
}

// Dimension draws a linear dimension. When the arrows do not fit between the
// extension lines they point inwards from outside; when the text does not fit it
// is written on the lengthened line.
func (l *List) Dimension(d Dim) {
	pen := Dimension.In(d.Colour)
	st := Style{Size: d.Size, Colour: d.Colour, Anchor: Middle, Knock: d.Knock}
	a, b := foot(d.From, d.At, d.Along), foot(d.To, d.At, d.Along)
	dir := a.Towards(b)
	if a.Dist(b) < 1e-6 {
		dir = d.Along
	}
	if !d.Plain {
		if !d.Half {
			l.extension(d.From, a, pen)
		}
		l.extension(d.To, b, pen)
	}
	span := a.Dist(b)
	textW := max(st.Width(d.Text), st.Width(d.Lower))
	beside := textW+1 > span
	outside := span < 2*arrowLen+1.5 && !d.Half
	from, to := a, b
	if outside {
		from, to = a.Polar(-arrowLen-2, dir), b.Polar(arrowLen+2, dir)
		l.arrow(a, dir, d.Colour)
		l.arrow(b, dir+math.Pi, d.Colour)
	} else {
		if !d.Half {
			l.arrow(a, dir+math.Pi, d.Colour)
		}
		l.arrow(b, dir, d.Colour)
	}
	mid := a.Between(b, 0.5)
	if beside {
		reach := textW + 2
		if outside {
			reach += arrowLen
		}
		if d.Beside == Start {
			from = a.Polar(-reach, dir)
			mid = from.Polar(textW/2+0.5, dir)
		} else {
			to = b.Polar(reach, dir)
			mid = to.Polar(-textW/2-0.5, dir)
		}
	}
	l.Stroke(Segment(from, to), pen)
	if d.Lower != "" {
		l.above(mid, dir, d.Lower, st)
		mid = mid.Polar(st.Leading()*0.95, upright(dir)+math.Pi/2)
	}
	l.above(mid, dir, d.Text, st)
}

// Level draws a horizontal dimension at the given height.
func (l *List) Level(from, to Pt, y unit.Length, text string) {
	l.Dimension(Dim{From: from, To: to, At: Pt{from.X, y}, Text: text, Beside: End})
}

// Upright draws a vertical dimension at the given distance from the left edge.
func (l *List) Upright(from, to Pt, x unit.Length, text string) {
	l.Dimension(Dim{From: from, To: to, At: Pt{x, from.Y}, Along: 90 * unit.Degree, Text: text, Beside: End})
}

// foot returns the foot of p on the line through at in the given direction.
func foot(p, at Pt, along unit.Angle) Pt {
	v := p.Sub(at)
	t := float64(v.X)*along.Cos() - float64(v.Y)*along.Sin()
	return at.Polar(mm(t), along)
}

// extension draws the line from a point measured to its dimension line.
func (l *List) extension(p, foot Pt, pen Pen) {
	if dist := p.Dist(foot); dist > extGap {
		dir := p.Towards(foot)
		l.Stroke(Segment(p.Polar(extGap, dir), foot.Polar(extPast, dir)), pen)
	}
}

// arrow draws a filled head with its tip at p, pointing in direction dir.
func (l *List) arrow(p Pt, dir unit.Angle, c Colour) { l.head(p, dir, arrowLen, c) }

func (l *List) head(p Pt, dir unit.Angle, length mm, c Colour) {
	half := length * arrowHalf / arrowLen
	back := p.Polar(-length, dir)
	l.Fill(Polygon(p, back.Polar(half, dir+math.Pi/2), back.Polar(-half, dir+math.Pi/2)), c)
}

// Arrow draws a line with a filled head at its end: a direction of motion. A
// wider pen has a larger head.
func (l *List) Arrow(from, to Pt, pen Pen) {
	dir := from.Towards(to)
	length := max(arrowLen, 8*pen.Width)
	if from.Dist(to) > length {
		l.Stroke(Segment(from, to.Polar(-length/2, dir)), pen)
	}
	l.head(to, dir, length, pen.Colour)
}

// ArcArrow draws an arc with a filled head at its end: a sense of rotation.
func (l *List) ArcArrow(centre Pt, r unit.Length, from, sweep unit.Angle, pen Pen) {
	back := unit.Angle(float64(arrowLen/r)) * sgn(sweep)
	l.Stroke(new(Path).Arc(centre, r, from, sweep-back/2), pen)
	end := from + sweep
	tangent := end + sgn(sweep)*math.Pi/2
	l.arrow(centre.Polar(r, end), tangent-back/2, pen.Colour)
}

// upright returns the direction turned so that text along it is read from below
// or from the right.
func upright(dir unit.Angle) unit.Angle {
	for dir > 90*unit.Degree+1e-9 {
		dir -= math.Pi
	}
	for dir <= -90*unit.Degree+1e-9 {
		dir += math.Pi
	}
	return dir
}

// above writes text along a line, a little off it on its upper side.
func (l *List) above(mid Pt, dir unit.Angle, text string, st Style) {
	st.Turn = upright(dir)
	l.Text(mid.Polar(textGap+descent(text)*st.size()*0.6, st.Turn+math.Pi/2), text, st)
}

// Angle draws an angular dimension: an arc about the apex from one direction to
// another, anticlockwise, with the text outside its middle.
func (l *List) Angle(apex Pt, r unit.Length, from, to unit.Angle, text string) {
	l.AngleStyle(apex, r, from, to, text, Style{})
}

// AngleStyle is Angle with lettering of the caller's choice.
func (l *List) AngleStyle(apex Pt, r unit.Length, from, to unit.Angle, text string, st Style) {
	sweep := to - from
	for sweep <= 0 {
		sweep += 2 * math.Pi
	}
	l.Stroke(new(Path).Arc(apex, r, from, sweep), Dimension)
	bend := unit.Angle(float64(arrowLen/r)) / 2 // the head lies along the chord of the arc
	if r*mm(sweep.Rad()) > 2*arrowLen+1 {
		l.arrow(apex.Polar(r, from), from-math.Pi/2+bend, Ink)
		l.arrow(apex.Polar(r, to), to+math.Pi/2-bend, Ink)
	} else {
		out := unit.Angle(float64((arrowLen + 2) / r))
		l.Stroke(new(Path).Arc(apex, r, from-out, out), Dimension)
		l.Stroke(new(Path).Arc(apex, r, to, out), Dimension)
		l.arrow(apex.Polar(r, from), from+math.Pi/2-bend, Ink)
		l.arrow(apex.Polar(r, to), to-math.Pi/2+bend, Ink)
	}
	l.beyond(apex, r+1.2, from+sweep/2, text, st)
}

// beyond writes level text outside a circle in direction a, so that the box of
// the text just clears the circle.
func (l *List) beyond(centre Pt, r mm, a unit.Angle, text string, st Style) {
	w, h := st.Width(text)/2, st.Cap()/2
	reach := r + mm(math.Abs(a.Cos()))*w + mm(math.Abs(a.Sin()))*h
	st.Anchor, st.Rise = Middle, Half
	l.Text(centre.Polar(reach, a), text, st)
}

// Leader draws a line from a tip with an arrow to an elbow and a shelf with the
// text above it; the shelf runs away from the tip.
func (l *List) Leader(tip, elbow Pt, text string) {
	l.LeaderStyle(tip, elbow, text, Style{})
}

// LeaderStyle is Leader with lettering of the caller's choice.
func (l *List) LeaderStyle(tip, elbow Pt, text string, st Style) {
	w := st.Width(text) + 1
	if elbow.X < tip.X {
		w = -w
	}
	end := Pt{elbow.X + w, elbow.Y}
	l.Stroke(Polyline(tip, elbow, end), Dimension.In(st.Colour))
	l.arrow(tip, elbow.Towards(tip), st.Colour)
	st.Anchor = Middle
	l.above(elbow.Between(end, 0.5), 0, text, st)
}

// Radius draws the leader of a radius: from the arc, along the line through its
// centre, to the text.
func (l *List) Radius(centre Pt, r unit.Length, at unit.Angle, reach unit.Length, text string) {
	tip := centre.Polar(r, at)
	l.Leader(tip, tip.Polar(reach, at), text)
}
