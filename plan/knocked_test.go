package plan

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/examples"
	"thrum/unit"
)

func TestParseKnocked(t *testing.T) {
	for text, want := range map[string][]Knocked{
		"412 Hz 2.1 %":              {{412, 0.021}},
		"412hz 2.1%":                {{412, 0.021}},
		"412":                       {{412, 0}},
		"412,5 Hz":                  {{412.5, 0}},
		" 412 Hz 2 % ; 1530Hz 1 %;": {{412, 0.02}, {1530, 0.01}},
		"":                          nil,
	} {
		got, err := ParseKnocked(text)
		if err != nil || len(got) != len(want) {
			t.Errorf("%q: %v, %v", text, got, err)
			continue
		}
		for i := range want {
			if math.Abs(float64(got[i].Frequency-want[i].Frequency)) > 1e-9 || math.Abs(got[i].Damping-want[i].Damping) > 1e-12 {
				t.Errorf("%q: %v, want %v", text, got, want)
			}
		}
	}
	for text, hint := range map[string]string{
		"loud":              "separated by semicolons",
		"412 Hz 2 % 3":      "separated by semicolons",
		"Hz 412":            "separated by semicolons",
		"0 Hz":              "give hertz from",
		"1e9 Hz":            "give hertz from",
		"412 Hz 70 %":       "per cent of critical",
		"412 Hz -1 %":       "per cent of critical",
		"NaN Hz":            "separated by semicolons",
		"1;2;3;4;5;6;7;8;9": "lowest few",
	} {
		if _, err := ParseKnocked(text); err == nil || !strings.Contains(err.Error()+hintOf(err), hint) {
			t.Errorf("%q: error %v, want a hint %q", text, err, hint)
		}
	}
}

func hintOf(err error) string {
	if e, ok := err.(*unit.InputError); ok {
		return e.Hint
	}
	return ""
}

func TestKnockedRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ks := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Knocked {
			return Knocked{unit.Frequency(rapid.IntRange(50, 400000).Draw(t, "f")) / 10, float64(rapid.IntRange(0, 4999).Draw(t, "z")) / 10000}
		}), 0, MostKnocked).Draw(t, "ks")
		got, err := ParseKnocked(FormatKnocked(ks))
		if err != nil || len(got) != len(ks) {
			t.Fatalf("%q: %v, %v", FormatKnocked(ks), got, err)
		}
		for i := range ks {
			if math.Abs(float64(got[i].Frequency-ks[i].Frequency)) > 1e-6 || math.Abs(got[i].Damping-ks[i].Damping) > 1e-9 {
				t.Fatalf("%q gave %v", FormatKnocked(ks), got)
			}
		}
	})
}

func FuzzParseKnocked(f *testing.F) {
	f.Add("412 Hz 2.1 %; 1530 Hz")
	f.Fuzz(func(t *testing.T, text string) { _, _ = ParseKnocked(text) })
}

// A frequency that was heard takes the place of the computed one, and its range is
// narrower; one that fits no mode is left out and named; the other state of the
// centre keeps what was heard of it.
func TestKnockedReplacesComputed(t *testing.T) {
	lathe, ok := examples.Lathe("inch-bench")
	if !ok {
		t.Fatal("no example lathe")
	}
	r := Request{Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: lathe, Material: "1018", Length: 25.4, Stickout: 4 * 25.4}
	before, err := MakeWithVibration(r)
	if err != nil {
		t.Fatal(err)
	}
	if before.Vibration.Measured {
		t.Fatal("measured before anything was")
	}
	f := before.Vibration.Frequency
	r.KnockFree = []Knocked{{f * 0.3, 0.01}, {f * 1.2, 0.015}}
	r.KnockCentre = []Knocked{{f, 0.05}}
	after, err := MakeWithVibration(r)
	if err != nil {
		t.Fatal(err)
	}
	v := after.Vibration
	if !v.Measured || math.Abs(float64(v.Frequency/(f*1.2))-1) > 1e-9 || v.Damping != 0.015 {
		t.Errorf("heard %.1f Hz at 1.5 %%, assessed %.1f Hz at %.1f %%, measured %v", float64(f*1.2), float64(v.Frequency), 100*v.Damping, v.Measured)
	}
	spread := func(d Doubtful) float64 { return d.High / d.Low }
	if spread(v.CarryOver) >= spread(before.Vibration.CarryOver) {
		t.Errorf("a measurement did not narrow the range: %v, before %v", v.CarryOver, before.Vibration.CarryOver)
	}
	named := false
	for _, a := range after.Assumptions {
		named = named || strings.Contains(a.Text, "near no bending mode")
	}
	if !named {
		t.Error("the frequency that fits no mode is not named")
	}
}
