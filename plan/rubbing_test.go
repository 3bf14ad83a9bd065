package plan

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"thrum/unit"
)

func TestParseOwnCuts(t *testing.T) {
	got, err := ParseOwnCuts("200: 1.4, 115 rpm: x0.8;\n33:0.5")
	if err != nil || len(got) != 3 || got[1] != (OwnCut{115, 0.8}) || FormatOwnCuts(got) != "200: 1.4, 115: 0.8, 33: 0.5" {
		t.Errorf("%v, %v", got, err)
	}
	var in *unit.InputError
	for _, bad := range []string{"fast: 2", "200", "200: -1", "0: 1", "200: NaN", strings.Repeat("200:1,", 30)} {
		if _, err := ParseOwnCuts(bad); !errors.As(err, &in) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	for _, bad := range []string{"", "1,2", "3,2,1", "-1,0,1", "a", "1e99"} {
		if _, err := ParseRubbing(bad); !errors.As(err, &in) {
			t.Errorf("rubbing %q: %v", bad, err)
		}
	}
}

func FuzzParseOwnCuts(f *testing.F) {
	f.Add("200: 1.4, 115: 0.8")
	f.Fuzz(func(t *testing.T, text string) {
		cuts, err := ParseOwnCuts(text)
		if err != nil {
			return
		}
		back, err := ParseOwnCuts(FormatOwnCuts(cuts))
		if err != nil || len(back) != len(cuts) {
			t.Fatalf("%q reads as %v and back as %v (%v)", text, cuts, back, err)
		}
	})
}

// Own cuts narrow what is not known, in the sheet, in the outlook and in every remedy;
// the same rubbing in the request or in the material's file does the same.
func TestOwnCuts(t *testing.T) {
	r := stories(t)["fast with carbide, standing far out"]
	before, err := Examine(r)
	if err != nil {
		t.Fatal(err)
	}
	r.OwnCuts = []OwnCut{{1500, 2.6}, {490, 1.1}, {225, 0.9}}
	after, err := Examine(r)
	if err != nil {
		t.Fatal(err)
	}
	width := func(d Doubtful) float64 { return d.High / d.Low }
	a, b := before.Plan.Vibration.CarryOver, after.Plan.Vibration.CarryOver
	if width(b) >= width(a) || math.Abs(b.Likely-2.6) > 0.6 {
		t.Errorf("carry-over %+v before, %+v after three own cuts", a, b)
	}
	wide, err1 := before.Outlook(context.Background(), 200, 3)
	narrow, err2 := after.Outlook(context.Background(), 200, 3)
	if err := errors.Join(err1, err2); err != nil || narrow.CarryOver.P95/narrow.CarryOver.P5 >= wide.CarryOver.P95/wide.CarryOver.P5 {
		t.Errorf("outlook %+v before, %+v after (%v)", wide.CarryOver, narrow.CarryOver, err)
	}
	all, err := after.Remedies(context.Background(), 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range all {
		if len(m.Settings) == 0 {
			continue
		}
		rerun(t, "with own cuts", m)
		if m.Request.Rubbing == nil || len(m.Request.OwnCuts) > 0 || m.Settings[len(m.Settings)-1].Name != "rubbing" {
			t.Errorf("%s: own cuts are not carried over as what was fitted to them: %+v", m.Name, m.Settings)
		}
	}
	line := ""
	for _, reason := range after.Plan.Reasons {
		if _, l, ok := strings.Cut(reason.Text, "in a material file: "); ok {
			line = l
		}
	}
	if !strings.HasPrefix(line, "rubbing_n_m = \"") {
		t.Fatalf("the sheet does not say what goes into a material file: %q", line)
	}
	own := r
	own.OwnCuts = nil
	own.Own = "[[material]]\nname = \"304\"\nkc11_n_mm2 = 2150\nmc = 0.20\ne_gpa = 193\npoisson = 0.29\ndensity_kg_m3 = 7900\nhss = \"5-7 m/min\"\ncarbide = \"45-75 m/min\"\n" + line + "\n"
	filed, err := Examine(own)
	if err != nil {
		t.Fatal(err)
	}
	if c := filed.Plan.Vibration.CarryOver.Likely; math.Abs(c/b.Likely-1) > 0.02 { // two figures in the file
		t.Errorf("carry-over %.3f with the material's file, %.3f with own cuts", c, b.Likely)
	}
}
