package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"

	"github.com/gen2brain/heic"
	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"

	"thrum/unit"
)

// Limits bound what a photograph's file may ask of the machine. They are held
// against the file's header, before any memory is taken for its pixels.
type Limits struct {
	Bytes  int64 // of the file; 0 means 60 MB
	Pixels int   // of the picture; 0 means 60 million
	Memory int64 // bytes that decoding may take; 0 means 600 MB
}

func (l Limits) filled() Limits {
	if l.Bytes <= 0 {
		l.Bytes = 60e6
	}
	if l.Pixels <= 0 {
		l.Pixels = 60e6
	}
	if l.Memory <= 0 {
		l.Memory = 600e6
	}
	return l
}

// Meta is what a photograph's file says that bears on measuring. Nothing else is
// read out of it: not the place, the time, the camera's number or its owner.
type Meta struct {
	Format        Format
	Width, Height int         // in pixels, upright
	Turned        int         // the Exif orientation that was undone, 1 to 8; 1 where nothing had to be turned
	Focal         unit.Length // focal length of the lens; 0 where the file does not say
	Focal35       unit.Length // focal length that gives the same view on 36 x 24 mm; 0 where the file does not say
	Exposure      Exposure    // how the camera was set
}

const (
	leastSide = 16
	leastHEIC = 128 // below, the decoder takes the rows of colour for shorter than they are
	mostSide  = 30000
)

// Decode reads a photograph and turns it upright. What kind of file it is, is told
// from its contents, whatever its name says. Files that are damaged, cut short, too
// large or no photograph at all give a *unit.InputError that says which.
func Decode(r io.Reader, l Limits) (image.Image, Meta, error) {
	l = l.filled()
	b, err := io.ReadAll(io.LimitReader(r, l.Bytes+1))
	if err != nil {
		return nil, Meta{}, fmt.Errorf("reading the photo: %w", err)
	}
	if int64(len(b)) > l.Bytes {
		return nil, Meta{}, refuse("", fmt.Sprintf("is longer than %d MB", l.Bytes/1e6), "save it as a JPEG; one of 12 megapixels has 3 to 8 MB")
	}
	m := Meta{Format: Sniff(b), Turned: 1}
	if !m.Format.Readable() {
		return nil, m, unreadable(m.Format, len(b))
	}
	c, need, err := header(m.Format, b)
	if err != nil {
		return nil, m, err
	}
	if err := bounded(m.Format, c, need, l); err != nil {
		return nil, m, err
	}
	img, err := guarded(m.Format, func() (image.Image, error) { return pixels(m.Format, b) })
	if err != nil {
		return nil, m, damaged(m.Format, err)
	}
	d := img.Bounds()
	if m.Format == HEIC && d.Dx() == c.Height && d.Dy() == c.Width {
		c.Width, c.Height = c.Height, c.Width // turned by the decoder
	}
	if d.Dx() != c.Width || d.Dy() != c.Height {
		return nil, m, refuse(m.Format, fmt.Sprintf("is damaged: it announces %d x %d pixels and holds %d x %d", c.Width, c.Height, d.Dx(), d.Dy()), again)
	}
	exif(&m, b)
	if m.Format == HEIC {
		m.Turned = 1 // its own rotation has been applied by the decoder; Exif only repeats it
	}
	img = upright(img, m.Turned)
	m.Width, m.Height = img.Bounds().Dx(), img.Bounds().Dy()
	return img, m, nil
}

// header reads the size of a picture and reckons the memory that decoding takes,
// with the copies that turning it needs.
func header(f Format, b []byte) (image.Config, int64, error) {
	c, err := guarded(f, func() (image.Config, error) {
		switch f {
		case JPEG:
			return jpeg.DecodeConfig(bytes.NewReader(b))
		case PNG:
			return png.DecodeConfig(bytes.NewReader(b))
		case TIFF:
			return tiff.DecodeConfig(bytes.NewReader(b))
		case WebP:
			return webp.DecodeConfig(bytes.NewReader(b))
		default:
			return heicConfig(b)
		}
	})
	if err != nil {
		return c, 0, damaged(f, err)
	}
	per := int64(3) // luminance and two colours
	switch c.ColorModel {
	case color.RGBAModel, color.NRGBAModel, color.CMYKModel:
		per = 4
	case color.RGBA64Model, color.NRGBA64Model:
		per = 8
	case color.GrayModel:
		per = 1
	case color.Gray16Model:
		per = 2
	}
	need := 3 * per
	if f == JPEG && progressive(b) {
		need += 4 * per // every coefficient is held, 32 bits each
	}
	if f == HEIC {
		need *= 2 // the decoder keeps its own
	}
	return c, need * int64(c.Width) * int64(c.Height), nil
}

func bounded(f Format, c image.Config, need int64, l Limits) error {
	w, h := c.Width, c.Height
	size := fmt.Sprintf("%d x %d pixels", w, h)
	least := leastSide
	if f == HEIC {
		least = leastHEIC
	}
	switch {
	case w < least || h < least:
		return refuse(f, "has only "+size, "give the photo as the camera took it")
	case w > mostSide || h > mostSide || int64(w)*int64(h) > int64(l.Pixels):
		return refuse(f, fmt.Sprintf("has %s, more than %.3g million", size, float64(l.Pixels)/1e6), "crop it to the thread, or save it at half the size")
	case need > l.Memory:
		return refuse(f, fmt.Sprintf("has %s and would take %d MB to decode", size, need/1e6), "save it as an ordinary JPEG, or crop it to the thread")
	}
	return nil
}

func pixels(f Format, b []byte) (image.Image, error) {
	r := bytes.NewReader(b)
	switch f {
	case JPEG:
		return jpeg.Decode(r)
	case PNG:
		return png.Decode(r)
	case TIFF:
		return tiff.Decode(r)
	case WebP:
		return webp.Decode(r)
	}
	return heic.Decode(r)
}

// heicConfig asks the HEIC decoder for the size. The decoder is the sandboxed one
// that the program carries; a build that would hand the file to a library of the
// system instead is refused, since what it makes of a hostile file is not ours to say.
func heicConfig(b []byte) (image.Config, error) {
	if heic.Dynamic() == nil {
		return image.Config{}, refuse(HEIC, "cannot be read by this build of the program", `build it with "-tags nodynamic", or save the photo as JPEG`)
	}
	c, err := heic.DecodeConfig(bytes.NewReader(b))
	if err == nil {
		return c, nil
	}
	// The decoder looks at the beginning only, and some telephones write Exif behind the
	// picture, where it misses it. The size stands in the beginning all the same.
	if w, h := spatialExtents(b[:min(len(b), 1<<20)]); w > 0 && h > 0 {
		return image.Config{ColorModel: color.YCbCrModel, Width: w, Height: h}, nil
	}
	return c, err
}

// spatialExtents returns the largest size that an "ispe" property states (ISO/IEC 23008-12, 6.5.3: box
// size, name, version and flags, width, height, 32 bits each), before any turning; tiles state theirs too.
func spatialExtents(b []byte) (w, h int) {
	for i := bytes.Index(b, []byte("ispe")); i >= 0 && i+16 <= len(b); {
		x, y := binary.BigEndian.Uint32(b[i+8:]), binary.BigEndian.Uint32(b[i+12:])
		if uint64(x)*uint64(y) > uint64(w)*uint64(h) {
			w, h = int(x), int(y)
		}
		next := bytes.Index(b[i+4:], []byte("ispe"))
		if next < 0 {
			break
		}
		i += 4 + next
	}
	return w, h
}

// progressive tells whether a JPEG comes in several scans.
func progressive(b []byte) bool {
	for i := 2; i+4 <= len(b) && b[i] == 0xFF; {
		marker := b[i+1]
		switch {
		case marker == 0xFF:
			i++
			continue
		case marker == 0xC2:
			return true
		case marker == 0xDA || marker == 0xC0 || marker == 0xC1:
			return false
		}
		i += 2 + int(b[i+2])<<8 + int(b[i+3])
	}
	return false
}

const again = "copy it from the camera again"

// refuse is the error for what a file holds. The caller knows the file's name.
func refuse(f Format, reason, hint string) error {
	return &unit.InputError{Field: "photo", Value: string(f), Reason: reason, Hint: hint}
}

func damaged(f Format, err error) error {
	var in *unit.InputError
	switch {
	case errors.As(err, &in):
		return err
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
		return refuse(f, "ends too early: part of it is missing", again)
	}
	return refuse(f, "is damaged or was cut short: "+err.Error(), again)
}

// guarded calls a decoder of another library and turns a panic into an error.
func guarded[T any](f Format, do func() (T, error)) (v T, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = refuse(f, "is damaged: the decoder gave up", again)
		}
	}()
	return do()
}
