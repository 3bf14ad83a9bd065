package web

import (
	"fmt"
	"strconv"

	"thrum/draw"
	"thrum/lathe"
	"thrum/unit"
)

// Papers of the dials, as wide as the screen of a telephone shows them.
var dialPaper, threadingPaper = draw.Size{W: 92, H: 72}, draw.Size{W: 92, H: 54}

// slideDials draws the two graduated collars side by side, each with what it counts.
func slideDials(d *draw.List, box draw.Box, l *lathe.Lathe) {
	cols := box.Columns(2, 4)
	for i, s := range []struct {
		name string
		dial lathe.Dial
	}{{"Cross slide", l.CrossSlide.Dial}, {"Compound", l.Compound.Dial}} {
		b := cols[i]
		c := draw.Pt{X: b.X + b.W/2, Y: b.Y + 34}
		st := draw.Style{Bold: true, Anchor: draw.Middle}
		d.Text(draw.Pt{X: c.X, Y: b.Y + 8}, s.name, st)
		collar(d, c, 19, s.dial)
		words := draw.Style{Anchor: draw.Middle}
		d.Text(draw.Pt{X: c.X, Y: c.Y + 24.5}, s.dial.Words(), words)
		d.Text(draw.Pt{X: c.X, Y: c.Y + 28.7}, dialFigure(s.dial, 1)+" a line", words)
		d.Text(draw.Pt{X: c.X, Y: c.Y + 32.9}, dialFigure(s.dial, s.dial.Divisions)+" a turn", words)
	}
}

// dialFigure is what so many divisions of a dial count.
func dialFigure(d lathe.Dial, divisions int) string {
	v := d.Division.Length() * unit.Length(divisions)
	return v.Format(d.Units, d.Places())
}

// collar draws the lines of a dial in place, with a figure at each tenth of the
// turn and its mark at the top. Lines too close to be told apart are left out.
func collar(d *draw.List, c draw.Pt, r unit.Length, dial lathe.Dial) {
	n := dial.Divisions
	if n < 1 {
		return
	}
	d.Stroke(draw.Circle(c, r), draw.Visible)
	d.Stroke(draw.Circle(c, 2), draw.Thin)
	every := 1
	for n/every > 125 {
		every *= 2
	}
	tens := max(n/10, 1)
	for i := 0; i < n; i += every {
		a := 90*unit.Degree - unit.Angle(i)/unit.Angle(n)*360*unit.Degree
		long := unit.Length(2)
		if i%tens == 0 {
			long = 3.5
		}
		d.Stroke(draw.Segment(c.Polar(r, a), c.Polar(r-long, a)), draw.Thin)
		if i%tens == 0 && n-i >= tens {
			d.Text(c.Polar(r-6.8, a), strconv.Itoa(i), draw.Style{Anchor: draw.Middle, Rise: draw.Half})
		}
	}
	d.Stroke(draw.Segment(c.Polar(r+0.4, 90*unit.Degree), c.Polar(r+4, 90*unit.Degree)), draw.Strong)
}

// threadingDials draws the face of each dial with its lines as engraved.
func threadingDials(d *draw.List, box draw.Box, wheels []lathe.DialWheel) {
	const most = 3
	wheels = wheels[:min(len(wheels), most)]
	for i, b := range box.Columns(max(len(wheels), 2), 2)[:len(wheels)] {
		r := min(b.W/2-2, 15)
		c := draw.Pt{X: b.X + b.W/2, Y: b.Y + 16 + r}
		d.Text(draw.Pt{X: c.X, Y: b.Y + 8}, fmt.Sprintf("wheel of %d", wheels[i].Teeth), draw.Style{Bold: true, Anchor: draw.Middle})
		d.Stroke(draw.Segment(c.Polar(r+0.4, 90*unit.Degree), c.Polar(r+4, 90*unit.Degree)), draw.Strong)
		engraved(d, c, r, wheels[i].Marks)
	}
}

// engraved draws one face of radius r. Its figures stand inside while there is room,
// else round it; of many, only as many as can be told apart.
func engraved(d *draw.List, c draw.Pt, r unit.Length, marks []string) {
	const inside, round = 6, 12
	named := 0
	for _, m := range marks {
		if m != "" {
			named++
		}
	}
	face, words := r, r-8
	if named > inside {
		face, words = r-5, r-2
	}
	every, seen := 1+(named-1)/round, 0
	d.Stroke(draw.Circle(c, face), draw.Visible)
	for j, m := range marks {
		a := 90*unit.Degree - unit.Angle(j)/unit.Angle(len(marks))*360*unit.Degree
		if m == "" {
			d.Stroke(draw.Segment(c.Polar(face, a), c.Polar(face-3, a)), draw.Thin)
			continue
		}
		d.Stroke(draw.Segment(c.Polar(face, a), c.Polar(face-5, a)), draw.Visible)
		if seen%every == 0 {
			d.Text(c.Polar(words, a), draw.Style{Bold: true}.Shorten(m, 5), draw.Style{Bold: true, Anchor: draw.Middle, Rise: draw.Half})
		}
		seen++
	}
}
