package render

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"thrum/draw"
	"thrum/lathe"
	"thrum/thread"
	"thrum/unit"
)

// A phone is 360 CSS pixels wide; a sheet leaves 180 mm between its margins.
var (
	phonePaper = draw.Size{W: 92, H: 92}
	sheetPaper = draw.Size{W: 180, H: 100}
)

var formCallouts = []string{"M3x0.5-6g", "M12x1.75-6g", "1/2-13 UNC-2A", "3-12 UN-2A", "1-5 ACME-2G", "Tr40x7-7e", "M30x2-6H", "1-8 BUTT-2A", "G 1/2 A", "1-5 ACME-2G", "S40x7"}

func mustThread(t testing.TB, callout string) thread.Thread {
	t.Helper()
	th, err := thread.Parse(callout, thread.External)
	if err != nil {
		t.Fatal(err)
	}
	return th
}

// show writes a drawing where it can be looked at, when THRUM_SHOW names a folder.
func show(t testing.TB, name string, l *draw.List) {
	t.Helper()
	dir := os.Getenv("THRUM_SHOW")
	if dir == "" {
		return
	}
	var b bytes.Buffer
	if err := l.PNG(&b, 0, draw.PNGOptions{Width: int(l.Size(0).W * 5)}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// try draws on a paper of the given size and holds the drawing to having no faults.
func try(t *testing.T, name string, paper draw.Size, do func(*draw.List, draw.Box)) *draw.List {
	t.Helper()
	l := draw.New(paper, name)
	do(l, paper.Box(1))
	show(t, name, l)
	for _, f := range l.Faults(0, draw.SmallText) {
		t.Errorf("%s: %s", name, f)
	}
	return l
}

func papers() map[string]draw.Size {
	return map[string]draw.Size{"phone": phonePaper, "sheet": sheetPaper}
}

func TestThreadForm(t *testing.T) {
	for i, c := range formCallouts {
		th := mustThread(t, c)
		for where, paper := range papers() {
			paper.H = 70
			try(t, fmt.Sprintf("form-%d-%s", i, where), paper, func(l *draw.List, b draw.Box) {
				ThreadForm(l, b, th, th.System)
			})
		}
	}
}

// blankFor is the blank of a thread with sizes as the trade gives them.
func blankFor(th thread.Thread, length, stickout unit.Length) Blank {
	p := th.Pitch.Length()
	b := Blank{
		System: th.System, Thread: th.Designation, Internal: th.Side == thread.Internal, Length: length, Stickout: stickout,
		ChamferAngle: 45 * unit.Degree,
	}
	b.Crest, b.Root = th.Limits.Major, th.Limits.Major.Mean()-2*th.Depth()
	b.ChamferTo = b.Root
	if b.Internal {
		b.Crest, b.Root = th.Limits.Minor, th.Limits.Minor.Mean()+2*th.Depth()
		b.ChamferTo = b.Root
		b.ReliefDiameter, b.ReliefWidth = b.Root+0.2*p, 3*p
		return b
	}
	b.ReliefDiameter, b.ReliefWidth, b.ReliefCorner = b.Root-0.3*p, 2.5*p, 0.5*p
	return b
}

func TestBlankDrawing(t *testing.T) {
	cases := []struct {
		callout          string
		length, stickout unit.Length
		change           func(*Blank)
	}{
		{"M3x0.5-6g", 8, 25, nil},
		{"M12x1.75-6g", 25, 60, func(b *Blank) { b.Centre, b.Shank = true, 16 }},
		{"1/2-13 UNC-2A", 25.4, 50, func(b *Blank) { b.ReliefWidth, b.ReliefDiameter, b.RunOut = 0, 0, 5 }},
		{"3-12 UN-2A", 50.8, 100, func(b *Blank) { b.Centre = true }},
		{"1-5 ACME-2G", 600, 700, func(b *Blank) { b.Centre = true }},
		{"M30x2-6H", 30, 45, func(b *Blank) { b.Shank = 50 }},
		{"M12x1.75-6H", 20, 30, func(b *Blank) { b.HoleDepth = 30; b.ReliefDiameter, b.ReliefWidth, b.RunOut = 0, 0, 6 }},
		{"Tr40x7-7e LH", 60, 0, func(b *Blank) { b.ReliefWidth, b.ReliefDiameter = 0, 0 }},
	}
	for i, c := range cases {
		b := blankFor(mustThread(t, c.callout), c.length, c.stickout)
		if c.change != nil {
			c.change(&b)
		}
		for where, paper := range papers() {
			try(t, fmt.Sprintf("blank-%d-%s", i, where), paper, func(l *draw.List, box draw.Box) { BlankDrawing(l, box, b) })
		}
	}
}

func TestCompoundSwing(t *testing.T) {
	deg := func(v float64) *unit.Angle { a := unit.Angle(v) * unit.Degree; return &a }
	cases := []CompoundSetting{
		{Angle: 29.5 * unit.Degree, Reads: deg(60.5), ZeroAtBed: true},
		{Angle: 29.5 * unit.Degree, Reads: deg(29.5), FromChuck: true, Reverse: true},
		{Angle: 29 * unit.Degree, Reads: deg(29), Internal: true},
		{Angle: 14 * unit.Degree, Reads: deg(14)},
		{Angle: 45 * unit.Degree, Reads: deg(45), Internal: true, FromChuck: true},
		{},
		{Internal: true},
		{Angle: 29.5 * unit.Degree},
	}
	for i, c := range cases {
		c.Words = []string{"29.5° from the cross-slide line = your scale reads 60.5°", "swing the compound anticlockwise seen from above (handle towards the tailstock); wind the compound in"}
		for where, paper := range papers() {
			try(t, fmt.Sprintf("swing-%d-%s", i, where), paper, func(l *draw.List, b draw.Box) { CompoundSwing(l, b, c) })
		}
	}
}

// trainOf lays wheels out by their mesh: each pair of numbers is a mesh, the
// angle the direction from one shaft to the next.
func trainOf(module unit.Length, meshes [][2]int, angles []float64) []Gear {
	var out []Gear
	var x, y unit.Length
	add := func(z, shaft int, name string) {
		out = append(out, Gear{Teeth: z, Name: name, Shaft: shaft, X: x, Y: y, Radius: module * unit.Length(z) / 2, Tip: module * unit.Length(z+2) / 2})
	}
	for i, m := range meshes {
		if i == 0 {
			add(m[0], 0, "stud")
		} else if m[0] != meshes[i-1][1] { // the same wheel is an idler
			add(m[0], i, fmt.Sprintf("banjo %d driving", i))
		}
		a, r := unit.Angle(angles[i])*unit.Degree, module*unit.Length(m[0]+m[1])/2
		x, y = x+r*unit.Length(a.Cos()), y+r*unit.Length(a.Sin())
		name := fmt.Sprintf("banjo %d driven", i+1)
		if i == len(meshes)-1 {
			name = "screw"
		} else if m[1] == meshes[i+1][0] {
			name = fmt.Sprintf("banjo %d idler", i+1)
		}
		add(m[1], i+1, name)
	}
	return out
}

func TestGearTrain(t *testing.T) {
	cases := [][]Gear{
		trainOf(1.25, [][2]int{{24, 80}, {80, 48}}, []float64{-60, -100}),
		trainOf(1.5, [][2]int{{40, 127}, {100, 60}}, []float64{-100, -50}),
		trainOf(1, [][2]int{{20, 65}, {30, 80}, {40, 60}}, []float64{-30, -120, -70}),
		trainOf(1, [][2]int{{30, 60}}, []float64{0}),
	}
	for i, c := range cases {
		for where, paper := range papers() {
			try(t, fmt.Sprintf("train-%d-%s", i, where), paper, func(l *draw.List, b draw.Box) { GearTrain(l, b, c) })
		}
	}
}

// grow returns outlines of a groove of the given form after each depth, the tool
// moving along its trailing flank.
func grow(form thread.Form, flat unit.Length, depths ...unit.Length) []PassOutline {
	var out []PassOutline
	final := depths[len(depths)-1]
	for i, d := range depths {
		z := -(final - d) * unit.Length(form.Trailing.Tan())
		tr, le := unit.Length(form.Trailing.Tan())*d, unit.Length(form.Leading.Tan())*d
		p := func(z, x unit.Length) thread.Point { return thread.Point{Z: z, X: x} }
		out = append(out, PassOutline{
			Number: fmt.Sprint(i + 1), Depth: d.Number(unit.Metric, 2), Measure: i == len(depths)-4,
			Outline: thread.Groove{
				{From: p(z-flat/2-tr, 0), To: p(z-flat/2, d)}, {From: p(z-flat/2, d), To: p(z+flat/2, d)}, {From: p(z+flat/2, d), To: p(z+flat/2+le, 0)},
			},
		})
	}
	return out
}

func TestGroovePasses(t *testing.T) {
	depths := func(total unit.Length, n int) []unit.Length {
		var d []unit.Length
		for i := 1; i <= n; i++ {
			d = append(d, total*unit.Length(math.Sqrt(float64(i)/float64(n))))
		}
		return d
	}
	for i, c := range []struct {
		callout string
		n       int
	}{{"M12x1.75-6g", 8}, {"M3x0.5-6g", 5}, {"1-5 ACME-2G", 24}, {"M30x2-6H", 10}, {"1-8 BUTT-2A", 16}} {
		th := mustThread(t, c.callout)
		ps := grow(th.Form, th.Pitch.Length()/8, depths(th.Depth(), c.n)...)
		for where, paper := range papers() {
			try(t, fmt.Sprintf("passes-%d-%s", i, where), paper, func(l *draw.List, b draw.Box) {
				GroovePasses(l, b, ps, th.Side == thread.Internal, unit.Metric)
			})
		}
	}
}

func tipFor(th thread.Thread) Profile {
	p := th.Pitch.Length()
	return ToolTip("tool for "+th.Designation, th.System, th.Form.Leading, th.Form.Trailing, p/8, 0, th.Depth()*1.2)
}

func TestToolProfile(t *testing.T) {
	round := ToolTip("carbide insert", unit.Metric, 30*unit.Degree, 30*unit.Degree, 0, 0.15, 1.4)
	cases := []Profile{round}
	for _, c := range []string{"M3x0.5-6g", "M12x1.75-6g", "1-5 ACME-2G", "1-8 BUTT-2A", "Tr40x7-7e"} {
		th := mustThread(t, c)
		cases = append(cases, tipFor(th), ThreadProfile(th))
	}
	for i, c := range cases {
		c.Notes = []string{"Profile in the plane of the cutting edges, at centre height and without rake."}
		for name, paper := range map[string]draw.Size{"a4": draw.A4, "letter": draw.Letter} {
			l := ProfileSheet(paper, c)
			show(t, fmt.Sprintf("tool-%d-%s", i, name), l)
			for _, f := range l.Faults(0, draw.SmallText) {
				t.Errorf("%s on %s: %s", c.Name, name, f)
			}
		}
	}
}

func TestTrainsOfTheExampleLathesCanBeRead(t *testing.T) {
	for _, f := range []string{"inch-bench", "metric-geared"} {
		b, err := os.ReadFile("../examples/lathes/" + f + ".toml")
		if err != nil {
			t.Fatal(err)
		}
		la, err := lathe.Parse(f, b)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, lead := range []unit.Ratio{unit.MustRatio(7, 4), unit.MustRatio(127, 65), unit.MustRatio(6, 1), unit.MustRatio(127, 40)} {
			ts, err := lathe.Trains(la, lead, lathe.Options{Keep: 20})
			if err != nil {
				t.Log(f, lead, err)
				continue
			}
			for _, tr := range ts {
				for name, paper := range papers() {
					l := draw.New(paper, "train")
					GearTrain(l, paper.Box(1), GearsOf(tr))
					n++
					for _, e := range l.Faults(0, draw.SmallText) {
						t.Errorf("%s %v %s: %s", f, tr, name, e)
					}
				}
			}
		}
		if n == 0 {
			t.Errorf("%s: no train was drawn", f)
		}
	}
}
