package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thrum/unit"
)

func picture(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "files", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// apart is the root of the mean squared difference of two pictures, in steps of 255.
func apart(a, b image.Image) float64 {
	if a.Bounds().Size() != b.Bounds().Size() {
		return math.Inf(1)
	}
	sum, n := 0.0, 0
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			r, g, bl, _ := a.At(a.Bounds().Min.X+x, a.Bounds().Min.Y+y).RGBA()
			r2, g2, b2, _ := b.At(b.Bounds().Min.X+x, b.Bounds().Min.Y+y).RGBA()
			for _, d := range []float64{float64(r) - float64(r2), float64(g) - float64(g2), float64(bl) - float64(b2)} {
				sum += d * d / 257 / 257
				n++
			}
		}
	}
	return math.Sqrt(sum / float64(n))
}

// Every file was made, and every expected picture drawn, by another program
// (testdata/files/make.sh: ImageMagick, exiftool, libheif, libwebp).
func TestDecodeAgainstOtherPrograms(t *testing.T) {
	cases := []struct {
		file, seen string
		format     Format
		turned     int
		within     float64
	}{
		{"upright.png", "upright.png", PNG, 1, 0},
		{"deep.png", "upright.png", PNG, 1, 0.5},
		{"lzw.tif", "upright.png", TIFF, 1, 0},
		{"deep.tif", "upright.png", TIFF, 1, 0.5},
		{"lossless.webp", "upright.png", WebP, 1, 0.5},
		{"lossy.webp", "upright.png", WebP, 1, 12},
		{"progressive.jpg", "upright.png", JPEG, 1, 12},
		{"exifonly.heic", "large.png", HEIC, 1, 6},
		{"turned6.heic", "turned6.heic.png", HEIC, 1, 8},
		{"late.heic", "late.png", HEIC, 1, 12},
	}
	for n := 1; n <= 8; n++ {
		cases = append(cases, struct {
			file, seen string
			format     Format
			turned     int
			within     float64
		}{fmt.Sprintf("turned%d.jpg", n), fmt.Sprintf("seen%d.png", n), JPEG, n, 1})
	}
	for _, c := range cases {
		want, err := png.Decode(bytes.NewReader(picture(t, c.seen)))
		if err != nil {
			t.Fatal(err)
		}
		img, m, err := Decode(bytes.NewReader(picture(t, c.file)), Limits{})
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		if d := apart(img, want); d > c.within {
			t.Errorf("%s against %s: the pictures differ by %.2f of 255, at most %g expected", c.file, c.seen, d, c.within)
		}
		if m.Format != c.format || m.Turned != c.turned {
			t.Errorf("%s: format %s turned %d, want %s %d", c.file, m.Format, m.Turned, c.format, c.turned)
		}
		if m.Width != want.Bounds().Dx() || m.Height != want.Bounds().Dy() {
			t.Errorf("%s: size %d x %d", c.file, m.Width, m.Height)
		}
	}
}

func TestDecodeFocalLength(t *testing.T) {
	for _, file := range []string{"turned3.jpg", "turned6.heic"} {
		_, m, err := Decode(bytes.NewReader(picture(t, file)), Limits{})
		if err != nil || m.Focal != 4.25 || m.Focal35 != 26 {
			t.Errorf("%s: focal length %v, on 36 x 24 mm %v, error %v; exiftool wrote 4.25 and 26", file, m.Focal, m.Focal35, err)
		}
	}
	if _, m, err := Decode(bytes.NewReader(picture(t, "grey.png")), Limits{}); err != nil || m.Focal != 0 {
		t.Errorf("a file without Exif: focal length %v, error %v", m.Focal, err)
	}
}

// Turning a picture twice by opposite orientations gives it back, on every kind of picture.
func TestUprightThereAndBack(t *testing.T) {
	r := image.Rect(3, 2, 24, 19)
	kinds := []image.Image{image.NewGray(r), image.NewRGBA(r), image.NewRGBA64(r), image.NewYCbCr(r, image.YCbCrSubsampleRatio420)}
	back := map[int]int{2: 2, 3: 3, 4: 4, 5: 5, 6: 8, 7: 7, 8: 6}
	for _, img := range kinds {
		switch p := img.(type) {
		case *image.Gray:
			fillBytes(p.Pix)
		case *image.RGBA:
			for i := range p.Pix {
				p.Pix[i] = 255
				if i%4 < 3 {
					p.Pix[i] = uint8(i * 7)
				}
			}
		case *image.RGBA64:
			for i := range p.Pix {
				p.Pix[i] = 255
				if i%8 < 6 {
					p.Pix[i] = uint8(i * 7)
				}
			}
		case *image.YCbCr:
			fillBytes(p.Y)
			fillBytes(p.Cb)
			fillBytes(p.Cr)
		}
		for o, b := range back {
			if d := apart(upright(upright(img, o), b), img); d != 0 {
				t.Errorf("%T turned by %d and back by %d differs by %g", img, o, b, d)
			}
		}
	}
}

func fillBytes(p []uint8) {
	for i := range p {
		p[i] = uint8(i*i*13 + i)
	}
}

func refusal(t *testing.T, b []byte, l Limits) string {
	t.Helper()
	_, _, err := Decode(bytes.NewReader(b), l)
	if err == nil {
		t.Error("it was read")
		return ""
	}
	var in *unit.InputError
	if !errors.As(err, &in) {
		t.Errorf("error %v is not an input error", err)
		return ""
	}
	if in.Hint == "" || in.Reason == "" {
		t.Errorf("error %v gives no reason or no way out", err)
	}
	return in.Value + ": " + in.Reason
}

func TestDecodeRefuses(t *testing.T) {
	jpg, dot := picture(t, "turned1.jpg"), picture(t, "upright.png")
	var tiny bytes.Buffer
	if err := jpeg.Encode(&tiny, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	cases := []struct {
		name string
		b    []byte
		l    Limits
		want string
	}{
		{"nothing", nil, Limits{}, "is empty"},
		{"cut JPEG", jpg[:len(jpg)/2], Limits{}, "JPEG: is damaged or was cut short"},
		{"cut PNG", dot[:len(dot)/2], Limits{}, "PNG: is damaged or was cut short"},
		{"cut TIFF", picture(t, "lzw.tif")[:1000], Limits{}, "TIFF: "},
		{"cut WebP", picture(t, "lossy.webp")[:400], Limits{}, "WebP: "},
		{"cut HEIC", picture(t, "turned6.heic")[:1500], Limits{}, "HEIC: "},
		{"header alone", jpg[:3], Limits{}, "part of it is missing"},
		{"GIF", picture(t, "upright.gif"), Limits{}, "GIF: is a picture of a kind that cannot be read"},
		{"BMP", picture(t, "upright.bmp"), Limits{}, "BMP: is a picture of a kind that cannot be read"},
		{"words", []byte("<!doctype html><title>photo.jpg</title>"), Limits{}, "text: is not a photo, whatever its name says"},
		{"film", []byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00isommp42"), Limits{}, "film: is a moving picture"},
		{"animated WebP", picture(t, "moving.webp"), Limits{}, "film: is a moving picture"},
		{"AVIF", []byte("\x00\x00\x00\x1cftypavif\x00\x00\x00\x00avifmif1miaf"), Limits{}, "AVIF: "},
		{"raw", []byte("II*\x00\x10\x00\x00\x00CR\x02\x00"), Limits{}, "camera raw: cannot be read directly"},
		{"noise", []byte{0, 1, 2, 3, 250, 251, 252}, Limits{}, "unknown: is not a photo"},
		{"long file", jpg, Limits{Bytes: 100}, "is longer than"},
		{"many pixels", dot, Limits{Pixels: 6143}, "has 96 x 64 pixels"},
		{"much memory", dot, Limits{Memory: 1000}, "would take"},
		{"small HEIC", picture(t, "small.heic"), Limits{}, "has only 96 x 64 pixels"},
		{"tiny", tiny.Bytes(), Limits{}, "has only 8 x 8 pixels"},
	}
	for _, c := range cases {
		if got := refusal(t, c.b, c.l); !strings.Contains(got, c.want) {
			t.Errorf("%s: refused as %q, want %q in it", c.name, got, c.want)
		}
	}
}

// A header of a few bytes may announce a picture that fills the memory. It is
// refused by the header alone: decoding would allocate gigabytes.
func TestDecodeRefusesBombs(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk := func(kind string, data []byte) {
		body := append([]byte(kind), data...)
		if err := errors.Join(binary.Write(&b, binary.BigEndian, uint32(len(data))), binary.Write(&b, binary.BigEndian, body),
			binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(body))); err != nil {
			t.Fatal(err)
		}
	}
	ihdr := make([]byte, 13)
	binary.BigEndian.PutUint32(ihdr, 60000)
	binary.BigEndian.PutUint32(ihdr[4:], 60000)
	ihdr[8], ihdr[9] = 16, 6
	chunk("IHDR", ihdr)
	chunk("IDAT", []byte{0x78, 0x9c})
	allocated := testing.AllocsPerRun(1, func() {
		if got := refusal(t, b.Bytes(), Limits{}); !strings.Contains(got, "60000 x 60000 pixels") {
			t.Errorf("refused as %q", got)
		}
	})
	if allocated > 1000 {
		t.Errorf("refusing took %g allocations", allocated)
	}
	// The same within the number of pixels, but 16 bits a colour.
	binary.BigEndian.PutUint32(ihdr, 7000)
	binary.BigEndian.PutUint32(ihdr[4:], 7000)
	b.Reset()
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk("IHDR", ihdr)
	chunk("IDAT", []byte{0x78, 0x9c})
	if got := refusal(t, b.Bytes(), Limits{}); !strings.Contains(got, "would take 1176 MB to decode") {
		t.Errorf("refused as %q", got)
	}
}

func TestDecodeReportsFailingReader(t *testing.T) {
	broken := errors.New("the cable was pulled")
	_, _, err := Decode(io.MultiReader(bytes.NewReader(picture(t, "turned1.jpg")), failing{broken}), Limits{})
	if !errors.Is(err, broken) {
		t.Errorf("error %v does not wrap the reader's", err)
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// FuzzDecode: whatever the bytes, Decode answers with an upright picture within
// the limits or an input error.
func FuzzDecode(f *testing.F) {
	fuzz(f, func(k Format) bool { return k != HEIC })
}

// FuzzHEIC is apart because its decoder is a hundred times slower.
func FuzzHEIC(f *testing.F) {
	fuzz(f, func(k Format) bool { return k == HEIC })
}

func fuzz(f *testing.F, mine func(Format) bool) {
	names, err := filepath.Glob(filepath.Join("testdata", "files", "*.*"))
	if err != nil || len(names) == 0 {
		f.Fatal("no seeds", err)
	}
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			f.Fatal(err)
		}
		if mine(Sniff(b)) {
			f.Add(b)
			f.Add(b[:2*len(b)/3])
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if !mine(Sniff(b)) {
			t.Skip()
		}
		img, m, err := Decode(bytes.NewReader(b), Limits{Bytes: 1 << 20, Pixels: 1 << 20, Memory: 32 << 20})
		var in *unit.InputError
		switch {
		case err != nil && !errors.As(err, &in):
			t.Fatalf("error %v is not an input error", err)
		case err == nil && (img.Bounds().Dx() != m.Width || img.Bounds().Dy() != m.Height || m.Width*m.Height > 1<<20):
			t.Fatalf("picture %v, announced %d x %d", img.Bounds(), m.Width, m.Height)
		case err == nil && (m.Turned < 1 || m.Turned > 8 || m.Focal < 0 || m.Focal35 < 0):
			t.Fatalf("meta %+v", m)
		}
	})
}

// BenchmarkDecode decodes what telephones make today: 12 megapixels of JPEG, lying on its side.
func BenchmarkDecode(b *testing.B) {
	src := image.NewYCbCr(image.Rect(0, 0, 4032, 3024), image.YCbCrSubsampleRatio420)
	for i := range src.Y {
		src.Y[i] = uint8(i % 4032 / 9 * 31)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, src, nil); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(buf.Len()))
	for b.Loop() {
		if _, _, err := Decode(bytes.NewReader(buf.Bytes()), Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
