package vibe

import (
	"fmt"
	"math"
	"testing"

	"thrum/cut"
	"thrum/internal/outside"
	"thrum/shaft"
	"thrum/unit"
)

const (
	explicit = "docs/validation/cut_in_time.py: numpy, explicit Runge-Kutta"
	powers   = "docs/validation/cut_in_time.py: numpy, power spectrum"
	inTime   = "../docs/validation/cut_in_time.csv"
)

// atDepth is a chip of one edge square to the axis, b wide and h thick.
func atDepth(b, h, depth float64) cut.Chip {
	c := chipOf(cut.Element{Part: cut.Nose, Length: unit.Length(b), Thickness: unit.Length(h), Radial: 1})
	c.At.Depth = unit.Length(depth)
	return c
}

// goldenSines are the cases of the script's part sines.
func goldenSines(t *testing.T, name string) Cutting {
	limit, _ := table.Limit(tableK)
	cases := map[string]struct{ infeed, rpm [4]float64 }{
		"real":   {[4]float64{0.05, 0.05, 0.05, 0.05}, [4]float64{200, 200, 200, 200}},
		"last":   {[4]float64{0.05, 0.05, 0.03, 0.03}, [4]float64{200, 200, 140, 140}},
		"spring": {[4]float64{0.05, 0.05, 0, 0}, [4]float64{200, 200, 200, 140}},
	}
	c, ok := cases[name]
	if !ok {
		t.Fatalf("no case %q", name)
	}
	in := Cutting{
		Holding: single(t, table), Force: evenForce(t, tableK, 1), Diameter: 20, Turns: 2, Rate: 80000, Follow: []float64{127},
		Waves: []BlankWave{{127, 0.004, 0, 0.3}, {119, 0.003, 0, 1.1}},
	}
	depth := 0.0
	for i, h := range c.infeed {
		depth += h
		in.Passes = append(in.Passes, Pass{atDepth(2*limit.MM(), h, depth), unit.Rotation(c.rpm[i])})
	}
	return in
}

// goldenVee is the script's part vee.
func goldenVee(t *testing.T) Cutting {
	h := slanting(t,
		shaft.ToolMode{Frequency: 420, Stiffness: 8000, Damping: 0.03, Along: radial},
		shaft.ToolMode{Frequency: 510, Stiffness: 9000, Damping: 0.03, Along: axial},
		shaft.ToolMode{Frequency: 700, Stiffness: 15000, Damping: 0.05, Along: shaft.Direction{Radial: 0.6, Tangential: 0.5, Axial: 0.6}},
	)
	in := Cutting{
		Holding: h, Force: evenForce(t, 1000, 0.5), Diameter: 20, Turns: 2, Rate: 80000, Rub: 12, Follow: []float64{127},
		Waves: []BlankWave{{127, 0.03, 0, 0.3}, {151, 0.02, 0.03, 1.1}},
	}
	var x, z float64
	for _, p := range [][3]float64{{0.05, 0.02, 200}, {0.05, 0.02, 200}, {0.04, 0, 150}, {0, 0, 200}, {0.05, 0.02, 200}} {
		x, z = x+p[0], z+p[1]
		s, c := 0.5, math.Sqrt(0.75)
		chip := chipOf(
			cut.Element{Part: cut.LeadingFlank, Length: 0.9, Thickness: unit.Length(s*p[0] + c*p[1]), Radial: s, Axial: c},
			cut.Element{Part: cut.Nose, Length: 0.3, Thickness: unit.Length(p[0]), Radial: 1},
			cut.Element{Part: cut.TrailingFlank, Length: 0.9, Thickness: unit.Length(s*p[0] - c*p[1]), Radial: s, Axial: -c},
		)
		chip.At = cut.Position{Depth: unit.Length(x), Along: unit.Length(z)}
		in.Passes = append(in.Passes, Pass{chip, unit.Rotation(p[2])})
	}
	return in
}

// TestAgainstExplicitIntegration compares cuts in which the tool leaves the metal with
// those of another program, from the same blank, pass by pass and edge by edge.
func TestAgainstExplicitIntegration(t *testing.T) {
	runs := map[string]*Simulation{"modified": simulate(t, goldenVee(t))}
	for _, name := range []string{"real", "last", "spring"} {
		runs[name] = simulate(t, goldenSines(t, name))
	}
	seen, left := 0, false
	for _, r := range append(rowsOf(t, inTime, "sines"), rowsOf(t, inTime, "vee")...) {
		name, pass, e := r.words[0], int(r.number[1]), int(r.number[2])
		s := runs[name]
		got := s.Passes[pass-1]
		rms, re, im, off := r.number[3], r.number[4], r.number[5], r.number[6]
		what := fmt.Sprintf("cut %q, pass %d, edge %d: ", name, pass, e+1)
		claim(t, what+"waviness", explicit, rms, 1000*got.Waviness[e].MM(), 0.01, "um rms")
		w := got.Waves[e][0]
		if d := math.Hypot(1000*w.Cos.MM()-re, 1000*w.Sin.MM()-im); d > 0.01*math.Sqrt2*rms {
			t.Errorf("%swave of 127 a turn %.4g %.4g um, want %.4g %.4g", what, 1000*w.Cos.MM(), 1000*w.Sin.MM(), re, im)
		}
		if e == 0 {
			outside.Check(t, outside.Claim{What: what + "time out of the metal", Source: explicit, Status: outside.Computed, Published: off, Ours: got.Off, Tolerance: 0.01})
		}
		left = left || off > 0.1
		seen++
	}
	if seen < 20 || !left {
		t.Errorf("%d rows, and the tool left the metal: %v", seen, left)
	}
}
