package photo

import (
	"fmt"
	"image"
	"math"
	"sync"

	"thrum/unit"
)

// Picture is a photograph as measuring needs it: an upright grey plane in linear
// light, 0 black to 1 white, and which pixels are burnt out. Colour is dropped.
type Picture struct {
	w, h  int
	bytes raw
	grey  []float32 // light, where the picture is not held as bytes
	burnt []bool
}

// Burnt-out is 0.97 of white as the file stores it, in any colour.
const burntLevel = 0.97

const (
	leastPicture = 64
	mostPixels   = 120e6
)

// NewPicture takes the light out of an image: the stored values are turned back
// into linear light by the inverse of the sRGB curve (IEC 61966-2-1), since marks
// are told by how much light a slope sends back, not by how a screen shows it.
// From a JPEG the luma is used. The image must not be changed afterwards.
func NewPicture(img image.Image) (*Picture, error) {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	size := fmt.Sprintf("%d x %d pixels", w, h)
	switch {
	case w < leastPicture || h < leastPicture:
		return nil, &unit.InputError{Field: "picture", Value: size, Reason: "is too small to measure in", Hint: fmt.Sprintf("at least %d x %d", leastPicture, leastPicture)}
	case w*h > mostPixels:
		return nil, &unit.InputError{Field: "picture", Value: size, Reason: "is too large", Hint: "at most 120 million pixels"}
	}
	p := &Picture{w: w, h: h}
	switch src := img.(type) {
	case *image.YCbCr:
		p.bytes = raw{src.Y[src.YOffset(b.Min.X, b.Min.Y):], src.YStride, src, linear()}
	case *image.Gray:
		p.bytes = raw{src.Pix[src.PixOffset(b.Min.X, b.Min.Y):], src.Stride, nil, linear()}
	default:
		p.grey, p.burnt = make([]float32, w*h), make([]bool, w*h)
		inBands(h, func(y0, y1 int) { p.fillFrom(img, y0, y1) })
	}
	return p, nil
}

// Size returns the width and height in pixels.
func (p *Picture) Size() (w, h int) { return p.w, p.h }

// Grey returns the light at a pixel, 0 to 1, and whether it is burnt out.
func (p *Picture) Grey(x, y int) (light float64, burnt bool) {
	if s := &p.bytes; s.luma != nil {
		return float64(s.light[s.luma[y*s.stride+x]]), s.full(x, y)
	}
	return float64(p.grey[y*p.w+x]), p.burnt[y*p.w+x]
}

// linear is the inverse of the sRGB curve for stored values 0 to 255.
var linear = sync.OnceValue(func() *[256]float32 {
	var t [256]float32
	for i := range t {
		t[i] = float32(linearOf(float64(i) / 255))
	}
	return &t
})

func linearOf(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// raw holds the picture as bytes, as it came: the light of most pixels of a large
// photograph is asked for once or never.
type raw struct {
	luma   []uint8 // nil where the picture is held as light
	stride int
	colour *image.YCbCr // nil where there is none
	light  *[256]float32
}

// full tells whether a pixel is burnt out, judged on the strongest colour.
func (s *raw) full(x, y int) bool {
	const top = 247 // 0.97 of 255
	v := s.luma[y*s.stride+x]
	if s.colour == nil {
		return v > top
	}
	if v < 128 { // no colour can be full
		return false
	}
	c := s.colour.COffset(s.colour.Rect.Min.X+x, s.colour.Rect.Min.Y+y)
	cb, cr := int32(s.colour.Cb[c])-128, int32(s.colour.Cr[c])-128
	// ITU-R BT.601 as JFIF uses it, in 1/1024.
	rise := max(1436*cr, 1815*cb, -352*cb-731*cr)
	return int32(v)+rise>>10 > top
}

// fillFrom takes any other image, with the luma weights of Rec. 709.
func (p *Picture) fillFrom(src image.Image, y0, y1 int) {
	b := src.Bounds()
	for y := y0; y < y1; y++ {
		for x := range p.w {
			r, g, bl, _ := src.At(b.Min.X+x, b.Min.Y+y).RGBA()
			i := y*p.w + x
			p.grey[i] = float32(0.2126*linearOf(float64(r)/65535) + 0.7152*linearOf(float64(g)/65535) + 0.0722*linearOf(float64(bl)/65535))
			p.burnt[i] = float64(max(r, g, bl)) > burntLevel*65535
		}
	}
}

// inBands runs do over the rows 0 to h in a few strips at the same time.
func inBands(h int, do func(y0, y1 int)) {
	const strips = 4
	var wg sync.WaitGroup
	for i := range strips {
		wg.Go(func() { do(h*i/strips, h*(i+1)/strips) })
	}
	wg.Wait()
}

// reduced is the picture made smaller by a whole factor, each pixel the mean of
// factor x factor, for finding where things are.
type reduced struct {
	w, h   int
	factor int
	grey   []float32
}

// reduce makes the longer side of a large picture at most reducedSide pixels; smaller
// pictures stay as they are.
func (p *Picture) reduce() *reduced {
	k := 1
	if long := max(p.w, p.h); long > findSide {
		k = (long + reducedSide - 1) / reducedSide
	}
	q := &reduced{w: p.w / k, h: p.h / k, factor: k}
	if k == 1 && p.grey != nil {
		q.grey = p.grey
		return q
	}
	q.grey = make([]float32, q.w*q.h)
	scale := 1 / float32(k*k)
	inBands(q.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			out := q.grey[y*q.w:][:q.w]
			for j := range k {
				if s := &p.bytes; s.luma != nil {
					s.addRow(out, y*k+j, k)
					continue
				}
				row := p.grey[(y*k+j)*p.w:]
				for x := range out {
					for _, v := range row[x*k : x*k+k] {
						out[x] += v
					}
				}
			}
			for x := range out {
				out[x] *= scale
			}
		}
	})
	return q
}

// addRow adds the light of a row to out, k neighbours to each.
func (s *raw) addRow(out []float32, y, k int) {
	row, light := s.luma[y*s.stride:][:len(out)*k], s.light
	for x := range out {
		sum := out[x]
		for _, v := range row[x*k : x*k+k] {
			sum += light[v]
		}
		out[x] = sum
	}
}

// at samples between pixels; x and y are in pixels of the reduced picture.
func (q *reduced) at(x, y float64) (v float32, ok bool) {
	i, j := int(x), int(y)
	if x < 0 || y < 0 || i >= q.w-1 || j >= q.h-1 {
		return 0, false
	}
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	a := q.grey[j*q.w+i:]
	b := q.grey[(j+1)*q.w+i:]
	return (a[0]*(1-fx)+a[1]*fx)*(1-fy) + (b[0]*(1-fx)+b[1]*fx)*fy, true
}

// at samples the full picture between pixels; ok is false outside the frame and
// next to burnt-out pixels.
func (p *Picture) at(x, y float64) (v float32, ok bool) {
	i, j := int(x), int(y)
	if x < 0 || y < 0 || i >= p.w-1 || j >= p.h-1 {
		return 0, false
	}
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	if s := &p.bytes; s.luma != nil {
		if s.full(i, j) || s.full(i+1, j) || s.full(i, j+1) || s.full(i+1, j+1) {
			return 0, false
		}
		a, b, l := s.luma[j*s.stride+i:][:2], s.luma[(j+1)*s.stride+i:][:2], s.light
		return (l[a[0]]*(1-fx)+l[a[1]]*fx)*(1-fy) + (l[b[0]]*(1-fx)+l[b[1]]*fx)*fy, true
	}
	k := j*p.w + i
	if p.burnt[k] || p.burnt[k+1] || p.burnt[k+p.w] || p.burnt[k+p.w+1] {
		return 0, false
	}
	return (p.grey[k]*(1-fx)+p.grey[k+1]*fx)*(1-fy) + (p.grey[k+p.w]*(1-fx)+p.grey[k+p.w+1]*fx)*fy, true
}
