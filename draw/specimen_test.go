package draw

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"

	"thrum/unit"
)

// specimen is two pages with everything that a List can hold.
func specimen() *List {
	l := New(A4, "Specimen of lines and letters")
	l.Meta.Desc = "Every pen, dimensions, a thread, a table and charts."
	b := A4.Box(15)
	l.Text(Pt{b.X, b.Y + 5}, "Specimen: lines & <letters>", Style{Size: LargeText, Bold: true})
	pens := []Pen{Visible, Thin, HatchLine, Hidden, Centre, Adjacent, Break, Grid, Strong, Trace}
	for i, p := range pens {
		y := b.Y + 14 + mm(i)*6
		l.Stroke(Segment(Pt{b.X, y}, Pt{b.X + 60, y}), p)
		l.Text(Pt{b.X + 63, y}, p.Name, Style{Rise: Half})
	}
	specimenScrew(l, Pt{b.X + 100, b.Y + 35})
	specimenTable(l, Box{b.X, b.Y + 90, 85, 60})
	l.Paragraph(Box{b.X + 95, b.Y + 90, 85, 60}, "Text is wrapped at spaces. ⌀ 12.7 mm, 29.5°, ± 0.02, ≤ 3 µm, ½ in, Größe, αβγ, a sign that is missing: \U0001F600.\n\nA new paragraph, and averyveryverylongwordthatdoesnotfitintoalinewhateverhappens.", Style{})
	cols := Box{b.X, b.Y + 160, b.W, 100}.Columns(2, 8)
	specimenChart().Draw(l, cols[0])
	specimenHeat().Draw(l, cols[1])
	l.Page(Letter.Landscape())
	if err := l.Image(Box{20, 20, 30, 20}, testPicture(), "four squares"); err != nil {
		panic(err)
	}
	l.Link(Box{20, 50, 60, 8}, "https://example.org/", "a place")
	l.Text(Pt{20, 56}, "a link", Style{Colour: Accent})
	l.Group(Group{Title: "clipped", Move: Pt{120, 60}, Scale: 2, Clip: Circle(Pt{0, 0}, 20)})
	l.Hatch(Rect(Box{-30, -30, 60, 60}), HatchAngle, 3, HatchLine)
	l.Text(Pt{0, 0}, "round window", Style{Anchor: Middle, Rise: Half, Knock: true})
	l.End()
	for i := range 12 {
		a := unit.Angle(i) * 30 * unit.Degree
		c := Pt{220, 100}
		l.Text(c.Polar(8, a), "turned "+a.Format(0), Style{Turn: a, Rise: Half})
	}
	return l
}

func specimenScrew(l *List, at Pt) {
	axis := func(x mm) Pt { return Pt{at.X + x, at.Y} }
	l.Stroke(Segment(axis(-4), axis(70)), Centre)
	l.Screw(Screw{From: axis(0), To: axis(36), Crest: 12, Depth: 1.8})
	l.Stroke(Polyline(axis(36).Add(Pt{0, -12}), axis(60).Add(Pt{0, -12})), Visible)
	l.Stroke(Polyline(axis(36).Add(Pt{0, 12}), axis(60).Add(Pt{0, 12})), Visible)
	l.Stroke(Segment(axis(0).Add(Pt{0, -12}), axis(0).Add(Pt{0, 12})), Visible)
	l.Stroke(Broken(axis(60).Add(Pt{0, -12}), axis(60).Add(Pt{0, 12})), Break)
	l.Level(axis(0).Add(Pt{0, 12}), axis(36).Add(Pt{0, 12}), at.Y+20, "36")
	l.Level(axis(36).Add(Pt{0, 12}), axis(40).Add(Pt{0, 12}), at.Y+20, "4")
	l.Upright(axis(0).Add(Pt{0, 12}), axis(0).Add(Pt{0, -12}), at.X-8, "⌀ 24")
	l.Leader(axis(20).Add(Pt{0, -12}), axis(28).Add(Pt{0, -20}), "M24")
	l.Radius(axis(60).Add(Pt{0, -12}), 0, 40*unit.Degree, 10, "R 0.4")
	l.Angle(at.Add(Pt{20, 50}), 18, 60*unit.Degree, 120*unit.Degree, "60°")
	l.Stroke(Polyline(at.Add(Pt{20, 50}).Polar(22, 60*unit.Degree), at.Add(Pt{20, 50}), at.Add(Pt{20, 50}).Polar(22, 120*unit.Degree)), Visible)
	l.ScrewEnd(at.Add(Pt{55, 43}), 9, 1.4, false)
}

func specimenTable(l *List, b Box) {
	Table{
		Columns: []Column{{Head: "pass", Width: 12, Anchor: End}, {Head: "depth on the diameter", Width: 30, Point: true}, {Head: "what to do"}},
		Rows: [][]string{
			{"1", "0.15", "scratch pass, count threads"}, {"2", "1.2", "cut"}, {"10", "12.125", "measure over the wires before going on"}, {"11", "3", "spring pass"},
		},
		Strong: map[int]bool{2: true},
	}.Draw(l, b)
}

func specimenChart() Chart {
	var x, y, z, w []float64
	for i := range 41 {
		t := float64(i) / 4
		x, y = append(x, t), append(y, math.Exp(-t/4)*3)
		z, w = append(z, 2+math.Sin(t)*0.4), append(w, 1.6+math.Sin(t)*0.4)
	}
	return Chart{
		Title: "Carry-over against pass",
		X:     Axis{Title: "pass"}, Y: Axis{Title: "waviness, µm", Zero: true},
		Bands: []Band{{Name: "expected", X: x, Low: w, High: z}},
		Series: []Series{
			{Name: "as cut", X: x, Y: y, Accent: true},
			{Name: "at 300 rpm", X: x, Y: z, Line: ShortDash},
			{Name: "measured", X: []float64{1, 3, 5, 8}, Y: []float64{2.4, 1.4, 0.9, 0.5}, Err: []float64{0.2, 0.2, 0.1, 0.1}, Dots: true, Mark: Ring},
		},
		Limits: []Limit{{Name: "visible", At: 1}, {Name: "stop", At: 6, Upright: true}},
	}
}

func specimenHeat() Chart {
	h := &Heat{Name: "chance of an overrun, %", X0: 50, X1: 250, Y0: 1, Y1: 3, Limit: 6, LimitName: "above 6"}
	for j := range 12 {
		row := make([]float64, 16)
		for i := range row {
			row[i] = float64(i+1) * float64(j+2) / 20
		}
		h.Values = append(h.Values, row)
	}
	return Chart{Title: "Where it gets tight", X: Axis{Title: "spindle speed, rev/min"}, Y: Axis{Title: "lead, mm"}, Heat: h}
}

func testPicture() []byte {
	m := image.NewNRGBA(image.Rect(0, 0, 12, 8))
	for y := range 8 {
		for x := range 12 {
			m.Set(x, y, color.NRGBA{uint8(x * 20), uint8(y * 30), 90, 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		panic(err)
	}
	return b.Bytes()
}
