package render

import (
	"strconv"
	"strings"

	"thrum/cut"
	"thrum/draw"
	"thrum/lathe"
	"thrum/plan"
	"thrum/thread"
	"thrum/unit"
)

// Drawing is one drawing of the sheet, to be set on paper of any size.
type Drawing struct {
	ID    string // short: "blank"
	Title string
	Desc  string // what it shows, in words
	Draw  func(*draw.List, draw.Box)
}

// List sets the drawing on a page of its own.
func (d Drawing) List(paper draw.Size) *draw.List {
	l := draw.New(paper, d.Title)
	l.Meta.Desc = d.Desc
	d.Draw(l, paper.Box(1))
	return l
}

func (s sheet) formDrawing() []Drawing {
	if s.p.Spec.Designation == "" {
		return nil
	}
	return []Drawing{{
		ID: "form", Title: "Form of " + s.p.Thread.Designation,
		Desc: "The profile of the thread over a few pitches, with what the limits of size leave open.",
		Draw: func(l *draw.List, b draw.Box) { ThreadForm(l, b, s.p.Spec, s.sys) },
	}}
}

func (s sheet) gearDrawing() []Drawing {
	if len(s.p.Gears) == 0 || len(s.p.Gears[0].Circles) == 0 {
		return nil
	}
	g := s.p.Gears[0]
	gears := make([]Gear, len(g.Circles))
	for i, c := range g.Circles {
		gears[i] = Gear{Teeth: c.Teeth, Name: c.Name, Shaft: c.Shaft, X: c.X, Y: c.Y, Radius: c.Radius}
	}
	return []Drawing{{
		ID: "gears", Title: "Gear train", Desc: "From stud to screw: " + strings.Join(g.Words, ", ") + ".",
		Draw: func(l *draw.List, b draw.Box) { GearTrain(l, b, gears) },
	}}
}

func (s sheet) blankDrawing() []Drawing {
	b, ok := s.blankOf()
	if !ok {
		return nil
	}
	return []Drawing{{
		ID: "blank", Title: "Blank for " + s.p.Thread.Designation, Desc: "The blank in the chuck with its dimensions, headstock on the left.",
		Draw: func(l *draw.List, box draw.Box) { BlankDrawing(l, box, b) },
	}}
}

// blankOf returns the blank to be drawn; false where the plan has none.
func (s sheet) blankOf() (Blank, bool) {
	w, m := s.p.Work, s.p.Limits.Member()
	if w.Length <= 0 || w.Blank.Target <= 0 {
		return Blank{}, false
	}
	b := Blank{
		System: s.sys, Thread: s.p.Thread.Designation, Internal: s.p.Thread.Internal,
		Crest: thread.Band{Min: w.Blank.Min, Max: w.Blank.Max}, Length: w.Length,
		ReliefWidth: w.ReliefWidth, ReliefDiameter: w.ReliefDia, ReliefCorner: w.ReliefCorner,
		ChamferAngle: w.ChamferAngle, ChamferTo: w.ChamferTo, Stickout: w.Stickout, Centre: w.Centre,
	}
	if b.Crest.Min == 0 || b.Crest.Max == 0 {
		b.Crest = thread.Band{Min: w.Blank.Target, Max: w.Blank.Target}
	}
	if m != nil {
		b.Root = m.Minor.Target
		if b.Internal {
			b.Root = m.Major.Target
		}
	}
	return b, true
}

func (s sheet) swingDrawing() []Drawing {
	c, ok := s.swingSetting()
	if !ok {
		return nil
	}
	return []Drawing{{
		ID: "swing", Title: "Compound from above", Desc: s.p.Swing.Direction,
		Draw: func(l *draw.List, b draw.Box) { CompoundSwing(l, b, c) },
	}}
}

// swingSetting returns how the compound is set; false where it is not swung.
func (s sheet) swingSetting() (CompoundSetting, bool) {
	if s.p.Swing.ScaleReads == "" {
		return CompoundSetting{}, false
	}
	c := CompoundSetting{Angle: s.p.Swing.Angle, Internal: s.p.Thread.Internal, FromChuck: s.p.Swing.FromChuck, Reverse: s.p.Swing.Reverse, Words: []string{s.p.Swing.ScaleReads}}
	if la, err := lathe.Parse("lathe", []byte(s.p.Request.Lathe)); err == nil {
		pr := la.Compound.Protractor
		c.ZeroAtBed = pr.Zero == lathe.ZeroBed
		if r := pr.Reading(s.p.Swing.Angle); r.Known {
			c.Reads = &r.Reads
		}
	}
	return c, true
}

func (s sheet) passDrawing() []Drawing {
	outlines := passOutlines(s.p)
	if len(outlines) == 0 {
		return nil
	}
	for i := range outlines {
		outlines[i].Depth = number(s.p.Passes[i].Depth, s.sys)
	}
	return []Drawing{{
		ID: "passes", Title: "The groove pass by pass", Desc: "What each pass takes from the groove.",
		Draw: func(l *draw.List, b draw.Box) { GroovePasses(l, b, outlines, s.p.Thread.Internal, s.sys) },
	}}
}

// passOutlines lays the plan's own tool, depths and infeed over each other. A plan
// that begins in a groove cut before is not drawn.
func passOutlines(p *plan.Plan) []PassOutline {
	if len(p.Passes) == 0 || p.Passes[0].N != 1 || p.Spec.Designation == "" {
		return nil
	}
	depth := p.Passes[len(p.Passes)-1].Depth
	groove := p.Spec.Groove()
	if p.Tool.Profile != "full" {
		t := cut.Tool{Leading: p.Spec.Form.Leading, Trailing: p.Spec.Form.Trailing, NoseFlat: p.Tool.Flat, NoseRadius: p.Tool.Radius}
		g, err := t.Groove(p.Spec.Pitch.Length(), depth)
		if err != nil {
			return nil
		}
		groove = g
	}
	c, err := cut.NewCutter(groove)
	if err != nil {
		return nil
	}
	in := cut.Infeed{Angle: p.Swing.Angle}
	switch p.Swing.Method {
	case "flank":
		in.Method = cut.OneFlank
	case "modified":
		in.Method = cut.Modified
	case "alternating":
		in.Method = cut.Alternating
	}
	depths := make([]unit.Length, len(p.Passes))
	for i, ps := range p.Passes {
		depths[i] = ps.Depth
	}
	at, err := c.Positions(depths, in)
	if err != nil {
		return nil
	}
	_, grooves, err := c.Cut(at)
	if err != nil {
		return nil
	}
	out := make([]PassOutline, len(p.Passes))
	for i, ps := range p.Passes {
		out[i] = PassOutline{Number: strconv.Itoa(ps.N), Outline: grooves[i], Measure: ps.Measure}
		if ps.Spring {
			out[i].Number += " spring"
		}
	}
	return out
}
