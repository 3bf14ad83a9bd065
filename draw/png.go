package draw

import (
	"bytes"
	"image"
	"image/color"
	stddraw "image/draw"
	"image/png"
	"io"
	"math"

	xdraw "golang.org/x/image/draw"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"thrum/unit"
)

// PNGOptions say how a page becomes pixels.
type PNGOptions struct {
	Width       int    // pixels across; 0 means 6 a millimetre, which makes Wide 1920 x 1080
	Theme       *Theme // nil means Light
	Transparent bool   // no ground, to lie over a video
}

// maxPixels bounds a picture to what a page at 600 dots per inch needs.
const maxPixels = 40_000_000

// PNG writes one page, counted from 0.
func (l *List) PNG(w io.Writer, page int, o PNGOptions) error {
	m, err := l.Raster(page, o)
	if err != nil {
		return err
	}
	return (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(w, m)
}

// Raster draws one page as pixels.
func (l *List) Raster(page int, o PNGOptions) (*image.RGBA, error) {
	size := l.pages[page].size
	if o.Width <= 0 {
		o.Width = int(math.Round(size.W.MM() * 6))
	}
	k := float64(o.Width) / size.W.MM()
	height := int(math.Round(size.H.MM() * k))
	if height < 1 || float64(o.Width)*float64(height) > maxPixels {
		return nil, &unit.InputError{
			Field: "width", Value: itoa(o.Width), Reason: "makes a picture of more than 40 million pixels or none", Hint: "use 1920",
		}
	}
	theme := Light()
	if o.Theme != nil {
		theme = *o.Theme
	}
	c := &pngCanvas{img: image.NewRGBA(image.Rect(0, 0, o.Width, height)), k: k, theme: theme}
	if !o.Transparent {
		stddraw.Draw(c.img, c.img.Rect, image.NewUniform(theme.Paper), image.Point{}, stddraw.Src)
	}
	l.play(page, c)
	return c.img, c.err
}

type pngCanvas struct {
	img   *image.RGBA
	k     float64 // pixels per millimetre
	theme Theme
	clips []*image.Alpha // per open group: what may be drawn on, nil for everything
	ras   vector.Rasterizer
	buf   sfnt.Buffer
	err   error
}

func (c *pngCanvas) clip() *image.Alpha {
	if len(c.clips) == 0 {
		return nil
	}
	return c.clips[len(c.clips)-1]
}

// loops is a set of closed outlines in pixels.
type loops [][]fpt

type fpt struct{ x, y float64 }

// paint fills the outlines with one colour. Where outlines overlap and run the
// same way round they count once.
func (c *pngCanvas) paint(ls loops, col color.RGBA) {
	r := ls.bounds().Intersect(c.img.Rect)
	if r.Empty() {
		return
	}
	c.trace(ls, r)
	src := image.NewUniform(col)
	clip := c.clip()
	if clip == nil {
		c.ras.Draw(c.img, r, src, image.Point{})
		return
	}
	cover := image.NewAlpha(r)
	c.ras.Draw(cover, r, image.Opaque, image.Point{})
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			i := cover.PixOffset(x, y)
			cover.Pix[i] = uint8(uint16(cover.Pix[i]) * uint16(clip.AlphaAt(x, y).A) / 255)
		}
	}
	stddraw.DrawMask(c.img, r, src, image.Point{}, cover, r.Min, stddraw.Over)
}

// trace loads the rasterizer with the outlines, seen from the corner of r.
func (c *pngCanvas) trace(ls loops, r image.Rectangle) {
	c.ras.Reset(r.Dx(), r.Dy())
	ox, oy := float64(r.Min.X), float64(r.Min.Y)
	for _, loop := range ls {
		for i, p := range loop {
			x, y := float32(p.x-ox), float32(p.y-oy)
			if i == 0 {
				c.ras.MoveTo(x, y)
			} else {
				c.ras.LineTo(x, y)
			}
		}
		c.ras.ClosePath()
	}
}

func (ls loops) bounds() image.Rectangle {
	lo, hi := fpt{math.MaxInt32, math.MaxInt32}, fpt{math.MinInt32, math.MinInt32}
	for _, loop := range ls {
		for _, p := range loop {
			lo.x, lo.y, hi.x, hi.y = min(lo.x, p.x), min(lo.y, p.y), max(hi.x, p.x), max(hi.y, p.y)
		}
	}
	if hi.x < lo.x {
		return image.Rectangle{}
	}
	return image.Rect(int(math.Floor(lo.x)), int(math.Floor(lo.y)), int(math.Ceil(hi.x))+1, int(math.Ceil(hi.y))+1)
}

// flatten returns the parts of a path in pixels, true to a twentieth of a pixel.
func (c *pngCanvas) flatten(p *Path) (ls loops, closed []bool) {
	chains, closed := p.flat(mm(0.05 / c.k))
	for _, ch := range chains {
		loop := make([]fpt, len(ch))
		for i, q := range ch {
			loop[i] = fpt{q.X.MM() * c.k, q.Y.MM() * c.k}
		}
		ls = append(ls, loop)
	}
	return ls, closed
}

func (c *pngCanvas) fill(p *Path, col Colour) {
	ls, _ := c.flatten(p)
	c.paint(ls, c.theme.Of(col))
}

func (c *pngCanvas) stroke(p *Path, pen Pen) {
	var dashes []float64
	for _, d := range pen.dashes() {
		dashes = append(dashes, d.MM()*c.k)
	}
	chains, closed := c.flatten(p)
	var out loops
	half := max(pen.Width.MM()*c.k, 0.7) / 2 // a line thinner than that would fade away
	for i, ch := range chains {
		if closed[i] {
			ch = append(ch, ch[0])
		}
		for _, piece := range dash(ch, dashes) {
			out = append(out, ribbon(piece, half)...)
		}
	}
	c.paint(out, c.theme.Of(pen.Colour))
}

func (c *pngCanvas) text(at Pt, s string, st Style) {
	if st.Knock {
		c.fill(Polygon(textCorners(at, s, st, knockMargin)...), Paper)
	}
	at = startOf(at, s, st)
	f := faceOf(st)
	k := st.size().MM() * c.k / f.perEm // pixels per font unit
	sin, cos := math.Sincos(st.Turn.Rad())
	x0, y0 := at.X.MM()*c.k, at.Y.MM()*c.k
	var out loops
	pen := 0.0
	for _, r := range s {
		out = append(out, c.glyph(f, r, func(x, y float64) fpt {
			x = (x + pen) * k
			y *= k // font outlines come with Y down
			return fpt{x0 + x*cos + y*sin, y0 - x*sin + y*cos}
		})...)
		pen += float64(f.advance(r))
	}
	c.paint(out, c.theme.Of(st.Colour))
}

// glyph returns the outlines of one letter.
func (c *pngCanvas) glyph(f *face, r rune, at func(x, y float64) fpt) loops {
	g, err := f.font.GlyphIndex(&c.buf, r)
	if err != nil {
		return nil
	}
	segs, err := f.font.LoadGlyph(&c.buf, g, fixed.I(int(f.perEm)), nil)
	if err != nil {
		return nil
	}
	pt := func(p fixed.Point26_6) fpt { return at(float64(p.X)/64, float64(p.Y)/64) }
	var out loops
	var loop []fpt
	for _, s := range segs {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if len(loop) > 0 {
				out = append(out, loop)
			}
			loop = []fpt{pt(s.Args[0])}
		case sfnt.SegmentOpLineTo:
			loop = append(loop, pt(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			a, b, d := loop[len(loop)-1], pt(s.Args[0]), pt(s.Args[1])
			const n = 6
			for i := 1; i <= n; i++ {
				t := float64(i) / n
				u := 1 - t
				loop = append(loop, fpt{u*u*a.x + 2*u*t*b.x + t*t*d.x, u*u*a.y + 2*u*t*b.y + t*t*d.y})
			}
		}
	}
	if len(loop) > 0 {
		out = append(out, loop)
	}
	return out
}

func (c *pngCanvas) image(b Box, im *imageOp) {
	pic, _, err := image.Decode(bytes.NewReader(im.data))
	if err != nil {
		c.err = err
		return
	}
	px := func(v mm) int { return int(math.Round(v.MM() * c.k)) }
	r := image.Rect(px(b.X), px(b.Y), px(b.Right()), px(b.Bottom()))
	opt := &xdraw.Options{}
	if m := c.clip(); m != nil {
		opt.DstMask = m
	}
	xdraw.CatmullRom.Scale(c.img, r, pic, pic.Bounds(), xdraw.Over, opt)
}

func (c *pngCanvas) link(Box, string, string) {}

func (c *pngCanvas) open(_, _ string, clip *Path) {
	outer := c.clip()
	if clip == nil {
		c.clips = append(c.clips, outer)
		return
	}
	mask := image.NewAlpha(c.img.Rect)
	ls, _ := c.flatten(clip)
	c.trace(ls, mask.Rect)
	c.ras.Draw(mask, mask.Rect, image.Opaque, image.Point{})
	if outer != nil {
		for i, a := range outer.Pix {
			mask.Pix[i] = uint8(uint16(mask.Pix[i]) * uint16(a) / 255)
		}
	}
	c.clips = append(c.clips, mask)
}

func (c *pngCanvas) shut() { c.clips = c.clips[:len(c.clips)-1] }
