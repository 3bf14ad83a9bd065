package render

import (
	"fmt"

	"thrum/draw"
	"thrum/unit"
)

// drawings sets blank, thread form and compound side by side, with the words that
// belong to them. The blank is the highest; words stand below the others.
func (pg *page) drawings(b draw.Box) unit.Length {
	h := pg.drawingHeight()
	cols := b.Columns(3, 5)
	bores := "Blank ⌀ "
	if pg.s.p.Thread.Internal {
		bores = "Bore ⌀ "
	}
	blank := []Drawing{}
	if d, ok := pg.s.blankOf(); ok {
		d.Bare, d.Thread = true, "thread"
		blank = append(blank, Drawing{Title: "Blank", Draw: func(l *draw.List, b draw.Box) { BlankDrawing(l, b, d) }})
		pg.Text(draw.Pt{X: cols[0].Right(), Y: cols[0].Y + 3.8}, "not to scale", draw.Style{Size: draw.SmallText, Colour: draw.Grey, Anchor: draw.End})
	}
	low := pg.drawn(cols[0], 4, bores+pg.s.len(pg.s.p.Work.Blank.Target), blank, h, nil)
	low = max(low, pg.drawn(cols[1], 5, "Thread and tool", pg.s.formDrawing(), max(0.68*h, 38), pg.toolWords))
	swing := []Drawing{}
	if c, ok := pg.s.swingSetting(); ok {
		c.Words = nil
		swing = append(swing, Drawing{Title: "Compound from above", Draw: func(l *draw.List, b draw.Box) { CompoundSwing(l, b, c) }})
	}
	return max(low, pg.drawn(cols[2], 5, "Compound", swing, 0.82*h, pg.swingWords))
}

// drawn sets one column of the row of drawings.
func (pg *page) drawn(b draw.Box, n int, title string, d []Drawing, h unit.Length, words func(*column)) unit.Length {
	c := pg.column(b)
	c.title(n, title)
	if len(d) > 0 {
		scale := 0.84 // keeps the drawing's smaller lettering above the smallest
		if words == nil || n == 5 && title == "Compound" {
			scale = 0.75 // has none
		}
		h = legible(d[0], draw.Box{W: c.W, H: h}, scale)
		pg.place(d[0], draw.Box{X: c.X, Y: c.y, W: c.W, H: h}, scale)
		c.y += h + 0.6
	}
	if words != nil {
		words(c)
	}
	return c.y
}

func (pg *page) toolWords(c *column) {
	t := pg.s.p.Tool
	text := "tip flat " + pg.s.len(t.Flat)
	if t.Radius > 0 {
		text = "tip radius " + pg.s.len(t.Radius)
	}
	c.one(text, draw.Style{Size: 4.6, Bold: true})
	material := t.Material
	if material == "hss" {
		material = "HSS"
	}
	kind := fmt.Sprintf("%s, %s profile, %s included", material, t.Profile, t.Included.Format(1))
	if !pg.terse() {
		kind += "; at centre height, square to the axis of the work"
	}
	c.say(kind, pg.body())
	c.say("clearance "+clearances(t.LeadingRelief, t.TrailRelief), pg.body())
}

func (pg *page) swingWords(c *column) {
	s := pg.s.p.Swing
	text := s.ScaleReads
	if text == "" {
		text = s.Method + " in"
	}
	c.say(text, draw.Style{Size: 3.8, Bold: true})
	if !pg.terse() || s.ScaleReads == "" {
		c.say(s.Direction, pg.body())
	}
}

// legible returns the least height from that of the box up at which nothing in a
// drawing is in the way of anything else; that of the box where none is.
func legible(d Drawing, b draw.Box, scale float64) unit.Length {
	k := unit.Length(scale)
	for more := unit.Length(0); more <= 24; more += 2 {
		o := draw.New(draw.Size{W: b.W / k, H: (b.H + more) / k}, "")
		d.Draw(o, o.Size(0).Box(0.6))
		if len(o.Faults(0, 0)) == 0 {
			return b.H + more
		}
	}
	return b.H
}

// place sets a drawing into a box, smaller than on a page of its own so that more
// of it fits.
func (pg *page) place(d Drawing, b draw.Box, scale float64) {
	k := unit.Length(scale)
	o := draw.New(draw.Size{W: b.W / k, H: b.H / k}, d.Title)
	d.Draw(o, o.Size(0).Box(0.6))
	pg.Place(o, 0, draw.Pt{X: b.X, Y: b.Y}, scale)
}
