package draw

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares text with a kept file.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs from the kept one; look at it and run the test with -update if it is right", name)
	}
}

func write(t *testing.T, do func(*bytes.Buffer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := do(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSVGGolden(t *testing.T) {
	l := specimen()
	for i, name := range []string{"specimen-1.svg", "specimen-2.svg"} {
		golden(t, name, write(t, func(b *bytes.Buffer) error { return l.SVG(b, i, SVGOptions{}) }))
	}
}

func TestDXFGolden(t *testing.T) {
	golden(t, "specimen-1.dxf", write(t, func(b *bytes.Buffer) error { return specimen().DXF(b, 0, DXFOptions{Origin: Pt{115, 50}}) }))
}

// The hash also holds for the deflate encoder of the Go release in go.mod; with
// another release the text below still tells whether the document is the same.
func TestPDFGolden(t *testing.T) {
	data := write(t, func(b *bytes.Buffer) error { return specimen().PDF(b) })
	again := write(t, func(b *bytes.Buffer) error { return specimen().PDF(b) })
	if !bytes.Equal(data, again) {
		t.Error("the same list gave two different documents")
	}
	sum := sha256.Sum256(data)
	golden(t, "specimen.pdf.sha256", []byte(hex.EncodeToString(sum[:])+"\n"))

	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext is not installed: the text of the document is not checked")
	}
	file := filepath.Join(t.TempDir(), "specimen.pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "specimen.pdf.txt", text)
}

func TestPNGGolden(t *testing.T) {
	dark := Dark()
	for name, o := range map[string]PNGOptions{
		"specimen-1.png":      {Width: 630},
		"specimen-1-dark.png": {Width: 630, Theme: &dark, Transparent: true},
	} {
		data := write(t, func(b *bytes.Buffer) error { return specimen().PNG(b, 0, o) })
		path := filepath.Join("testdata", name)
		if *update {
			if err := os.WriteFile(path, data, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if d := differing(t, data, want); d > 0.0005 {
			t.Errorf("%s: %.3f %% of the pixels differ from the kept picture", name, d*100)
		}
	}
}

// differing returns the share of pixels that differ by more than 24 of 255 in a
// channel: rounding differs a little between processors.
func differing(t *testing.T, a, b []byte) float64 {
	t.Helper()
	p, err := png.Decode(bytes.NewReader(a))
	if err != nil {
		t.Fatal(err)
	}
	q, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if p.Bounds() != q.Bounds() {
		t.Fatalf("%v pixels, kept %v", p.Bounds(), q.Bounds())
	}
	n := 0
	for y := range p.Bounds().Dy() {
		for x := range p.Bounds().Dx() {
			if far(p, q, x, y) {
				n++
			}
		}
	}
	return float64(n) / float64(p.Bounds().Dx()*p.Bounds().Dy())
}

func far(p, q image.Image, x, y int) bool {
	const most = 24 * 257
	r1, g1, b1, a1 := p.At(x, y).RGBA()
	r2, g2, b2, a2 := q.At(x, y).RGBA()
	for _, d := range [4]int{int(r1) - int(r2), int(g1) - int(g2), int(b1) - int(b2), int(a1) - int(a2)} {
		if d > most || d < -most {
			return true
		}
	}
	return false
}

func TestSpecimenHasNoFaults(t *testing.T) {
	for i := range 1 {
		for _, f := range specimen().Faults(i, SmallText) {
			t.Error(f)
		}
	}
}
