package plan

import (
	"math"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

// The half of the tolerance that a lead error may take is that of the American table of
// allowable variations in lead, and the cotangent of the flank turns one into the other.
func TestAllowedLeadVariation(t *testing.T) {
	const source = "ASME B1.1-2003, table 3, allowable variations in lead and equivalent change in functional diameter"
	for _, c := range []struct {
		callout          string
		lead, equivalent float64 // in
	}{
		{"3/4-10 UNC-2A", 0.00170, 0.00295},
		{"3/4-10 UNC-2B", 0.00222, 0.00385},
		{"3/4-10 UNC-3A", 0.00127, 0.00220},
		{"3/4-10 UNC-3B", 0.00165, 0.00285},
		{"3/4-16 UNF-2A", 0.00144, 0.00250},
		{"3/4-20 UNEF-2A", 0.00127, 0.00220},
		{"3/4-28 UN-2A", 0.00110, 0.00190},
	} {
		th, err := thread.Parse(c.callout, thread.External)
		if err != nil {
			t.Fatal(err)
		}
		half := mostLeadShare * th.Limits.Pitch.Width().Inches()
		outside.Check(t, outside.Claim{
			What: "allowed equivalent of lead error, " + c.callout, Source: source, Status: outside.Read,
			Published: c.equivalent, Ours: half, Unit: "in", Tolerance: 0.00005,
		})
		outside.Check(t, outside.Claim{
			What: "allowed lead error, " + c.callout, Source: source, Status: outside.Read,
			Published: c.lead, Ours: half * math.Tan(math.Pi/6), Unit: "in", Tolerance: 0.00003,
		})
	}
}

// Without a wheel of 127 teeth a metric thread on an inch screw is out by what its wheels
// leave: the sheet says what that comes to over the thread, over a standard length, and
// against the tolerance.
func TestLeadErrorInWords(t *testing.T) {
	la := strings.Replace(exampleLathe(t, "inch-bench"), ", 100, 127]", ", 100]", 1)
	la = strings.Replace(la, "most_teeth_on_screw = 127", "most_teeth_on_screw = 100", 1)
	p := mustMake(t, Request{Callout: "M10-6g", Lathe: la, Material: "1018", Length: 12, Stickout: 30, OpenEnd: true})
	g := p.Gears[0]
	outside.Check(t, outside.Claim{
		What: "lead error of wheels of 63/80 for 1.5 mm from 8 threads per inch", Source: "workshop handbooks: a wheel of 63 teeth in place of 127 is out by one part in 8000", Status: outside.Memory,
		Published: 125.0, Ours: math.Abs(g.LeadErrorPPM), Unit: "ppm", Tolerance: 0.05,
	})
	// 125 ppm of 12 mm and of 300 mm; 12 mm engaged times cot 30 degrees, of 0.132 mm (ISO 965-1, M10-6g).
	for _, want := range []string{"+0.0015 mm over the 12 mm of thread", "+0.0375 mm over 300 mm", "0.0026 mm of pitch diameter", "2 % of its tolerance", "harmless"} {
		if !strings.Contains(g.LeadWords, want) {
			t.Errorf("no %q in %s", want, g.LeadWords)
		}
	}
	p = mustMake(t, Request{Callout: "M10-6g", Units: unit.Inches, Lathe: la, Material: "1018", Length: 12, Stickout: 30, OpenEnd: true})
	if w := p.Gears[0].LeadWords; !strings.Contains(w, "over 12 in") || strings.Contains(w, "mm") {
		t.Errorf("on an inch sheet: %s", w)
	}
	if w := mustMake(t, exampleRequest(t)).Gears[0].LeadWords; w != "exact" {
		t.Errorf("an exact train: %s", w)
	}
}

// A wheel of the threading dial is named only where it makes a difference.
func TestDialWheelNamed(t *testing.T) {
	for _, c := range []struct {
		callout, lathe string
		named          bool
	}{
		{"1/2-16 UN-2A special", "inch-bench", false}, // 8 threads per inch of screw: anywhere
		{"3/8-24 UNF-2A", "inch-bench", false},
		{"M10-6g", "inch-bench", false}, // no line on any wheel
		{"1/2-13 UNC-2A", "inch-bench", true},
		{"M16-6g", "metric-geared", false},        // 2 mm from 6 mm: anywhere
		{"1/2-13 UNC-2A", "metric-geared", false}, // no line
	} {
		p := mustMake(t, Request{Callout: c.callout, Lathe: exampleLathe(t, c.lathe), Material: "1018", Length: 12, Stickout: 30, OpenEnd: true})
		if named := strings.Contains(p.Dial.Detail, "wheel"); named != c.named {
			t.Errorf("%s on %s: %s %s", c.callout, c.lathe, p.Dial.Rule, p.Dial.Detail)
		}
	}
}
