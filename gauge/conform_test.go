package gauge

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

// The worked examples of JCGM 106 and figures worked out elsewhere.
func TestConformanceProbability(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		what, source string
		status       outside.Status
		y, u, lo, hi float64
		p, tol       float64
	}{
		{"motor oil, viscosity 13.6(1.8) within 12.5 to 16.3 mm²/s", "JCGM 106:2012, 7.5 example", outside.Memory, 13.6, 1.8, 12.5, 16.3, 0.66, 0.005},
		{"container, bursting pressure 509.7(8.6), at least 490 kPa", "JCGM 106:2012, 7.4 example", outside.Memory, 509.7, 8.6, 490, inf, 0.99, 0.005},
		{"diode, breakdown -5.47(0.05), at most -5.40 V", "JCGM 106:2012, 7.4 example", outside.Memory, -5.47, 0.05, -inf, -5.40, 0.92, 0.005},
		{"two standard uncertainties inside one limit", "normal distribution, worked out elsewhere", outside.Computed, 9.96, 0.02, -inf, 10, 0.97725, 5e-6},
		{"on the limit", "normal distribution, worked out elsewhere", outside.Computed, 10, 0.02, -inf, 10, 0.5, 5e-6},
		{"middle of a tolerance of four standard uncertainties", "normal distribution, worked out elsewhere", outside.Computed, 5, 0.5, 4, 6, 0.95450, 5e-6},
		{"off the middle", "normal distribution, worked out elsewhere", outside.Computed, 5.6, 0.25, 4, 6, 0.94520, 5e-6},
	} {
		outside.Check(t, outside.Claim{
			What: "conformance probability: " + c.what, Source: c.source, Status: c.status,
			Published: c.p, Ours: within(c.y, c.u, c.lo, c.hi), Unit: "1", Tolerance: c.tol,
		})
	}
	if got := within(1, 0, 0, 2); got != 1 {
		t.Errorf("without uncertainty inside is certain, got %v", got)
	}
	if got := within(3, 0, 0, 2); got != 0 {
		t.Errorf("without uncertainty outside is certain, got %v", got)
	}
}

func TestGuardBand(t *testing.T) {
	// Limits far apart: the guard band of ISO 14253-1's default.
	a, ok := Acceptance(1, thread.Band{Min: 100, Max: 200})
	if !ok {
		t.Fatal("a tolerance of 100 u is not too narrow")
	}
	for _, g := range []unit.Length{a.Min - 100, 200 - a.Max} {
		outside.Check(t, outside.Claim{
			What: "guard band for 95 %, one limit", Source: "ISO 14253-1:2017, default rule", Status: outside.Memory,
			Published: 1.65, Ours: float64(g), Unit: "u", Tolerance: 0.006,
		})
		outside.Check(t, outside.Claim{
			What: "guard band for 95 %, one limit, as quantile", Source: "normal distribution, worked out elsewhere", Status: outside.Computed,
			Published: 1.645, Ours: float64(g), Unit: "u", Tolerance: 0.0005,
		})
	}
	// The narrowest tolerance for which a reading can be claimed at all is that
	// with 95 % between the limits: 2 x 1.959964 u.
	if _, ok := Acceptance(1, thread.Band{Min: 100, Max: 103.9198}); ok {
		t.Error("a tolerance of 3.9198 u can be claimed")
	}
	if _, ok := Acceptance(1, thread.Band{Min: 100, Max: 103.9202}); !ok {
		t.Error("a tolerance of 3.9202 u cannot be claimed")
	}
	// One limit only.
	for _, b := range []thread.Band{{Min: 100}, {Max: 100}} {
		a, ok := Acceptance(1, b)
		if !ok || (a.Min == 0) != (b.Min == 0) || (a.Max == 0) != (b.Max == 0) {
			t.Errorf("%+v: accept %+v, %v", b, a, ok)
		}
		if p := ConformanceProbability(a.Min+a.Max, 1, b); math.Abs(p-0.95) > 1e-9 {
			t.Errorf("%+v: probability %v at the edge of acceptance", b, p)
		}
	}
	if a, ok := Acceptance(1, thread.Band{}); !ok || a != (thread.Band{}) {
		t.Errorf("without limits: %+v, %v", a, ok)
	}
}

// At the edges of the acceptance zone the probability is 95 %, inside it more.
func TestAcceptanceIsWhereProbabilityIs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := unit.Length(rapid.Float64Range(1e-4, 0.1).Draw(t, "u"))
		lo := unit.Length(rapid.Float64Range(1, 100).Draw(t, "lo"))
		b := thread.Band{Min: lo, Max: lo + u*unit.Length(rapid.Float64Range(4, 100).Draw(t, "width"))}
		a, ok := Acceptance(u, b)
		if !ok {
			t.Fatal("refused")
		}
		for _, y := range []unit.Length{a.Min, a.Max} {
			if p := ConformanceProbability(y, u, b); math.Abs(p-0.95) > 1e-6 {
				t.Fatalf("probability %v at the edge", p)
			}
		}
		y := a.Min + (a.Max-a.Min)*unit.Length(rapid.Float64Range(0, 1).Draw(t, "place"))
		if p := ConformanceProbability(y, u, b); p < 0.95-1e-6 {
			t.Fatalf("probability %v inside the acceptance zone", p)
		}
	})
}

// Student's t for few readings: GUM table G.2, and the factor that scatter takes.
func TestScatterOfFewReadings(t *testing.T) {
	for n, want := range map[int]float64{2: 12.71, 3: 4.30, 4: 3.18, 6: 2.57, 11: 2.23} {
		r := make([]unit.Length, n)
		for i := range r {
			r[i] = 10 // same readings, except for the first two
		}
		r[0], r[1] = 10-0.01, 10+0.01
		m := measurement{r: Reading{Value: 10, Repeats: r}}
		s := math.Sqrt(2 * 0.01 * 0.01 / float64(n-1))
		got := 1.959964 * float64(m.scatter(n).Share) / (s / math.Sqrt(float64(n)))
		outside.Check(t, outside.Claim{
			What: "Student's t, 95 %, " + string(rune('0'+n-1)) + " degrees of freedom", Source: "GUM (JCGM 100:2008), table G.2", Status: outside.Memory,
			Published: want, Ours: got, Unit: "1", Tolerance: 0.005,
		})
	}
}
