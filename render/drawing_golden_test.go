package render

import (
	"bufio"
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"thrum/draw"
	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

var update = flag.Bool("update", false, "write the golden files anew")

// kept compares bytes with a golden file by the given measure.
func kept(t *testing.T, name string, got []byte, same func(got, want []byte) bool) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !same(got, want) {
		t.Errorf("%s differs from the kept one; look at it and run the test with -update if it is right", name)
	}
}

func goldenDrawings(t *testing.T) map[string]*draw.List {
	on := func(paper draw.Size, h unit.Length, name string, do func(*draw.List, draw.Box)) *draw.List {
		paper.H = h
		l := draw.New(paper, name)
		do(l, paper.Box(1))
		return l
	}
	m12, butt, nut := mustThread(t, "M12x1.75-6g"), mustThread(t, "1-8 BUTT-2A"), mustThread(t, "M30x2-6H")
	held := blankFor(m12, 25, 60)
	held.Centre, held.Shank = true, 16
	bush := blankFor(nut, 30, 45)
	bush.Shank = 50
	reads := 60.5 * unit.Degree
	swung := CompoundSetting{Angle: 29.5 * unit.Degree, Reads: &reads, ZeroAtBed: true, Words: []string{"29.5° from the cross-slide line = your scale reads 60.5°"}}
	bar := CompoundSetting{Angle: 29 * unit.Degree, Internal: true}
	train := trainOf(1, [][2]int{{20, 65}, {30, 80}, {40, 60}}, []float64{-30, -120, -70})
	grown := grow(m12.Form, m12.Pitch.Length()/8, 0.4, 0.6, 0.75, 0.87, 0.97, 1.04)
	return map[string]*draw.List{
		"form-m12":       on(phonePaper, 70, "Form of M12", func(l *draw.List, b draw.Box) { ThreadForm(l, b, m12, m12.System) }),
		"form-buttress":  on(sheetPaper, 70, "Form of a buttress thread", func(l *draw.List, b draw.Box) { ThreadForm(l, b, butt, butt.System) }),
		"form-nut":       on(sheetPaper, 70, "Form of a nut", func(l *draw.List, b draw.Box) { ThreadForm(l, b, nut, nut.System) }),
		"blank-m12":      on(phonePaper, 92, "Blank for M12", func(l *draw.List, b draw.Box) { BlankDrawing(l, b, held) }),
		"blank-nut":      on(sheetPaper, 100, "Blank for a nut", func(l *draw.List, b draw.Box) { BlankDrawing(l, b, bush) }),
		"swing":          on(phonePaper, 92, "Compound", func(l *draw.List, b draw.Box) { CompoundSwing(l, b, swung) }),
		"swing-internal": on(phonePaper, 92, "Compound, internal", func(l *draw.List, b draw.Box) { CompoundSwing(l, b, bar) }),
		"train":          on(phonePaper, 92, "Gear train", func(l *draw.List, b draw.Box) { GearTrain(l, b, train) }),
		"passes":         on(phonePaper, 80, "Passes", func(l *draw.List, b draw.Box) { GroovePasses(l, b, grown, false, unit.Metric) }),
		"tool":           ProfileSheet(draw.A4, tipFor(m12)),
		"thread-profile": ProfileSheet(draw.Letter, ThreadProfile(butt)),
	}
}

func TestDrawingsAreKept(t *testing.T) {
	for name, l := range goldenDrawings(t) {
		var b bytes.Buffer
		if err := l.SVG(&b, 0, draw.SVGOptions{}); err != nil {
			t.Fatal(err)
		}
		kept(t, name+".svg", b.Bytes(), bytes.Equal)
	}
	for name, p := range map[string]Profile{"tool": tipFor(mustThread(t, "M12x1.75-6g")), "thread": ThreadProfile(mustThread(t, "M12x1.75-6g"))} {
		l, o := ProfileDXF(p)
		var b bytes.Buffer
		if err := l.DXF(&b, 0, o); err != nil {
			t.Fatal(err)
		}
		kept(t, name+".dxf", b.Bytes(), bytes.Equal)
	}
}

// At 360 pixels, the width of a phone.
func TestDrawingsOnAPhoneAreKept(t *testing.T) {
	all := goldenDrawings(t)
	for _, name := range []string{"form-m12", "blank-m12", "swing", "train", "passes"} {
		var b bytes.Buffer
		if err := all[name].PNG(&b, 0, draw.PNGOptions{Width: 360}); err != nil {
			t.Fatal(err)
		}
		kept(t, name+".png", b.Bytes(), func(got, want []byte) bool { return differing(t, got, want) < 0.001 })
	}
}

// differing returns the share of pixels that differ by more than a tenth of full
// scale in some channel: rounding differs a little between processors.
func differing(t *testing.T, a, b []byte) float64 {
	t.Helper()
	pics := [2]image.Image{}
	for i, data := range [][]byte{a, b} {
		m, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		pics[i] = m
	}
	r := pics[0].Bounds()
	if r != pics[1].Bounds() {
		return 1
	}
	n := 0
	for y := range r.Dy() {
		for x := range r.Dx() {
			r1, g1, b1, _ := pics[0].At(x, y).RGBA()
			r2, g2, b2, _ := pics[1].At(x, y).RGBA()
			if max(gap(r1, r2), gap(g1, g2), gap(b1, b2)) > 6554 {
				n++
			}
		}
	}
	return float64(n) / float64(r.Dx()*r.Dy())
}

func gap(a, b uint32) uint32 { return max(a, b) - min(a, b) }

// entity is one entity of a DXF file: its kind and its numbers by group code.
type entity struct {
	kind, layer string
	v           map[int]float64
}

func entitiesOf(t *testing.T, l *draw.List, o draw.DXFOptions) (all []entity) {
	t.Helper()
	var b bytes.Buffer
	if err := l.DXF(&b, 0, o); err != nil {
		t.Fatal(err)
	}
	in := false
	for sc := bufio.NewScanner(&b); sc.Scan(); {
		code, _ := strconv.Atoi(sc.Text())
		sc.Scan()
		switch s := sc.Text(); {
		case code == 2 && s == "ENTITIES":
			in = true
		case in && code == 0:
			all = append(all, entity{kind: s, v: map[int]float64{}})
		case in && code == 8:
			all[len(all)-1].layer = s
		case in:
			all[len(all)-1].v[code], _ = strconv.ParseFloat(s, 64)
		}
	}
	return all
}

// slant returns the angle of a LINE to the normal of the axis, in degrees.
func (e entity) slant() float64 {
	return math.Abs(math.Atan2(e.v[11]-e.v[10], e.v[21]-e.v[20])) * 180 / math.Pi
}

// What a machine that reads the file would cut: angles and pitch of published
// forms, taken from the written file.
func TestDXFHasThePublishedForm(t *testing.T) {
	cases := []struct {
		callout         string
		flankA, flankB  float64
		pitch           float64
		source, forms   string
		status          outside.Status
		pitchSource, id string
	}{
		{"M12x1.75-6g", 30, 30, 1.75, "ISO 68-1", "60°", outside.Memory, "ISO 261 coarse series", "M12"},
		{"1/2-13 UNC-2A", 30, 30, 25.4 / 13, "ASME B1.1", "60°", outside.Memory, "ASME B1.1, 13 threads per inch", "1/2-13"},
		{"1-5 ACME-2G", 14.5, 14.5, 5.08, "ASME B1.5", "29°", outside.Memory, "ASME B1.5, 5 threads per inch", "1-5 Acme"},
		{"Tr40x7-7e", 15, 15, 7, "ISO 2901", "30°", outside.Memory, "ISO 2902", "Tr 40 x 7"},
		{"1-8 BUTT-2A", 45, 7, 3.175, "ASME B1.9", "45°/7°", outside.Memory, "ASME B1.9, 8 threads per inch", "1-8 buttress"},
		{"G 1/2 A", 27.5, 27.5, 25.4 / 14, "ISO 228-1", "55°", outside.Memory, "ISO 228-1, 14 threads per inch", "G 1/2"},
	}
	for _, c := range cases {
		l, o := ProfileDXF(ThreadProfile(mustThread(t, c.callout)))
		var flanks []entity
		for _, e := range entitiesOf(t, l, o) {
			if e.kind == "LINE" && e.layer == "VISIBLE" && math.Abs(e.v[21]-e.v[20]) > 1e-6 {
				flanks = append(flanks, e)
			}
		}
		if len(flanks) != 6 {
			t.Fatalf("%s: %d flanks in three grooves", c.callout, len(flanks))
		}
		check := func(what string, published, ours float64, unit, source string) {
			outside.Check(t, outside.Claim{
				What: c.id + " profile as DXF, " + what, Source: source, Status: c.status,
				Published: published, Ours: ours, Unit: unit, Tolerance: 2e-4,
			})
		}
		check("flank on the headstock side", c.flankA, 180-flanks[0].slant(), "°", c.source)
		check("flank on the tailstock side", c.flankB, flanks[1].slant(), "°", c.source)
		check("pitch", c.pitch, flanks[2].v[10]-flanks[0].v[10], "mm", c.pitchSource)
	}
}

func TestPrintIsTrueToScale(t *testing.T) {
	th := mustThread(t, "M12x1.75-6g")
	for _, k := range []float64{10, 20} {
		l := draw.New(draw.A4, "tip")
		if !ToolProfile(l, draw.A4.Box(15), tipFor(th), k) {
			t.Fatalf("a tip of M12 does not fit A4 at %g:1", k)
		}
		flat, bar := 0.0, false
		for _, e := range entitiesOf(t, l, draw.DXFOptions{}) {
			length := math.Hypot(e.v[11]-e.v[10], e.v[21]-e.v[20])
			if e.kind == "LINE" && e.layer == "VISIBLE" && e.v[20] == e.v[21] {
				flat = length
			}
			bar = bar || e.kind == "LINE" && e.layer == "THIN" && math.Abs(length-10) < 1e-6
		}
		if want := 1.75 / 8 * k; math.Abs(flat-want) > 1e-5 {
			t.Errorf("at %g:1 the flat of P/8 is %.5f mm on paper, want %.5f", k, flat, want)
		}
		if !bar {
			t.Errorf("at %g:1 no bar of 10 mm", k)
		}
	}
}

// A tip radius is tangent to both flanks: no corner where they meet.
func TestTipRadiusIsTangent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lead := unit.Angle(rapid.Float64Range(2, 50).Draw(t, "leading")) * unit.Degree
		trail := unit.Angle(rapid.Float64Range(2, 50).Draw(t, "trailing")) * unit.Degree
		r := unit.Length(rapid.Float64Range(0.01, 0.4).Draw(t, "radius"))
		g := ToolTip("tip", unit.Metric, lead, trail, 0, r, 2).Outline
		for _, s := range []thread.Segment{g[0], g[2]} {
			// Distance of the arc's centre from the flank's line.
			ux, uz := float64(s.To.X-s.From.X), float64(s.To.Z-s.From.Z)
			cx, cz := float64(g[1].Centre.X-s.From.X), float64(g[1].Centre.Z-s.From.Z)
			if d := math.Abs(ux*cz-uz*cx) / math.Hypot(ux, uz); math.Abs(d-r.MM()) > 1e-9 {
				t.Fatalf("the flank passes the centre at %.9f, the radius is %.9f", d, r.MM())
			}
		}
		if d := deepest(g); math.Abs(float64(d-2)) > 1e-9 {
			t.Fatalf("the tip stands %.6f high, want 2", d)
		}
	})
}

// Pitch circles of wheels in mesh touch, and their sizes are as their teeth.
func TestPitchCirclesTouch(t *testing.T) {
	teeth := [][2]int{{24, 80}, {30, 100}, {40, 60}}
	gears := trainOf(1.25, teeth, []float64{-70, -110, -60})
	l := draw.New(sheetPaper, "train")
	GearTrain(l, sheetPaper.Box(1), gears)
	var circles []entity
	for _, e := range entitiesOf(t, l, draw.DXFOptions{}) {
		if e.kind == "CIRCLE" && e.layer == "CENTRE" {
			circles = append(circles, e)
		}
	}
	if len(circles) != len(gears) {
		t.Fatalf("%d pitch circles for %d wheels", len(circles), len(gears))
	}
	for i, m := range teeth {
		a, b := circles[2*i], circles[2*i+1]
		if d := math.Hypot(a.v[10]-b.v[10], a.v[20]-b.v[20]); math.Abs(d-a.v[40]-b.v[40]) > 1e-5 {
			t.Errorf("mesh %v: axes %.6f apart, radii %.6f", m, d, a.v[40]+b.v[40])
		}
		if got, want := b.v[40]/a.v[40], float64(m[1])/float64(m[0]); math.Abs(got-want) > 1e-5 {
			t.Errorf("mesh %v: circles in the ratio %.6f", m, got)
		}
	}
}

// Whatever the blank, the drawing can be read: nothing overlaps, nothing leaves
// the paper.
func TestAnyBlankCanBeRead(t *testing.T) {
	sizes := []string{"M3x0.5-6g", "M6x1-6g", "M20x2.5-6g", "1/4-20 UNC-2A", "3-12 UN-2A", "1-5 ACME-2G", "Tr40x7-7e", "M30x2-6H", "M8x1.25-6H"}
	rapid.Check(t, func(t *rapid.T) {
		th, err := thread.Parse(rapid.SampledFrom(sizes).Draw(t, "thread"), thread.External)
		if err != nil {
			t.Fatal(err)
		}
		d := th.Nominal
		draws := func(name string, lo, hi float64) unit.Length {
			return d * unit.Length(rapid.Float64Range(lo, hi).Draw(t, name))
		}
		b := blankFor(th, draws("length", 0.5, 8), 0)
		if rapid.Bool().Draw(t, "stick-out known") {
			b.Stickout = b.Length + b.ReliefWidth + draws("shank length", 0, 10)
		}
		if !rapid.Bool().Draw(t, "relief") {
			b.ReliefWidth, b.ReliefDiameter, b.RunOut = 0, 0, 2*th.Pitch.Length()
		}
		b.Centre = !b.Internal && rapid.Bool().Draw(t, "centre")
		if rapid.Bool().Draw(t, "shank") {
			b.Shank = draws("shank diameter", 1.4, 2)
		}
		if b.Internal && rapid.Bool().Draw(t, "blind") {
			b.HoleDepth = b.Length + b.ReliefWidth + b.RunOut + draws("beyond", 0, 1)
		}
		for name, paper := range map[string]draw.Size{"phone": {W: 92, H: 100}, "sheet": {W: 180, H: 110}} {
			l := draw.New(paper, "blank")
			BlankDrawing(l, paper.Box(1), b)
			for _, f := range l.Faults(0, draw.SmallText) {
				t.Errorf("%s: %s", name, f)
			}
		}
	})
}

// Figures that make no sense give no drawing, or a poor one, but no panic.
func TestDrawingsTakeAnyFigures(t *testing.T) {
	nan, inf := unit.Length(math.NaN()), unit.Length(math.Inf(1))
	l := draw.New(sheetPaper, "odd")
	box := sheetPaper.Box(1)
	ThreadForm(l, box, thread.Thread{}, unit.Metric)
	for _, v := range []unit.Length{0, -1, nan, inf, 1e300} {
		BlankDrawing(l, box, Blank{Crest: thread.Band{Min: v, Max: v}, Length: v, Stickout: v, ReliefWidth: v})
		BlankDrawing(l, box, Blank{Crest: thread.Band{Min: 10, Max: 10}, Length: v, Shank: v, HoleDepth: v, Internal: true})
		GearTrain(l, box, []Gear{{Teeth: 20, X: v, Y: v, Radius: v}})
		tip := ToolTip("odd", unit.Metric, unit.Angle(v), unit.Angle(v), v, v, v)
		ToolProfile(l, box, tip, 10)
		GroovePasses(l, box, []PassOutline{{Outline: tip.Outline}}, false, unit.Metric)
		CompoundSwing(l, box, CompoundSetting{Angle: unit.Angle(v)})
		ProfileDXF(tip)
	}
	ThreadForm(l, draw.Box{}, mustThread(t, "M12x1.75-6g"), unit.Metric)
	BlankDrawing(l, draw.Box{}, blankFor(mustThread(t, "M12x1.75-6g"), 20, 40))
	GearTrain(l, draw.Box{}, trainOf(1, [][2]int{{20, 40}}, []float64{0}))
	if got := fmt.Sprint(l.Pages()); got != "1" {
		t.Error(got)
	}
}

// Whatever the setting of the compound, the drawing can be read.
func TestAnySwingCanBeRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := CompoundSetting{
			Angle:     unit.Angle(rapid.IntRange(0, 12).Draw(t, "angle")) * 5 * unit.Degree,
			ZeroAtBed: rapid.Bool().Draw(t, "zero at bed"), Internal: rapid.Bool().Draw(t, "internal"),
			FromChuck: rapid.Bool().Draw(t, "from chuck"), Reverse: rapid.Bool().Draw(t, "reverse"),
		}
		if rapid.Bool().Draw(t, "known") {
			a := 90*unit.Degree - c.Angle
			c.Reads = &a
		}
		words := rapid.SampledFrom([]string{"a line of words", "a long line of words that has to be broken on a phone because it does not fit"})
		c.Words = rapid.SliceOfN(words, 0, 3).Draw(t, "words")
		for name, paper := range map[string]draw.Size{"phone": {W: 92, H: 100}, "sheet": {W: 180, H: 110}} {
			l := draw.New(paper, "swing")
			CompoundSwing(l, paper.Box(1), c)
			for _, f := range l.Faults(0, draw.SmallText) {
				t.Errorf("%s: %s", name, f)
			}
		}
	})
}

// Every family's form can be read, from the smallest thread to the largest.
func TestAnyFormCanBeRead(t *testing.T) {
	for _, c := range []string{
		"M1x0.25-6g", "M3x0.5-6H", "M10x1.5-4h", "M36x4-6g", "M64x6-6H", "0-80 UNF-2A", "1/4-20 UNC-3B", "3-4 UNC-2A", "1/2-13 UNC-2B",
		"BSW 1/2-12", "1/2 BSF", "0 BA", "G 1/8", "R 1/2", "Rp 1/2", "1/2-14 NPT", "1/4-16 ACME-2G", "3-2 ACME-2G", "1-5 STUB ACME-2G", "Tr8x1.5-7e",
		"Tr100x12-7H", "S60x9", "Rd 40x1/6",
	} {
		th, err := thread.Parse(c, thread.External)
		if err != nil {
			t.Logf("%s: not read here: %v", c, err)
			continue
		}
		for name, paper := range map[string]draw.Size{"phone": {W: 92, H: 70}, "sheet": {W: 180, H: 80}} {
			for _, sys := range []unit.System{unit.Metric, unit.Inches} {
				l := draw.New(paper, "form")
				ThreadForm(l, paper.Box(1), th, sys)
				show(t, "any-"+fmt.Sprintf("%x", c)+name+sys.String(), l)
				for _, f := range l.Faults(0, draw.SmallText) {
					t.Errorf("%s, %s, %s: %s", c, name, sys, f)
				}
			}
		}
	}
}
