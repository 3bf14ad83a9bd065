package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/color"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

// The element and line definitions of ISO 128-20:1996 as an open drawing program
// carries them, one file for the elements and one for their order.
const isoElements = "FreeCAD, src/Mod/TechDraw/LineGroup/ISO.128.20.1996.ElementDef.csv and LineDef.csv"

func TestLineElements(t *testing.T) {
	const dash, long, gap, dot = 12, 24, 3, 1 // in line widths; the dot is an upper limit
	cases := []struct {
		line Line
		name string
		want []float64
	}{
		{Dashed, "02 dashed", []float64{dash, gap}},
		{LongDashDot, "04 long-dashed dotted", []float64{long, gap, dot, gap}},
		{LongDashDoubleDot, "05 long-dashed double-dotted", []float64{long, gap, dot, gap, dot, gap}},
		{Dotted, "07 dotted", []float64{dot, gap}},
	}
	for _, c := range cases {
		got := c.line.elements()
		if len(got) != len(c.want) {
			t.Fatalf("%s has %d elements, ISO 128-20 has %d", c.name, len(got), len(c.want))
		}
		for i := range got {
			if c.want[i] == dot {
				if got[i] > dot {
					t.Errorf("%s: dot of %g line widths, at most %d", c.name, got[i], dot)
				}
				continue
			}
			outside.Check(t, outside.Claim{
				What: "ISO 128-20 line " + c.name + ", length of element " + itoa(i+1), Source: isoElements,
				Status: outside.Read, Published: c.want[i], Ours: got[i], Unit: "d", Tolerance: 0,
			})
		}
	}
	for _, p := range []struct {
		pen  Pen
		want float64
		use  string
	}{
		{Visible, 0.5, "wide lines"},
		{Thin, 0.25, "narrow lines"},
		{Hidden, 0.25, "hidden edges"},
		{Centre, 0.25, "centre lines"},
		{Dimension, 0.25, "dimension lines"},
	} {
		outside.Check(t, outside.Claim{
			What: "width of " + p.use + " in line group 0.5, for A4 to A2", Source: "FreeCAD, src/Mod/TechDraw/LineGroup/LineGroup.csv (after DIN EN ISO 128-20)",
			Status: outside.Read, Published: p.want, Ours: p.pen.Width.MM(), Unit: "mm", Tolerance: 0,
		})
	}
}

func TestConventions(t *testing.T) {
	outside.Check(t, outside.Claim{
		What: "least distance of crest and root lines, fine thread", Source: "ISO 6410-1:1993, as summarised on the page of its publisher's catalogue (iteh.ai): twice the thick line or 0.7 mm, the larger",
		Status: outside.Read, Published: 1.0, Ours: rootGap(0.1).MM(), Unit: "mm", Tolerance: 0,
	})
	angle := 2 * math.Atan(float64(arrowHalf/arrowLen)) * 180 / math.Pi
	if angle < 15 {
		t.Errorf("arrowhead of %.1f°, at least 15° wanted (textbook after ISO 129)", angle)
	}
	if arrowLen < 3*2*arrowHalf {
		t.Errorf("arrowhead %.2f long and %.2f wide: at least three times as long as wide wanted", arrowLen, 2*arrowHalf)
	}
	outside.Check(t, outside.Claim{
		What: "height of capitals of TextSize", Source: "ISO 3098-1, nominal sizes 1.8, 2.5, 3.5, 5", Status: outside.Memory,
		Published: 2.5, Ours: Style{}.Cap().MM(), Unit: "mm", Tolerance: 0.06,
	})
	outside.Check(t, outside.Claim{
		What: "height of capitals of LargeText", Source: "ISO 3098-1, nominal sizes 1.8, 2.5, 3.5, 5", Status: outside.Memory,
		Published: 3.5, Ours: Style{Size: LargeText}.Cap().MM(), Unit: "mm", Tolerance: 0.06,
	})
}

// contrast is the contrast ratio of WCAG 2: (L1 + 0.05) / (L2 + 0.05).
func contrast(a, b color.RGBA) float64 {
	lum := func(c color.RGBA) float64 {
		lin := func(v uint8) float64 {
			s := float64(v) / 255
			if s <= 0.04045 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
	}
	x, y := lum(a), lum(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestColoursAreLegible(t *testing.T) {
	for _, c := range []struct {
		fore uint32
		want float64
		src  string
	}{
		{0x999999, 2.85, "dev.to, WCAG Color Contrast: The Math Behind Accessibility Compliance"},
		{0x1e293b, 14.63, "unitcalctools.com, Color Contrast Checker, worked pair"},
	} {
		outside.Check(t, outside.Claim{
			What: "contrast of " + hexString(rgb(c.fore)) + " on white, WCAG 2", Source: c.src, Status: outside.Read,
			Published: c.want, Ours: contrast(rgb(c.fore), rgb(0xffffff)), Unit: "", Tolerance: 0.006,
		})
	}
	for name, th := range map[string]Theme{"light": Light(), "dark": Dark()} {
		for _, ink := range []Colour{Ink, Grey, Accent} {
			for _, ground := range []Colour{Paper, Shade, Wash} {
				if ground == Wash && ink == Grey {
					continue // never used together
				}
				if k := contrast(th.Of(ink), th.Of(ground)); k < 4.5 {
					t.Errorf("%s theme: %s on %s has a contrast of %.2f, level AA asks for 4.5", name, ink.name(), ground.name(), k)
				}
			}
		}
		for i := 1; i < HeatSteps; i++ {
			if contrast(th.Of(HeatColour(i)), th.Paper) <= contrast(th.Of(HeatColour(i-1)), th.Paper) {
				t.Errorf("%s theme: step %d of the heat scale does not stand out more than the one before", name, i)
			}
		}
	}
}

func TestHatchCoversTheArea(t *testing.T) {
	// Lines a distance s apart cover an area A with a total length of A/s.
	rapid.Check(t, func(t *rapid.T) {
		r := mm(rapid.Float64Range(8, 40).Draw(t, "radius"))
		hole := r * mm(rapid.Float64Range(0.1, 0.8).Draw(t, "hole"))
		a := unit.Angle(rapid.Float64Range(0, math.Pi).Draw(t, "angle"))
		ring := Circle(Pt{50, 50}, r).Append(Circle(Pt{50, 50}, hole))
		total := mm(0)
		for _, s := range hatchLines(ring, a, 0.5) {
			total += s[0].Dist(s[1])
		}
		want := math.Pi * float64(r*r-hole*hole) / 0.5
		if math.Abs(float64(total)-want) > 0.02*want {
			t.Fatalf("hatching of %.1f mm, area over spacing gives %.1f", total, want)
		}
	})
}

func TestPixelsHaveTheRightArea(t *testing.T) {
	l := New(Size{100, 100}, "areas")
	l.Fill(Circle(Pt{30, 30}, 20), Ink)
	l.Stroke(Segment(Pt{10, 80}, Pt{90, 60}), Pen{Width: 2})
	l.Stroke(new(Path).Arc(Pt{75, 25}, 15, 0, -math.Pi), Pen{Width: 1})
	m, err := l.Raster(0, PNGOptions{Width: 500, Transparent: true})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for i := 3; i < len(m.Pix); i += 4 {
		sum += float64(m.Pix[i]) / 255
	}
	got := sum / 25 // 5 pixels a millimetre
	line := math.Hypot(80, 20)*2 + math.Pi
	arc := math.Pi*15 + math.Pi/4
	want := math.Pi*400 + line + arc
	if math.Abs(got-want) > 0.003*want {
		t.Errorf("painted %.2f mm², geometry says %.2f", got, want)
	}
	if m.Pix[3] != 0 {
		t.Error("the ground is not transparent")
	}
}

func TestDashedLineKeepsItsShareOfInk(t *testing.T) {
	chain := []fpt{{0, 0}, {300, 0}, {300, 300}, {40, 17}}
	total, inked := 0.0, 0.0
	for i := 1; i < len(chain); i++ {
		total += math.Hypot(chain[i].x-chain[i-1].x, chain[i].y-chain[i-1].y)
	}
	for _, piece := range dash(chain, []float64{12, 3}) {
		for i := 1; i < len(piece); i++ {
			inked += math.Hypot(piece[i].x-piece[i-1].x, piece[i].y-piece[i-1].y)
		}
	}
	if math.Abs(inked-total*12/15) > 3 {
		t.Errorf("dashes of %.1f on a line of %.1f, want %.1f", inked, total, total*12/15)
	}
}

func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.RuneFrom([]rune("ab cd  efg\n⌀Ω—.,-WMil"))).Draw(t, "text")
		width := mm(rapid.Float64Range(1, 80).Draw(t, "width"))
		st := Style{Bold: rapid.Bool().Draw(t, "bold")}
		lines := st.Wrap(text, width)
		for _, line := range lines {
			if st.Width(line) > width && len([]rune(line)) > 1 {
				t.Fatalf("%q is %.2f wide, more than %.2f", line, st.Width(line), width)
			}
		}
		bare := func(s string) string { return strings.Join(strings.Fields(s), "") }
		if got := bare(strings.Join(lines, "")); got != bare(text) {
			t.Fatalf("%q became %q", text, got)
		}
	})
}

func TestShorten(t *testing.T) {
	st := Style{}
	if s := st.Shorten("a short word", 100); s != "a short word" {
		t.Errorf("shortened for no reason: %q", s)
	}
	s := st.Shorten("a long line of words that goes on", 20)
	if !strings.HasSuffix(s, "…") || st.Width(s) > 20 {
		t.Errorf("%q is %.1f mm wide, want at most 20 with an ellipsis", s, st.Width(s))
	}
}

// FuzzSVGIsWellFormed feeds any title, text and address through the SVG back-end.
func FuzzSVGIsWellFormed(f *testing.F) {
	f.Add("a <b> & \"c\"", "java\x00script", "javascript:alert(1)")
	f.Add("\xff\xfe", "⌀ 12 \u202e", "https://example.org/?a=1&b='2'")
	f.Fuzz(func(t *testing.T, title, text, url string) {
		l := New(A4, title)
		l.Meta.Desc, l.Meta.Lang = text, title
		l.Group(Group{Title: text, Class: title, Clip: Rect(Box{0, 0, 5, 5})})
		l.Text(Pt{1, 1}, text, Style{})
		l.Link(Box{0, 0, 1, 1}, url, text)
		var b bytes.Buffer
		if err := l.SVG(&b, 0, SVGOptions{ID: title}); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(strings.ToLower(b.String()), `href="javascript`) {
			t.Fatalf("an address that runs came through: %q", url)
		}
		d := xml.NewDecoder(&b)
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("not well-formed: %v", err)
			}
		}
	})
}

func TestFaultsFindsFaults(t *testing.T) {
	cases := []struct {
		name string
		draw func(*List)
		want string
	}{
		{"overlap", func(l *List) { l.Text(Pt{10, 10}, "one", Style{}); l.Text(Pt{12, 11}, "two", Style{}) }, "overlaps"},
		{"edge", func(l *List) { l.Text(Pt{95, 10}, "too long", Style{}) }, "leaves the paper"},
		{"line", func(l *List) { l.Text(Pt{10, 10}, "crossed", Style{}); l.Stroke(Segment(Pt{5, 9}, Pt{50, 9}), Thin) }, "crossed"},
		{"small", func(l *List) { l.Text(Pt{10, 10}, "tiny", Style{Size: 1}) }, "less than"},
		{"turned", func(l *List) {
			l.Text(Pt{50, 50}, "upright", Style{Turn: 90 * unit.Degree})
			l.Stroke(Segment(Pt{40, 45}, Pt{60, 45}), Thin)
		}, "crossed"},
		{"scaled", func(l *List) {
			l.Group(Group{Move: Pt{60, 10}, Scale: 3})
			l.Text(Pt{5, 5}, "grown", Style{})
			l.End()
		}, "leaves the paper"},
	}
	for _, c := range cases {
		l := New(Size{100, 100}, c.name)
		c.draw(l)
		if got := strings.Join(l.Faults(0, SmallText), "; "); !strings.Contains(got, c.want) {
			t.Errorf("%s: found %q, want %q", c.name, got, c.want)
		}
	}
	l := New(Size{100, 100}, "clean")
	l.Stroke(Segment(Pt{5, 9}, Pt{50, 9}), Thin)
	l.Text(Pt{10, 10}, "blanked", Style{Knock: true})
	l.Text(Pt{10, 20}, "clear", Style{})
	if got := l.Faults(0, SmallText); got != nil {
		t.Errorf("faults found in a clean page: %q", got)
	}
}

func TestNiceTicks(t *testing.T) {
	cases := []struct {
		lo, hi float64
		n      int
		want   string
	}{
		{0, 10, 5, "0 2 4 6 8 10"},
		{0.013, 0.047, 4, "0.01 0.02 0.03 0.04 0.05"},
		{-3, 7, 4, "-5 0 5 10"},
		{95, 105, 4, "95 100 105"},
		{5, 5, 2, "4.5 5.0 5.5"},
	}
	for _, c := range cases {
		_, ticks := Axis{}.scaleFor(c.lo, c.hi, c.n)
		var got []string
		for _, k := range ticks {
			got = append(got, k.Label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%g to %g: %q, want %q", c.lo, c.hi, s, c.want)
		}
	}
	_, ticks := Axis{Log: true}.scaleFor(30, 900, 5)
	var got []string
	for _, k := range ticks {
		if k.Label != "" {
			got = append(got, k.Label)
		}
	}
	if s := strings.Join(got, " "); s != "20 50 100 200 500 1000" {
		t.Errorf("log ticks: %q", s)
	}
}

func TestChartsTakeAnyFigures(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), -1e300, 1e300, 0, 5e-324}
	for _, c := range []Chart{
		{},
		{Series: []Series{{Name: "odd", X: odd, Y: odd}}},
		{X: Axis{Log: true}, Y: Axis{Log: true}, Series: []Series{{X: []float64{-1, 0, 5}, Y: []float64{0, 1, 2}}}},
		{Heat: &Heat{Values: [][]float64{odd, {}, nil}}},
		{Bands: []Band{{X: odd, Low: odd[:2], High: odd}}},
	} {
		l := New(A4, "odd figures")
		c.Draw(l, Box{10, 10, 100, 60})
		var b bytes.Buffer
		if err := errors.Join(l.SVG(&b, 0, SVGOptions{}), l.PDF(&b), l.PNG(&b, 0, PNGOptions{Width: 200})); err != nil {
			t.Error(err)
		}
		if strings.Contains(b.String(), "NaN") {
			t.Error("NaN came through to the drawing")
		}
	}
}

func TestTableBreaksBetweenRows(t *testing.T) {
	tb := Table{Columns: []Column{{Head: "n", Width: 10}, {Head: "text"}}}
	for range 30 {
		tb.Rows = append(tb.Rows, []string{"1", "a row that needs more than one line of text here"})
	}
	set := 0
	for pages := 0; len(tb.Rows) > 0; pages++ {
		l := New(A4, "table")
		h, n := tb.Draw(l, Box{10, 10, 50, 60})
		if n == 0 || pages > 30 {
			t.Fatal("no row was set")
		}
		if h > 60 {
			t.Errorf("%d rows are %.1f high, the box 60", n, h)
		}
		tb.Rows, set = tb.Rows[n:], set+n
		for _, f := range l.Faults(0, SmallText) {
			t.Error(f)
		}
	}
	if set != 30 {
		t.Errorf("%d rows set of 30", set)
	}
}

func TestImageRefusesOtherData(t *testing.T) {
	l := New(A4, "picture")
	var in *unit.InputError
	if err := l.Image(Box{0, 0, 10, 10}, []byte("GIF89a"), "x"); !errors.As(err, &in) {
		t.Errorf("a picture that is none gave %v", err)
	}
}

func TestForgottenEnd(t *testing.T) {
	l := New(A4, "open group")
	l.Group(Group{Title: "left open"})
	l.Group(Group{Clip: Rect(Box{0, 0, 9, 9})})
	l.Page(A4)
	l.End()
	l.End()
	var b bytes.Buffer
	if err := errors.Join(l.SVG(&b, 0, SVGOptions{}), l.SVG(&b, 1, SVGOptions{})); err != nil {
		t.Fatal(err)
	}
	if err := xml.Unmarshal(b.Bytes(), new(struct{})); err != nil {
		t.Error(err)
	}
	if err := l.PDF(io.Discard); err != nil {
		t.Error(err)
	}
}
