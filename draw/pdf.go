package draw

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// PDF writes all pages as one document, in the colours of Light. The font is
// part of the file, so that every sign prints everywhere; the dates are those of
// Meta, so that the same list gives the same bytes.
func (l *List) PDF(w io.Writer) error {
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: 210, Ht: 297}})
	f.SetCatalogSort(true)
	at := l.Meta.Created
	if at.IsZero() {
		at = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	f.SetCreationDate(at.UTC())
	f.SetModificationDate(at.UTC())
	f.SetTitle(l.Meta.Title, true)
	f.SetSubject(l.Meta.Subject, true)
	f.SetAuthor(l.Meta.Author, true)
	f.SetCreator("Thrum", true)
	f.SetProducer("Thrum", true)
	f.SetLang(langTag(l.Meta.Lang))
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	f.AddUTF8FontFromBytes(pdfFont, "", regular().ttf)
	f.AddUTF8FontFromBytes(pdfFont, "B", bold().ttf)
	f.SetLineCapStyle("round")
	f.SetLineJoinStyle("round")
	c := &pdfCanvas{f: f, theme: Light()}
	for i, p := range l.pages {
		f.AddPageFormat("P", fpdf.SizeType{Wd: float64(p.size.W), Ht: float64(p.size.H)})
		l.play(i, c)
	}
	if err := f.Error(); err != nil {
		return fmt.Errorf("writing PDF: %w", err)
	}
	return f.Output(w)
}

const pdfFont = "dejavu"

// langTag keeps only what may stand in a language tag, RFC 5646.
func langTag(s string) string {
	out := []byte{}
	for i := 0; i < len(s) && len(out) < 35; i++ {
		if c := s[i]; c == '-' || c >= '0' && c <= '9' || c|0x20 >= 'a' && c|0x20 <= 'z' {
			out = append(out, c)
		}
	}
	return string(out)
}

type pdfCanvas struct {
	f      *fpdf.Fpdf
	theme  Theme
	clips  []bool // per open group: whether it clips
	images int
}

func (c *pdfCanvas) outline(p *Path) {
	for _, s := range p.steps {
		switch s.verb {
		case moveTo:
			c.f.MoveTo(s.to.X.MM(), s.to.Y.MM())
		case lineTo:
			c.f.LineTo(s.to.X.MM(), s.to.Y.MM())
		case curveTo:
			c.f.CurveBezierCubicTo(s.c1.X.MM(), s.c1.Y.MM(), s.c2.X.MM(), s.c2.Y.MM(), s.to.X.MM(), s.to.Y.MM())
		case arcTo:
			for _, q := range cubics(s) {
				c.f.CurveBezierCubicTo(q[0].X.MM(), q[0].Y.MM(), q[1].X.MM(), q[1].Y.MM(), q[2].X.MM(), q[2].Y.MM())
			}
		case closeTo:
			c.f.ClosePath()
		}
	}
}

func (c *pdfCanvas) stroke(p *Path, pen Pen) {
	rgb := c.theme.Of(pen.Colour)
	c.f.SetDrawColor(int(rgb.R), int(rgb.G), int(rgb.B))
	c.f.SetLineWidth(pen.Width.MM())
	dashes := []float64{}
	for _, d := range pen.dashes() {
		dashes = append(dashes, d.MM())
	}
	c.f.SetDashPattern(dashes, 0)
	c.outline(p)
	c.f.DrawPath("D")
}

func (c *pdfCanvas) fill(p *Path, col Colour) {
	rgb := c.theme.Of(col)
	c.f.SetFillColor(int(rgb.R), int(rgb.G), int(rgb.B))
	c.outline(p)
	c.f.DrawPath("F")
}

func (c *pdfCanvas) text(at Pt, s string, st Style) {
	if st.Knock {
		c.fill(Polygon(textCorners(at, s, st, knockMargin)...), Paper)
	}
	rgb := c.theme.Of(st.Colour)
	c.f.SetTextColor(int(rgb.R), int(rgb.G), int(rgb.B))
	style := ""
	if st.Bold {
		style = "B"
	}
	c.f.SetFont(pdfFont, style, 0)
	c.f.SetFontUnitSize(st.size().MM())
	at = startOf(at, s, st)
	if st.Turn != 0 {
		c.f.TransformBegin()
		c.f.TransformRotate(st.Turn.Degrees(), at.X.MM(), at.Y.MM())
		defer c.f.TransformEnd()
	}
	c.f.Text(at.X.MM(), at.Y.MM(), s)
}

func (c *pdfCanvas) image(b Box, im *imageOp) {
	// Written afresh, because the PDF library knows only the plain kinds of each format.
	data, kind, err := plainImage(im)
	if err != nil {
		c.f.SetError(err)
		return
	}
	c.images++
	name := fmt.Sprintf("image%d", c.images)
	opt := fpdf.ImageOptions{ImageType: kind}
	c.f.RegisterImageOptionsReader(name, opt, bytes.NewReader(data))
	c.f.ImageOptions(name, b.X.MM(), b.Y.MM(), b.W.MM(), b.H.MM(), false, opt, 0, "")
}

func plainImage(im *imageOp) (data []byte, kind string, err error) {
	pic, _, err := image.Decode(bytes.NewReader(im.data))
	if err != nil {
		return nil, "", fmt.Errorf("picture %q: %w", im.alt, err)
	}
	var buf bytes.Buffer
	if im.kind == "jpeg" {
		err = jpeg.Encode(&buf, pic, &jpeg.Options{Quality: 90})
		return buf.Bytes(), "jpg", err
	}
	plain := image.NewNRGBA(pic.Bounds())
	for y := plain.Rect.Min.Y; y < plain.Rect.Max.Y; y++ {
		for x := plain.Rect.Min.X; x < plain.Rect.Max.X; x++ {
			plain.Set(x, y, pic.At(x, y))
		}
	}
	err = png.Encode(&buf, plain)
	return buf.Bytes(), "png", err
}

func (c *pdfCanvas) link(b Box, url, _ string) {
	c.f.LinkString(b.X.MM(), b.Y.MM(), b.W.MM(), b.H.MM(), safeURL(url))
}

func (c *pdfCanvas) open(_, _ string, clip *Path) {
	c.clips = append(c.clips, clip != nil)
	if clip != nil {
		c.f.RawWriteStr("q\n")
		c.outline(clip)
		c.f.RawWriteStr("W n\n")
	}
}

func (c *pdfCanvas) shut() {
	last := len(c.clips) - 1
	if c.clips[last] {
		c.f.RawWriteStr("Q\n")
	}
	c.clips = c.clips[:last]
}
