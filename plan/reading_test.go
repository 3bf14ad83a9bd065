package plan_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"thrum/gauge"
	"thrum/internal/outside"
	"thrum/plan"
	"thrum/thread"
	"thrum/unit"
)

func typed(pairs ...string) func(string) string {
	all := map[string]string{}
	for i := 0; i+1 < len(pairs); i += 2 {
		all[pairs[i]] = pairs[i+1]
	}
	return func(field string) string { return all[field] }
}

func judged(t *testing.T, callout string, pairs ...string) *gauge.Verdict {
	t.Helper()
	th, err := thread.Parse(callout, thread.External)
	if err != nil {
		t.Fatal(err)
	}
	r, err := plan.ParseReading(typed(pairs...), th, nil)
	if err != nil {
		t.Fatal(err)
	}
	v, err := gauge.Judge(th, r)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// A warm part reads large. With wires and micrometer at 20 degrees the formula for three
// wires at 60 degrees, E = M - 3 W + 0.866025 P, holds for the grown thread, whose E and P
// are g = 1 + alpha (T - 20) times those on the drawing: E at 20 changes by (M - 3 W)(1/g - 1).
func TestReadingOfAWarmPart(t *testing.T) {
	const source = "three-wire formula: Machinery's Handbook (from memory); alpha 20.5e-6 of C36000 brass: Callister, Table B.6; ISO 1"
	base := []string{"measured", "60.854mm", "wire", "2.31mm"}
	cold := judged(t, "M60x4-6g", base...)
	warm := judged(t, "M60x4-6g", append(base, "part-temperature", "113F", "made-of", "free-cutting brass")...)
	g := 1 + 20.5e-6*25 // 113 °F is 45 °C
	want := (60.854 - 3*2.31) * (1/g - 1) * 1000
	outside.Check(t, outside.Claim{What: "M60x4 in brass measured at 45 °C instead of 20", Source: source, Status: outside.Memory, Published: want, Ours: (warm.Pitch - cold.Pitch).MM() * 1000, Unit: "um", Tolerance: 0.05})
}

// H28 (from memory): a lead error of dp within the engagement makes a 60 degree screw
// seem 1.732 dp larger.
func TestReadingWithLeadError(t *testing.T) {
	v := judged(t, "1/2-13 UNC-2A", "measured", ".5130in", "wire", ".045in", "lead-error", ".001")
	outside.Check(t, outside.Claim{What: "lead error of 0.001 in, as the mate feels it", Source: "NBS Handbook H28: 1.732 dp", Status: outside.Memory, Published: 1.732, Ours: (v.Functional - v.Pitch).Inches() * 1000, Unit: "thou", Tolerance: 0.001})
}

func TestReadingsOfOnePlaceAreAveraged(t *testing.T) {
	several := judged(t, "M20x2.5-6g", "measured", "20.540", "again", "20.546; 20.543;", "wire", "1.443")
	one := judged(t, "M20x2.5-6g", "measured", "20.543", "wire", "1.443")
	if d := (several.Pitch - one.Pitch).Abs(); d > 1e-9 {
		t.Errorf("the mean differs by %g mm", float64(d))
	}
	// s = 3 um, s/sqrt 3 = 1.732 um, widened by t(0.975, 2)/1.960 = 4.3027/1.960 (GUM, Table G.2).
	for _, c := range several.Budget {
		if strings.HasPrefix(c.Name, "scatter") {
			outside.Check(t, outside.Claim{What: "share of three readings with s = 3 um", Source: "GUM (JCGM 100), Table G.2: t of 95 % and 2 degrees of freedom is 4.30", Status: outside.Memory, Published: 1.7321 * 4.30 / 1.96, Ours: c.Share.MM() * 1000, Unit: "um", Tolerance: 0.01})
			return
		}
	}
	t.Error("the scatter is not in the budget")
}

func TestReadingFaults(t *testing.T) {
	th, err := thread.Parse("M20x2.5-6g", thread.External)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		field string
		typed []string
	}{
		{"measured", nil},
		{"measured", []string{"measured", "twenty"}},
		{"method", []string{"measured", "20.5", "method", "calipers"}},
		{"accuracy", []string{"measured", "20.5", "accuracy", "0"}},
		{"flank-accuracy", []string{"measured", "20.5", "flank-accuracy", "half"}},
		{"made-of", []string{"measured", "20.5", "part-temperature", "30C"}},
		{"made-of", []string{"measured", "20.5", "made-of", "carbon steel"}},
		{"gauge-temperature", []string{"measured", "20.5", "gauge-temperature", "18C"}},
		{"part-temperature", []string{"measured", "20.5", "part-temperature", "30", "made-of", "carbon steel"}},
		{"temperature-accuracy", []string{"measured", "20.5", "temperature-accuracy", "1"}},
	} {
		_, err := plan.ParseReading(typed(c.typed...), th, nil)
		var in *unit.InputError
		if !errors.As(err, &in) || in.Field != c.field {
			t.Errorf("%v: %v; want a fault of %s", c.typed, err, c.field)
		}
	}
}

func TestWiresAtHand(t *testing.T) {
	sizes, err := plan.ParseWires([]string{"60° inch best sizes", "1.1mm"}, unit.Metric)
	if err != nil || len(sizes) != 29 {
		t.Errorf("%d sizes, %v", len(sizes), err)
	}
	for _, bad := range []string{"", "0", "-1", "metric"} {
		if _, err := plan.ParseWires([]string{bad}, unit.Metric); err == nil {
			t.Errorf("%q is taken for a wire", bad)
		}
	}
}

func FuzzParseReading(f *testing.F) {
	f.Add("20.5; 20.51", "one wire", "20", "31C", "carbon steel", "0.2")
	f.Add(";;", "", "-1", "°", "", "1/0")
	th, err := thread.Parse("M20x2.5-6g", thread.External)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, measured, method, major, warm, made, angle string) {
		r, err := plan.ParseReading(typed("measured", measured, "method", method, "major", major, "part-temperature", warm, "made-of", made, "leading-error", angle), th, nil)
		if err != nil {
			return
		}
		if v, err := gauge.Judge(th, r); err == nil && (math.IsNaN(v.Pitch.MM()) || math.IsNaN(v.Functional.MM()) || math.IsNaN(v.Conforms)) {
			t.Errorf("%q %q %q %q %q %q: %+v", measured, method, major, warm, made, angle, v)
		}
	})
}
