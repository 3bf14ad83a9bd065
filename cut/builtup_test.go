package cut

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/unit"
)

func tearing(t testing.TB, material string, tool ToolMaterial, mPerMin, h float64, fluid Fluid) Tearing {
	t.Helper()
	m, err := FindMaterial(material)
	if err != nil {
		t.Fatal(err)
	}
	return BuiltUpEdge(m, tool, unit.Velocity(mPerMin)*unit.MetrePerMinute, unit.Length(h), fluid)
}

// TestHump: what shops and textbooks agree on. In low-carbon steel roughness
// rises from very low speed to a worst zone, and is gone at carbide speeds;
// brittle and leaded metals have no hump.
func TestHump(t *testing.T) {
	at := func(v float64) float64 { return tearing(t, "1018", HSS, v, 0.1, Dry).Index }
	rising := []float64{2, 4, 7, 11, 15}
	for i := 1; i < len(rising); i++ {
		if at(rising[i]) <= at(rising[i-1]) {
			t.Errorf("1018: %g m/min (index %.2f) is no worse than %g m/min (%.2f)", rising[i], at(rising[i]), rising[i-1], at(rising[i-1]))
		}
	}
	if at(2) != 0 || at(25) != 1 || at(130) != 0 {
		t.Errorf("1018 at 2, 25, 130 m/min: %.2f %.2f %.2f", at(2), at(25), at(130))
	}
	if a, b := at(11), at(13); b <= a {
		t.Errorf("threading 1018 with high-speed steel, a little faster should be worse: 11 m/min %.2f, 13 m/min %.2f", a, b)
	}
	for _, m := range []string{"12L14", "360 brass", "grey iron", "416"} {
		if r := tearing(t, m, HSS, 12, 0.1, Dry); r.Chance > Possible {
			t.Errorf("%s: tearing is %v", m, r.Chance)
		}
	}
	if r := tearing(t, "POM", HSS, 30, 0.1, Dry); r.Index != 0 || r.Band.Given() {
		t.Errorf("POM: %+v", r)
	}
	if dry, oiled := tearing(t, "1018", HSS, 10, 0.1, Dry), tearing(t, "1018", HSS, 10, 0.1, ActiveOil); oiled.Index >= dry.Index {
		t.Error("an active oil does not help at low speed")
	}
	if thin, thick := tearing(t, "1018", HSS, 60, 0.04, Dry), tearing(t, "1018", HSS, 60, 0.2, Dry); thin.Index <= thick.Index {
		t.Error("a thin chip does not move the band to higher speeds")
	}
	r := tearing(t, "1018", Carbide, 15, 0.1, Dry)
	if r.Chance != Expected || !strings.Contains(r.Cure(unit.Metric), "slower") || !strings.Contains(r.Cure(unit.Inches), "faster") || !strings.Contains(r.Cure(unit.Inches), "oil") {
		t.Errorf("carbide run at 15 m/min in 1018: %v, cure %q", r.Chance, r.Cure(unit.Inches))
	}
	if r.Source == "" || r.Confidence == "" || r.Low > r.Index || r.High < r.Index {
		t.Errorf("a judgement without its doubt: %+v", r)
	}
}

func TestKindOfFluid(t *testing.T) {
	for name, want := range map[string]Fluid{
		"sulphurised cutting oil": ActiveOil, "Sulfurized oil": ActiveOil, "soluble oil": Soluble, "any cutting oil, flooded or brushed on": PlainOil,
		"lard oil": PlainOil, "dry": Dry, "dry with an air blast": Dry, "": Dry, "paraffin": PlainOil,
	} {
		if got := KindOfFluid(name); got != want {
			t.Errorf("%q is %q, want %q", name, got, want)
		}
	}
}

// TestIndexStaysInside: whatever is asked, the index lies between 0 and 1 and the
// words fit.
func TestIndexStaysInside(t *testing.T) {
	all := Materials()
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(all).Draw(t, "material")
		r := BuiltUpEdge(m, ToolMaterial(rapid.IntRange(0, 1).Draw(t, "tool")), unit.Velocity(rapid.Float64Range(-10, 1e4).Draw(t, "v")),
			unit.Length(rapid.Float64Range(-1, 3).Draw(t, "h")), rapid.SampledFrom([]Fluid{Dry, Soluble, PlainOil, ActiveOil, "tea"}).Draw(t, "fluid"))
		if !(r.Index >= 0 && r.Index <= 1) || !(r.Low >= 0 && r.Low <= r.High && r.High <= 1) || r.Chance != chance(r.Index) || r.Why == "" {
			t.Fatalf("%+v", r)
		}
	})
}
