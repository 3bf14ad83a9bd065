package draw

import (
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"thrum/unit"
)

// Sizes of lettering, from the top of an ascender to the bottom of a descender
// (the size that a word processor calls font size). Capitals are 0.73 of it:
// TextSize gives capitals of 2.5 mm, the smallest lettering of ISO 3098 for a
// drawing, and LargeText 3.5 mm. Nothing smaller than SmallText stays legible
// on paper beside a lathe.
const (
	SmallText unit.Length = 2.5
	TextSize  unit.Length = 3.5
	LargeText unit.Length = 4.8
)

// Anchor says which part of a line of text lies at its point.
type Anchor uint8

// Left end, middle or right end of the text.
const (
	Start Anchor = iota
	Middle
	End
)

// Rise says which height of a line of text lies at its point.
type Rise uint8

// The line that letters stand on, half the height of capitals, or their top.
const (
	Foot Rise = iota
	Half
	Cap
)

// Style is how a line of text is set. The zero value is TextSize, Ink, from the
// left, standing on the point.
type Style struct {
	Size   unit.Length
	Bold   bool
	Anchor Anchor
	Rise   Rise
	Turn   unit.Angle // anticlockwise about the point
	Colour Colour
	Knock  bool // blank the paper behind the text first
}

type face struct {
	ttf    []byte
	font   *sfnt.Font
	perEm  float64
	narrow [0x2800]uint16 // advances of the usual signs, in font units; 0 where there is none
}

var (
	regular = sync.OnceValue(func() *face { return newFace(dejavusanscondensed.TTF) })
	bold    = sync.OnceValue(func() *face { return newFace(dejavusanscondensedbold.TTF) })
)

func faceOf(st Style) *face {
	if st.Bold {
		return bold()
	}
	return regular()
}

// newFace reads a font that is part of the program; failing is a broken build.
func newFace(ttf []byte) *face {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic("draw: built-in font: " + err.Error())
	}
	fc := &face{ttf: ttf, font: f, perEm: float64(f.UnitsPerEm())}
	var buf sfnt.Buffer
	for r := range fc.narrow {
		if r >= ' ' {
			fc.narrow[r] = fc.lookup(&buf, rune(r))
		}
	}
	return fc
}

func (f *face) lookup(buf *sfnt.Buffer, r rune) uint16 {
	g, err := f.font.GlyphIndex(buf, r)
	if err != nil || g == 0 {
		return 0
	}
	adv, err := f.font.GlyphAdvance(buf, g, fixed.I(int(f.perEm)), font.HintingNone)
	if err != nil {
		return 0
	}
	return uint16(adv.Round())
}

func (f *face) advance(r rune) uint16 {
	if r >= 0 && int(r) < len(f.narrow) {
		return f.narrow[r]
	}
	return f.lookup(nil, r)
}

// capHeight is the height of capitals over the size, of this font (1493/2048).
const capHeight = 0.729

// Cap returns the height of capitals and figures at this style.
func (s Style) Cap() unit.Length { return s.size() * capHeight }

// Leading returns the distance from one line to the next, 1.35 sizes.
func (s Style) Leading() unit.Length { return s.size() * 1.35 }

func (s Style) size() mm {
	if s.Size == 0 {
		return TextSize
	}
	return s.Size
}

// Width returns the width of a line of text in this style.
func (s Style) Width(text string) unit.Length {
	f := faceOf(s)
	units := 0.0
	for _, r := range printable(text) {
		units += float64(f.advance(r))
	}
	return s.size() * mm(units/f.perEm)
}

const missing = '□'

// printable replaces what the lettering cannot show.
func printable(s string) string {
	f := regular()
	return strings.TrimRight(strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return -1
		case f.advance(r) == 0 || r > 0xffff:
			return missing
		}
		return r
	}, s), " ")
}

// Wrap breaks text into lines no wider than width, at spaces where it can and
// inside a word where it must. Line breaks in the text are kept.
func (s Style) Wrap(text string, width unit.Length) []string {
	var lines []string
	for para := range strings.SplitSeq(strings.TrimRight(text, "\n"), "\n") {
		line := ""
		for _, word := range strings.Fields(para) {
			if line != "" && s.Width(line+" "+word) <= width {
				line += " " + word
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for s.Width(word) > width {
				cut := s.fit(word, width)
				lines = append(lines, word[:cut])
				word = word[cut:]
			}
			line = word
		}
		lines = append(lines, line)
	}
	return lines
}

// fit returns how many bytes of the word fit into width, at least one character.
func (s Style) fit(word string, width mm) int {
	f := faceOf(s)
	w := mm(0)
	for i, r := range word {
		w += s.size() * mm(float64(f.advance(r))/f.perEm)
		if i > 0 && w > width {
			return i
		}
	}
	return len(word)
}

// Shorten returns the text, cut with an ellipsis when it is wider than width.
func (s Style) Shorten(text string, width unit.Length) string {
	if s.Width(text) <= width {
		return text
	}
	return strings.TrimRight(text[:s.fit(text, width-s.Width("…"))], " ") + "…"
}

// Paragraph writes wrapped text into a box from its top and returns the height
// used. Lines beyond the bottom of the box are still written: the caller sees it
// by the height.
func (l *List) Paragraph(b Box, text string, st Style) unit.Length {
	lines := st.Wrap(text, b.W)
	x := b.X
	switch st.Anchor {
	case Middle:
		x += b.W / 2
	case End:
		x += b.W
	}
	st.Rise = Foot
	for i, line := range lines {
		l.Text(Pt{x, b.Y + st.size() + mm(i)*st.Leading()}, line, st)
	}
	return st.Leading() * mm(len(lines))
}
