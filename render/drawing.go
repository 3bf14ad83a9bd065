package render

import (
	"math"
	"strings"

	"thrum/draw"
	"thrum/thread"
	"thrum/unit"
)

// Every drawing takes a box of paper and fills it: 92 mm wide, as on a phone, or
// the width of a sheet. Lettering keeps its size; what changes is the scale and
// where things go.

// viewpoint maps points of a thread's axial section to the paper. Z runs towards
// the headstock, which is on the left of every drawing, as the operator sees it.
type viewpoint struct {
	at    draw.Pt // where Z = 0 on the crest line lies
	k     float64 // paper over part
	above bool    // the metal lies above the crest line, as in a nut
}

func (v viewpoint) pt(p thread.Point) draw.Pt {
	x := p.X * unit.Length(v.k)
	if v.above {
		x = -x
	}
	return draw.Pt{X: v.at.X - p.Z*unit.Length(v.k), Y: v.at.Y + x}
}

// trace adds an outline, moved along the axis by shift, to a path. Arcs stay arcs.
func (v viewpoint) trace(path *draw.Path, g thread.Groove, shift unit.Length) {
	move := func(p thread.Point) draw.Pt { p.Z += shift; return v.pt(p) }
	for _, s := range g {
		from, to := move(s.From), move(s.To)
		path.Line(from)
		if s.Radius <= 0 {
			path.Line(to)
			continue
		}
		c := move(s.Centre)
		a := c.Towards(from)
		sweep := c.Towards(to) - a
		for sweep > math.Pi { // an arc of an outline is less than half a turn
			sweep -= 2 * math.Pi
		}
		for sweep < -math.Pi {
			sweep += 2 * math.Pi
		}
		path.Arc(c, s.Radius*unit.Length(v.k), a, sweep)
	}
}

// deepest returns the greatest depth of an outline.
func deepest(g thread.Groove) unit.Length {
	var d unit.Length
	for _, s := range g {
		d = max(d, s.From.X, s.To.X)
		if s.Radius > 0 && s.Centre.X < max(s.From.X, s.To.X)+s.Radius && (s.From.Z-s.Centre.Z)*(s.To.Z-s.Centre.Z) < 0 && s.Centre.X <= min(s.From.X, s.To.X) {
			d = max(d, s.Centre.X+s.Radius)
		}
	}
	return d
}

// ridge returns where the middle of the ridge before a groove lies along Z.
func ridge(g thread.Groove, pitch unit.Length) unit.Length {
	first, last := g[0].From.Z, g[len(g)-1].To.Z
	return last + (pitch-(last-first))/2
}

// magnification returns the largest handy scale that is not above most: 1, 1.2,
// 1.5, 2, 2.5, 3, 4, 5, 6 or 8 times a power of ten.
func magnification(most float64) float64 {
	if !(most > 0) || math.IsInf(most, 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(most)))
	best := p
	for _, m := range []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8} {
		if m*p <= most*(1+1e-9) {
			best = m * p
		}
	}
	return best
}

// scaleWords prints a scale as drawings do: "20:1", "1:2".
func scaleWords(k float64) string {
	if k >= 1 {
		return trimmed(k, 2) + ":1"
	}
	return "1:" + trimmed(1/k, 2)
}

func trimmed(v float64, places int) string {
	s := unit.Length(v).Number(unit.Metric, places)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// size prints a dimension that is not a limit, without its unit: at most two
// places in millimetres, three in inches.
func size(l unit.Length, sys unit.System) string {
	if sys == unit.Inches {
		s := trimmed(l.Inches(), 3)
		if whole, frac, _ := strings.Cut(s, "."); len(frac) < 2 {
			s = whole + "." + (frac + "00")[:2]
		}
		return s
	}
	return trimmed(l.MM(), 2)
}

// exactly prints a limit of size without its unit.
func exactly(l unit.Length, sys unit.System) string {
	if sys == unit.Inches {
		return l.Number(unit.Inches, 4)
	}
	return l.Number(unit.Metric, 3)
}

// span prints a pair of limits, the larger first as in a dimension; one figure
// with "min" or "max" when the other does not exist.
func span(b thread.Band, sys unit.System) string {
	switch {
	case b.Min <= 0 && b.Max <= 0:
		return "–"
	case b.Min <= 0:
		return exactly(b.Max, sys) + " max"
	case b.Max <= 0:
		return exactly(b.Min, sys) + " min"
	}
	return exactly(b.Max, sys) + " – " + exactly(b.Min, sys)
}

// unitNote is the small line that says what the figures are in.
func unitNote(sys unit.System) string {
	if sys == unit.Inches {
		return "dimensions in inches"
	}
	return "dimensions in millimetres"
}

// footnote writes a grey line at the foot of the box, wrapped, and returns the
// box above it.
func footnote(l *draw.List, box draw.Box, parts ...string) draw.Box {
	st := draw.Style{Size: draw.SmallText * 1.2, Colour: draw.Grey}
	text := strings.Join(parts, " · ")
	h := st.Leading() * unit.Length(len(st.Wrap(text, box.W)))
	l.Paragraph(draw.Box{X: box.X, Y: box.Bottom() - h, W: box.W, H: h}, text, st)
	return box.Trim(0, 0, 0, h+1.5)
}
