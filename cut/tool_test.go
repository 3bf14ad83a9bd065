package cut

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

// TestBelowPitchLine compares with the depths of ISO and Unified threads: a tool
// with the flat of the basic profile or the root radius H/6 stands as deep as the
// standards say.
func TestBelowPitchLine(t *testing.T) {
	h := math.Sqrt(3) / 2
	for _, c := range []struct {
		what   string
		tool   Tool
		below  float64 // of the pitch
		source string
	}{
		{"sharp", Tool{Leading: thirty, Trailing: thirty}, h / 2, "half of H = 0.866025 P"},
		{"flat P/4", Tool{Leading: thirty, Trailing: thirty, NoseFlat: 0.25}, 3*h/8 - h/8, "ISO 68-1: H/4 below the pitch line to the flat of P/4"},
		{"flat P/8", Tool{Leading: thirty, Trailing: thirty, NoseFlat: 0.125}, 3 * h / 8, "ISO 68-1: 3/8 H below the pitch line to the flat of P/8"},
		{"radius H/6", Tool{Leading: thirty, Trailing: thirty, NoseRadius: unit.Length(h / 6)}, h / 3, "ISO 724: d2 - d3 = 0.57735 P, so H/3 below the pitch line"},
		{"55 degrees, radius 0.137329 P", Tool{Leading: 27.5 * unit.Degree, Trailing: 27.5 * unit.Degree, NoseRadius: 0.137329}, 0.640327 / 2, "BS 84: depth 0.640327 P, half of it below the pitch line"},
	} {
		got, err := c.tool.BelowPitchLine(1)
		if err != nil {
			t.Fatal(err)
		}
		outside.Check(t, outside.Claim{What: "tip below the pitch line, " + c.what, Source: c.source, Status: outside.Memory, Published: c.below, Ours: got.MM(), Unit: "of the pitch", Tolerance: 2e-6})
	}
	if _, err := (Tool{Leading: thirty, Trailing: thirty, NoseFlat: 0.6}).BelowPitchLine(1); err == nil {
		t.Error("a nose wider than half the pitch is taken")
	}
}

// TestToolGroove: the groove that a partial-profile tool leaves is half a pitch
// wide on the pitch line, for any V, and its chips add up.
func TestToolGroove(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tool := Tool{
			Leading:  unit.Angle(rapid.Float64Range(5, 45).Draw(t, "leading")) * unit.Degree,
			Trailing: unit.Angle(rapid.Float64Range(5, 45).Draw(t, "trailing")) * unit.Degree,
		}
		pitch := unit.Length(rapid.Float64Range(0.5, 6).Draw(t, "pitch"))
		nose := unit.Length(rapid.Float64Range(0, 0.12).Draw(t, "nose")) * pitch
		if rapid.Bool().Draw(t, "round") {
			tool.NoseRadius = nose
		} else {
			tool.NoseFlat = nose
		}
		below, err := tool.BelowPitchLine(pitch)
		if err != nil {
			t.Fatal(err)
		}
		above := pitch * unit.Length(rapid.Float64Range(0.05, 0.5).Draw(t, "above"))
		g, err := tool.Groove(pitch, above+below)
		var in *unit.InputError
		if errors.As(err, &in) {
			t.Skip("the nose is higher than the groove")
		}
		if err != nil {
			t.Fatal(err)
		}
		c, err := NewCutter(g)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(c.Depth()-above-below)) > 1e-9 {
			t.Fatalf("depth %v, asked for %v", c.Depth(), above+below)
		}
		_, outlines, err := c.Cut([]Position{{Depth: c.Depth()}})
		if err != nil {
			t.Fatal(err)
		}
		if w := widthAt(outlines[0], above); math.Abs(float64(w-pitch/2)) > 1e-9 {
			t.Fatalf("%v wide on the pitch line, pitch %v", w, pitch)
		}
		if open := g[len(g)-1].To.Z - g[0].From.Z; open > pitch*(1+1e-9) {
			t.Fatalf("opens to %v, pitch %v", open, pitch)
		}
	})
}

// widthAt is the width of an outline at a depth; straight flanks only.
func widthAt(g thread.Groove, x unit.Length) unit.Length {
	var z []unit.Length
	for _, s := range g {
		lo, hi := min(s.From.X, s.To.X), max(s.From.X, s.To.X)
		if s.Radius == 0 && lo <= x && x < hi {
			z = append(z, s.From.Z+(s.To.Z-s.From.Z)*(x-s.From.X)/(s.To.X-s.From.X))
		}
	}
	if len(z) != 2 {
		return unit.Length(math.NaN())
	}
	return z[1] - z[0]
}

func TestEdges(t *testing.T) {
	for _, c := range []struct {
		name string
		m    ToolMaterial
		want string
	}{{"", HSS, "stoned HSS"}, {"", Carbide, "honed carbide"}, {"Worn", Carbide, "worn carbide"}, {"ground HSS", HSS, "ground HSS"}} {
		e, err := FindEdge(c.name, c.m)
		if err != nil || e.Name != c.want {
			t.Errorf("%q of %v: %q, %v", c.name, c.m, e.Name, err)
		}
	}
	if _, err := FindEdge("honed", HSS); err == nil || !strings.Contains(err.Error(), "stoned HSS") {
		t.Errorf("honed HSS: %v", err)
	}
	for _, e := range EdgeTypes() {
		// h_min is 0.2 to 0.4 of the edge radius; the table is rounded to whole micrometres.
		if lo, hi := 0.2*e.RadiusLo, 0.4*e.RadiusHi; e.MinLo < lo-0.001 || e.MinHi > hi+0.001 || e.MinLo >= e.MinHi || e.RadiusLo >= e.RadiusHi || e.Source == "" {
			t.Errorf("%s: chips from %v to %v for a radius of %v to %v", e.Name, e.MinLo, e.MinHi, e.RadiusLo, e.RadiusHi)
		}
	}
	if LeadingSide(true) != "left" || LeadingSide(false) != "right" {
		t.Error("the leading edge is on the wrong side")
	}
}

func TestCautions(t *testing.T) {
	stoned, err := FindEdge("", HSS)
	if err != nil {
		t.Fatal(err)
	}
	honed, err := FindEdge("", Carbide)
	if err != nil {
		t.Fatal(err)
	}
	steel, stainless := Material{Name: "steel"}, Material{Name: "304", Hardens: 0.03}
	tool := Tool{Leading: thirty, Trailing: thirty, Edge: stoned}
	c := cutter(t, vee(1, 0.1, thirty, thirty))
	depths := []float64{0.3, 0.5, 0.65, 0.8, 0.9, 1}
	flank := chips(t, c, Infeed{Method: Modified, Angle: 29.5 * unit.Degree}, depths...)
	open := chips(t, c, Infeed{Method: Modified, Angle: 27 * unit.Degree}, depths...)
	straight := chips(t, c, Infeed{}, depths...)
	for _, k := range []struct {
		name  string
		chips []Chip
		tool  Tool
		m     Material
		words []string // of the one caution expected; none when empty
	}{
		{"29.5 degrees, stoned edge", flank, tool, steel, []string{"trailing flank", "may rub", "27 to 29 degrees from the cross-slide line", "straight in"}},
		{"29.5 degrees, honed carbide", flank, Tool{Leading: thirty, Trailing: thirty, Edge: honed}, steel, []string{"will rub"}},
		{"27 degrees, stoned edge", open, tool, steel, nil},
		{"straight, stoned edge", straight, tool, steel, nil},
		{"straight with a one-edged tool", straight, Tool{Leading: thirty, Trailing: thirty, Edge: stoned, Edges: LeadingEdgeOnly}, steel, []string{"sharpened on the other edge"}},
		{"stainless, thin passes", chips(t, c, Infeed{}, 0.9, 0.95, 1), tool, stainless, nil},
		{"stainless, too thin", chips(t, c, Infeed{}, 0.9, 0.98, 1), tool, stainless, []string{"hardens"}},
	} {
		got := Cautions(k.chips, k.tool, k.m)
		if len(k.words) == 0 {
			if len(got) > 0 {
				t.Errorf("%s: %+v", k.name, got)
			}
			continue
		}
		if len(got) != 1 {
			t.Errorf("%s: %d cautions: %+v", k.name, len(got), got)
			continue
		}
		for _, w := range k.words {
			if !strings.Contains(got[0].Text+" "+got[0].Cure, w) {
				t.Errorf("%s: %q, cure %q: no word of %q", k.name, got[0].Text, got[0].Cure, w)
			}
		}
		if got[0].Pass < 2 || got[0].Source == "" && got[0].Text[:3] == "the" {
			t.Errorf("%s: pass %d, source %q", k.name, got[0].Pass, got[0].Source)
		}
	}
	// A square tool's sides have no chip of their own, and nothing can be done about it.
	if got := Cautions(chips(t, cutter(t, grooves(t)["square"]), Infeed{}, 0.5, 1, 1.5, 2), Tool{Edge: honed}, steel); len(got) != 0 {
		t.Errorf("square: %+v", got)
	}
}
