package vibe

import (
	"testing"

	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
)

// slender is a 12 mm bar 150 mm out of a sprung chuck, with or without a centre.
func slender(t testing.TB, centre bool, tool shaft.Tool) *shaft.Bar {
	t.Helper()
	w := shaft.Work{
		Sections: []shaft.Section{{Length: 150, Diameter: 12}},
		Stuff:    shaft.Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre},
		Head:     shaft.Joint{Radial: 50 * unit.NewtonPerMicrometre, Tilt: 8e4 * unit.NewtonMetrePerRadian}, Tail: shaft.Free(), Tool: tool,
	}
	if centre {
		w.Tail = shaft.Joint{Radial: 8 * unit.NewtonPerMicrometre}
	}
	b, err := shaft.New(w)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

var usualTool = shaft.Tool{Radial: 20 * unit.NewtonPerMicrometre, Tangential: 20 * unit.NewtonPerMicrometre, Axial: 15 * unit.NewtonPerMicrometre}

var thirty = 30 * unit.Degree

// coarse is a 2 mm pitch of 1018 in passes of equal area.
func coarse(t testing.TB, n int, in cut.Infeed) ([]cut.Chip, *cut.Force, cut.EdgeType) {
	t.Helper()
	return coarseWith(t, n, in, cut.Tool{Leading: thirty, Trailing: thirty, NoseFlat: 0.25})
}

func coarseWith(t testing.TB, n int, in cut.Infeed, tool cut.Tool) ([]cut.Chip, *cut.Force, cut.EdgeType) {
	t.Helper()
	edge, err := cut.FindEdge("", cut.HSS)
	if err != nil {
		t.Fatal(err)
	}
	tool.Edge = edge
	const depth = 1.2
	g, err := tool.Groove(2, depth)
	if err != nil {
		t.Fatal(err)
	}
	c, err := cut.NewCutter(g)
	if err != nil {
		t.Fatal(err)
	}
	at, err := c.Positions(cut.EqualArea(depth, n, thirty, thirty, 0.25), in)
	if err != nil {
		t.Fatal(err)
	}
	chips, _, err := c.Cut(at)
	if err != nil {
		t.Fatal(err)
	}
	m, err := cut.FindMaterial("1018")
	if err != nil {
		t.Fatal(err)
	}
	f, err := cut.NewForce(m, tool, 10*unit.MetrePerMinute)
	if err != nil {
		t.Fatal(err)
	}
	return chips, f, edge
}

// bench is the usual question: a slender bar, three places, all speeds of the lathe.
func bench(t testing.TB, in cut.Infeed, centre bool) Input {
	t.Helper()
	chips, f, edge := coarse(t, 12, in)
	places := []unit.Length{70, 100, 140}
	input := Input{Force: f, Edge: edge, Diameter: 12, HasCentre: centre}
	var err error
	if input.Holding, err = Prepare(slender(t, centre, usualTool), places); err != nil {
		t.Fatal(err)
	}
	if input.Other, err = Prepare(slender(t, !centre, usualTool), places); err != nil {
		t.Fatal(err)
	}
	for _, c := range chips {
		input.Passes = append(input.Passes, Pass{c, 260})
	}
	for _, n := range []unit.Rotation{60, 90, 120, 160, 200, 260, 340, 450, 600} {
		s := Step{Speed: n}
		if n > 400 {
			s.Refuse = "too little room to stop"
		}
		input.Steps = append(input.Steps, s)
	}
	input.Starters = []Starter{
		{Name: "mesh of spindle 40 with stud 40", Waves: 40, Amplitude: 0.001},
		{Name: "mesh of back gear", Waves: 150, Amplitude: 0.001},
		Runout(0.02), Entry(0.002), BuiltUpEdge(0.001),
	}
	return input
}

func benchmark(b *testing.B, in Input) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Assess(in); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAssessStraight(b *testing.B) { benchmark(b, bench(b, cut.Infeed{}, true)) }

func BenchmarkAssessModified(b *testing.B) {
	benchmark(b, bench(b, cut.Infeed{Method: cut.Modified, Angle: 28 * unit.Degree, FinalStraight: 2}, true))
}

func BenchmarkAssessAlone(b *testing.B) { // one pass, one place, no steps and no centre
	in := bench(b, cut.Infeed{}, true)
	in.Other, in.Steps, in.Passes = nil, nil, in.Passes[11:]
	benchmark(b, in)
}

func BenchmarkPrepare(b *testing.B) {
	bar := slender(b, true, usualTool)
	for b.Loop() {
		if _, err := Prepare(bar, []unit.Length{70, 100, 140}); err != nil {
			b.Fatal(err)
		}
	}
}
