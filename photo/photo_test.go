package photo_test

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/photo"
	"thrum/unit"
)

// The curve of the standard, at stored values that its own text and common tables give.
func TestLinearLight(t *testing.T) {
	for _, c := range []struct {
		stored uint8
		light  float64
	}{{0, 0}, {10, 0.003035}, {128, 0.215861}, {188, 0.502886}, {255, 1}} {
		img := image.NewGray(image.Rect(0, 0, 64, 64))
		for i := range img.Pix {
			img.Pix[i] = c.stored
		}
		p, err := photo.NewPicture(img)
		if err != nil {
			t.Fatal(err)
		}
		v, burnt := p.Grey(5, 5)
		outside.Check(t, outside.Claim{
			What: "linear light of stored value " + string(rune('0'+c.stored/100)) + string(rune('0'+c.stored/10%10)) + string(rune('0'+c.stored%10)), Source: "IEC 61966-2-1, inverse transfer curve",
			Status: outside.Memory, Published: c.light, Ours: v, Tolerance: 2e-5,
		})
		if burnt != (c.stored > 247) {
			t.Errorf("stored %d: burnt out %v", c.stored, burnt)
		}
	}
}

// All kinds of image give the same plane, and colour that is full counts as burnt out.
func TestPictureKinds(t *testing.T) {
	r := image.Rect(3, 2, 103, 82) // images need not begin at zero
	grey, rgb, ycc := image.NewGray(r), image.NewRGBA(r), image.NewYCbCr(r, image.YCbCrSubsampleRatio420)
	for i := range ycc.Cb {
		ycc.Cb[i], ycc.Cr[i] = 128, 128
	}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			v := uint8(2*x + y/2)
			grey.SetGray(x, y, color.Gray{Y: v})
			rgb.SetRGBA(x, y, color.RGBA{v, v, v, 255})
			ycc.Y[ycc.YOffset(x, y)] = v
		}
	}
	var all []*photo.Picture
	for _, img := range []image.Image{grey, rgb, ycc} {
		p, err := photo.NewPicture(img)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	for y := range 80 {
		for x := range 100 {
			a, _ := all[0].Grey(x, y)
			for _, p := range all[1:] {
				if b, _ := p.Grey(x, y); math.Abs(a-b) > 1e-4 {
					t.Fatalf("at %d, %d: %v and %v", x, y, a, b)
				}
			}
		}
	}
	red := image.NewYCbCr(image.Rect(0, 0, 64, 64), image.YCbCrSubsampleRatio420)
	y, cb, cr := color.RGBToYCbCr(255, 120, 100)
	for i := range red.Y {
		red.Y[i] = y
	}
	for i := range red.Cb {
		red.Cb[i], red.Cr[i] = cb, cr
	}
	p, err := photo.NewPicture(red)
	if err != nil {
		t.Fatal(err)
	}
	if _, burnt := p.Grey(9, 9); !burnt {
		t.Error("full red is not taken as burnt out")
	}
}

// 150 marks per turn, known to one per cent, at 200 rev/min known to one per cent.
func TestFrequency(t *testing.T) {
	f := photo.Frequency(photo.Count{Value: 150, Doubt: 1.5}, photo.Speed{Value: 200, Doubt: 2})
	outside.Check(t, outside.Claim{What: "frequency of 150 marks per turn at 200 rev/min", Source: "150 x 200 / 60, by hand", Status: outside.Computed, Published: 500, Ours: float64(f.Value), Unit: "Hz", Tolerance: 1e-9})
	outside.Check(t, outside.Claim{What: "its standard uncertainty, 1 % each", Source: "GUM (JCGM 100) 5.1.6, relative parts in quadrature, by hand", Status: outside.Computed, Published: 7.0711, Ours: float64(f.Doubt), Unit: "Hz", Tolerance: 1e-3})
}

// The outline put in by hand, at places that the test's own camera works out, gives
// back that camera.
func TestFromMarks(t *testing.T) {
	for _, d := range []float64{60, 100, 150, 250} {
		s := usual(1)
		s.Distance, s.Roll = d, 0.06
		r := s.Major / 2
		f := s.Fill * float64(s.H) / 2 * math.Sqrt(d*d-r*r) / r
		at := func(along, across float64) photo.Point {
			sin, cos := math.Sincos(s.Roll)
			return photo.Point{X: 600 + along*cos - across*sin, Y: 450 + along*sin + across*cos}
		}
		edge := f * r / math.Sqrt(d*d-r*r)
		pitch := f * s.Pitch / (d - r)
		m := photo.Marks{
			Upper: [2]photo.Point{at(-400, -edge), at(400, -edge)}, Lower: [2]photo.Point{at(-400, edge), at(400, edge)},
			Crests: [2]photo.Point{at(-3.5*pitch, 0), at(4.5*pitch, 0)}, Pitches: 8,
		}
		img := image.NewGray(image.Rect(0, 0, s.W, s.H))
		p, err := photo.NewPicture(img)
		if err != nil {
			t.Fatal(err)
		}
		g, err := photo.FromMarks(p, s.thread(), m, nil)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(g.Distance.MM()/d-1) > 1e-6 || math.Abs(float64(g.Roll)-s.Roll) > 1e-9 || math.Abs(g.PitchPixels-pitch) > 1e-6 || math.Abs(g.Crest-0.5) > 1e-6 {
			t.Errorf("D %.1f: found %.3f, roll %.4f, pitch %.3f (%.3f), crest %.4f", d, g.Distance.MM(), float64(g.Roll), g.PitchPixels, pitch, g.Crest)
		}
		back, err := photo.FromMarks(p, s.thread(), g.Marks(), g)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(back.Distance.MM()-g.Distance.MM()) > 1e-3 || math.Abs(math.Remainder(back.Crest-g.Crest, 1)) > 1e-6 || math.Abs(back.Centre.Y-g.Centre.Y) > 1e-6 {
			t.Errorf("D %.1f: marks of the outline give %+v, not %+v", d, back, g)
		}
		o, err := g.Overlay(s.thread())
		if err != nil || len(o.Crests) < 8 {
			t.Errorf("overlay: %d crests, %v", len(o.Crests), err)
		}
	}
}

func TestBadInput(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 200, 200))
	p, err := photo.NewPicture(img)
	if err != nil {
		t.Fatal(err)
	}
	good := photo.Thread{Pitch: 2.5, Major: 20}
	g := &photo.Geometry{PitchPixels: 20, Distance: 150}
	marks := photo.Marks{Crests: [2]photo.Point{{X: 10, Y: 100}, {X: 190, Y: 100}}, Pitches: 9}
	for name, do := range map[string]func() error{
		"no pitch": func() error { _, err := photo.Find(p, photo.Thread{Major: 20}); return err },
		"not a number": func() error {
			_, err := photo.Find(p, photo.Thread{Pitch: unit.Length(math.NaN()), Major: 20})
			return err
		},
		"starts":        func() error { _, err := photo.Find(p, photo.Thread{Pitch: 2, Major: 20, Starts: -1}); return err },
		"too deep":      func() error { _, err := photo.Find(p, photo.Thread{Pitch: 2, Major: 20, Depth: 3}); return err },
		"blank picture": func() error { _, err := photo.Find(p, good); return err },
		"inside it": func() error {
			_, err := photo.Read(p, good, &photo.Geometry{PitchPixels: 20, Distance: 9}, photo.Options{})
			return err
		},
		"no pixels": func() error {
			_, err := photo.Read(p, good, &photo.Geometry{Distance: 150}, photo.Options{})
			return err
		},
		"marks together": func() error {
			m := marks
			m.Crests[1] = m.Crests[0]
			_, err := photo.FromMarks(p, good, m, g)
			return err
		},
		"marks outside": func() error { m := marks; m.Crests[1].X = 1e9; _, err := photo.FromMarks(p, good, m, g); return err },
		"no pitches":    func() error { m := marks; m.Pitches = 0; _, err := photo.FromMarks(p, good, m, g); return err },
		"tiny picture":  func() error { _, err := photo.NewPicture(image.NewGray(image.Rect(0, 0, 5, 5))); return err },
	} {
		var bad *unit.InputError
		if err := do(); !errors.As(err, &bad) || bad.Reason == "" || bad.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	r, err := photo.Measure(p, good, photo.Options{})
	if err != nil || r.Verdict != photo.Refused || len(r.Advice) == 0 || r.MarksPerTurn != 0 {
		t.Errorf("a blank picture: %+v, %v", r, err)
	}
}

// Whatever is drawn and whatever outline is given, reading does not panic, and a
// refused reading carries no number.
func TestAnyPicture(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w, h := rapid.IntRange(64, 200).Draw(rt, "w"), rapid.IntRange(64, 200).Draw(rt, "h")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		period, tilt := 4+30*rng.Float64(), rng.NormFloat64()
		img := image.NewGray(image.Rect(0, 0, w, h))
		for i := range img.Pix {
			x, y := float64(i%w), float64(i/w)
			img.Pix[i] = uint8(127 + 100*math.Sin(2*math.Pi*(x+tilt*y)/period) + 20*rng.Float64())
		}
		p, err := photo.NewPicture(img)
		if err != nil {
			rt.Fatal(err)
		}
		th := photo.Thread{Pitch: unit.Length(0.5 + 3*rng.Float64()), Major: unit.Length(8 + 20*rng.Float64()), Left: rng.IntN(2) == 0, Starts: rng.IntN(4)}
		r, err := photo.Measure(p, th, photo.Options{})
		if err != nil {
			rt.Fatal(err)
		}
		if r.Reason == "" || (r.Verdict == photo.Refused) != (r.MarksPerTurn == 0) {
			rt.Fatalf("%+v", r)
		}
		g := &photo.Geometry{
			Roll: unit.Angle(rapid.Float64Range(-4, 4).Draw(rt, "roll")), PitchPixels: rapid.Float64Range(-1, 300).Draw(rt, "pitch"),
			Distance: unit.Length(rapid.Float64Range(-10, 1e4).Draw(rt, "distance")), Crest: rapid.Float64Range(-1e3, 1e3).Draw(rt, "crest"), Confirmed: true,
			Centre: photo.Point{X: rapid.Float64Range(-1e3, 1e3).Draw(rt, "x"), Y: rapid.Float64Range(-1e3, 1e3).Draw(rt, "y")},
		}
		if r, err := photo.Read(p, th, g, photo.Options{}); err == nil && r.Reason == "" {
			rt.Fatalf("%+v", r)
		}
	})
}

func TestCombine(t *testing.T) {
	one := func(v photo.Verdict, n float64, still bool) *photo.Reading {
		if v == photo.Refused {
			return &photo.Reading{Verdict: v}
		}
		return &photo.Reading{Verdict: v, MarksPerTurn: n, Uncertainty: 0.012 * n, Systematic: 0.01 * n, Still: still}
	}
	a, d, r := photo.Accepted, photo.Doubtful, photo.Refused
	for _, c := range []struct {
		name    string
		in      []*photo.Reading
		verdict photo.Verdict
		marks   float64
		used    int
	}{
		{"none", nil, r, 0, 0},
		{"all refused", []*photo.Reading{one(r, 0, false), one(r, 0, false)}, r, 0, 0},
		{"one", []*photo.Reading{one(a, 150, false)}, a, 150, 1},
		{"one doubtful", []*photo.Reading{one(d, 150, false), one(r, 0, false)}, d, 150, 1},
		{"two doubtful agree", []*photo.Reading{one(d, 150, false), one(d, 151, false)}, a, 150.5, 2},
		{"two still ones agree", []*photo.Reading{one(d, 150, true), one(d, 151, true)}, d, 150.5, 2},
		{"one apart", []*photo.Reading{one(a, 150, false), one(a, 151, false), one(a, 190, false)}, a, 150.5, 2},
		{"no majority", []*photo.Reading{one(a, 150, false), one(a, 190, false)}, r, 0, 0},
	} {
		got := photo.Combine(c.in)
		if got.Verdict != c.verdict || math.Abs(got.MarksPerTurn-c.marks) > 0.1 || got.Used != c.used || got.Reason == "" {
			t.Errorf("%s: %+v", c.name, got)
		}
		if got.MarksPerTurn > 0 && got.Uncertainty < 0.01*got.MarksPerTurn {
			t.Errorf("%s: uncertainty %.2f of %.1f is less than one per cent", c.name, got.Uncertainty, got.MarksPerTurn)
		}
	}
}

// Ground ball-screw grooves of real photographs carry no chatter, and none may be read
// into them, whatever thread they are said to be.
func TestRealGrooves(t *testing.T) {
	files, _ := filepath.Glob("../../shared/reference/images/*.jpg")
	if len(files) == 0 {
		t.Skip("the open pictures of real grooves are not here")
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		p, err := photo.NewPicture(img)
		if err != nil {
			t.Fatal(err)
		}
		w, h := p.Size()
		for _, th := range []photo.Thread{{Pitch: 10, Major: 32}, {Pitch: 2.5, Major: 20}, {Pitch: 5, Major: 32, Left: true}} {
			r, err := photo.Measure(p, th, photo.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if r.Verdict != photo.Refused {
				t.Errorf("%s as %v: %s %.1f, %s", filepath.Base(file), th.Pitch, r.Verdict, r.MarksPerTurn, r.Reason)
			}
			// The same with an outline put in by hand: axis upright in the picture, edges at its sides.
			x0, x1 := 0.03*float64(w), 0.97*float64(w)
			m := photo.Marks{
				Upper: [2]photo.Point{{X: x1, Y: 5}, {X: x1, Y: float64(h) - 5}}, Lower: [2]photo.Point{{X: x0, Y: 5}, {X: x0, Y: float64(h) - 5}},
				Crests: [2]photo.Point{{X: float64(w) / 2, Y: 0.1 * float64(h)}, {X: float64(w) / 2, Y: 0.9 * float64(h)}}, Pitches: 2,
			}
			g, err := photo.FromMarks(p, th, m, nil)
			if err != nil {
				continue
			}
			r, err = photo.Read(p, th, g, photo.Options{})
			if err == nil && r.Verdict == photo.Accepted {
				t.Errorf("%s by hand as %v: %.1f, %s", filepath.Base(file), th.Pitch, r.MarksPerTurn, r.Reason)
			}
		}
	}
}

func TestAdviceIsGiven(t *testing.T) {
	s := plain(77)
	s.W, s.H = 800, 600
	r := s.measured(t)
	if r.Verdict != photo.Refused || !strings.Contains(r.Reason, "does not say that there is no chatter") || len(r.Advice) == 0 {
		t.Errorf("%s: %s %v", r.Verdict, r.Reason, r.Advice)
	}
}
