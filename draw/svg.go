package draw

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// SVGOptions say how a page becomes SVG. The zero value gives a picture that
// follows the reader's light or dark setting, on a ground of its own.
type SVGOptions struct {
	ID          string // prefix of all ids; needed when several drawings share one HTML page
	Theme       *Theme // fixed colours; nil follows the reader's setting
	Transparent bool   // no ground
	Class       string // further classes of the svg element
}

// SVG writes one page, counted from 0.
//
// Text stays text, set to the width that it has in the list whatever font the
// reader's machine has. Every ink is a class (draw-ink, draw-accent, ...) and a
// custom property (--draw-ink, --draw-accent, ...), which a page that holds the
// drawing may set; plain attributes serve viewers without style sheets.
func (l *List) SVG(w io.Writer, page int, o SVGOptions) error {
	s := &svgCanvas{id: o.ID, theme: Light()}
	if o.Theme != nil {
		s.theme = *o.Theme
	}
	size := l.pages[page].size
	s.printf(`<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" class="%s" role="img"`,
		escape(strings.TrimSpace("draw "+o.Class)))
	s.printf(` lang="%s" aria-labelledby="%s"`, escape(l.Meta.Lang), escape(s.labels(l.Meta)))
	s.printf(` width="%smm" height="%smm" viewBox="0 0 %s %s"`, num(size.W), num(size.H), num(size.W), num(size.H))
	s.printf(` font-family="%s" fill="none" stroke-linecap="round" stroke-linejoin="round">`+"\n", svgFonts)
	s.printf("<title id=\"%stitle\">%s</title>\n", escape(o.ID), escape(l.Meta.Title))
	if l.Meta.Desc != "" {
		s.printf("<desc id=\"%sdesc\">%s</desc>\n", escape(o.ID), escape(l.Meta.Desc))
	}
	s.style(o.Theme == nil)
	if !o.Transparent {
		s.fill(Rect(Box{0, 0, size.W, size.H}), Paper)
	}
	l.play(page, s)
	s.printf("</svg>\n")
	_, err := w.Write(s.buf.Bytes())
	return err
}

// svgFonts begins with the font that the list is measured with; the others have
// nearly its width.
const svgFonts = "'DejaVu Sans Condensed','Noto Sans','Segoe UI',Roboto,Arial,sans-serif"

type svgCanvas struct {
	buf   bytes.Buffer
	id    string
	theme Theme
	clips int
}

func (s *svgCanvas) printf(format string, args ...any) { fmt.Fprintf(&s.buf, format, args...) }

func (s *svgCanvas) labels(m Meta) string {
	if m.Desc == "" {
		return s.id + "title"
	}
	return s.id + "title " + s.id + "desc"
}

// style writes the classes. The custom properties are set with no weight at all,
// so that any rule of the page that holds the drawing outranks them.
func (s *svgCanvas) style(follow bool) {
	s.printf("<style>\n")
	if follow {
		s.printf(":where(svg.draw){%s}\n", properties(Light()))
		s.printf("@media screen and (prefers-color-scheme:dark){:where(svg.draw){%s}}\n", properties(Dark()))
	} else {
		s.printf(":where(svg.draw){%s}\n", properties(s.theme))
	}
	for _, c := range inks() {
		n := c.name()
		s.printf("svg.draw .draw-%s-line{stroke:var(--draw-%s)}svg.draw .draw-%s{fill:var(--draw-%s)}\n", n, n, n, n)
	}
	s.printf("</style>\n")
}

func properties(t Theme) string {
	var b strings.Builder
	for _, c := range inks() {
		fmt.Fprintf(&b, "--draw-%s:%s;", c.name(), hexString(t.Of(c)))
	}
	return b.String()
}

func (s *svgCanvas) stroke(p *Path, pen Pen) {
	n := pen.Colour.name()
	s.printf(`<path class="draw-%s-line" stroke="%s" stroke-width="%s"`, n, hexString(s.theme.Of(pen.Colour)), num(pen.Width))
	if d := pen.dashes(); d != nil {
		parts := make([]string, len(d))
		for i, e := range d {
			parts[i] = num(e)
		}
		s.printf(` stroke-dasharray="%s"`, strings.Join(parts, " "))
	}
	s.printf(` d="%s"/>`+"\n", svgPath(p))
}

func (s *svgCanvas) fill(p *Path, c Colour) {
	s.printf(`<path class="draw-%s" fill="%s" d="%s"/>`+"\n", c.name(), hexString(s.theme.Of(c)), svgPath(p))
}

func (s *svgCanvas) text(at Pt, str string, st Style) {
	if st.Knock {
		s.fill(Polygon(textCorners(at, str, st, knockMargin)...), Paper)
	}
	// The rise is put into the coordinates: viewers differ in dominant-baseline.
	at = footOf(at, st)
	s.printf(`<text class="draw-%s" fill="%s" x="%s" y="%s" font-size="%s" textLength="%s" lengthAdjust="spacingAndGlyphs"`,
		st.Colour.name(), hexString(s.theme.Of(st.Colour)), num(at.X), num(at.Y), num(st.size()), num(st.Width(str)))
	if st.Bold {
		s.printf(` font-weight="bold"`)
	}
	if st.Anchor != Start {
		s.printf(` text-anchor="%s"`, [...]string{"", "middle", "end"}[st.Anchor])
	}
	if st.Turn != 0 {
		s.printf(` transform="rotate(%s %s %s)"`, num(mm(-st.Turn.Degrees())), num(at.X), num(at.Y))
	}
	s.printf(">%s</text>\n", escape(str))
}

func (s *svgCanvas) image(b Box, im *imageOp) {
	s.printf(`<image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none" role="img" aria-label="%s" xlink:href="data:image/%s;base64,%s"/>`+"\n",
		num(b.X), num(b.Y), num(b.W), num(b.H), escape(im.alt), im.kind, base64.StdEncoding.EncodeToString(im.data))
}

func (s *svgCanvas) link(b Box, url, alt string) {
	s.printf(`<a xlink:href="%s" href="%s" aria-label="%s"><path fill="#000" fill-opacity="0" d="%s"/></a>`+"\n",
		escape(safeURL(url)), escape(safeURL(url)), escape(alt), svgPath(Rect(b)))
}

// safeURL lets through addresses that lead somewhere and nothing that runs.
func safeURL(u string) string {
	low := strings.ToLower(u)
	for _, ok := range []string{"https://", "http://", "mailto:", "/", "#", "./"} {
		if strings.HasPrefix(low, ok) {
			return u
		}
	}
	return "#"
}

func (s *svgCanvas) open(title, class string, clip *Path) {
	clipRef := ""
	if clip != nil {
		s.clips++
		s.printf(`<clipPath id="%sclip%d"><path d="%s"/></clipPath>`+"\n", escape(s.id), s.clips, svgPath(clip))
		clipRef = fmt.Sprintf(` clip-path="url(#%sclip%d)"`, escape(s.id), s.clips)
	}
	s.printf("<g")
	if class != "" {
		s.printf(` class="%s"`, escape(class))
	}
	s.printf("%s>\n", clipRef)
	if title != "" {
		s.printf("<title>%s</title>\n", escape(title))
	}
}

func (s *svgCanvas) shut() { s.printf("</g>\n") }

// svgPath writes the path in SVG's own short form. A full circle needs two arcs.
func svgPath(p *Path) string {
	var b strings.Builder
	for _, s := range p.steps {
		switch s.verb {
		case moveTo:
			fmt.Fprintf(&b, "M%s %s", num(s.to.X), num(s.to.Y))
		case lineTo:
			fmt.Fprintf(&b, "L%s %s", num(s.to.X), num(s.to.Y))
		case curveTo:
			fmt.Fprintf(&b, "C%s %s %s %s %s %s", num(s.c1.X), num(s.c1.Y), num(s.c2.X), num(s.c2.Y), num(s.to.X), num(s.to.Y))
		case arcTo:
			half := s.centre.Polar(s.r, s.from+s.sweep/2)
			turn := 1 // clockwise on a page whose Y runs down
			if s.sweep > 0 {
				turn = 0
			}
			if math.Abs(s.sweep.Rad()) > math.Pi*0.999 {
				fmt.Fprintf(&b, "A%s %s 0 0 %d %s %s", num(s.r), num(s.r), turn, num(half.X), num(half.Y))
			}
			fmt.Fprintf(&b, "A%s %s 0 0 %d %s %s", num(s.r), num(s.r), turn, num(s.to.X), num(s.to.Y))
		case closeTo:
			b.WriteByte('Z')
		}
	}
	return b.String()
}

// num prints to the micrometre, as short as can be.
func num(d mm) string {
	s := strconv.FormatFloat(math.Round(float64(d)*1000)/1000, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "'", "&#39;")

func escape(s string) string {
	return escaper.Replace(strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "�")))
}
