package thread

import (
	"math/rand/v2"
	"strings"
	"testing"

	"thrum/unit"
)

// simulate measures a thread: the crest lies anywhere between its limits, and each
// reading is out by up to its default error.
func simulate(rng *rand.Rand, th Thread) Readings {
	within := func(lo, hi unit.Length) unit.Length { return lo + unit.Length(rng.Float64())*(hi-lo) }
	band := th.crestBand()
	if th.Side == External {
		band.Max = max(th.Limits.Major.Max, band.Min)
	}
	p := th.Pitch.Length()
	e := DefaultPitchError(p)
	return Readings{
		Side:     th.Side,
		Diameter: within(band.Min, band.Max) + within(-DefaultDiameterError, DefaultDiameterError),
		Pitch:    within(p-e, p+e),
	}
}

// answer adds what the named measurement would show on a thread.
func answer(rng *rand.Rand, r Readings, th Thread, k Test) Readings {
	within := func(e float64) float64 { return (2*rng.Float64() - 1) * e }
	say := func(yes bool) Answer {
		if yes {
			return Yes
		}
		return No
	}
	switch k.Kind {
	case MeasureTaper:
		r.Tapered = say(!th.Taper.IsZero())
	case MeasureFlanks:
		r.Uneven = say(!th.Form.Symmetric())
	case MeasureRounded:
		r.Rounded = say(th.Form.CrestRadius > 0)
	case MeasureAngle:
		r.Angle = th.Form.Included() + unit.Angle(within(float64(DefaultAngleError)))
		r.AngleError = DefaultAngleError
	case MeasurePitch:
		r.Pitch, r.Threads = 0, longestCount(th)
		r.Over = unit.Length(r.Threads)*th.Pitch.Length() + unit.Length(within(float64(overError)))
		r.PitchError = overError
	case MeasureDepth:
		r.Depth = th.Depth() + unit.Length(within(float64(DefaultDepthError)))
	case MeasureDiameter:
		r.DiameterError = 0.01
		r.Diameter = th.Limits.Major.Mean() + unit.Length(within(0.01))
		if th.Side == Internal {
			r.Diameter = th.Limits.Minor.Mean() + unit.Length(within(0.01))
		}
	}
	return r
}

// rank returns where a thread stands, and how far below the first.
func rank(cs []Candidate, th Thread) (place int, below float64) {
	for i, c := range cs {
		if sameThread(c.Thread) == sameThread(th) {
			return i, cs[0].Probability - c.Probability
		}
	}
	return -1, 1
}

// TestIdentifyEveryRow measures every standard thread, screw and nut. It must be
// ranked first or within three points of the first: for most from diameter and
// pitch alone, for the rest after at most three of the measurements that Separate
// names, each taken with its ordinary error.
func TestIdentifyEveryRow(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	var rows, atOnce, asked, missed int
	for _, row := range Series() {
		for _, side := range []Side{External, Internal} {
			for _, callout := range sideCallouts(row, side) {
				th := mustParse(t, callout, side)
				r := simulate(rng, th)
				rows++
				if found(t, rng, &r, th, 0, &asked) {
					atOnce++
					continue
				}
				ok := false
				for tries := 1; tries <= 3 && !ok; tries++ {
					ok = found(t, rng, &r, th, tries, &asked)
				}
				if !ok {
					missed++
					if missed <= 10 {
						report(t, r, th)
					}
				}
			}
		}
	}
	t.Logf("%d threads, %d told from two readings, %d further measurements for the rest, %d not told", rows, atOnce, asked, missed)
	if missed > rows/200 {
		t.Errorf("%d of %d threads are not told", missed, rows)
	}
	if atOnce < rows/2 {
		t.Errorf("only %d of %d threads are told from diameter and pitch", atOnce, rows)
	}
}

// found asks once; at a later try it first takes the measurement that separates
// the thread from the one ranked first.
func found(t *testing.T, rng *rand.Rand, r *Readings, th Thread, try int, asked *int) bool {
	t.Helper()
	cs, err := Identify(*r)
	if err != nil {
		t.Fatalf("%s: %v", th.Designation, err)
	}
	if try > 0 && len(cs) > 0 {
		test := Separate(cs[0].Thread, th)
		if test.Measure == "" || test.First == test.Second && test.Kind != MeasureDepth {
			t.Errorf("%s against %s: %+v", cs[0].Thread.Designation, th.Designation, test)
		}
		*asked++
		*r = answer(rng, *r, th, test)
		if cs, err = Identify(*r); err != nil {
			t.Fatalf("%s: %v", th.Designation, err)
		}
	}
	sum := 0.0
	for _, c := range cs {
		sum += c.Probability
	}
	if sum > 1+1e-9 {
		t.Fatalf("%s: probabilities make %v", th.Designation, sum)
	}
	_, below := rank(cs, th)
	return below <= 0.03
}

func report(t *testing.T, r Readings, th Thread) {
	t.Helper()
	cs, _ := Identify(r)
	place, below := rank(cs, th)
	t.Logf("%s, %s: place %d, %.3f below %s (%+v)", th.Designation, th.Side, place, below, cs[0].Thread.Designation, Separate(cs[0].Thread, th))
}

func TestIdentifyExamples(t *testing.T) {
	for _, c := range []struct {
		what  string
		r     Readings
		first string
		other string // must be among the first four
	}{
		{"caliper and gauge on an ordinary bolt", Readings{Diameter: 9.85, Pitch: 1.5}, "M10", ""},
		{"counted with a rule", Readings{Diameter: 12.6, Threads: 10, Over: 19.5}, "1/2-13 UNC", ""},
		{"half inch, 12 to the inch, where only the angle decides", Readings{Diameter: 12.6, Threads: 12, Over: 25.4, PitchError: 0.1, Angle: 55 * unit.Degree}, "1/2-12 BSW", ""},
		{"three quarters, 10 to the inch: the coarse series of two countries", Readings{Diameter: 18.9, Pitch: 2.54}, "3/4-10 UNC", "3/4-10 BSW"},
		{"a nut bored for M6", Readings{Side: Internal, Diameter: 5.05, Pitch: 1}, "M6", ""},
		{"a pipe end, parallel", Readings{Diameter: 20.85, Pitch: 1.81, Tapered: No, Angle: 55 * unit.Degree}, "G 1/2", ""},
		{"a pipe end, tapered", Readings{Diameter: 21.2, Pitch: 1.81, Tapered: Yes, Angle: 60 * unit.Degree}, "1/2-14 NPT", ""},
		{"a lead screw", Readings{Diameter: 19.9, Pitch: 4, Angle: 30 * unit.Degree}, "Tr20x4", ""},
		{"2 BA", Readings{Diameter: 4.62, Pitch: 0.81}, "2 BA", ""},
	} {
		cs, err := Identify(c.r)
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		if len(cs) == 0 || !strings.HasPrefix(cs[0].Row.Designation, c.first) {
			t.Errorf("%s: %d candidates, first %+v", c.what, len(cs), cs[:min(3, len(cs))])
			continue
		}
		seen := c.other == ""
		for _, x := range cs[:min(4, len(cs))] {
			seen = seen || x.Row.Designation == c.other
			if x.Why == "" {
				t.Errorf("%s: no reason for %s", c.what, x.Row.Designation)
			}
		}
		if !seen {
			t.Errorf("%s: %s is not among the first four", c.what, c.other)
		}
	}
}

// TestIdentifyNothing: readings that fit no standard thread leave little for any.
func TestIdentifyNothing(t *testing.T) {
	cs, err := Identify(Readings{Diameter: 37.3, DiameterError: 0.01, Pitch: 1.13, PitchError: 0.005})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cs {
		if c.Probability > 0.05 {
			t.Errorf("%s has %v", c.Row.Designation, c.Probability)
		}
	}
}

func TestSeparate(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want Measurement
		says string
	}{
		{"3/4-10 UNC-2A", "3/4-10 BSW close bolt", MeasureAngle, "55.0"},
		{"1/2-14 NPT EXTERNAL", "1/2-14 NPSM EXTERNAL", MeasureTaper, "tapered"},
		{"M8x1.25-6g", "5/16-20 UN-2A", MeasurePitch, "11.43"},
		{"1-5 ACME-2G EXTERNAL", "1-5 STUB ACME EXTERNAL", MeasureDepth, "mm"},
		{"Tr40x7-7e", "S40x7-7e", MeasureFlanks, "steep"},
	} {
		got := Separate(mustParse(t, c.a, External), mustParse(t, c.b, External))
		if got.Kind != c.want || !strings.Contains(got.First+got.Second, c.says) || got.Strength < 2 {
			t.Errorf("%s, %s: %+v", c.a, c.b, got)
		}
	}
	same := mustParse(t, "M6", External)
	if got := Separate(same, same); got.Measure == "" || got.Strength > 0 {
		t.Errorf("one and the same: %+v", got)
	}
}

func TestIdentifyRefuses(t *testing.T) {
	for _, r := range []Readings{
		{},
		{Diameter: 10},
		{Diameter: 10, Pitch: 1.5, Threads: 10, Over: 15},
		{Diameter: 10, Threads: -1, Over: 15},
		{Diameter: 10, Threads: 3},
		{Diameter: 1e9, Pitch: 1},
		{Diameter: unit.Length(nan()), Pitch: 1},
		{Diameter: 10, Pitch: 1.5, PitchError: -1},
		{Diameter: 10, Pitch: 1.5, Angle: 4},
		{Diameter: 10, Pitch: 1.5, Depth: -1},
	} {
		if cs, err := Identify(r); err == nil {
			t.Errorf("%+v gives %d candidates", r, len(cs))
		}
	}
}

func nan() float64 { z := 0.0; return z / z }

// FuzzIdentify: no readings make it fail other than by an error.
func FuzzIdentify(f *testing.F) {
	f.Add(10.0, 1.5, 0.03, 0.01, 1.0, 0.5, uint8(3))
	f.Fuzz(func(t *testing.T, d, p, de, pe, angle, depth float64, flags uint8) {
		r := Readings{
			Side: Side(flags & 1), Diameter: unit.Length(d), DiameterError: unit.Length(de), Pitch: unit.Length(p), PitchError: unit.Length(pe),
			Angle: unit.Angle(angle), Depth: unit.Length(depth), Tapered: Answer(flags >> 1 & 3 % 3), Rounded: Answer(flags >> 3 & 1),
		}
		cs, err := Identify(r)
		for _, c := range cs {
			if !(c.Probability >= 0 && c.Probability <= 1) {
				t.Fatalf("%+v: %s has %v", r, c.Row.Designation, c.Probability)
			}
		}
		if err != nil && len(cs) > 0 {
			t.Fatalf("%+v: candidates and an error", r)
		}
	})
}

func BenchmarkIdentify(b *testing.B) {
	for b.Loop() {
		if _, err := Identify(Readings{Diameter: 12.6, Pitch: 2}); err != nil {
			b.Fatal(err)
		}
	}
}
