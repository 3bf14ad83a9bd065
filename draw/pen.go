package draw

import "thrum/unit"

// Colour is one of the few inks that a drawing may use. What each looks like is
// decided by the Theme, so that one drawing serves white paper and a dark screen.
type Colour uint8

// The inks. Ink writes and draws; Grey is for what may be overlooked at first;
// Rule is for grid and table lines; Shade and Wash fill areas behind ink, grey
// and tinted with the accent. The zero value is Ink.
const (
	Ink Colour = iota
	Grey
	Rule
	Shade
	Paper
	Accent
	Wash
	heat0 // eight steps of a heat map follow
)

// HeatSteps is the number of steps in the scale of a heat map.
const HeatSteps = 8

// HeatColour returns step i of the heat-map scale, from nearly Paper to nearly Accent.
func HeatColour(i int) Colour { return heat0 + Colour(max(0, min(i, HeatSteps-1))) }

// Line is a type of line, ISO 128-2 (formerly ISO 128-20:1996, table 1).
type Line uint8

// Types of line with their number in ISO 128-2.
const (
	Continuous        Line = iota // 01
	Dashed                        // 02
	LongDashDot                   // 04
	LongDashDoubleDot             // 05
	Dotted                        // 07
	ShortDash                     // 06 is not used here: half of 02, to tell curves apart
	LongDash                      // twice 02, likewise
)

// Elements of lines in multiples of the width d, ISO 128-2 (ISO 128-20:1996,
// table 3): dash 12d, long dash 24d, gap 3d, dot at most 0.5d.
const (
	dashD     = 12
	longDashD = 24
	gapD      = 3
	dotD      = 0.5
)

// elements returns the lengths of dashes and gaps by turns, in multiples of the
// width; nil for a continuous line.
func (t Line) elements() []float64 {
	switch t {
	case Dashed:
		return []float64{dashD, gapD}
	case LongDashDot:
		return []float64{longDashD, gapD, dotD, gapD}
	case LongDashDoubleDot:
		return []float64{longDashD, gapD, dotD, gapD, dotD, gapD}
	case Dotted:
		return []float64{dotD, gapD}
	case ShortDash:
		return []float64{dashD / 2, gapD}
	case LongDash:
		return []float64{longDashD, gapD}
	}
	return nil
}

// Pen is a way to draw a line. Ends and corners are round, as a pen leaves them.
type Pen struct {
	Name   string // what the line means; also the layer in DXF
	Line   Line
	Width  unit.Length
	Colour Colour
}

// In returns the pen with another ink.
func (p Pen) In(c Colour) Pen {
	p.Colour = c
	return p
}

// Wider returns the pen with another width.
func (p Pen) Wider(w unit.Length) Pen {
	p.Width = w
	return p
}

// As returns the pen with another type of line.
func (p Pen) As(t Line) Pen {
	p.Line = t
	return p
}

// dashes returns the lengths of dashes and gaps in millimetres; nil for a
// continuous line.
func (p Pen) dashes() []mm {
	el := p.Line.elements()
	out := make([]mm, len(el))
	for i, e := range el {
		out[i] = mm(e) * p.Width
	}
	return out
}

// Line group 0.5 of ISO 128: wide lines 0.5 mm, narrow lines half of that.
const (
	wide   mm = 0.5
	narrow mm = 0.25
)

// The pens of technical drawing, ISO 128-2 annex A and the older ISO 128-24,
// table 1. They are values; nothing changes them.
var (
	Visible   = Pen{"visible", Continuous, wide, Ink}           // 01.2: visible edges, crests of a thread, end of full thread
	Thin      = Pen{"thin", Continuous, narrow, Ink}            // 01.1: dimension, projection and leader lines, roots of a thread
	HatchLine = Pen{"hatch", Continuous, 0.18, Grey}            // 01.1: hatching
	Hidden    = Pen{"hidden", Dashed, narrow, Ink}              // 02.1: hidden edges
	Centre    = Pen{"centre", LongDashDot, narrow, Ink}         // 04.1: axes, pitch circles of gears, symmetry
	Adjacent  = Pen{"adjacent", LongDashDoubleDot, narrow, Ink} // 05.1: adjacent parts, end positions of movable parts
	Break     = Pen{"break", Continuous, narrow, Ink}           // 01.1: freehand limit of a broken-off view
	Dimension = Pen{"dimension", Continuous, narrow, Ink}       // 01.1: dimension, extension and leader lines
	Grid      = Pen{"grid", Continuous, 0.13, Rule}             // of charts and tables
	Strong    = Pen{"strong", Continuous, 0.7, Accent}          // the one line that the drawing is about
	Trace     = Pen{"trace", Continuous, 0.35, Accent}          // a curve of a chart
)
