package gauge

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

// half13 is 1/2-13 UNC-2A with limits as the standard has them.
func half13() thread.Thread {
	in := unit.Inch
	return thread.Thread{
		Callout: "1/2-13 UNC-2A", Form: form60(), Pitch: perTPI(13), Starts: 1, System: unit.Inches, Nominal: 0.5 * in,
		Basic: thread.Diameters{Major: 0.5 * in, Pitch: 0.4500 * in, Minor: 0.4167 * in},
		Limits: thread.Limits{
			Major: thread.Band{Min: 0.4876 * in, Max: 0.4985 * in},
			Pitch: thread.Band{Min: 0.4435 * in, Max: 0.4485 * in},
		},
	}
}

// m20internal is M20x2.5-6H.
func m20internal() thread.Thread {
	return thread.Thread{
		Callout: "M20x2.5-6H", Side: thread.Internal, Form: form60(), Pitch: unit.MustRatio(5, 2), Starts: 1, Nominal: 20,
		Basic: thread.Diameters{Major: 20, Pitch: 18.376, Minor: 17.294},
		Limits: thread.Limits{
			Major: thread.Band{Min: 20}, Pitch: thread.Band{Min: 18.376, Max: 18.600}, Minor: thread.Band{Min: 17.294, Max: 17.744},
		},
	}
}

// npt1 is 1-11 1/2 NPT at its gauge plane: 30° flanks square to the axis, 1:16.
func npt1() thread.Thread {
	in := unit.Inch
	p := unit.MustRatio(254, 115)
	return thread.Thread{
		Callout: "1-11.5 NPT", Form: form60(), Pitch: p, Starts: 1, System: unit.Inches, Taper: unit.MustRatio(1, 16),
		Basic:  thread.Diameters{Major: 1.2832 * in, Pitch: 1.23863 * in, Minor: 1.16907 * in},
		Limits: thread.Limits{Pitch: thread.Band{Min: 1.23323 * in, Max: 1.24406 * in}, Major: thread.Band{Min: 1.2832 * in, Max: 1.2832 * in}},
	}
}

func wires(t testing.TB, th thread.Thread, c Choice) *Wires {
	t.Helper()
	w, err := ForThread(th, c)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestChoosingWires(t *testing.T) {
	th := half13()
	w := wires(t, th, Choice{})
	if w.Size != w.Best || math.Abs(w.Best.Inches()-0.04441) > 1e-5 {
		t.Errorf("without a list the best size is taken: %v, best %v", w.Size, w.Best)
	}
	if !(w.Usable.Min < w.Best && w.Best < w.Usable.Max) {
		t.Errorf("best %v outside the usable range %+v", w.Best, w.Usable)
	}
	// With tolerance the range is narrower than for basic sizes on both sides.
	if p := w.Usable.Min.Inches() * 13; p < 0.5052 || p > 0.56 {
		t.Errorf("least usable wire %.4fP", p)
	}
	if p := w.Usable.Max.Inches() * 13; p > 1.0104 || p < 0.8 {
		t.Errorf("greatest usable wire %.4fP", p)
	}
	set, err := SetByName("60° inch best sizes")
	if err != nil {
		t.Fatal(err)
	}
	if w := wires(t, th, Choice{Owned: set.Sizes}); math.Abs(w.Size.Inches()-0.04441) > 1e-6 {
		t.Errorf("of the best sizes per inch %v was chosen", w.Size.Inches())
	}
	metric, err := SetByName("metric series")
	if err != nil {
		t.Fatal(err)
	}
	if w := wires(t, th, Choice{Owned: metric.Sizes}); w.Size != 1.1 {
		t.Errorf("of the metric series %v was chosen, want 1.1 mm (best is %v)", w.Size, w.Best)
	}
	for name, c := range map[string]struct {
		Choice
		want string
	}{
		"none of these":  {Choice{Owned: []unit.Length{0.3, 0.4, 3}}, "none can be used"},
		"too thin":       {Choice{Use: 0.9}, "too thin"},
		"too thick":      {Choice{Use: 2.2}, "too thick"},
		"not a wire":     {Choice{Use: -1}, "not the size"},
		"balls outside":  {Choice{Method: Balls}, "does not measure an external thread"},
		"thread mike":    {Choice{Method: ThreadMicrometer}, "thread micrometer"},
		"infinite wires": {Choice{Use: unit.Length(math.Inf(1))}, "not the size"},
	} {
		_, err := ForThread(th, c.Choice)
		var in *unit.InputError
		if !errors.As(err, &in) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	square := th
	square.Form = thread.Form{Depth: 0.5}
	if _, err := ForThread(square, Choice{}); err == nil || !strings.Contains(err.Error(), "too steep") {
		t.Errorf("square form: %v", err)
	}
	if _, err := ForThread(thread.Thread{Form: form60(), Pitch: unit.Whole(1)}, Choice{}); err == nil {
		t.Error("a thread without sizes was accepted")
	}
}

// A thread with steep flanks and a large lead cannot take straight wires.
func TestWiresThatRideOnCrests(t *testing.T) {
	f := thread.Form{Leading: 30 * unit.Degree, Trailing: 3 * unit.Degree, Depth: 0.86777}
	th := thread.Thread{Callout: "S32x18P6", Form: f, Pitch: unit.Whole(6), Starts: 3}
	th.Basic = thread.Diameters{Major: 25.9, Pitch: 21.383, Minor: 15.5}
	th.Limits = thread.Limits{Major: thread.Band{Min: 25.8, Max: 25.9}, Pitch: thread.Band{Min: 21.2, Max: 21.383}}
	w := wires(t, th, Choice{})
	if w.Size <= w.Best || len(w.Notes) == 0 {
		t.Errorf("the best size %v stays below these tall crests, %v was chosen", w.Best, w.Size)
	}
	_, err := ForThread(th, Choice{Use: w.Usable.Min * 1.001})
	if err == nil || !strings.Contains(err.Error(), "edges of the crests") {
		t.Errorf("15° lead angle: %v", err)
	}
	th.Starts, th.Basic.Major, th.Basic.Pitch, th.Basic.Minor = 1, 60, 55.5, 49.6
	th.Limits = thread.Limits{Major: thread.Band{Min: 59.8, Max: 60}, Pitch: thread.Band{Min: 55.2, Max: 55.5}}
	if _, err := ForThread(th, Choice{}); err != nil {
		t.Errorf("2° lead angle: %v", err)
	}
}

func TestReadingsBeforeWiresSeat(t *testing.T) {
	w := wires(t, half13(), Choice{})
	// 17/24 of the height of the triangle is the depth, 3/8 lies above the pitch
	// line: the best wire leaves the corners at 1 - 9/17 of the depth.
	if share := float64(w.FirstSeat / w.Depth); math.Abs(share-(1-9.0/17)) > 0.05 {
		t.Errorf("leaves the corners at %.3f of the depth", share)
	}
	if share := float64(w.Seats / w.Depth); share < 0.6-1e-9 || share > 0.7 {
		t.Errorf("readings count from %.3f of the depth", share)
	}
	mid := w.Thread.Limits.Pitch.Mean()
	for share, refused := range map[float64]bool{0.2: true, 0.5: true, 0.58: true, 0.62: false, 0.9: false, 1.05: false} {
		e := mid + 2*w.Depth*unit.Length(1-share)
		reading, err := w.Reading(e)
		if err != nil {
			t.Fatal(err)
		}
		got, err := w.PitchDiameter(reading)
		if refused != (err != nil) {
			t.Errorf("at %.2f of the depth: %v", share, err)
		}
		if err != nil && !strings.Contains(err.Error(), "before the wires seat") {
			t.Errorf("reason: %v", err)
		}
		if err == nil && math.Abs(float64(got-e)) > 1e-9 {
			t.Errorf("%v came back as %v", e, got)
		}
	}
}

func TestOneWire(t *testing.T) {
	th := half13()
	three := wires(t, th, Choice{})
	major := 0.4950 * unit.Inch
	one := wires(t, th, Choice{Method: OneWire, Major: major})
	if d := one.Over.Max - (three.Over.Max+major)/2; math.Abs(float64(d)) > 1e-12 {
		t.Errorf("over one wire %v, over three %v", one.Over.Max, three.Over.Max)
	}
	e := th.Limits.Pitch.Min
	got, err := one.PitchDiameter(one.Over.Min)
	if err != nil || math.Abs(float64(got-e)) > 1e-9 {
		t.Errorf("%v came back as %v, %v", e, got, err)
	}
	guessed := wires(t, th, Choice{Method: OneWire})
	found := false
	for _, n := range guessed.Notes {
		found = found || (n.Assumed && strings.Contains(n.Text, "major diameter"))
	}
	if !found {
		t.Error("an assumed major diameter is not noted")
	}
}

// A taper thread, and one with a steeper taper so that the second order shows: the
// seat of a wire in the plane of the axis done the other way about, as the circle
// that touches two lines.
func TestTaperReadings(t *testing.T) {
	for _, c := range []struct{ half, leading, trailing unit.Angle }{
		{unit.Angle(math.Atan(1.0 / 32)), 30 * unit.Degree, 30 * unit.Degree},
		{9 * unit.Degree, 30 * unit.Degree, 30 * unit.Degree},
		{9 * unit.Degree, 45 * unit.Degree, 14 * unit.Degree},
	} {
		f := Flanks{Leading: c.leading, Trailing: c.trailing, Pitch: 2, Lead: 2e-9, Taper: c.half}
		e, w, y := 30.0, 1.2, c.half.Tan()
		s, err := f.SeatOf(unit.Length(e), unit.Length(w))
		if err != nil {
			t.Fatal(err)
		}
		// The cone has the diameter e at z = 0. Wires lie at z and one pitch on; on
		// the other side of the part the groove lies half a pitch on.
		z, r := centreBetween(e, 2, w/2, y, c.leading.Rad(), c.trailing.Rad())
		over := r + (r + y) + w // square to the axis: both radii
		eMid := e + 2*(z+0.5)*y // pitch diameter midway between the two
		if got := s.Over.MM() + eMid - e; math.Abs(got-over) > 1e-9 {
			t.Errorf("%+v: square to the axis %.9f, by tangent circles %.9f", c, got, over)
		}
		// The wire opposite, from the line through the two on this side.
		eOpposite := e + 2*(z+1)*y // it lies half a pitch beyond z, the pair's middle too
		mid := (r + r + 2*y) / 2
		cone := (mid+r+y)*math.Cos(c.half.Rad()) + w
		if got := s.OnCone.MM() + (eOpposite-e)*math.Cos(c.half.Rad()); math.Abs(got-cone) > 1e-9 {
			t.Errorf("%+v: along the cone %.9f, by tangent circles %.9f", c, got, cone)
		}
	}
	two := wires(t, npt1(), Choice{Method: TwoWires})
	three := wires(t, npt1(), Choice{})
	if d := two.Over.Max - three.Over.Max; d < 0 || d > 0.02 {
		t.Errorf("two wires %v, three wires %v", two.Over.Max, three.Over.Max)
	}
	for _, w := range []*Wires{two, three} {
		e := w.Thread.Limits.Pitch.Max
		got, err := w.PitchDiameter(w.Over.Max)
		if err != nil || math.Abs(float64(got-e)) > 1e-9 {
			t.Errorf("%v: %v came back as %v, %v", w.Method, e, got, err)
		}
		said := false
		for _, n := range w.Notes {
			said = said || strings.Contains(n.Text, "gauge plane")
		}
		if !said {
			t.Error("the gauge plane is not mentioned")
		}
	}
}

// centreBetween finds the centre of a circle of radius rho that touches the two
// flanks of the groove around z = 0 of a taper thread: the flanks pass through the
// pitch cone at -P/4 and +P/4 and lean by a1 (at +z) and a2 from the normal to the
// axis.
func centreBetween(e, p, rho, tanTaper, a1, a2 float64) (z, r float64) {
	// A flank: points with n . (point - through) = 0, n pointing into the groove.
	through := [2][2]float64{{p / 4, e/2 + p/4*tanTaper}, {-p / 4, e/2 - p/4*tanTaper}}
	n := [2][2]float64{{-math.Cos(a1), math.Sin(a1)}, {math.Cos(a2), math.Sin(a2)}}
	var m [2][3]float64
	for i := range m {
		m[i] = [3]float64{n[i][0], n[i][1], rho + n[i][0]*through[i][0] + n[i][1]*through[i][1]}
	}
	det := m[0][0]*m[1][1] - m[0][1]*m[1][0]
	return (m[0][2]*m[1][1] - m[0][1]*m[1][2]) / det, (m[0][0]*m[1][2] - m[0][2]*m[1][0]) / det
}

func TestBallsInside(t *testing.T) {
	w := wires(t, m20internal(), Choice{})
	if w.Method != Balls {
		t.Fatalf("method %v", w.Method)
	}
	if !(w.Over.Min < w.Over.Max) || !(w.Usable.Min < w.Best && w.Best < w.Usable.Max) {
		t.Errorf("readings %+v, usable %+v, best %v", w.Over, w.Usable, w.Best)
	}
	// Plane geometry: M = D2 + (P/2) cot a - W (cosec a - 1).
	outside.Check(t, outside.Claim{
		What: "M20x2.5-6H over balls of the best size, without lead", Source: "plane geometry: D2 + 0.866025P - W", Status: outside.Computed,
		Published: 18.376 + 0.8660254*2.5 - w.Best.MM(), Ours: w.Simple.Min.MM(), Unit: "mm", Tolerance: 1e-6,
	})
	mid := w.Thread.Limits.Pitch.Mean()
	early, err := w.Reading(mid - w.Depth) // half the depth still to go
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.PitchDiameter(early); err == nil {
		t.Error("a reading at half depth was accepted")
	}
	if _, err := ForThread(m20internal(), Choice{Method: TwoWires}); err == nil {
		t.Error("wires in a hole were accepted")
	}
}

// The usable range keeps its word: every wire in it stands proud of the crest and
// touches flank, at both limits of size.
func TestUsableRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := unit.MustRatio(int64(rapid.IntRange(3, 60).Draw(t, "tenths")), 10)
		form := rapid.SampledFrom([]thread.Form{form60(), form55(), form29()}).Draw(t, "form")
		height := map[string]float64{"60°": 0.64951905, "55°": 0.640327, "29°": 0.5}[form.Name]
		d := p.Length() * unit.Length(rapid.Float64Range(4, 30).Draw(t, "d/p"))
		th := made(form, d, p, rapid.IntRange(1, 2).Draw(t, "starts"), height)
		tol := p.Length() * unit.Length(rapid.Float64Range(0, 0.05).Draw(t, "tolerance/p"))
		th.Limits.Pitch.Min -= tol
		th.Limits.Major.Min -= tol
		w, err := ForThread(th, Choice{})
		if err != nil {
			t.Fatal(err)
		}
		size := w.Usable.Min + (w.Usable.Max-w.Usable.Min)*unit.Length(rapid.Float64Range(0.001, 0.999).Draw(t, "place"))
		for _, e := range []unit.Length{th.Limits.Pitch.Min, th.Limits.Pitch.Max} {
			s, err := FlanksOf(th).SeatOf(e, size)
			if err != nil {
				t.Fatal(err)
			}
			if s.Over < th.Limits.Major.Max-1e-9 {
				t.Fatalf("wire %v does not stand proud: %v over, crest %v", size, s.Over, th.Limits.Major.Max)
			}
			if s.Leading > th.Limits.Major.Min+1e-9 {
				t.Fatalf("wire %v touches at %v, crest %v", size, s.Leading, th.Limits.Major.Min)
			}
		}
	})
}

func TestSets(t *testing.T) {
	for _, s := range Sets() {
		if s.Name == "" || s.Source == "" || len(s.Sizes) < 10 {
			t.Errorf("set %+v", s)
		}
		for i := range s.Sizes[1:] {
			if s.Sizes[i+1] <= s.Sizes[i] {
				t.Errorf("%s: %v after %v", s.Name, s.Sizes[i+1], s.Sizes[i])
			}
		}
	}
	if _, err := SetByName("nonsense"); err == nil || !strings.Contains(err.Error(), "metric series") {
		t.Errorf("unknown set: %v", err)
	}
}

func FuzzParseMethod(f *testing.F) {
	for m := ThreeWires; m <= Balls; m++ {
		f.Add(m.String())
	}
	f.Add("four wires")
	f.Fuzz(func(t *testing.T, s string) {
		m, err := ParseMethod(s)
		if err == nil && m.String() != s {
			t.Errorf("%q read as %v", s, m)
		}
	})
}

// Every family's own examples, as package thread reads them: each can be measured
// or is refused for its square flanks, and a thread in the middle of its limits,
// carefully measured, is inside.
func TestEveryFamily(t *testing.T) {
	measured := 0
	for _, family := range thread.Families() {
		for _, callout := range family.Examples {
			for _, side := range []thread.Side{thread.External, thread.Internal} {
				th, err := thread.Parse(callout, side)
				if err != nil {
					t.Errorf("%s: %v", callout, err)
					continue
				}
				w, err := ForThread(th, Choice{})
				if err != nil {
					if th.Form.Leading > leastFlank && th.Form.Trailing > leastFlank {
						t.Errorf("%s (%v): %v", callout, th.Side, err)
					}
					continue
				}
				measured++
				if w.Size < w.Usable.Min || w.Size > w.Usable.Max || w.Seats < w.FirstSeat || w.Seats > w.Depth {
					t.Errorf("%s: %+v", callout, w)
				}
				value, err := w.Reading(th.Limits.Pitch.Mean())
				if err != nil {
					t.Errorf("%s: %v", callout, err)
					continue
				}
				v, err := Judge(th, Reading{
					Method: w.Method, Wire: w.Size, Value: value, ReadError: 0.001, WireError: 0.0002, FlankError: 0.05 * unit.Degree,
				})
				if err != nil {
					t.Errorf("%s: %v", callout, err)
				} else if v.Standing != Inside {
					t.Errorf("%s (%v): %s", callout, th.Side, v.Words)
				}
			}
		}
	}
	if measured < 60 {
		t.Errorf("only %d threads were measured", measured)
	}
}
