package draw

import (
	"bytes"
	"image"
	_ "image/jpeg" // photographs
	_ "image/png"  // photographs
	"time"

	"thrum/unit"
)

// List is a drawing: pages, each a list of strokes, fills and words in the order
// in which they are laid on the paper. New makes one.
type List struct {
	Meta  Meta
	pages []page
}

// Meta describes the whole document for whoever cannot see it, and for the
// properties of a PDF.
type Meta struct {
	Title   string // one line; read out as the name of the drawing
	Desc    string // what the drawing shows, in words
	Author  string
	Subject string
	Lang    string    // "en"; New sets it
	Created time.Time // printed in the PDF's properties; the zero time is written as 1 January 2000
}

type page struct {
	size Size
	ops  []op
}

// An op is one entry of the list: exactly one of the pointers is set, or End.
type op struct {
	stroke *strokeOp
	fill   *fillOp
	text   *textOp
	image  *imageOp
	link   *linkOp
	group  *Group
	end    bool
}

type strokeOp struct {
	path *Path
	pen  Pen
}

type fillOp struct {
	path   *Path
	colour Colour
}

type textOp struct {
	at    Pt
	s     string
	style Style
}

type imageOp struct {
	box  Box
	data []byte // as it came: PNG or JPEG
	kind string // "png", "jpeg"
	alt  string
}

type linkOp struct {
	box Box
	url string
	alt string
}

// Group holds the verbs up to the matching End together.
type Group struct {
	Title string  // read out as the name of this part of the drawing
	Class string  // class of the group in SVG
	Move  Pt      // the group's own origin on the paper
	Scale float64 // of the group about its origin, lines and lettering too; zero means 1
	Clip  *Path   // nothing is drawn outside; nil for no limit. In the group's own coordinates
}

// New returns a drawing with one empty page. The title is what a screen reader
// announces.
func New(size Size, title string) *List {
	return &List{Meta: Meta{Title: title, Lang: "en"}, pages: []page{{size: size}}}
}

// Page starts a new page.
func (l *List) Page(size Size) { l.pages = append(l.pages, page{size: size}) }

// Pages returns the number of pages.
func (l *List) Pages() int { return len(l.pages) }

// Size returns the size of a page, counted from 0.
func (l *List) Size(page int) Size { return l.pages[page].size }

func (l *List) add(o op) {
	p := &l.pages[len(l.pages)-1]
	p.ops = append(p.ops, o)
}

// Stroke draws the outline of the path.
func (l *List) Stroke(p *Path, pen Pen) { l.add(op{stroke: &strokeOp{p, pen}}) }

// Fill paints the inside of the path.
func (l *List) Fill(p *Path, c Colour) { l.add(op{fill: &fillOp{p, c}}) }

// Text writes one line. Signs that the lettering does not have are shown as □;
// line breaks and tabs as spaces.
func (l *List) Text(at Pt, s string, st Style) {
	if st.Size == 0 {
		st.Size = TextSize
	}
	if s = printable(s); s != "" {
		l.add(op{text: &textOp{at, s, st}})
	}
}

// Image places a PNG or JPEG, stretched to fill the box. The alternative text
// says what it shows. It fails when the data are neither or are unreasonably large.
func (l *List) Image(b Box, data []byte, alt string) error {
	cfg, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || kind != "png" && kind != "jpeg" {
		return &unit.InputError{Field: "picture", Value: alt, Reason: "is not a PNG or JPEG", Hint: "save it as one of these"}
	}
	if pixels := int64(cfg.Width) * int64(cfg.Height); pixels > 100_000_000 {
		return &unit.InputError{Field: "picture", Value: alt, Reason: "has more than 100 million pixels", Hint: "make it smaller first"}
	}
	l.add(op{image: &imageOp{b, data, kind, alt}})
	return nil
}

// Link makes the box lead to an address; the alternative text names the target.
func (l *List) Link(b Box, url, alt string) { l.add(op{link: &linkOp{b, url, alt}}) }

// Group opens a group; every Group needs its End on the same page.
func (l *List) Group(g Group) {
	if g.Scale == 0 {
		g.Scale = 1
	}
	l.add(op{group: &g})
}

// End closes the group opened last.
func (l *List) End() { l.add(op{end: true}) }

// Place puts a page of another drawing into this one, its top left corner at the
// given point.
func (l *List) Place(o *List, page int, at Pt, scale float64) {
	l.Group(Group{Title: o.Meta.Title, Move: at, Scale: scale})
	for _, q := range o.pages[page].ops {
		l.add(q)
	}
	l.End()
}

// canvas is what a back-end must be able to do. Everything reaches it in
// millimetres of the page, groups already applied.
type canvas interface {
	stroke(p *Path, pen Pen)
	fill(p *Path, c Colour)
	text(at Pt, s string, st Style)
	image(b Box, im *imageOp)
	link(b Box, url, alt string)
	open(title, class string, clip *Path)
	shut()
}

// place is a uniform scale followed by a move.
type place struct {
	k    float64
	move Pt
}

func (w place) pt(p Pt) Pt    { return p.Times(w.k).Add(w.move) }
func (w place) len(d mm) mm   { return d * mm(w.k) }
func (w place) box(b Box) Box { o := w.pt(Pt{b.X, b.Y}); return Box{o.X, o.Y, w.len(b.W), w.len(b.H)} }
func (w place) id() bool      { return w.k == 1 && w.move == Pt{} }
func (w place) path(p *Path) *Path {
	if p == nil || w.id() {
		return p
	}
	return p.Map(w.k, w.move)
}

// play sends one page to a back-end.
func (l *List) play(page int, c canvas) {
	stack := []place{{k: 1}}
	for _, o := range l.pages[page].ops {
		w := stack[len(stack)-1]
		switch {
		case o.stroke != nil:
			pen := o.stroke.pen
			pen.Width = w.len(pen.Width)
			c.stroke(w.path(o.stroke.path), pen)
		case o.fill != nil:
			c.fill(w.path(o.fill.path), o.fill.colour)
		case o.text != nil:
			st := o.text.style
			st.Size = w.len(st.Size)
			c.text(w.pt(o.text.at), o.text.s, st)
		case o.image != nil:
			c.image(w.box(o.image.box), o.image)
		case o.link != nil:
			c.link(w.box(o.link.box), o.link.url, o.link.alt)
		case o.group != nil:
			in := place{k: w.k * o.group.Scale, move: w.pt(o.group.Move)}
			stack = append(stack, in)
			c.open(o.group.Title, o.group.Class, in.path(o.group.Clip))
		case o.end && len(stack) > 1:
			stack = stack[:len(stack)-1]
			c.shut()
		}
	}
	for range stack[1:] { // a forgotten End must not spoil what follows
		c.shut()
	}
}
