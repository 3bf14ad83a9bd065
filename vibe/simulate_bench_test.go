package vibe

import (
	"testing"

	"thrum/cut"
	"thrum/unit"
)

// wholeJob is a slender bar with a centre, straight infeed in 20 passes: 200 rev/min, 10 turns,
// 50000 steps a second.
func wholeJob(t testing.TB) Cutting {
	t.Helper()
	chips, f, edge := coarse(t, 20, cut.Infeed{})
	h, err := Prepare(slender(t, true, usualTool), []unit.Length{100})
	if err != nil {
		t.Fatal(err)
	}
	in := Cutting{Holding: h, Force: f, Edge: edge, Diameter: 12, Turns: 10, Rate: 50000, Rub: 130, Unsteady: 0.02}
	for _, c := range chips {
		in.Passes = append(in.Passes, Pass{c, 200})
	}
	return in
}

func BenchmarkSimulateWholeJob(b *testing.B) {
	in := wholeJob(b)
	for b.Loop() {
		simulate(b, in)
	}
}

func BenchmarkSimulateQuietly(b *testing.B) { // without anything random
	in := wholeJob(b)
	in.Unsteady = 0
	for b.Loop() {
		simulate(b, in)
	}
}

func BenchmarkSimulateLinear(b *testing.B) { // one mode, one edge
	in := cutting(b, 1.2, 20)
	in.Linear, in.Rough, in.Turns, in.Rate = true, 0.0001, 10, 50000
	for b.Loop() {
		simulate(b, in)
	}
}
