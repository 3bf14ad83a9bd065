package plan

import (
	"regexp"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// alone finds a figure in a metric unit that no figure in inches stands beside.
var metricAlone = regexp.MustCompile(`[0-9] ?(N/um|N/µm|N/m|mm|m/min|kW)\b`)

// An inch sheet speaks inches, pounds and feet a minute: what vibrates, how stiff
// things are taken to be, and what keeps flanks from tearing.
func TestInchSheetInInches(t *testing.T) {
	r := exampleRequest(t)
	r.Stickout, r.OwnCuts = 2.5*unit.Inch, []OwnCut{{RPM: 200, Growth: 1.4}, {RPM: 115, Growth: 0.8}}
	for _, tool := range []string{"hss", "carbide"} {
		r.ToolMaterial = tool
		p, err := MakeWithVibration(r)
		if err != nil {
			t.Fatal(err)
		}
		lines := append([]string{p.Speed.Note}, p.Vibration.Words...)
		for _, a := range p.Assumptions {
			lines = append(lines, a.Text)
		}
		for _, re := range p.Reasons {
			if re.About == "vibration" {
				before, _, _ := strings.Cut(re.Text, "; in a material file")
				lines = append(lines, before)
			}
		}
		for _, l := range lines {
			if metricAlone.MatchString(l) && !strings.Contains(l, "lbf/in") {
				t.Errorf("%s: %s", tool, l)
			}
		}
		if all := strings.Join(lines, "\n"); !strings.Contains(all, "114 lbf/thou") || !strings.Contains(all, "ft/min") {
			t.Errorf("%s: no stiffness or speed in\n%s", tool, all)
		}
	}
	outside.Check(t, outside.Claim{
		What: "20 N/um in lbf/thou", Source: "ISO 80000-4: 1 lbf = 4.448 221 615 260 5 N; 1 in = 25.4 mm", Status: outside.Memory,
		Published: 20 / (4.4482216152605 / 25.4), Ours: float64(usualTool / unit.PoundPerThou), Unit: "lbf/thou", Tolerance: 1e-9,
	})
}
