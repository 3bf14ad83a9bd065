package vibe

import (
	"errors"
	"math"
	"math/cmplx"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
)

func TestCuttingRefused(t *testing.T) {
	good := cutting(t, 1, 2)
	for _, c := range []struct {
		name, field string
		spoil       func(*Cutting)
	}{
		{"no holding", "holding of the work", func(c *Cutting) { c.Holding = nil }},
		{"a place it has not", "place along the work", func(c *Cutting) { c.Place = 3 }},
		{"no force", "cutting force", func(c *Cutting) { c.Force = nil }},
		{"no pass", "passes", func(c *Cutting) { c.Passes = nil }},
		{"no speed", "speed of pass 1", func(c *Cutting) { c.Passes = []Pass{{c.Passes[0].Chip, 0}} }},
		{"no length", "length of the thread", func(c *Cutting) { c.Turns = 0 }},
		{"not a length", "length of the thread", func(c *Cutting) { c.Turns = math.NaN() }},
		{"no diameter", "diameter of the work", func(c *Cutting) { c.Diameter = 0 }},
		{"too rough", "roughness of the blank", func(c *Cutting) { c.Rough = 2 }},
		{"turning in two passes", "passes", func(c *Cutting) { c.Turning = 1 }},
		{"too long to run", "steps of the simulation", func(c *Cutting) { c.Turns = 5000; c.Rate = 400000 }},
		{"too long to keep", "steps of the simulation", func(c *Cutting) { c.Turns = 3000; c.Record = true }},
		{"a wave beyond counting", "waves to follow", func(c *Cutting) { c.Follow = []float64{1e9} }},
	} {
		in := good
		c.spoil(&in)
		_, err := Simulate(in)
		var wrong *unit.InputError
		if !errors.As(err, &wrong) || !strings.Contains(err.Error(), c.field) {
			t.Errorf("%s: %v, want an error on %q", c.name, err, c.field)
		}
	}
}

func TestSameSeedSameCut(t *testing.T) {
	in := story(t, "b2")
	in.Passes, in.Seed = in.Passes[:3], 7
	one, two := simulate(t, in), simulate(t, in)
	if !reflect.DeepEqual(one, two) {
		t.Error("the same seed does not give the same cut")
	}
	in.Seed = 8
	if reflect.DeepEqual(one, simulate(t, in)) {
		t.Error("another seed gives the same cut")
	}
}

// TestSurfaceLaws: metal never grows back, and whatever the numbers are nothing fails.
func TestSurfaceLaws(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		h := single(t, Oscillator{
			unit.Frequency(rapid.Float64Range(50, 3000).Draw(r, "hz")), unit.Stiffness(rapid.Float64Range(200, 5e4).Draw(r, "stiffness")),
			rapid.Float64Range(0.003, 0.3).Draw(r, "damping"),
		})
		in := Cutting{
			Holding: h, Force: evenForce(t, rapid.Float64Range(100, 5000).Draw(r, "slope"), 0.5), Diameter: 20, Turns: 0.5, Rate: 20000,
			Rub: unit.Stiffness(rapid.Float64Range(0, 600).Draw(r, "rub")), RunIn: rapid.Float64Range(0, 1).Draw(r, "run-in"),
			Unsteady: rapid.Float64Range(0, 0.5).Draw(r, "unsteady"), Rough: unit.Length(rapid.Float64Range(0, 0.02).Draw(r, "rough")),
			Starters: []Starter{{Kind: Repeating, Waves: 40, Amplitude: 0.003}, Entry(0.01), BuiltUpEdge(0.004)}, Seed: rapid.Uint64().Draw(r, "seed"),
		}
		depth, rpm := 0.0, unit.Rotation(rapid.Float64Range(200, 1000).Draw(r, "rpm"))
		for range rapid.IntRange(1, 3).Draw(r, "passes") {
			d := rapid.Float64Range(0, 0.1).Draw(r, "infeed")
			depth += d
			c := vee(unit.Length(0.3+depth), 0.1, unit.Length(d/2), unit.Length(d/2))
			c.At.Depth = unit.Length(depth)
			in.Passes = append(in.Passes, Pass{c, rpm})
		}
		perTurn, steps, err := in.grid()
		if err = errors.Join(err, in.check()); err != nil {
			r.Fatal(err)
		}
		p := path{perTurn: perTurn, steps: steps, runIn: in.RunIn * float64(perTurn)}
		p.starters(&in, 20000)
		tracks := in.tracks()
		for i := range tracks {
			tracks[i].blank(&in, i, perTurn, steps, 20000)
		}
		for k := range in.Passes {
			var before [][]float64
			for _, tr := range tracks {
				before = append(before, slices.Clone(tr.surface))
			}
			p.pass(&in, tracks, k)
			for e, tr := range tracks {
				for i, v := range tr.surface {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						r.Fatalf("pass %d, edge %d, step %d: %v", k+1, e, i, v)
					}
					if v < before[e][i] {
						r.Fatalf("pass %d, edge %d, step %d: the metal stands %g mm higher than before", k+1, e, i, before[e][i]-v)
					}
				}
			}
		}
	})
}

// TestStartersInTime compares what mesh ripple leaves with its outcome by the carry-over.
func TestStartersInTime(t *testing.T) {
	for i, waves := range []float64{40, 100, 118, 126, 160, 40, 100, 118, 126, 160} {
		in := cutting(t, 0.8, 6)
		in.Rub = unit.Stiffness(200 * (i / 5))
		in.Linear, in.Follow = true, []float64{waves}
		in.Starters = []Starter{{Name: "mesh", Kind: Repeating, Waves: waves, Amplitude: 0.002}}
		s := simulate(t, in)
		plain := input(t, in.Holding, 200)
		plain.Passes, plain.Starters = in.Passes, in.Starters
		plain.Process = Process{in.Rub, in.Rub, max(in.Rub, 1e-9)}
		left := assess(t, plain).Starters[0].Left
		got := s.Passes[5].Waves[0][0].Height()
		if math.Abs(float64(got/left)-1) > 0.02 {
			t.Errorf("%g waves a turn, rubbing %g N/mm: %.4g um left in time, %.4g um by the carry-over", waves, float64(in.Rub), 1000*got.MM(), 1000*left.MM())
		}
	}
}

// TestRealChipsInTime cuts a wave with the chips of a real tool, all passes one after the
// other, and compares with the product of the carry-overs.
func TestRealChipsInTime(t *testing.T) {
	flat := cut.Tool{Leading: thirty, Trailing: thirty, NoseFlat: 0.25}
	for _, c := range []struct {
		name string
		cut.Infeed
		tool   cut.Tool
		within float64
	}{
		{"straight", cut.Infeed{}, flat, 0.02},
		{"modified", cut.Infeed{Method: cut.Modified, Angle: 20 * unit.Degree}, flat, 0.02},
		{"round nose", cut.Infeed{}, cut.Tool{Leading: thirty, Trailing: thirty, NoseRadius: 0.25}, 0.02},
	} {
		chips, f, edge := coarseWith(t, 8, c.Infeed, c.tool)
		h := slanting(t, // aslant, but not the way of the cutting force: nothing grows within a pass
			shaft.ToolMode{Frequency: 380, Stiffness: 6000, Damping: 0.04, Along: shaft.Direction{Radial: 1, Axial: 0.2}},
			shaft.ToolMode{Frequency: 520, Stiffness: 9000, Damping: 0.05, Along: shaft.Direction{Radial: -0.2, Axial: 1}},
		)
		in := Cutting{Holding: h, Force: f, Edge: edge, Diameter: 12, Turns: 2, RunIn: 0.4, Linear: true}
		const waves = 120
		in.Follow, in.Waves = []float64{waves}, []BlankWave{{Waves: waves, Radial: 0.001}}
		met := [2]complex128{0.001, 0}
		for _, chip := range chips {
			in.Passes = append(in.Passes, Pass{chip, 200})
			g, err := NewGain(chip, f, edge)
			if err != nil {
				t.Fatal(err)
			}
			a, m := g.loop(h.places[0].exact(waves*200.0/60, likely), 1, 0)
			x, z := a.xx*met[0]+a.xz*met[1], a.zx*met[0]+a.zz*met[1]
			det := m.xx*m.zz - m.xz*m.zx
			met = [2]complex128{(m.zz*x - m.xz*z) / det, (m.xx*z - m.zx*x) / det}
		}
		s := simulate(t, in)
		scale := math.Hypot(cmplx.Abs(met[0]), cmplx.Abs(met[1]))
		for k, sf := range s.Surfaces {
			want := met[0]*complex(sf.Radial, 0) + met[1]*complex(sf.Axial, 0)
			if got := s.Passes[len(chips)-1].Waves[k][0].complex(); cmplx.Abs(got-want) > c.within*scale {
				t.Errorf("%s, %v: %v left, want %v", c.name, sf.Part, got, want)
			}
		}
	}
}
