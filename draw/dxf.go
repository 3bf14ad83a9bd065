package draw

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// DXFOptions say how a page becomes DXF.
type DXFOptions struct {
	Origin Pt // the point of the paper that becomes 0, 0
}

// DXF writes one page, counted from 0, as ASCII DXF of release 12, which every
// drawing and machining program reads. Millimetres stay millimetres and Y runs
// up. Circular arcs are written as ARC, never as chords; curves, which release 12
// lacks, as chords true to 2 µm. Each pen is a layer. Fills, images, links and
// clipping have no place in it and are left out.
func (l *List) DXF(w io.Writer, page int, o DXFOptions) error {
	c := &dxfCanvas{origin: o.Origin, lo: Pt{math.MaxFloat64, math.MaxFloat64}, hi: Pt{-math.MaxFloat64, -math.MaxFloat64}}
	l.play(page, c)
	var out bytes.Buffer
	d := dxfWriter{&out}
	d.header(c)
	d.tables(c)
	d.put(0, "SECTION").put(2, "ENTITIES")
	out.Write(c.body.Bytes())
	d.put(0, "ENDSEC").put(0, "EOF")
	_, err := w.Write(out.Bytes())
	return err
}

type dxfWriter struct{ buf *bytes.Buffer }

// put writes one group: a code on a line, its value on the next.
func (d dxfWriter) put(code int, value string) dxfWriter {
	fmt.Fprintf(d.buf, "%d\n%s\n", code, value)
	return d
}

func (d dxfWriter) real(code int, v float64) dxfWriter {
	return d.put(code, dxfNum(v))
}

func (d dxfWriter) point(first int, p Pt) dxfWriter {
	return d.real(first, p.X.MM()).real(first+10, p.Y.MM())
}

// dxfNum prints to a thousandth of a micrometre, always with a point.
func dxfNum(v float64) string {
	s := strings.TrimRight(strconv.FormatFloat(v, 'f', 6, 64), "0")
	if s == "-0." {
		s = "0."
	}
	return s + strings.Repeat("0", btoi(strings.HasSuffix(s, ".")))
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (d dxfWriter) header(c *dxfCanvas) {
	if c.hi.X < c.lo.X {
		c.lo, c.hi = Pt{}, Pt{}
	}
	d.put(0, "SECTION").put(2, "HEADER")
	d.put(9, "$ACADVER").put(1, "AC1009")
	d.put(9, "$EXTMIN").point(10, c.lo).real(30, 0)
	d.put(9, "$EXTMAX").point(10, c.hi).real(30, 0)
	d.put(0, "ENDSEC")
}

func (d dxfWriter) tables(c *dxfCanvas) {
	d.put(0, "SECTION").put(2, "TABLES")
	types := []Line{Continuous, Dashed, LongDashDot, LongDashDoubleDot, Dotted, ShortDash, LongDash}
	d.put(0, "TABLE").put(2, "LTYPE").put(70, itoa(len(types)))
	for _, t := range types {
		el := t.elements()
		d.put(0, "LTYPE").put(2, t.dxfName()).put(70, "64").put(3, "").put(72, "65").put(73, itoa(len(el)))
		total := 0.0
		for _, e := range el {
			total += e * narrow.MM()
		}
		d.real(40, total)
		for i, e := range el { // a gap is negative
			d.real(49, e*narrow.MM()*float64(1-2*(i%2)))
		}
	}
	d.put(0, "ENDTAB")
	d.put(0, "TABLE").put(2, "LAYER").put(70, itoa(len(c.layers)+1))
	d.put(0, "LAYER").put(2, "0").put(70, "64").put(62, "7").put(6, "CONTINUOUS")
	for _, n := range c.layers {
		d.put(0, "LAYER").put(2, n.name).put(70, "64").put(62, "7").put(6, n.line.dxfName())
	}
	d.put(0, "ENDTAB")
	d.put(0, "TABLE").put(2, "STYLE").put(70, "1")
	d.put(0, "STYLE").put(2, "STANDARD").put(70, "64").real(40, 0).real(41, 1).real(50, 0).put(71, "0").real(42, 2.5).put(3, "txt").put(4, "")
	d.put(0, "ENDTAB").put(0, "ENDSEC")
}

func (t Line) dxfName() string {
	return [...]string{"CONTINUOUS", "DASHED", "LONG_DASH_DOT", "LONG_DASH_DOUBLE_DOT", "DOTTED", "SHORT_DASH", "LONG_DASH"}[t]
}

type dxfLayer struct {
	name string
	line Line
}

type dxfCanvas struct {
	origin Pt
	body   bytes.Buffer
	layers []dxfLayer
	lo, hi Pt
}

// pt turns a point of the paper into one of the DXF plane.
func (c *dxfCanvas) pt(p Pt) Pt {
	q := Pt{p.X - c.origin.X, c.origin.Y - p.Y}
	c.lo = Pt{min(c.lo.X, q.X), min(c.lo.Y, q.Y)}
	c.hi = Pt{max(c.hi.X, q.X), max(c.hi.Y, q.Y)}
	return q
}

// layer names the layer of a pen and remembers it for the table.
func (c *dxfCanvas) layer(name string, t Line) string {
	name = strings.ToUpper(name)
	if !slices.ContainsFunc(c.layers, func(n dxfLayer) bool { return n.name == name }) {
		c.layers = append(c.layers, dxfLayer{name, t})
	}
	return name
}

func (c *dxfCanvas) stroke(p *Path, pen Pen) {
	d, layer := dxfWriter{&c.body}, c.layer(pen.Name, pen.Line)
	line := func(a, b Pt) {
		if a.Dist(b) > 1e-7 {
			d.put(0, "LINE").put(8, layer).point(10, c.pt(a)).point(11, c.pt(b))
		}
	}
	var at Pt
	for _, s := range p.steps {
		switch s.verb {
		case lineTo, closeTo:
			line(at, s.to)
		case curveTo:
			from := at
			for _, q := range curvePoints(at, s, 0.002) {
				line(from, q)
				from = q
			}
		case arcTo:
			c.arc(d, layer, s)
		}
		at = s.to
	}
}

// arc writes a circle or an arc, which in DXF always runs anticlockwise.
func (c *dxfCanvas) arc(d dxfWriter, layer string, s step) {
	b := new(Path).Arc(s.centre, s.r, s.from, s.sweep).Bounds()
	c.pt(Pt{b.X, b.Y})
	c.pt(Pt{b.Right(), b.Bottom()})
	centre := Pt{s.centre.X - c.origin.X, c.origin.Y - s.centre.Y}
	if math.Abs(s.sweep.Rad()) > 2*math.Pi-1e-9 {
		d.put(0, "CIRCLE").put(8, layer).point(10, centre).real(40, s.r.MM())
		return
	}
	from, to := s.from, s.from+s.sweep
	if s.sweep < 0 {
		from, to = to, from
	}
	deg := func(a float64) float64 { return math.Mod(math.Mod(a, 360)+360, 360) }
	d.put(0, "ARC").put(8, layer).point(10, centre).real(40, s.r.MM()).real(50, deg(from.Degrees())).real(51, deg(to.Degrees()))
}

func (c *dxfCanvas) text(at Pt, s string, st Style) {
	d := dxfWriter{&c.body}
	q := c.pt(startOf(at, s, st))
	d.put(0, "TEXT").put(8, c.layer("text", Continuous)).point(10, q).real(40, st.Cap().MM()).put(1, dxfText(s)).real(50, st.Turn.Degrees())
}

// dxfText writes the trade's signs in the way of release 12, other signs that
// are not ASCII by their number.
func dxfText(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '⌀' || r == '∅':
			b.WriteString("%%c")
		case r == '°':
			b.WriteString("%%d")
		case r == '±':
			b.WriteString("%%p")
		case r == '%':
			b.WriteString("%%%")
		case r < 0x80:
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, "\\U+%04X", r)
		}
	}
	return b.String()
}

func (c *dxfCanvas) fill(*Path, Colour)         {}
func (c *dxfCanvas) image(Box, *imageOp)        {}
func (c *dxfCanvas) link(Box, string, string)   {}
func (c *dxfCanvas) open(string, string, *Path) {}
func (c *dxfCanvas) shut()                      {}
