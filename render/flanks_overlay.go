package render

import (
	"bytes"
	"image"
	"image/jpeg"

	scale "golang.org/x/image/draw"

	"thrum/draw"
	"thrum/photo"
	"thrum/unit"
)

// Reduced returns the picture with its longer side at most side pixels, and by what
// it was made smaller.
func Reduced(img image.Image, side int) (image.Image, float64) {
	b := img.Bounds()
	k := float64(max(b.Dx(), b.Dy())) / float64(side)
	if k <= 1 {
		return img, 1
	}
	dst := image.NewRGBA(image.Rect(0, 0, int(float64(b.Dx())/k), int(float64(b.Dy())/k)))
	scale.ApproxBiLinear.Scale(dst, dst.Rect, img, b, scale.Src, nil)
	return dst, k
}

// overlaySide is the longer side of a drawn overlay, in pixels.
const overlaySide = 1800

// FlankOverlay draws what was made out over the photograph: the silhouettes, the
// axis, the crests and roots, with a legend below. It returns the drawing and the
// width in pixels at which the photograph in it is sharp.
func FlankOverlay(img image.Image, t photo.Thread, r *photo.Reading) (*draw.List, int, error) {
	small, k := Reduced(img, overlaySide)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, small, &jpeg.Options{Quality: 88}); err != nil {
		return nil, 0, err
	}
	w, h := small.Bounds().Dx(), small.Bounds().Dy()
	// Words and pens are sized for a picture 200 mm wide.
	const wide = 200
	mm := wide / float64(w)
	l := draw.New(draw.Size{W: wide, H: unit.Length(float64(h)*mm + overlayFoot)}, "Outline over the photo")
	if err := l.Image(draw.Box{W: wide, H: unit.Length(float64(h) * mm)}, b.Bytes(), "the photo"); err != nil {
		return nil, 0, err
	}
	at := func(p photo.Point) draw.Pt {
		return draw.Pt{X: unit.Length(p.X / k * mm), Y: unit.Length(p.Y / k * mm)}
	}
	if r != nil && r.Geometry != nil {
		o, err := r.Geometry.Overlay(t)
		if err != nil {
			return nil, 0, err
		}
		drawOverlay(l, o, at)
	}
	legend(l, r, float64(h)*mm)
	return l, w, nil
}

func drawOverlay(l *draw.List, o *photo.Overlay, at func(photo.Point) draw.Pt) {
	frame := l.Size(0)
	l.Group(draw.Group{Title: "outline", Clip: draw.Rect(draw.Box{W: frame.W, H: frame.H - overlayFoot})})
	defer l.End()
	trace := func(pts []photo.Point, pen draw.Pen) {
		path := make([]draw.Pt, len(pts))
		for i, p := range pts {
			path[i] = at(p)
		}
		l.Stroke(draw.Polyline(path...), draw.Pen{Width: pen.Width + 0.5, Colour: draw.Paper})
		l.Stroke(draw.Polyline(path...), pen)
	}
	for _, r := range o.Roots {
		trace(r, rootPen)
	}
	for _, c := range o.Crests {
		trace(c, crestPen)
	}
	for _, e := range [][2]photo.Point{o.Upper, o.Lower} {
		if e != [2]photo.Point{} {
			trace(e[:], edgePen)
		}
	}
	trace(o.Axis[:], axisPen)
}

const overlayFoot = 22

// The pens of an overlay. They differ in kind as well as in colour.
var (
	edgePen  = draw.Pen{Name: "silhouette", Width: 0.7, Colour: draw.Accent}
	crestPen = draw.Pen{Name: "crest", Width: 0.5, Colour: draw.Accent, Line: draw.Dashed}
	rootPen  = draw.Pen{Name: "root", Width: 0.25, Colour: draw.Ink}
	axisPen  = draw.Pen{Name: "axis", Width: 0.35, Colour: draw.Ink, Line: draw.LongDashDot}
)

// legend names the lines and says what to look for.
func legend(l *draw.List, r *photo.Reading, y float64) {
	x := unit.Length(4)
	base := unit.Length(y) + 7
	for _, e := range []struct {
		pen  draw.Pen
		word string
	}{{edgePen, "silhouette: along the crest tips"}, {crestPen, "crests"}, {rootPen, "roots"}, {axisPen, "axis"}} {
		l.Stroke(draw.Segment(draw.Pt{X: x, Y: base - 1}, draw.Pt{X: x + 10, Y: base - 1}), e.pen)
		st := draw.Style{Size: 3.4}
		l.Text(draw.Pt{X: x + 12, Y: base}, e.word, st)
		x += 18 + st.Width(e.word)
	}
	words := "No thread was made out in this picture."
	if r != nil && r.Geometry != nil {
		words = "Check that the lines lie where they say. Where they do not, no number from this photo holds."
	}
	l.Text(draw.Pt{X: 4, Y: base + 8}, words, draw.Style{Size: 3.8, Bold: true})
}
