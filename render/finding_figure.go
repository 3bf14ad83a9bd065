package render

import (
	"fmt"
	"math"

	"thrum/draw"
	"thrum/trial"
	"thrum/unit"
)

// FindingFigure draws what a trial shows as one wide picture, for a page or to lie
// over a video: every sample a dot, pairs and blocks joined, the means, and the
// words of the finding.
func FindingFigure(f *trial.Finding) *draw.List {
	title := f.Question
	if title == "" {
		title = f.Factor.Changed + " against " + f.Factor.Baseline
	}
	l := draw.New(draw.Wide, title)
	l.Meta.Desc = fmt.Sprintf("%s of %d samples with %s and %d with %s, each a dot. %s %s", f.ScoreIs, f.NA, f.Factor.Baseline, f.NB, f.Factor.Changed, f.Measured.Words, f.Caused.Words)
	g := &dotFigure{List: l, f: f}
	box := l.Size(0).Box(12)
	y := g.heading(box, title)
	words := g.words(box)
	g.strips(draw.Box{X: box.X, Y: y + 5, W: box.W, H: words - y - 9})
	return l
}

// FindingDots draws the samples alone, in a size of the caller's choice; where that
// is narrow, the names of the arms stand above their dots.
func FindingDots(f *trial.Finding, size draw.Size) *draw.List {
	l := draw.New(size, f.ScoreIs+" of every sample")
	l.Meta.Desc = fmt.Sprintf("%s of %d samples with %s and %d with %s, each a dot. %s", f.ScoreIs, f.NA, f.Factor.Baseline, f.NB, f.Factor.Changed, f.Measured.Words)
	g := &dotFigure{List: l, f: f, narrow: size.W < 200}
	g.strips(size.Box(2))
	return l
}

type dotFigure struct {
	*draw.List
	narrow bool
	f      *trial.Finding
	x0     unit.Length // of lo
	x1     unit.Length // of hi
	lo     float64
	hi     float64
	step   float64
}

// heading sets the question, smaller where it is long, and returns where it ends.
func (g *dotFigure) heading(box draw.Box, title string) unit.Length {
	st := draw.Style{Size: 10, Bold: true, Rise: draw.Cap}
	for st.Size > 6 && len(st.Wrap(title, box.W)) > 2 {
		st.Size--
	}
	y := box.Y
	for _, line := range st.Wrap(title, box.W) {
		g.Text(draw.Pt{X: box.X, Y: y}, line, st)
		y += st.Size * 1.2
	}
	return y
}

// words sets the three answers at the foot, each under its own name, and returns
// where they begin.
func (g *dotFigure) words(box draw.Box) unit.Length {
	const size, gap = 5.2, 1.4
	head, body := draw.Style{Size: size, Bold: true, Rise: draw.Cap, Colour: draw.Accent}, draw.Style{Size: size, Rise: draw.Cap}
	in := head.Width("measured") + 5
	type row struct {
		name  string
		lines []string
	}
	var rows []row
	n := 0
	for _, a := range [][2]string{{"seen", g.f.Seen.Words}, {"measured", g.f.Measured.Words}, {"size", g.f.Measured.Undersize.Words}, {"caused", g.f.Caused.Words}} {
		if a[1] != "" {
			lines := body.Wrap(a[1], box.W-in)
			rows = append(rows, row{a[0], lines})
			n += len(lines)
		}
	}
	y := box.Bottom() - unit.Length(n)*size*1.25 - unit.Length(len(rows)-1)*gap
	top := y
	for _, r := range rows {
		g.Text(draw.Pt{X: box.X, Y: y}, r.name, head)
		for _, line := range r.lines {
			g.Text(draw.Pt{X: box.X + in, Y: y}, line, body)
			y += size * 1.25
		}
		y += gap
	}
	return top
}

// dotRadius is the size of a sample.
const dotRadius unit.Length = 2.1

// strips draws one strip of dots for each arm over a common axis.
func (g *dotFigure) strips(b draw.Box) {
	label := draw.Style{Size: 6.5, Bold: true, Rise: draw.Half}
	small := draw.Style{Size: 4.6, Rise: draw.Half, Colour: draw.Grey}
	left, foot := unit.Length(0), unit.Length(15)
	two := b.W < 290 // the key goes below the name of the axis
	if two {
		foot = 20
	}
	if g.narrow {
		label.Size = 5
		g.scale(b.X+5, b.Right()-5)
	} else {
		for _, arm := range []string{g.f.Factor.Baseline, g.f.Factor.Changed} {
			left = max(left, label.Width(arm))
		}
		left = min(max(left, 36), 80)
		g.scale(b.X+left+8, b.Right()-6)
	}
	axis := b.Bottom() - foot
	high := (axis - b.Y) / 2
	g.ticks(b.Y, axis)
	mids := [2]unit.Length{b.Y + high*0.5, b.Y + high*1.5}
	room := high/2 - 4
	if g.narrow {
		mids, room = [2]unit.Length{b.Y + high*0.6, b.Y + high*1.6}, high*0.38
	}
	places := [2]map[int]draw.Pt{}
	for k, arm := range []string{g.f.Factor.Baseline, g.f.Factor.Changed} {
		n := g.f.NA
		if k == 1 {
			n = g.f.NB
		}
		if g.narrow {
			label.Knock, small.Knock = true, true
			at := draw.Pt{X: b.X + 2, Y: b.Y + high*unit.Length(k) + 4}
			name := label.Shorten(arm, b.W*.6)
			g.Text(at, name, label)
			g.Text(at.Add(draw.Pt{X: label.Width(name) + 2}), fmt.Sprintf("%d samples", n), small)
		} else {
			g.Text(draw.Pt{X: b.X, Y: mids[k] - 2.6}, label.Shorten(arm, left), label)
			g.Text(draw.Pt{X: b.X, Y: mids[k] + 4.2}, fmt.Sprintf("%d samples", n), small)
		}
		places[k] = g.place(arm, mids[k], room)
	}
	g.joins(places)
	lost := false
	for k := range places {
		lost = g.dots(places[k], k == 1) || lost
	}
	for k, m := range []float64{g.f.Measured.MeanA, g.f.Measured.MeanB} {
		if g.f.Measured.Test.Counted > 0 {
			x := g.at(m)
			g.Stroke(draw.Segment(draw.Pt{X: x, Y: mids[k] - room}, draw.Pt{X: x, Y: mids[k] + room}), draw.Strong.In(draw.Ink))
		}
	}
	if two {
		g.key(draw.Pt{X: g.x1, Y: axis + foot - 2}, lost)
	} else {
		g.key(draw.Pt{X: g.x1, Y: axis + 12.5}, lost)
	}
}

// scale chooses round figures for the axis.
func (g *dotFigure) scale(x0, x1 unit.Length) {
	g.x0, g.x1 = x0, x1
	g.lo, g.hi = math.Inf(1), math.Inf(-1)
	for _, s := range g.f.Samples {
		g.lo, g.hi = min(g.lo, s.Score), max(g.hi, s.Score)
	}
	span := g.hi - g.lo
	if span <= 0 {
		span = max(1, math.Abs(g.lo)/10)
	}
	raw := span / 5
	g.step = math.Pow(10, math.Floor(math.Log10(raw)))
	for _, k := range []float64{1, 2, 5, 10} {
		if k*g.step >= raw {
			g.step *= k
			break
		}
	}
	g.lo, g.hi = math.Floor(g.lo/g.step)*g.step, math.Ceil(g.hi/g.step)*g.step
	if g.hi-g.lo < g.step {
		g.lo, g.hi = g.lo-g.step, g.hi+g.step
	}
}

func (g *dotFigure) at(v float64) unit.Length {
	return g.x0 + (g.x1-g.x0)*unit.Length((v-g.lo)/(g.hi-g.lo))
}

func (g *dotFigure) ticks(top, axis unit.Length) {
	st := draw.Style{Size: 4.8, Anchor: draw.Middle, Rise: draw.Cap, Colour: draw.Grey}
	n := int(math.Round((g.hi - g.lo) / g.step))
	for i := range n + 1 {
		v := g.lo + float64(i)*g.step
		x := g.at(v)
		g.Stroke(draw.Segment(draw.Pt{X: x, Y: top}, draw.Pt{X: x, Y: axis}), draw.Grid.Wider(.2))
		g.Text(draw.Pt{X: x, Y: axis + 2}, fmt.Sprintf("%.6g", math.Round(v/g.step)*g.step), st)
	}
	g.Stroke(draw.Segment(draw.Pt{X: g.x0, Y: axis}, draw.Pt{X: g.x1, Y: axis}), draw.Visible.In(draw.Grey))
	name := g.f.ScoreIs
	switch g.f.Better {
	case trial.Higher:
		name += ", more is better"
	case trial.Lower:
		name += ", less is better"
	}
	st.Anchor, st.Colour = draw.Start, draw.Ink
	g.Text(draw.Pt{X: g.x0, Y: axis + 9}, name, st)
}

// place finds a spot for every sample of an arm: side by side where several have
// the same score.
func (g *dotFigure) place(arm string, mid, room unit.Length) map[int]draw.Pt {
	out := map[int]draw.Pt{}
	for i, s := range g.f.Samples {
		if s.Arm != arm {
			continue
		}
		pitch := 2.25 * dotRadius
		for try := range 400 {
			k := unit.Length((try+1)/2) * pitch
			if try%2 == 0 {
				k = -k
			}
			p := draw.Pt{X: g.at(s.Score), Y: mid + k}
			free := true
			for _, q := range out {
				free = free && p.Dist(q) > 2.05*dotRadius
			}
			if free || k.Abs() > room {
				p.Y = mid + max(-room, min(room, k))
				out[i] = p
				break
			}
		}
	}
	return out
}

// joins links the samples of a pair; in larger blocks all of one arm to the other
// would be a thicket, so only pairs are joined.
func (g *dotFigure) joins(places [2]map[int]draw.Pt) {
	if !g.f.Pairs {
		return
	}
	for i, a := range g.f.Samples {
		for j, b := range g.f.Samples {
			p, first := places[0][i]
			q, second := places[1][j]
			if first && second && a.Block == b.Block {
				g.Stroke(draw.Segment(p, q), draw.Thin.In(draw.Grey).Wider(.3))
			}
		}
	}
}

// dots draws the samples and reports whether one is beyond its limit of size.
func (g *dotFigure) dots(places map[int]draw.Pt, changed bool) (lost bool) {
	for i := range g.f.Samples {
		p, ok := places[i]
		if !ok {
			continue
		}
		if changed {
			g.Fill(draw.Circle(p, dotRadius), draw.Accent)
		} else {
			g.Fill(draw.Circle(p, dotRadius), draw.Paper)
			g.Stroke(draw.Circle(p, dotRadius-.3), draw.Strong.In(draw.Ink).Wider(.6))
		}
		if g.f.Samples[i].Undersize > 0 {
			lost = true
			r := dotRadius * 1.7
			g.Stroke(draw.Segment(draw.Pt{X: p.X - r, Y: p.Y - r}, draw.Pt{X: p.X + r, Y: p.Y + r}), draw.Visible)
			g.Stroke(draw.Segment(draw.Pt{X: p.X - r, Y: p.Y + r}, draw.Pt{X: p.X + r, Y: p.Y - r}), draw.Visible)
		}
	}
	return lost
}

// key says what the signs mean, right of the name of the axis.
func (g *dotFigure) key(at draw.Pt, lost bool) {
	words := "one dot is one sample; the bar is the mean"
	st := draw.Style{Size: 4.6, Anchor: draw.End, Colour: draw.Grey}
	if g.narrow {
		words, st.Size = "bar: mean", 4
	}
	if g.f.Pairs {
		words += "; a line joins a pair"
	}
	if lost {
		words += "; ✗ beyond its limit of size"
	}
	g.Text(at, words, st)
}
