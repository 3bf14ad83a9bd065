package made

import (
	"bytes"
	"context"
	"image"
	"math"
	"testing"

	"thrum/cut"
	"thrum/sound"
	"thrum/unit"
	"thrum/vibe"
)

// slim is a bar far out of the chuck under a tool with hardly any rubbing: it chatters.
func slim() Setup {
	return Setup{
		Material: "1018", Tool: cut.HSS, Diameter: 12, Out: 120, At: 108, Pitch: 1.75, Depth: 1.07, NoseFlat: 0.22, Passes: 5,
		Speeds: []unit.Rotation{250}, Turns: 4, Unsteady: 0.02, Rub: 15, Seed: 1, RunIn: 0.5,
	}
}

func cutIt(t *testing.T, s Setup, record bool) *vibe.Simulation {
	t.Helper()
	sim, err := s.Cut(record)
	if err != nil {
		t.Fatal(err)
	}
	return sim
}

func TestRecording(t *testing.T) {
	sim := cutIt(t, slim(), true)
	ear := Ear{Seed: 3, Gap: 1, Tones: []Tone{{Frequency: 100, Level: 0.01}}, Mesh: []Tone{{Waves: 40, Level: 0.01}}}
	r := Listen(sim, ear)
	if len(r.Passes) != len(sim.Passes) {
		t.Fatalf("%d passes in the recording, %d were cut", len(r.Passes), len(sim.Passes))
	}
	long := 4.0 * 60 / 250
	for k, p := range r.Passes {
		if d := (p.End - p.Start).S(); math.Abs(d-long) > 0.001 || math.Abs(p.Start.S()-(1+float64(k)*(1+long))) > 0.01 {
			t.Errorf("pass %d from %.3f to %.3f s", k+1, p.Start.S(), p.End.S())
		}
	}
	var file, again bytes.Buffer
	if err := r.WAV(&file); err != nil {
		t.Fatal(err)
	}
	_ = Listen(sim, ear).WAV(&again)
	if !bytes.Equal(file.Bytes(), again.Bytes()) {
		t.Error("the same call does not make the same recording")
	}
	s, err := sound.Open(bytes.NewReader(file.Bytes()), sound.OpenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	h, err := sound.Listen(context.Background(), s, sound.ListenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Passes) != len(sim.Passes) {
		t.Errorf("%d passes are heard, %d were cut", len(h.Passes), len(sim.Passes))
	}
}

// cosine is a finished thread with a pure wave on flanks and root.
func cosine(waves float64, half unit.Length) *vibe.Simulation {
	const perTurn, turns = 8000, 12
	s := &vibe.Simulation{PerTurn: perTurn, Turns: turns}
	for _, part := range []vibe.Surface{{Part: cut.LeadingFlank, Radial: 0.5}, {Part: cut.Nose, Radial: 1}, {Part: cut.TrailingFlank, Radial: 0.5}} {
		part.Height = make([]unit.Length, perTurn*turns)
		for i := range part.Height {
			part.Height[i] = half * unit.Length(part.Radial*math.Cos(2*math.Pi*waves*float64(i)/perTurn))
		}
		s.Surfaces = append(s.Surfaces, part)
	}
	return s
}

var coarse = Thread{Diameter: 20, Pitch: 2.5, Depth: 1.53, NoseFlat: 0.31}

// columns is the mean over columns of the rows of a picture.
func columns(m *image.Gray, x0, x1 int) []float64 {
	out := make([]float64, m.Bounds().Dy())
	for y := range out {
		for x := x0; x < x1; x++ {
			out[y] += float64(m.GrayAt(x, y).Y) / float64(x1-x0)
		}
	}
	return out
}

// strength is how much of a series swings with a period, over a window.
func strength(x []float64, period float64) float64 {
	mean := 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	var re, im float64
	for i, v := range x {
		w := (1 - math.Cos(2*math.Pi*float64(i)/float64(len(x)-1))) / float64(len(x))
		re += w * (v - mean) * math.Cos(2*math.Pi*float64(i)/period)
		im += w * (v - mean) * math.Sin(2*math.Pi*float64(i)/period)
	}
	return math.Hypot(re, im)
}

// TestPictureOfWaves looks at the root, where the spacing of waves seen square on
// is the circumference over their number.
func TestPictureOfWaves(t *testing.T) {
	const waves, across = 300, 4.0
	v := View{Width: 800, Height: 600, Across: across, First: 6, Scratch: 1e-9, Grain: 1e-9}
	pixel := across / 800 * (150 - (20.0/2 - 1.53)) / 150 // mm on the root, which is nearer than the axis
	want := 2 * math.Pi * (20.0/2 - 1.53) / waves / pixel
	m := Picture(cosine(waves, 0.003), coarse, v)
	// The groove's middle turns with the angle: at the height of the axis it stands a quarter turn on.
	mid := 400 + int(2.5/4/(across/800))
	best, at := 0.0, 0.0
	for _, x := range []int{mid - 500, mid, mid - 250} { // wherever a root shows
		if x < 12 || x > 788 {
			continue
		}
		rows := columns(m, x-10, x+10)[300-150 : 300+150]
		for p := want * 0.7; p < want*1.4; p *= 1.002 {
			if s := strength(rows, p); s > best {
				best, at = s, p
			}
		}
	}
	if math.Abs(at/want-1) > 0.03 {
		t.Errorf("waves stand %.2f pixels apart, want %.2f", at, want)
	}
	flat := Picture(cosine(waves, 0), coarse, v)
	none := strength(columns(flat, mid-10, mid+10)[150:450], at)
	if !(best > 10*none) {
		t.Errorf("waves show with %.3g, a smooth thread with %.3g", best, none)
	}
}

// TestPictureOutline: the height of the thread in the picture is that of its crest, seen from where
// the lens is.
func TestPictureOutline(t *testing.T) {
	v := View{Width: 300, Height: 400, Across: 18, From: 150, First: 6, Grain: 1e-9}
	m := Picture(cosine(90, 0), coarse, v)
	half := math.Tan(math.Asin(10.0/150)) * 150 / (18.0 / 300) // the ray that touches the crest
	top, bottom := 400, 0
	for y := range 400 {
		for x := range 300 {
			if m.GrayAt(x, y).Y > 80 {
				top, bottom = min(top, y), max(bottom, y)
			}
		}
	}
	if math.Abs(200-half-float64(top)) > 2 {
		t.Errorf("the crest's upper edge is at row %d, want %.1f", top, 200-half)
	}
	if !bytes.Equal(m.Pix, Picture(cosine(90, 0), coarse, v).Pix) {
		t.Error("the same call does not make the same picture")
	}
}
