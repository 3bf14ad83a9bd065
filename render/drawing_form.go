package render

import (
	"math"

	"thrum/draw"
	"thrum/thread"
	"thrum/unit"
)

// ThreadForm draws the profile of a thread over two or three pitches, magnified,
// with what the limits of size leave open at crest, pitch line and root shaded
// and the limits written beside. A screw is drawn with its metal below the
// crests, a nut with its metal above.
func ThreadForm(l *draw.List, box draw.Box, t thread.Thread, sys unit.System) {
	g := t.Groove()
	if len(g) == 0 {
		return
	}
	l.Group(draw.Group{Title: "Form of thread " + t.Designation})
	defer l.End()
	f := formDrawing{List: l, t: t, g: g, sys: sys, depth: deepest(g), pitch: t.Pitch.Length()}
	f.layOut(box)
	notes := []string{"profile " + scaleWords(f.v.k), unitNote(sys)}
	if n := perInch(t); n != "" {
		notes = append(notes, n+" threads per inch")
	}
	footnote(l, box, notes...)
	f.bands()
	f.profile()
	f.dimensions()
}

type formDrawing struct {
	*draw.List
	t            thread.Thread
	g            thread.Groove
	sys          unit.System
	depth, pitch unit.Length
	v            viewpoint
	plot         draw.Box // where the profile is drawn, between the break lines
	beside       unit.Length
	clear        unit.Length // from the crest line to the dimension of the pitch
}

// layOut finds the scale: two pitches at least, and the depth in what is left
// beside the dimensions.
func (f *formDrawing) layOut(box draw.Box) {
	st := draw.Style{}
	names := []string{"major ⌀", span(f.t.Limits.Major, f.sys), span(f.t.Limits.Pitch, f.sys), span(f.t.Limits.Minor, f.sys)}
	f.beside = 0
	for _, n := range names {
		f.beside = max(f.beside, st.Width(n))
	}
	f.beside += 5
	const left, above, below unit.Length = 9, 12, 10
	area := box.Trim(left, above, f.beside, below+4)
	area.W = min(area.W, 130)
	reach := f.crestBand() / 2 // of the crest's limits beyond the crest
	k := min(float64(area.W/f.pitch)/1.75, float64((area.H-9)/f.depth), float64((area.H-6)/(f.depth+reach)))
	f.v.k = magnification(k)
	f.clear = max(8.5, reach*unit.Length(f.v.k)+5.5)
	const body unit.Length = 8
	h := f.depth*unit.Length(f.v.k) + body
	spill := f.clear - 8.5
	top := area.Y + max(0, (area.H-h-spill)/2)
	if f.t.Side == thread.External {
		top += spill
	}
	f.plot = draw.Box{X: area.X, Y: top, W: area.W, H: h}
	pitch := f.pitch * unit.Length(f.v.k)
	spare := max(0, f.plot.W-1.75*pitch) / 2 // a whole groove between two whole ridges, the rest shared out
	f.v.at = draw.Pt{X: f.plot.X + min(0.35*pitch+spare, 0.45*pitch) + ridge(f.g, f.pitch)*unit.Length(f.v.k), Y: top}
	if f.t.Side == thread.Internal {
		f.v.above = true
		f.v.at.Y = top + h
	}
}

// line returns the paper height of a diameter.
func (f *formDrawing) line(d unit.Length) unit.Length {
	return f.v.pt(thread.Point{X: f.inside(f.crest()-d) / 2}).Y
}

// inside turns a step of diameter so that it counts into the groove.
func (f *formDrawing) inside(d unit.Length) unit.Length {
	if f.t.Side == thread.Internal {
		return -d
	}
	return d
}

// crest is the diameter that the outline's crest line stands for.
func (f *formDrawing) crest() unit.Length {
	if f.t.Side == thread.Internal {
		return f.t.Limits.Minor.Mean()
	}
	return f.t.Limits.Major.Mean()
}

// bands shades what the limits leave open and writes the limits beside.
func (f *formDrawing) bands() {
	rows := []struct {
		name string
		b    thread.Band
	}{{"major ⌀", f.t.Limits.Major}, {"pitch ⌀", f.t.Limits.Pitch}, {"minor ⌀", f.t.Limits.Minor}}
	edge := draw.Pen{Name: "limit", Width: 0.18, Colour: draw.Accent}
	var labels []bandLabel
	for _, r := range rows {
		lo, hi := r.b.Min, r.b.Max
		if lo <= 0 {
			lo = hi
		}
		if hi <= 0 {
			hi = lo
		}
		if hi <= 0 {
			continue
		}
		y1, y2 := f.line(hi), f.line(lo)
		if y1 > y2 {
			y1, y2 = y2, y1
		}
		b := draw.Box{X: f.plot.X, Y: y1, W: f.plot.W + 2.5, H: y2 - y1}
		if b.H > 0.05 {
			f.Fill(draw.Rect(b), draw.Wash)
		}
		for _, y := range []unit.Length{y1, y2} {
			f.Stroke(draw.Segment(draw.Pt{X: b.X, Y: y}, draw.Pt{X: b.Right(), Y: y}), edge)
		}
		labels = append(labels, bandLabel{r.name, span(r.b, f.sys), (y1 + y2) / 2})
	}
	f.writeBands(labels)
}

type bandLabel struct {
	name, limits string
	y            unit.Length
}

// writeBands writes name and limits of each band in two lines at its height,
// spread where the thread is too shallow for them.
func (f *formDrawing) writeBands(labels []bandLabel) {
	const need unit.Length = 10.5
	if f.v.above { // the major diameter of a nut is on top as well
		for i := range labels {
			for j := range i {
				if labels[j].y > labels[i].y {
					labels[i], labels[j] = labels[j], labels[i]
				}
			}
		}
	}
	ys := make([]unit.Length, len(labels))
	for i, b := range labels {
		ys[i] = b.y
	}
	for range 60 {
		for i := 1; i < len(ys); i++ {
			if gap := ys[i] - ys[i-1]; gap < need {
				ys[i-1] -= (need - gap) / 2
				ys[i] += (need - gap) / 2
			}
		}
	}
	x := f.plot.Right() + 5
	for i, b := range labels {
		f.Stroke(draw.Polyline(draw.Pt{X: f.plot.Right() + 2.5, Y: b.y}, draw.Pt{X: x - 0.6, Y: ys[i]}), draw.Pen{Name: "limit", Width: 0.18, Colour: draw.Accent})
		f.Text(draw.Pt{X: x + 0.4, Y: ys[i] - 0.7}, b.name, draw.Style{Bold: true, Colour: draw.Accent})
		f.Text(draw.Pt{X: x + 0.4, Y: ys[i] + 3.6}, b.limits, draw.Style{})
	}
}

// profile draws the outline of the target sizes with the metal hatched, between
// break lines.
func (f *formDrawing) profile() {
	path := new(draw.Path)
	n := int(math.Ceil(float64(f.plot.W)/(float64(f.pitch)*f.v.k))) + 2
	for i := n; i >= -n; i-- { // from left to right: Z falls
		f.v.trace(path, backwards(f.g), f.pitch*unit.Length(i))
	}
	window := draw.Box{X: f.plot.X, Y: f.plot.Y - 20, W: f.plot.W, H: f.plot.H + 40}
	f.List.Group(draw.Group{Clip: draw.Rect(window)})
	y := f.plot.Bottom()
	if f.v.above {
		y = f.plot.Y
	}
	wide := unit.Length(n+2) * f.pitch * unit.Length(f.v.k)
	metal := new(draw.Path).Append(path)
	metal.Line(draw.Pt{X: f.v.at.X + wide, Y: y}).Line(draw.Pt{X: f.v.at.X - wide, Y: y}).Close()
	f.Hatch(metal, draw.HatchAngle, 2.6, draw.HatchLine)
	f.Stroke(path, draw.Visible)
	f.End()
	f.Stroke(draw.Broken(draw.Pt{X: f.plot.X, Y: y}, draw.Pt{X: f.plot.Right(), Y: y}), draw.Break)
	if f.t.Limits.Pitch.Mean() > 0 {
		py := f.line(f.t.Limits.Pitch.Mean())
		f.Stroke(draw.Segment(draw.Pt{X: f.plot.X - 1.5, Y: py}, draw.Pt{X: f.plot.Right() + 2.5, Y: py}), draw.Centre)
	}
}

// backwards returns the outline in the direction of falling Z.
func backwards(g thread.Groove) thread.Groove {
	out := make(thread.Groove, len(g))
	for i, s := range g {
		s.From, s.To = s.To, s.From
		out[len(g)-1-i] = s
	}
	return out
}

// dimensions writes pitch, depth and the angles.
func (f *formDrawing) dimensions() {
	out := unit.Length(1) // away from the metal, on paper
	if !f.v.above {
		out = -1
	}
	crestY := f.v.at.Y
	// The pitch, from ridge to ridge over the middle groove.
	z := ridge(f.g, f.pitch)
	a, b := f.v.pt(thread.Point{Z: z}), f.v.pt(thread.Point{Z: z - f.pitch})
	a.Y, b.Y = crestY, crestY
	f.Level(a, b, crestY+out*f.clear, f.pitchWords())
	// The depth, at the left.
	rootY := f.v.pt(thread.Point{X: f.depth}).Y
	x := f.plot.X - 3
	f.Dimension(draw.Dim{
		From: draw.Pt{X: f.plot.X + 0.5, Y: crestY}, To: draw.Pt{X: f.plot.X + 0.5, Y: rootY},
		At: draw.Pt{X: x, Y: crestY}, Along: 90 * unit.Degree, Text: size(f.depth, f.sys), Beside: draw.Start,
	})
	f.angles(out)
}

func (f *formDrawing) pitchWords() string {
	if f.sys == unit.Inches {
		return f.pitch.Number(unit.Inches, 4)
	}
	return trimmed(f.pitch.MM(), 3)
}

// perInch returns the number of threads per inch where it is a whole number, or
// a simple fraction on an inch thread, else nothing.
func perInch(t thread.Thread) string {
	n, err := t.Pitch.Inv()
	if err == nil {
		n, err = n.Mul(unit.MustRatio(127, 5))
	}
	if err != nil || !n.IsWhole() && (t.System != unit.Inches || n.Den() > 8) {
		return ""
	}
	return trimmed(n.Float(), 3)
}

// angles writes the included angle into the groove, or the two flank angles of
// an unsymmetrical form above their flanks.
func (f *formDrawing) angles(out unit.Length) {
	form := f.t.Form
	if form.Included() < 0.01 {
		return
	}
	line := ((f.crest() - f.t.Limits.Pitch.Mean()) / 2).Abs()
	zl, zt := f.flankAt(line)
	if !form.Symmetric() {
		f.flankNote(thread.Point{Z: zl, X: line}, form.Leading, out)
		f.flankNote(thread.Point{Z: zt, X: line}, form.Trailing, out)
		return
	}
	depth := f.pitch / 2 / unit.Length(form.Leading.Tan()+form.Trailing.Tan()) // of the sharp root below the pitch line
	apex := f.v.pt(thread.Point{Z: (zl + zt) / 2, X: line + depth})
	st := draw.Style{Knock: true}
	top := f.crestBand() / 2 * unit.Length(f.v.k)
	r := (line+depth)*unit.Length(f.v.k) - top - st.Cap() - 2.2
	up := 90 * unit.Degree * unit.Angle(-out)
	f.AngleStyle(apex, r, up-form.Trailing, up+form.Leading, angleWords(form.Included()), st)
}

// crestBand is how far the limits of the crest reach into the groove, twice.
func (f *formDrawing) crestBand() unit.Length {
	if f.t.Side == thread.Internal {
		return f.t.Limits.Minor.Width()
	}
	return f.t.Limits.Major.Width()
}

// flankAt returns where the outline's two flanks cross a depth.
func (f *formDrawing) flankAt(x unit.Length) (leading, trailing unit.Length) {
	for _, s := range f.g {
		lo, hi := s.From, s.To
		if lo.X > hi.X {
			lo, hi = hi, lo
		}
		if s.Radius > 0 || x < lo.X || x > hi.X || hi.X == lo.X {
			continue
		}
		z := lo.Z + (hi.Z-lo.Z)*(x-lo.X)/(hi.X-lo.X)
		if s.From.X < s.To.X {
			trailing = z
		} else {
			leading = z
		}
	}
	return leading, trailing
}

// flankNote draws the normal to the axis through a point of a flank and writes
// the angle between both at its end.
func (f *formDrawing) flankNote(p thread.Point, angle unit.Angle, out unit.Length) {
	q := f.v.pt(p)
	end := draw.Pt{X: q.X, Y: f.v.at.Y + out*1.2}
	f.Stroke(draw.Segment(draw.Pt{X: q.X, Y: q.Y - out*3}, end), draw.Centre)
	st := draw.Style{Anchor: draw.Middle, Rise: draw.Half, Knock: true}
	end.Y += out * 2.2
	f.Text(end, angleWords(angle), st)
}

func angleWords(a unit.Angle) string { return trimmed(a.Degrees(), 2) + "°" }
