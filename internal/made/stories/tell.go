package main

import (
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"

	"thrum/cut"
	"thrum/draw"
	"thrum/internal/made"
	"thrum/unit"
	"thrum/vibe"
)

// The rubbing of the edge is the least known figure of all. These are the low end, the
// middle and the high end of what is in print.
var (
	keen   = vibe.DefaultProcess().Low
	likely = vibe.DefaultProcess().Likely
	dull   = vibe.DefaultProcess().High
)

// flank is the waviness of the leading flank after each pass, um rms.
func flank(s made.Setup) ([]float64, error) {
	sim, err := s.Cut(false)
	if err != nil {
		return nil, err
	}
	var out []float64
	for _, p := range sim.Passes {
		out = append(out, 1000*p.Waviness[0].MM())
	}
	return out, nil
}

func numbers(n int) (out []float64) {
	for i := range n {
		out = append(out, float64(i+1))
	}
	return out
}

// long is an M12 thread at the end of a bar ten diameters out of the chuck.
func long() made.Setup {
	return made.Setup{
		Material: "4140 prehard", Tool: cut.Carbide, Diameter: 12, Out: 120, At: 108, Pitch: 1.75, Depth: 1.07, NoseFlat: 0.22, Passes: 12,
		Speeds: []unit.Rotation{630}, Turns: 4, Unsteady: 0.02, RunIn: 0.5, Rub: keen, Seed: 1,
	}
}

// slender is the first story: a slender bar, with and without the centre.
func slender() (story, error) {
	c := draw.Chart{Title: "Waviness of the flank", X: draw.Axis{Title: "pass"}, Y: draw.Axis{Title: "µm rms", Log: true}}
	table := head("rubbing of the edge, N/m", "centre", "after pass 4", "after pass 8", "after pass 12")
	for _, edge := range []struct {
		name string
		rub  unit.Stiffness
	}{{"keen", keen}, {"likely", likely}, {"dull", dull}} {
		for _, centre := range []bool{false, true} {
			s := long()
			s.Rub, s.Centre = edge.rub, centre
			w, err := flank(s)
			if err != nil {
				return story{}, err
			}
			held, line := "no", draw.Continuous
			if centre {
				held, line = "yes", draw.ShortDash
			}
			table += row(fmt.Sprintf("%.0f (%s)", 1000*float64(edge.rub), edge.name), held, um(w[3]), um(w[7]), um(w[11]))
			if edge.rub != dull {
				name := edge.name + " edge"
				if centre {
					name += ", centre"
				}
				c.Series = append(c.Series, draw.Series{Name: name, X: numbers(len(w)), Y: w, Line: line, Accent: edge.rub == keen && !centre})
			}
		}
	}
	return story{tables: map[string]string{"slender": table}, charts: map[string]draw.Chart{"slender": c}}, nil
}

// roughed is the second story's thread: 1018 with a keen carbide edge at 15 m/min.
func roughed() made.Setup {
	s := long()
	s.Material, s.Speeds, s.PerTurn = "1018", []unit.Rotation{400}, 30000 // the same steps at every speed, so that all begin alike
	return s
}

// after returns the speeds of n passes at 400 rev/min and all that follow at another.
func after(n int, speed unit.Rotation) (out []unit.Rotation) {
	for range n {
		out = append(out, 400)
	}
	return append(out, speed)
}

// cleaned is the second story: the last cutting passes, or passes without infeed, at
// other speeds.
func cleaned() (story, error) {
	table := head("last three of twelve passes at", "marks before", "after the first", "second", "third", "by the carry-over, old marks after the third")
	spring := head("three more passes without infeed at", "marks before", "after the first", "second", "third")
	c := draw.Chart{Title: "Waviness of the flank", X: draw.Axis{Title: "pass"}, Y: draw.Axis{Title: "µm rms", Log: true}}
	depths := cut.EqualArea(1.07, 12, 30*unit.Degree, 30*unit.Degree, 0.22)
	for _, n := range []unit.Rotation{160, 250, 400, 630, 1000} {
		s := roughed()
		s.Speeds = after(9, n)
		w, err := flank(s)
		if err != nil {
			return story{}, err
		}
		left, err := predicted(s, n)
		if err != nil {
			return story{}, err
		}
		table += row(fmt.Sprintf("%.0f rev/min", n.RPM()), um(w[8]), um(w[9]), um(w[10]), um(w[11]), um(w[8]*left))
		c.Series = append(c.Series, draw.Series{Name: fmt.Sprintf("%.0f", n.RPM()), X: numbers(12), Y: w, Line: draw.ShortDash, Accent: n == 1000})
		s.Speeds, s.Depths = after(12, n), append(depths[:12:12], depths[11], depths[11], depths[11])
		if w, err = flank(s); err != nil {
			return story{}, err
		}
		spring += row(fmt.Sprintf("%.0f rev/min", n.RPM()), um(w[11]), um(w[12]), um(w[13]), um(w[14]))
	}
	return story{tables: map[string]string{"cleaned": table, "spring": spring}, charts: map[string]draw.Chart{"cleaned": c}}, nil
}

// predicted is what the carry-over of the last three passes at a speed leaves of the
// waves that the passes before them have grown, in the linear theory.
func predicted(s made.Setup, n unit.Rotation) (float64, error) {
	s.Speeds = []unit.Rotation{400}
	in, err := s.Cutting()
	if err != nil {
		return 0, err
	}
	a, err := vibe.Assess(vibe.Input{
		Holding: in.Holding, Passes: in.Passes, Force: in.Force, Edge: in.Edge, Diameter: in.Diameter,
		Steps: []vibe.Step{{Speed: n}}, LastPasses: 3, Process: vibe.Process{Low: s.Rub, Likely: s.Rub, High: s.Rub},
	})
	if err != nil {
		return 0, err
	}
	return a.Steps[0].Product, nil
}

// short is the third story's thread: a stiff piece of 1018, high-speed steel.
func short() made.Setup {
	return made.Setup{
		Material: "1018", Tool: cut.HSS, Diameter: 20, Out: 45, At: 35, Pitch: 2.5, Depth: 1.53, NoseFlat: 0.31, Passes: 14,
		Turns: 4, Unsteady: 0.02, RunIn: 0.5, Rub: keen, Seed: 1,
	}
}

// slow is the third story: low-carbon steel, slowly.
func slow() (story, error) {
	m, err := cut.FindMaterial("1018")
	if err != nil {
		return story{}, err
	}
	table := head("speed, m/min", "waves by vibration, µm rms: keen edge", "the same with the centre", "with a built-up edge of 2 µm", "built-up edge, dry", "with active oil")
	c := draw.Chart{
		Title: "Waviness of the flank after the last pass", X: draw.Axis{Title: "surface speed, m/min", Log: true},
		Y: draw.Axis{Title: "µm rms", Log: true},
	}
	alone := draw.Series{Name: "vibration", Mark: draw.Ring}
	torn := draw.Series{Name: "built-up edge of 2 µm", Accent: true, Mark: draw.Ring}
	for _, v := range []float64{3, 9, 20, 40, 80} {
		s := short()
		s.Speeds = []unit.Rotation{unit.Rotation(v * 1000 / (math.Pi * s.Diameter.MM()))}
		one, err1 := flank(s)
		s.Centre = true
		two, err2 := flank(s)
		s.Centre, s.Starters = false, []vibe.Starter{vibe.BuiltUpEdge(0.002)}
		three, err3 := flank(s)
		for _, err := range []error{err1, err2, err3} {
			if err != nil {
				return story{}, err
			}
		}
		last := len(one) - 1
		speed := unit.Velocity(v) * unit.MetrePerMinute
		dry := cut.BuiltUpEdge(m, cut.HSS, speed, 0.04, cut.Dry)
		oil := cut.BuiltUpEdge(m, cut.HSS, speed, 0.04, cut.ActiveOil)
		table += row(fmt.Sprint(v), um(one[last]), um(two[last]), um(three[last]), dry.Chance.String(), oil.Chance.String())
		alone.X, alone.Y = append(alone.X, v), append(alone.Y, one[last])
		torn.X, torn.Y = append(torn.X, v), append(torn.Y, three[last])
	}
	c.Series = []draw.Series{alone, torn}
	return story{tables: map[string]string{"slow": table}, charts: map[string]draw.Chart{"slow": c}}, nil
}

// looks renders the thread of the first story as it would look, without and with the
// centre.
func looks(docs func(name string) (io.WriteCloser, error)) error {
	for _, centre := range []bool{false, true} {
		s, name := long(), "slender-without-centre.png"
		if s.Centre = centre; centre {
			name = "slender-with-centre.png"
		}
		sim, err := s.Cut(false)
		if err != nil {
			return err
		}
		w, err := docs(name)
		if err != nil {
			return err
		}
		m := made.Picture(sim, s.Thread(), made.View{Width: 480, Height: 360, Across: 3.2 * s.Pitch, First: 2.5, Grain: 0.004, Seed: 1})
		if err := errors.Join(png.Encode(w, m), w.Close()); err != nil {
			return err
		}
	}
	return nil
}
