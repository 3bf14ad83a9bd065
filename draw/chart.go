package draw

import (
	"math"
	"slices"

	"thrum/unit"
)

// Mark is the shape of a dot in a chart.
type Mark uint8

// Shapes that are told apart without colour.
const (
	NoMark Mark = iota
	Disc
	Ring
	Square
	Triangle
	Diamond
	Cross
)

// Series is one set of points of a chart. Its name is written at the end of the
// line, so that no key has to be looked up.
type Series struct {
	Name   string
	X, Y   []float64
	Line   Line // type of line, to tell series apart without colour
	Dots   bool // points only, no line
	Mark   Mark
	Accent bool // the series that the chart is about
	Err    []float64
}

// Band is an area between two curves: a tolerance, a range of uncertainty.
type Band struct {
	Name      string
	X         []float64
	Low, High []float64
	Accent    bool
}

// Limit is a line across the chart at one figure, with its name on it.
type Limit struct {
	Name    string
	At      float64
	Upright bool // at a figure of the x axis
}

// Chart shows figures. Draw puts it into a box.
type Chart struct {
	Title  string
	X, Y   Axis
	Bands  []Band
	Series []Series
	Limits []Limit
	Heat   *Heat
	Under  *Picture    // under everything else
	Size   unit.Length // of the lettering; 0 means TextSize
}

// Picture is a picture that fills part of a chart, such as a spectrogram with too many
// cells for a Heat. On a logarithmic axis its rows stand at equal factors.
type Picture struct {
	X0, X1, Y0, Y1 float64
	Data           []byte // PNG or JPEG
	Alt            string
}

func (p *Picture) draw(f *frame) {
	a, b := f.pt(p.X0, p.Y0), f.pt(p.X1, p.Y1)
	if err := f.l.Image(Box{a.X, b.Y, b.X - a.X, a.Y - b.Y}, p.Data, p.Alt); err != nil {
		f.l.Fill(Rect(f.plot), Shade) // a picture that cannot be read leaves a grey ground
	}
}

// frame is a chart being drawn.
type frame struct {
	l      *List
	plot   Box
	x, y   scale
	st     Style
	labels []endLabel
}

type endLabel struct {
	name   string
	at     Pt // the end of the line that it names
	colour Colour
	y      mm // where the label goes after spreading
}

// Draw draws the chart.
func (c Chart) Draw(l *List, b Box) {
	f := &frame{l: l, st: Style{Size: c.Size}}
	f.st.Size = f.st.size()
	l.Group(Group{Title: c.Title})
	defer l.End()
	if c.Title != "" {
		ts := f.st
		ts.Bold = true
		b.Y += l.Paragraph(b, c.Title, ts) + f.st.Size*0.5
		b.H -= ts.Leading()*mm(len(ts.Wrap(c.Title, b.W))) + f.st.Size*0.5
	}
	xt, yt := c.layout(f, b)
	f.grid(c, b, xt, yt)
	l.Group(Group{Clip: Rect(f.plot.Inset(-0.3))})
	if c.Under != nil {
		c.Under.draw(f)
	}
	if c.Heat != nil {
		c.Heat.draw(f)
	}
	for _, band := range c.Bands {
		f.band(band)
	}
	for _, s := range c.Series {
		f.series(s)
	}
	l.End()
	for _, s := range c.Series { // dots may stand on the edge of the plot
		f.dots(s)
	}
	f.axes(xt, yt)
	for _, lim := range c.Limits {
		f.limit(lim)
	}
	if c.Heat != nil {
		c.Heat.key(f)
	}
	f.writeLabels()
}

// layout finds scales and the place of the plot within the box.
func (c Chart) layout(f *frame, b Box) (xt, yt []Tick) {
	if h := c.Heat; h != nil { // the tints fill the plot to its edges
		c.X.Min, c.X.Max, c.Y.Min, c.Y.Max = h.X0, h.X1, h.Y0, h.Y1
	}
	xlo, xhi, ylo, yhi := c.extent()
	size := f.st.Size
	f.y, yt = c.Y.scaleFor(ylo, yhi, max(2, int(b.H/(size*3))))
	left := mm(0)
	for _, t := range yt {
		left = max(left, f.st.Width(t.Label))
	}
	right := size * 0.8
	names := append([]string{}, c.endNames()...)
	for _, n := range names {
		right = max(right, f.st.Width(n)+4)
	}
	if c.Heat != nil {
		right = max(right, c.Heat.keyWidth(f.st))
	}
	right = min(right, b.W*0.4)
	f.x, xt = c.X.scaleFor(xlo, xhi, max(2, int((b.W-left-right)/(size*4.5))))
	top := size * 0.5
	if c.Y.Title != "" {
		top = f.st.Leading()*mm(len(f.st.Wrap(c.Y.Title, b.W))) + size*0.5
	}
	bottom := f.st.Leading() + size*0.6
	if c.X.Title != "" {
		bottom += f.st.Leading()
	}
	f.plot = b.Trim(left+2, top, right, bottom)
	return xt, yt
}

func (c Chart) endNames() (names []string) {
	for _, s := range c.Series {
		names = append(names, s.Name)
	}
	for _, s := range c.Bands {
		names = append(names, s.Name)
	}
	return names
}

// extent returns the range of all data.
func (c Chart) extent() (xlo, xhi, ylo, yhi float64) {
	xlo, ylo, xhi, yhi = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	take := func(lo, hi *float64, vs ...float64) {
		for _, v := range vs {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				*lo, *hi = min(*lo, v), max(*hi, v)
			}
		}
	}
	for _, s := range c.Series {
		take(&xlo, &xhi, s.X...)
		take(&ylo, &yhi, s.Y...)
		for i, e := range s.Err {
			if i < len(s.Y) {
				take(&ylo, &yhi, s.Y[i]-e, s.Y[i]+e)
			}
		}
	}
	for _, s := range c.Bands {
		take(&xlo, &xhi, s.X...)
		take(&ylo, &yhi, s.Low...)
		take(&ylo, &yhi, s.High...)
	}
	for _, lim := range c.Limits {
		if lim.Upright {
			take(&xlo, &xhi, lim.At)
		} else {
			take(&ylo, &yhi, lim.At)
		}
	}
	if h := c.Heat; h != nil {
		take(&xlo, &xhi, h.X0, h.X1)
		take(&ylo, &yhi, h.Y0, h.Y1)
	}
	return xlo, xhi, ylo, yhi
}

// pt returns the place of a point of the data; far outside it stays finite.
func (f *frame) pt(x, y float64) Pt {
	far := func(v float64) mm {
		if math.IsNaN(v) { // no place on this axis, as zero on a logarithmic one
			return -20
		}
		return mm(max(-20, min(20, v)))
	}
	return Pt{f.plot.X + f.plot.W*far(f.x.at(x)), f.plot.Bottom() - f.plot.H*far(f.y.at(y))}
}

func (f *frame) grid(c Chart, b Box, xt, yt []Tick) {
	for _, t := range yt {
		y := f.pt(f.x.lo, t.At).Y
		if t.Label != "" {
			f.l.Stroke(Segment(Pt{f.plot.X, y}, Pt{f.plot.Right(), y}), Grid)
		}
	}
	if c.Heat != nil || f.x.log {
		for _, t := range xt {
			if x := f.pt(t.At, f.y.lo).X; t.Label != "" {
				f.l.Stroke(Segment(Pt{x, f.plot.Y}, Pt{x, f.plot.Bottom()}), Grid)
			}
		}
	}
	if c.Y.Title != "" {
		st := f.st
		st.Colour = Grey
		f.l.Paragraph(Box{b.X, b.Y - st.Size*0.1, b.W, b.H}, c.Y.Title, st)
	}
	if c.X.Title != "" {
		st := f.st
		st.Colour, st.Anchor = Grey, End
		right := max(f.plot.Right(), b.X+st.Width(c.X.Title))
		f.l.Text(Pt{right, b.Bottom() - st.Size*0.25}, c.X.Title, st)
	}
}

// axes draws the lines and figures of both axes.
func (f *frame) axes(xt, yt []Tick) {
	p := f.plot
	f.l.Stroke(Segment(Pt{p.X, p.Bottom()}, Pt{p.Right(), p.Bottom()}), Thin)
	f.l.Stroke(Segment(Pt{p.X, p.Y}, Pt{p.X, p.Bottom()}), Thin)
	st := f.st
	for _, t := range yt {
		y := f.pt(f.x.lo, t.At).Y
		st.Anchor, st.Rise = End, Half
		f.l.Stroke(Segment(Pt{p.X, y}, Pt{p.X - tickLen(t), y}), Thin)
		f.l.Text(Pt{p.X - 2, y}, t.Label, st)
	}
	last := mm(-1000)
	for _, t := range xt {
		x := f.pt(t.At, f.y.lo).X
		st.Anchor, st.Rise = Middle, Cap
		f.l.Stroke(Segment(Pt{x, p.Bottom()}, Pt{x, p.Bottom() + tickLen(t)}), Thin)
		if w := st.Width(t.Label) / 2; t.Label != "" && x-w > last+1 { // figures must not run together
			f.l.Text(Pt{x, p.Bottom() + 2}, t.Label, st)
			last = x + w
		}
	}
}

func tickLen(t Tick) mm {
	if t.Label == "" {
		return 0.6
	}
	return 1.2
}

func (f *frame) band(b Band) {
	n := min(len(b.X), len(b.Low), len(b.High))
	if n < 2 {
		return
	}
	var pts []Pt
	for i := range n {
		pts = append(pts, f.pt(b.X[i], b.High[i]))
	}
	for i := n - 1; i >= 0; i-- {
		pts = append(pts, f.pt(b.X[i], b.Low[i]))
	}
	fill, edge := Shade, Grey
	if b.Accent {
		fill, edge = Wash, Accent
	}
	f.l.Fill(Polygon(pts...), fill)
	pen := Pen{Name: "band", Width: 0.13, Colour: edge}
	f.l.Stroke(Polyline(pts[:n]...), pen)
	f.l.Stroke(Polyline(pts[n:]...), pen)
	f.label(b.Name, f.pt(b.X[n-1], (b.High[n-1]+b.Low[n-1])/2), edge)
}

func (f *frame) pen(s Series) Pen {
	pen := Pen{Name: "series", Line: s.Line, Width: 0.35, Colour: Ink}
	if s.Accent {
		pen.Width, pen.Colour = 0.6, Accent
	}
	return pen
}

func (f *frame) series(s Series) {
	if s.Dots {
		return
	}
	p := new(Path)
	gap := true // a missing figure breaks the line
	for i := range min(len(s.X), len(s.Y)) {
		if math.IsNaN(s.X[i]) || math.IsNaN(s.Y[i]) {
			gap = true
			continue
		}
		if q := f.pt(s.X[i], s.Y[i]); gap {
			p.Move(q)
		} else {
			p.Line(q)
		}
		gap = false
	}
	if len(p.steps) > 0 {
		f.l.Stroke(p, f.pen(s))
	}
}

// dots draws the marks and error bars of a series and notes where its name goes.
func (f *frame) dots(s Series) {
	n := min(len(s.X), len(s.Y))
	colour := f.pen(s).Colour
	inside := f.plot.Inset(-0.5)
	end, have := Pt{}, false
	for i := range n {
		if math.IsNaN(s.X[i]) || math.IsNaN(s.Y[i]) {
			continue
		}
		p := f.pt(s.X[i], s.Y[i])
		if !inside.Contains(Box{p.X, p.Y, 0, 0}) {
			continue
		}
		if !have || p.X >= end.X {
			end, have = p, true
		}
		if i < len(s.Err) && s.Err[i] > 0 {
			a, b := f.pt(s.X[i], s.Y[i]-s.Err[i]), f.pt(s.X[i], s.Y[i]+s.Err[i])
			bar := new(Path).Move(a).Line(b).Move(Pt{a.X - 0.8, a.Y}).Line(Pt{a.X + 0.8, a.Y}).Move(Pt{b.X - 0.8, b.Y}).Line(Pt{b.X + 0.8, b.Y})
			f.l.Stroke(bar, Pen{Name: "series", Width: 0.25, Colour: colour})
		}
		f.l.mark(p, s.Mark, colour)
	}
	if have {
		f.label(s.Name, end, colour)
	}
}

// mark draws one dot; open shapes are blanked inside.
func (l *List) mark(p Pt, m Mark, c Colour) {
	const r mm = 0.95
	pen := Pen{Name: "mark", Width: 0.3, Colour: c}
	shape := func(n int, first unit.Angle, r mm) *Path {
		var pts []Pt
		for i := range n {
			pts = append(pts, p.Polar(r, first+unit.Angle(i)*2*math.Pi/unit.Angle(n)))
		}
		return Polygon(pts...)
	}
	switch m {
	case Disc:
		l.Fill(Circle(p, r), c)
	case Ring:
		l.Fill(Circle(p, r), Paper)
		l.Stroke(Circle(p, r), pen)
	case Square:
		l.Fill(shape(4, 45*unit.Degree, r*1.25), c)
	case Triangle:
		s := shape(3, 90*unit.Degree, r*1.3)
		l.Fill(s, Paper)
		l.Stroke(s, pen)
	case Diamond:
		l.Fill(shape(4, 0, r*1.35), c)
	case Cross:
		l.Stroke(new(Path).Move(p.Add(Pt{-r, -r})).Line(p.Add(Pt{r, r})).Move(p.Add(Pt{-r, r})).Line(p.Add(Pt{r, -r})), pen)
	}
}

// limit draws a line across the plot with its name above it at the left, or
// beside it at the top.
func (f *frame) limit(lim Limit) {
	st := f.st
	st.Knock = true
	pen := Pen{Name: "limit", Line: LongDashDoubleDot, Width: 0.25}
	if lim.Upright {
		p := f.pt(lim.At, f.y.hi)
		f.l.Stroke(Segment(p, Pt{p.X, f.plot.Bottom()}), pen)
		at := Pt{p.X + 1.2, p.Y + st.Cap() + 0.5}
		if at.X+st.Width(lim.Name) > f.plot.Right() {
			at.X, st.Anchor = p.X-1.2, End
		}
		f.l.Text(at, lim.Name, st)
		return
	}
	p := f.pt(f.x.lo, lim.At)
	f.l.Stroke(Segment(p, Pt{f.plot.Right(), p.Y}), pen)
	f.l.Text(Pt{p.X + 1.5, p.Y - 1.2}, lim.Name, st)
}

func (f *frame) label(name string, at Pt, c Colour) {
	if name != "" {
		at.X, at.Y = min(at.X, f.plot.Right()), max(f.plot.Y, min(at.Y, f.plot.Bottom()))
		f.labels = append(f.labels, endLabel{name: name, at: at, colour: c, y: at.Y})
	}
}

// writeLabels writes the names at the right of the plot, spread so that none
// covers another; a fine line leads to a name that had to move.
func (f *frame) writeLabels() {
	slices.SortStableFunc(f.labels, func(a, b endLabel) int {
		switch {
		case a.y < b.y:
			return -1
		case a.y > b.y:
			return 1
		}
		return 0
	})
	step := f.st.Size * 1.15
	spreadLabels(f.labels, step, f.plot.Y, f.plot.Bottom())
	st := f.st
	st.Rise = Half
	x := f.plot.Right() + 3
	for _, lb := range f.labels {
		moved := lb.y - lb.at.Y
		if moved.Abs() > 0.8 || lb.at.X < f.plot.Right()-1 {
			f.l.Stroke(Polyline(Pt{lb.at.X + 1.2, lb.at.Y}, Pt{x - 1.8, lb.y}, Pt{x - 0.6, lb.y}), Pen{Name: Grid.Name, Width: 0.13, Colour: Grey})
		}
		st.Colour = lb.colour
		f.l.Text(Pt{x, lb.y}, lb.name, st)
	}
}

// spreadLabels moves sorted labels apart to at least step, as little as it can,
// and keeps them between top and bottom.
func spreadLabels(ls []endLabel, step, top, bottom mm) {
	for range 100 {
		moved := false
		for i := 1; i < len(ls); i++ {
			if gap := ls[i].y - ls[i-1].y; gap < step-1e-6 {
				shift := (step - gap) / 2
				ls[i-1].y -= shift
				ls[i].y += shift
				moved = true
			}
		}
		for i := range ls {
			ls[i].y = max(top+step*mm(i), ls[i].y)
		}
		for i := range ls {
			ls[i].y = min(bottom-step*mm(len(ls)-1-i), ls[i].y)
		}
		if !moved {
			return
		}
	}
}
