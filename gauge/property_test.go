package gauge

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"thrum/thread"
	"thrum/unit"
)

// someFlanks draws flanks with angles from 7 to 45 degrees and lead angles from
// nearly nothing to 20 degrees, a pitch diameter, and a wire near the best size.
func someFlanks(t *rapid.T) (f Flanks, e, w unit.Length) {
	f = Flanks{
		Leading:  unit.Angle(rapid.Float64Range(7, 45).Draw(t, "leading")) * unit.Degree,
		Trailing: unit.Angle(rapid.Float64Range(7, 45).Draw(t, "trailing")) * unit.Degree,
		Pitch:    unit.Length(rapid.Float64Range(0.3, 10).Draw(t, "pitch")),
	}
	starts := rapid.IntRange(1, 4).Draw(t, "starts")
	f.Lead = f.Pitch * unit.Length(starts)
	lead := rapid.Float64Range(0.2, 20).Draw(t, "lead angle")
	e = f.Lead / unit.Length(math.Pi*math.Tan(lead*math.Pi/180))
	e = max(e, 2.5*f.Pitch) // a core must be left
	best, err := f.BestWire()
	if err != nil {
		t.Fatal(err)
	}
	w = best * unit.Length(rapid.Float64Range(0.92, 1.1).Draw(t, "wire/best"))
	// In a nut, steep flanks at a large lead angle hold no ball at all.
	if min(f.Leading, f.Trailing) > 14*unit.Degree && rapid.Bool().Draw(t, "internal") {
		f.Side = thread.Internal
	}
	return f, e, w
}

func seatOf(t *rapid.T, f Flanks, e, w unit.Length) Seat {
	s, err := f.SeatOf(e, w)
	if err != nil {
		t.Fatalf("%+v e=%v w=%v: %v", f, e, w, err)
	}
	return s
}

func TestReadingThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, e, w := someFlanks(t)
		got, err := f.PitchDiameter(seatOf(t, f, e, w).Over, w)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(got-e)) > 1e-9*float64(e) {
			t.Fatalf("%v came back as %v", e, got)
		}
	})
}

func TestReadingGrowsWithPitchDiameterAndWire(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, e, w := someFlanks(t)
		at := seatOf(t, f, e, w).Over
		if more := seatOf(t, f, e+0.01*f.Pitch, w).Over; more <= at {
			t.Fatalf("a larger pitch diameter reads %v, less than %v", more, at)
		}
		thick := seatOf(t, f, e, w*1.01).Over
		if f.Side == thread.External && thick <= at {
			t.Fatalf("a thicker wire reads %v, less than %v", thick, at)
		}
		if f.Side == thread.Internal && thick >= at {
			t.Fatalf("a thicker ball reads %v, more than %v", thick, at)
		}
	})
}

// Which of two unequal flanks leads makes no difference to the reading, and the
// wire lies square to the axis of measurement either way.
func TestMirroredFlanksReadTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, e, w := someFlanks(t)
		g := f
		g.Leading, g.Trailing = f.Trailing, f.Leading
		a, b := seatOf(t, f, e, w), seatOf(t, g, e, w)
		if math.Abs(float64(a.Over-b.Over)) > 1e-9 || math.Abs(float64(a.Leading-b.Trailing)) > 1e-9 || math.Abs(float64(a.Lean-b.Lean)) > 1e-9 {
			t.Fatalf("%+v\n%+v", a, b)
		}
	})
}

// A nearly symmetrical form is nearly a symmetrical form: two equations in two
// unknowns agree with one in one.
func TestUnequalFlanksBecomeEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, e, w := someFlanks(t)
		f.Trailing = f.Leading
		g := f
		g.Trailing += 1e-9
		a, b := seatOf(t, f, e, w), seatOf(t, g, e, w)
		if math.Abs(float64(a.Over-b.Over)) > 1e-6*float64(f.Pitch)/f.Leading.Tan() {
			t.Fatalf("%v and %v", a.Over, b.Over)
		}
		if math.Abs(float64(a.Leading-a.Trailing)) > 1e-9 {
			t.Fatalf("equal flanks touched at %v and %v", a.Leading, a.Trailing)
		}
	})
}

// Without lead the exact seat is the plane one.
func TestSeatWithoutLead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, e, w := someFlanks(t)
		f.Lead = f.Pitch / 1e6
		s := seatOf(t, f, e, w)
		if math.Abs(float64(s.Over-s.Simple)) > 1e-9*float64(e) {
			t.Fatalf("exact %v, simple %v", s.Over, s.Simple)
		}
		if s.Approx != 0 && math.Abs(float64(s.Approx-s.Simple)) > 1e-9*float64(e) {
			t.Fatalf("square root %v, simple %v", s.Approx, s.Simple)
		}
		if math.Abs(float64(s.Lean)) > 1e-6 {
			t.Fatalf("leans %v", s.Lean)
		}
	})
}

// The best wire touches at the pitch diameter, and there an error of the flank
// angle hardly moves the reading: that is why it is the best.
func TestBestWireForgivesFlanks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, e, _ := someFlanks(t)
		f.Trailing = f.Leading
		w, err := f.BestWireAt(e)
		if err != nil {
			t.Fatal(err)
		}
		s := seatOf(t, f, e, w)
		if math.Abs(float64(s.Leading-e)) > 1e-9*float64(e) {
			t.Fatalf("best wire touches at %v, not %v", s.Leading, e)
		}
		g := f
		g.Leading += 1e-4
		g.Trailing += 1e-4
		best := math.Abs(float64(seatOf(t, g, e, w).Over - s.Over))
		thick := 1.08 * w
		off := math.Abs(float64(seatOf(t, g, e, thick).Over - seatOf(t, f, e, thick).Over))
		if f.LeadAngle(e) < 5*unit.Degree && best > off/5 {
			t.Fatalf("flank error moves the best wire by %v, a thicker one by %v", best, off)
		}
	})
}

func TestRefusedFlanks(t *testing.T) {
	good := Flanks{Leading: 0.5, Trailing: 0.5, Pitch: 1, Lead: 1}
	for name, f := range map[string]Flanks{
		"square":           {Pitch: 1, Lead: 1},
		"one square flank": {Leading: 0.5, Pitch: 1, Lead: 1},
		"no pitch":         {Leading: 0.5, Trailing: 0.5},
		"infinite lead":    {Leading: 0.5, Trailing: 0.5, Pitch: 1, Lead: unit.Length(math.Inf(1))},
		"not a number":     {Leading: unit.Angle(math.NaN()), Trailing: 0.5, Pitch: 1, Lead: 1},
		"flat":             {Leading: 1.57, Trailing: 0.5, Pitch: 1, Lead: 1},
		"steep taper":      {Leading: 0.5, Trailing: 0.5, Pitch: 1, Lead: 1, Taper: 1},
	} {
		if s, err := f.SeatOf(10, 0.57); err == nil {
			t.Errorf("%s: seat %+v", name, s)
		}
		if _, err := f.BestWire(); err == nil {
			t.Errorf("%s: a best wire", name)
		}
	}
	nan := unit.Length(math.NaN())
	for name, v := range map[string][2]unit.Length{
		"no diameter": {0, 0.57}, "no wire": {10, 0}, "negative wire": {10, -1}, "rod": {10, 5}, "not a number": {nan, 0.57}, "nor this": {10, nan},
	} {
		if s, err := good.SeatOf(v[0], v[1]); err == nil {
			t.Errorf("%s: seat %+v", name, s)
		}
		if e, err := good.PitchDiameter(v[0], v[1]); err == nil {
			t.Errorf("%s: pitch diameter %v", name, e)
		}
	}
}

func BenchmarkSeat(b *testing.B) {
	for name, f := range map[string]Flanks{
		"60":           {Leading: 30 * unit.Degree, Trailing: 30 * unit.Degree, Pitch: 1.5, Lead: 1.5},
		"29, 4 starts": {Leading: 14.5 * unit.Degree, Trailing: 14.5 * unit.Degree, Pitch: 5.08, Lead: 20.32},
		"7/45":         {Leading: 45 * unit.Degree, Trailing: 7 * unit.Degree, Pitch: 3, Lead: 6},
	} {
		w, err := f.BestWire()
		if err != nil {
			b.Fatal(err)
		}
		e := 6 * f.Pitch
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := f.SeatOf(e, w); err != nil {
					b.Fatal(err)
				}
			}
		})
		s, err := f.SeatOf(e, w)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(name+", backwards", func(b *testing.B) {
			for b.Loop() {
				if _, err := f.PitchDiameter(s.Over, w); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
