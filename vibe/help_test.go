package vibe

import (
	"math"
	"testing"

	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
)

// none is rubbing so slight that it does not count; the zero Process means the usual one.
var none = Process{High: 1e-9}

// evenForce is a cut whose force square to the edge rises by slope (N/mm^2)
// whatever the chip, and in the direction of cutting by slope / thrust.
func evenForce(t testing.TB, slope, thrust float64) *cut.Force {
	t.Helper()
	m := cut.Material{Name: "even", Specific: unit.Stress(slope / thrust)}
	f, err := cut.NewForce(m, cut.Tool{}, 1000, cut.ThrustRatio(thrust),
		cut.Without(cut.FactorRake, cut.FactorTool, cut.FactorSpeed, cut.FactorWear, cut.FactorCollide))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// slanting holds a rigid stub at the chuck, so that the tool side alone gives.
func slanting(t testing.TB, modes ...shaft.ToolMode) *Holding {
	t.Helper()
	b, err := shaft.New(shaft.Work{
		Sections: []shaft.Section{{Length: 50, Diameter: 100}},
		Stuff:    shaft.Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre},
		Head:     shaft.Clamped(), Tail: shaft.Free(), Tool: shaft.Tool{Modes: modes},
	})
	if err != nil {
		t.Fatal(err)
	}
	h, err := Prepare(b, []unit.Length{0})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func single(t testing.TB, o Oscillator) *Holding {
	return slanting(t, shaft.ToolMode{Frequency: o.Frequency, Stiffness: o.Stiffness, Damping: o.Damping, Along: radial})
}

// table is the mode of the tables: 400 Hz, 5 N/um, 3 %.
var table = Oscillator{400, 5000, 0.03}

const tableK = 2000

// wide is a chip of one width and 0.05 mm thickness square to the axis.
func wide(b unit.Length) cut.Chip {
	return chipOf(cut.Element{Part: cut.Nose, Length: b, Thickness: 0.05, Radial: 1})
}

func chipOf(el ...cut.Element) cut.Chip {
	c := cut.Chip{At: cut.Position{Depth: 0.5}, Elements: el}
	for _, e := range el {
		c.Area += unit.Area(e.Length.MM() * e.Thickness.MM())
		p := &c.Edges[e.Part]
		p.Length += e.Length
		p.Thickness = max(p.Thickness, e.Thickness)
	}
	return c
}

// vee is the chip of two flanks at 60 degrees with a flat of width w.
func vee(l, w, lead, trail unit.Length) cut.Chip {
	nx, nz := 0.5, math.Sqrt(0.75)
	return chipOf(
		cut.Element{Part: cut.LeadingFlank, Length: l, Thickness: lead, Radial: nx, Axial: nz},
		cut.Element{Part: cut.Nose, Length: w, Thickness: lead + trail, Radial: 1},
		cut.Element{Part: cut.TrailingFlank, Length: l, Thickness: trail, Radial: nx, Axial: -nz},
	)
}

func input(t testing.TB, h *Holding, n unit.Rotation, chips ...cut.Chip) Input {
	in := Input{Holding: h, Force: evenForce(t, tableK, 1), Diameter: 20, Process: none}
	for _, c := range chips {
		in.Passes = append(in.Passes, Pass{c, n})
	}
	return in
}

func assess(t testing.TB, in Input) *Assessment {
	t.Helper()
	a, err := Assess(in)
	if err != nil {
		t.Fatal(err)
	}
	return a
}
