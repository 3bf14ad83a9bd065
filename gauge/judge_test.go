package gauge

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

// m12 is M12x1.75-6g with limits as the standard has them.
func m12() thread.Thread {
	return thread.Thread{
		Callout: "M12-6g", Form: form60(), Pitch: unit.MustRatio(7, 4), Starts: 1, Nominal: 12,
		Basic: thread.Diameters{Major: 12, Pitch: 10.863, Minor: 10.106},
		Limits: thread.Limits{
			Major: thread.Band{Min: 11.701, Max: 11.966}, Pitch: thread.Band{Min: 10.679, Max: 10.829},
		},
	}
}

// good is a careful reading with small errors, all of them stated.
func good() Reading {
	return Reading{
		Wire: 1.01, ReadError: 0.002, WireError: 0.0005, FlankError: 0.25 * unit.Degree, TemperatureError: 1,
		Part: Warmth{Known: true, At: 20, Expansion: 11.7e-6}, Micrometer: Warmth{Known: true, At: 20, Expansion: 11.5e-6},
	}
}

// at returns the reading r as it would be at pitch diameter e.
func at(t *testing.T, th thread.Thread, r Reading, e unit.Length) Reading {
	t.Helper()
	r.Value = e
	if r.Method != ThreadMicrometer {
		w, err := ForThread(th, Choice{Method: r.Method, Use: r.Wire, Major: r.Major})
		if err != nil {
			t.Fatal(err)
		}
		if r.Value, err = w.Reading(e); err != nil {
			t.Fatal(err)
		}
	}
	return r
}

func judged(t *testing.T, th thread.Thread, r Reading) *Verdict {
	t.Helper()
	v, err := Judge(th, r)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// From far too big to far too small: standing and words change in this order, and
// metal is only asked for while that helps.
func TestStandings(t *testing.T) {
	for _, th := range []thread.Thread{m12(), m20internal()} {
		r := good()
		s, tight, loose := unit.Length(1), th.Limits.Pitch.Max, th.Limits.Pitch.Min
		if th.Side == thread.Internal {
			r.Wire, r.Method = 1.45, Balls
			s, tight, loose = -1, loose, tight
		}
		u := judged(t, th, at(t, th, r, (tight+loose)/2)).Standard
		for _, c := range []struct {
			e    unit.Length
			want Standing
			word string
			more bool
		}{
			{tight + s*5*u, MetalLeft, "still", true},
			{tight + s*1*u, PerhapsLeft, "less than this measurement can prove", true},
			{tight - s*1*u, InsideUnclaimed, "cannot be claimed", true},
			{(tight + loose) / 2, Inside, "inside: pitch diameter", false},
			{loose + s*1*u, InsideUnclaimed, "cannot be claimed", false},
			{loose - s*1*u, PerhapsOver, "measure again", false},
			{loose - s*5*u, Over, "nothing can be put back", false},
		} {
			v := judged(t, th, at(t, th, r, c.e))
			if v.Standing != c.want || !strings.Contains(v.Words, c.word) {
				t.Errorf("%s at %v: %v, %q; want %v with %q", th.Callout, c.e, v.Standing, v.Words, c.want, c.word)
			}
			if (v.TakeOff.Middle > 0) != c.more {
				t.Errorf("%s at %v (%v): take off %+v", th.Callout, c.e, v.Standing, v.TakeOff)
			}
			if math.Abs(float64(v.Pitch-c.e)) > 1e-9 {
				t.Errorf("%s: pitch diameter %v, want %v", th.Callout, v.Pitch, c.e)
			}
			if !c.more {
				continue
			}
			o := v.TakeOff
			if !(0 < o.AtLeast && o.AtLeast <= o.Middle && o.Middle <= o.AtMost) {
				t.Errorf("%s at %v: take off %+v", th.Callout, c.e, o)
			}
			for _, cut := range []unit.Length{o.AtLeast + 1e-6, o.Middle, o.AtMost - 1e-6} {
				if after := judged(t, th, at(t, th, r, c.e-s*cut)); after.Standing != Inside {
					t.Errorf("%s: after taking off %v it is %v", th.Callout, cut, after.Standing)
				}
			}
		}
	}
}

// The words name amounts in the drawing's own system.
func TestWordsOfTooBig(t *testing.T) {
	th := half13()
	r := at(t, th, Reading{Wire: 0.0444 * unit.Inch}, 0.4545*unit.Inch)
	v := judged(t, th, r)
	for _, want := range []string{"too big still", "pitch diameter 0.4545 in", "take off 0.0085 in more on the pitch diameter (0.0042 in in depth)"} {
		if !strings.Contains(v.Words, want) {
			t.Errorf("%q lacks %q", v.Words, want)
		}
	}
	assumed := 0
	for _, n := range v.Notes {
		if n.Assumed {
			assumed++
		}
	}
	if assumed < 2 {
		t.Errorf("nothing was stated, yet only %d assumptions are named: %+v", assumed, v.Notes)
	}
	for _, c := range v.Budget {
		if !c.Assumed {
			t.Errorf("%s was not stated and not marked as assumed", c.Name)
		}
	}
}

// A coarse measurement on a narrow tolerance can claim nothing and says so.
func TestTooCoarse(t *testing.T) {
	th := m12()
	r := good()
	r.ReadError = 0.1
	v := judged(t, th, at(t, th, r, th.Limits.Pitch.Mean()))
	if v.Standing != InsideUnclaimed || v.Accept != (thread.Band{}) {
		t.Errorf("%v, accept %+v", v.Standing, v.Accept)
	}
	found := false
	for _, n := range v.Notes {
		found = found || strings.Contains(n.Text, "too coarse")
	}
	if !found {
		t.Error("nothing is said of the coarseness")
	}
}

// The budget's law of propagation against drawing all errors at random: the
// spread of the pitch diameters found is the standard uncertainty. The random
// errors go into the physics (a warm thread, a wrong wire, a wrong flank) and
// only then is the thread measured.
func TestBudgetAgainstRandomErrors(t *testing.T) {
	th := m12()
	r := good()
	r.Method, r.Wire, r.Major = OneWire, 1.1, 11.85 // not the best wire, so that flank errors count
	r.ReadError, r.WireError, r.MajorError, r.FlankError, r.TemperatureError = 0.004, 0.003, 0.005, 1*unit.Degree, 3
	r.Part.At = 35
	e := th.Limits.Pitch.Mean()
	r = at(t, th, r, e)
	v := judged(t, th, r)
	rng := rand.New(rand.NewPCG(1, 2))
	uniform := func(w float64) float64 { return w * (2*rng.Float64() - 1) }
	const n = 20000
	var sum, square float64
	for range n {
		f := FlanksOf(th)
		f.Leading += unit.Angle(uniform(float64(r.FlankError)))
		f.Trailing += unit.Angle(uniform(float64(r.FlankError)))
		part := 1 + 11.7e-6*(1+uniform(expansionShare))*(15+uniform(3))
		mike := 1 + 11.5e-6*uniform(3)
		wire := float64(r.Wire) + uniform(0.003)
		reading := float64(r.Value) + uniform(0.004)
		major := float64(r.Major) + uniform(0.005)
		over := (2*reading - major) * mike / part
		got, err := f.PitchDiameter(unit.Length(over), unit.Length(wire/part))
		if err != nil {
			t.Fatal(err)
		}
		sum += float64(got)
		square += float64(got) * float64(got)
	}
	mean := sum / n
	spread := math.Sqrt(square/n - mean*mean)
	if rel := spread/float64(v.Standard) - 1; math.Abs(rel) > 0.03 {
		t.Errorf("budget gives u = %v, random errors spread by %.5f", v.Standard, spread)
	}
	if d := mean - float64(v.Pitch); math.Abs(d) > 0.1*spread {
		t.Errorf("budget's pitch diameter %v, mean of random errors %.5f", v.Pitch, mean)
	}
}

// Sensitivities by hand: three wires of 60° have dE/dM = 1 and dE/dW = -3.
func TestBudgetByHand(t *testing.T) {
	th := m12()
	r := at(t, th, good(), th.Limits.Pitch.Mean())
	v := judged(t, th, r)
	share := map[string]float64{}
	for _, c := range v.Budget {
		share[c.Name] = float64(c.Share)
	}
	root3 := math.Sqrt(3)
	for name, want := range map[string]float64{
		"reading":                      0.002 / root3,
		"size of the wires, all alike": 3 * 0.0005 / root3,
		"part temperature":             11.7e-6 * 10.754 / root3,
		"micrometer temperature":       11.5e-6 * r.Value.MM() / root3,
	} {
		tol := 0.002
		if strings.Contains(name, "part temp") { // wires are measured with the part: they do not shrink with it
			want = 11.7e-6 * (r.Value.MM() - 3*1.01) / root3
			tol = 0.02
		}
		if math.Abs(share[name]/want-1) > tol {
			t.Errorf("%s: share %.3g, by hand %.3g", name, share[name], want)
		}
	}
	if share["leading flank angle"] > 0.1*share["reading"] {
		t.Errorf("the best wire does not forgive flank errors: %.3g", share["leading flank angle"])
	}
}

// A warm steel part on cold steel wires: the correction by hand.
func TestTemperatureCorrection(t *testing.T) {
	th := m12()
	r := good()
	cold := judged(t, th, at(t, th, r, th.Limits.Pitch.Mean()))
	r = at(t, th, r, th.Limits.Pitch.Mean())
	r.Part.At = 45
	warm := judged(t, th, r)
	// Everything measured shrinks by 25 K x 11.7e-6, and the wires, which are not
	// warm, count three times: E = M - 3W + 0.866P, of which P does not change.
	byHand := -(r.Value.MM() - 3*r.Wire.MM()) * 11.7e-6 * 25 / (1 + 11.7e-6*25)
	outside.Check(t, outside.Claim{
		What: "change of a measured M12 when its part is at 45 °C", Source: "thermal expansion of reading and wires by hand, alpha from Callister Table B.6", Status: outside.Computed,
		Published: byHand, Ours: (warm.Pitch - cold.Pitch).MM(), Unit: "mm", Tolerance: 1e-5,
	})
	said := false
	for _, c := range warm.Budget {
		said = said || c.Name == "part expansion"
	}
	if !said {
		t.Error("the uncertainty of the coefficient is not in the budget")
	}
	r.Part.At = 400
	if _, err := Judge(th, r); err == nil || !strings.Contains(err.Error(), "let warm parts cool") {
		t.Errorf("a glowing part: %v", err)
	}
}

// Lead and flank errors use up the tolerance from the tight side only.
func TestFunctionalVerdict(t *testing.T) {
	th := m12()
	r := at(t, th, good(), th.Limits.Pitch.Max-0.03)
	plain := judged(t, th, r)
	if plain.Standing != Inside || plain.Functional != plain.Pitch {
		t.Fatalf("without errors: %v", plain.Standing)
	}
	r.LeadError = 0.03 // 0.052 on the pitch diameter
	led := judged(t, th, r)
	if led.Standing != MetalLeft || math.Abs(float64(led.Functional-led.Pitch)-0.03*math.Sqrt(3)) > 1e-9 {
		t.Errorf("with a lead error of 0.03: %v, functional %v", led.Standing, led.Functional)
	}
	if led.Allowed.Min != plain.Allowed.Min || led.Allowed.Max >= plain.Allowed.Max {
		t.Errorf("allowed %+v, without errors %+v", led.Allowed, plain.Allowed)
	}
	r.LeadError = 0.2
	hopeless := judged(t, th, r)
	if hopeless.Conforms != 0 || hopeless.TakeOff != (TakeOff{}) {
		t.Errorf("errors beyond the tolerance: %+v", hopeless)
	}
	found := false
	for _, n := range hopeless.Notes {
		found = found || strings.Contains(n.Text, "more than the whole tolerance")
	}
	if !found {
		t.Errorf("notes %+v", hopeless.Notes)
	}
	in := m20internal()
	nut := good()
	nut.Wire, nut.LeadError = 1.45, 0.01
	v := judged(t, in, at(t, in, nut, in.Limits.Pitch.Mean()))
	if v.Functional >= v.Pitch {
		t.Errorf("an internal thread feels smaller with errors: %v, measured %v", v.Functional, v.Pitch)
	}
}

func TestRefusedReadings(t *testing.T) {
	th := m12()
	ok := at(t, th, good(), th.Limits.Pitch.Mean())
	for name, c := range map[string]struct {
		change func(*Reading)
		want   string
	}{
		"before the wires seat": {func(r *Reading) { r.Value += 1.2 }, "before the wires seat"},
		"no reading":            {func(r *Reading) { r.Value = 0 }, "is not a reading"},
		"not a number":          {func(r *Reading) { r.Value = unit.Length(math.NaN()) }, "is not a reading"},
		"no wire":               {func(r *Reading) { r.Wire = 0 }, "give the diameter"},
		"thin wire":             {func(r *Reading) { r.Wire = 0.8 }, "too thin"},
		"one wire, no major":    {func(r *Reading) { r.Method = OneWire }, "is needed with one wire"},
		"absurd error":          {func(r *Reading) { r.ReadError = 9 }, "half width"},
		"negative error":        {func(r *Reading) { r.WireError = -1 }, "is not a possible error"},
		"flank error":           {func(r *Reading) { r.FlankError = 1 }, "0 to 5°"},
		"temperature error":     {func(r *Reading) { r.TemperatureError = 99 }, "is not a possible error"},
		"expansion":             {func(r *Reading) { r.Part.Expansion = 11.7 }, "coefficient of expansion"},
		"twice given":           {func(r *Reading) { r.Repeats = []unit.Length{1, 2} }, "one or the other"},
		"bad repeat":            {func(r *Reading) { r.Value, r.Repeats = 0, []unit.Length{1, -2} }, "is not a reading"},
		"big flank":             {func(r *Reading) { r.LeadingError = 0.5 }, "wants another tool"},
	} {
		r := ok
		c.change(&r)
		if v, err := Judge(th, r); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, %v", name, v, err)
		}
	}
	if _, err := Judge(thread.Thread{Callout: "x", Form: form60(), Pitch: unit.Whole(1)}, ok); err == nil {
		t.Error("a thread without limits was judged")
	}
	in := m20internal()
	if _, err := Judge(in, Reading{Method: ThreadMicrometer, Value: 18.4}); err == nil {
		t.Error("a thread micrometer in a hole was accepted")
	}
}

func TestThreadMicrometerAndRepeats(t *testing.T) {
	th := m12()
	v := judged(t, th, Reading{Method: ThreadMicrometer, Repeats: []unit.Length{10.75, 10.752, 10.748, 10.751}})
	if math.Abs(float64(v.Pitch)-10.75025) > 1e-9 || v.Standing != Inside {
		t.Errorf("%+v", v)
	}
	names := ""
	for _, c := range v.Budget {
		names += c.Name + ";"
	}
	if !strings.Contains(names, "scatter of 4 readings") || strings.Contains(names, "wires") {
		t.Errorf("budget %s", names)
	}
}

func TestMeans(t *testing.T) {
	square := m12()
	square.Form = thread.Form{Depth: 0.5}
	for _, th := range []thread.Thread{m12(), m20internal(), npt1(), square} {
		list := MeansFor(th)
		seen := map[string]bool{}
		for _, m := range list {
			if m.Name == "" || m.Source == "" || len(m.How) == 0 || len(m.Tells) == 0 || len(m.Cannot) == 0 || seen[m.Name] {
				t.Errorf("%s: %+v", th.Callout, m)
			}
			seen[m.Name] = true
			if m.Sizes && m.Name != m.Measure.String() {
				t.Errorf("%s measures by %v", m.Name, m.Measure)
			}
			if !m.Sizes && m.Limit == "" && m.Name != "cast" {
				t.Errorf("%s compares with nothing", m.Name)
			}
		}
		if !seen["mating part"] || seen["three wires"] != (th.Side == thread.External && th.Form.Leading > 0) {
			t.Errorf("%s: %v", th.Callout, seen)
		}
	}
	find := func(th thread.Thread, name string) Means {
		for _, m := range MeansFor(th) {
			if m.Name == name {
				return m
			}
		}
		t.Fatalf("no %s", name)
		return Means{}
	}
	if m := find(m12(), "GO ring"); !strings.Contains(m.Limit, "10.829 mm") {
		t.Errorf("GO ring: %q", m.Limit)
	}
	if m := find(m20internal(), "NOT GO plug"); !strings.Contains(m.Limit, "18.600 mm") {
		t.Errorf("NOT GO plug: %q", m.Limit)
	}
	if m := find(npt1(), "three wires"); !strings.Contains(strings.Join(m.How, " "), "gauge plane") {
		t.Errorf("taper: %q", m.How)
	}
}

func BenchmarkJudge(b *testing.B) {
	th := m12()
	w := wires(b, th, Choice{Use: 1.01})
	r := good()
	r.Value = w.Over.Mean()
	for b.Loop() {
		if _, err := Judge(th, r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkForThread(b *testing.B) {
	th := m12()
	for b.Loop() {
		if _, err := ForThread(th, Choice{}); err != nil {
			b.Fatal(err)
		}
	}
}
