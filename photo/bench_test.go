//go:build unix

package photo_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"syscall"
	"testing"

	"thrum/photo"
)

// twelve is a colour JPEG of 4000 x 3000 pixels as a telephone makes it, with marks.
func twelve(b *testing.B) (scene, []byte) {
	b.Helper()
	s := usual(12)
	s.W, s.H, s.Marks, s.Radial, s.Blur = 4000, 3000, 147.3, 0.005, 1.5
	grey := s.expose(s.render())
	img := image.NewYCbCr(grey.Rect, image.YCbCrSubsampleRatio420)
	copy(img.Y, grey.Pix)
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(126+i%3), uint8(130-i%5)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 92}); err != nil {
		b.Fatal(err)
	}
	return s, buf.Bytes()
}

// worked is the processor time that this process has used, which others on the same
// machine do not stretch as they stretch the clock's.
func worked(b *testing.B) int64 {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return u.Utime.Nano() + u.Stime.Nano()
}

// The two are to be compared with each other in one run: decoding and measuring
// together may take three times as long as decoding alone.
func BenchmarkTwelveMegapixels(b *testing.B) {
	s, data := twelve(b)
	b.Run("decode", func(b *testing.B) {
		from := worked(b)
		for b.Loop() {
			if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(worked(b)-from)/float64(b.N), "cpu-ns/op")
	})
	b.Run("decode and measure", func(b *testing.B) {
		from := worked(b)
		for b.Loop() {
			img, err := jpeg.Decode(bytes.NewReader(data))
			if err != nil {
				b.Fatal(err)
			}
			p, err := photo.NewPicture(img)
			if err != nil {
				b.Fatal(err)
			}
			r, err := photo.Measure(p, s.thread(), photo.Options{})
			if err != nil || r.Verdict != photo.Accepted {
				b.Fatalf("%+v, %v", r, err)
			}
		}
		b.ReportMetric(float64(worked(b)-from)/float64(b.N), "cpu-ns/op")
	})
}
