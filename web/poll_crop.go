package web

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"sync"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"thrum/store"
)

// Every crop of a poll is made here, pixel by pixel from the photograph: one size,
// one light, one encoder. Nothing of the photograph's file goes along.
const (
	cropSide    = 720 // pixels
	cropQuality = 88  // of the JPEG
	mostGain    = 2.0 // by how much a crop is made brighter or darker, at most
)

// cropOf takes the square that an item names out of a photograph, turned, and scales it
// to the one size. What lies beyond the photograph is middle grey.
func cropOf(photo image.Image, it store.PollItem) *image.RGBA {
	b := photo.Bounds()
	side := it.Side * float64(min(b.Dx(), b.Dy()))
	scale := cropSide / side
	sin, cos := math.Sincos(it.Turn * math.Pi / 180)
	cx, cy := float64(b.Min.X)+it.MiddleX*float64(b.Dx()), float64(b.Min.Y)+it.MiddleY*float64(b.Dy())
	// A point p of the photograph goes to R(p-c) scale + middle.
	m := f64.Aff3{
		scale * cos, -scale * sin, cropSide/2 - scale*(cos*cx-sin*cy),
		scale * sin, scale * cos, cropSide/2 - scale*(sin*cx+cos*cy),
	}
	out := image.NewRGBA(image.Rect(0, 0, cropSide, cropSide))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.Gray{128}), image.Point{}, draw.Src)
	var k draw.Transformer = draw.CatmullRom
	if scale > 1 {
		k = draw.BiLinear // enlarging; sharper ones ring
	}
	k.Transform(out, m, photo, b, draw.Over, nil)
	return out
}

// light is the tables between the values of a picture's file and linear light (sRGB,
// IEC 61966-2-1).
var light = sync.OnceValues(func() (to [256]float64, from [4097]uint8) {
	for i := range to {
		v := float64(i) / 255
		if v <= 0.04045 {
			to[i] = v / 12.92
		} else {
			to[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	for i := range from {
		v := float64(i) / 4096
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		from[i] = uint8(math.Round(255 * v))
	}
	return to, from
})

// brightness is the mean of the linear light of a crop.
func brightness(p *image.RGBA) float64 {
	to, _ := light()
	sum := 0.0
	for i := 0; i < len(p.Pix); i += 4 {
		sum += 0.2126*to[p.Pix[i]] + 0.7152*to[p.Pix[i+1]] + 0.0722*to[p.Pix[i+2]]
	}
	return sum / float64(len(p.Pix)/4)
}

// brighten multiplies the linear light of a crop, as a longer exposure would.
func brighten(p *image.RGBA, gain float64) {
	to, from := light()
	var table [256]uint8
	for i := range table {
		table[i] = from[int(min(1, to[i]*gain)*4096)]
	}
	for i := 0; i < len(p.Pix); i += 4 {
		p.Pix[i], p.Pix[i+1], p.Pix[i+2] = table[p.Pix[i]], table[p.Pix[i+1]], table[p.Pix[i+2]]
	}
}

// sameLight brings crops to one mean brightness, the middle one of theirs, as far as
// it takes no more than mostGain.
func sameLight(crops []*image.RGBA) {
	logs := 0.0
	means := make([]float64, len(crops))
	for i, c := range crops {
		means[i] = max(brightness(c), 1e-4)
		logs += math.Log(means[i])
	}
	aim := math.Exp(logs / float64(len(crops)))
	for i, c := range crops {
		brighten(c, min(mostGain, max(1/mostGain, aim/means[i])))
	}
}

// encoded is a picture as a bare JPEG: the encoder writes pixels and nothing else.
func encoded(p image.Image) ([]byte, error) {
	var b bytes.Buffer
	err := jpeg.Encode(&b, p, &jpeg.Options{Quality: cropQuality})
	return b.Bytes(), err
}
