package vibe

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
)

// cutting is the mode of the tables with passes of one chip at 200 rev/min.
func cutting(t testing.TB, q float64, passes int) Cutting {
	t.Helper()
	limit, _ := table.Limit(tableK)
	in := Cutting{Holding: single(t, table), Force: evenForce(t, tableK, 1), Diameter: 20, Turns: 6, Rate: 20000}
	for i := range passes {
		c := wide(unit.Length(q) * limit)
		c.At.Depth = unit.Length(0.05 * float64(i+1))
		in.Passes = append(in.Passes, Pass{c, 200})
	}
	return in
}

func simulate(t testing.TB, in Cutting) *Simulation {
	t.Helper()
	s, err := Simulate(in)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func (w Wave) complex() complex128 { return complex(w.Cos.MM(), w.Sin.MM()) }

// between returns a random number on a scale of ratios.
func between(r *rand.Rand, lo, hi float64) float64 {
	return lo * math.Exp(r.Float64()*math.Log(hi/lo))
}

// randomSide is a tool side of one to three modes; aslant or all of them radial.
func randomSide(r *rand.Rand, aslant bool) []shaft.ToolMode {
	var out []shaft.ToolMode
	f := between(r, 80, 700)
	for range 1 + r.IntN(3) {
		along := radial
		if aslant {
			along = shaft.Direction{Radial: r.Float64(), Tangential: 0.3 * r.NormFloat64(), Axial: r.NormFloat64()}
		}
		out = append(out, shaft.ToolMode{Frequency: unit.Frequency(f), Stiffness: unit.Stiffness(between(r, 2e3, 3e4)), Damping: between(r, 0.012, 0.08), Along: along})
		f *= 1.25 + r.Float64()
	}
	return out
}

// linearPass is one linear pass over waves near a frequency. A turn takes 16 times as
// long as the slowest vibration takes to die to a third, and the pass 1.6 turns, so that
// the last turn is steady.
func linearPass(h *Holding, chip cut.Chip, f *cut.Force, low, high, peak unit.Frequency, r *rand.Rand) Cutting {
	slowest := math.Inf(1)
	for _, s := range h.places[0].swings() {
		slowest = min(slowest, s.Damping*s.Omega)
	}
	in := Cutting{
		Holding: h, Passes: []Pass{{chip, unit.Rotation(min(max(math.Round(60*slowest/16), 10), 600))}}, Force: f, Diameter: 20, Turns: 1.6, Linear: true,
		Edge: cut.EdgeType{MinHi: 0.001},
	}
	turn := in.Passes[0].Speed.Hz().Hz()
	var at []float64
	for i := range 21 {
		at = append(at, math.Round((low.Hz()+(high-low).Hz()*float64(i)/20)/turn))
	}
	for i := -1.0; i <= 1; i++ {
		at = append(at, math.Round(peak.Hz()/turn)+i)
	}
	slices.Sort(at)
	for _, m := range slices.Compact(at) {
		in.Follow = append(in.Follow, m)
		in.Waves = append(in.Waves, BlankWave{m, unit.Length(0.0005 + 0.0005*r.Float64()), 0, unit.Angle(2 * math.Pi * r.Float64())})
	}
	return in
}

// TestCarryOverInTime compares what a pass leaves in time with the carry-over at
// the same frequencies: sizes, phases, the peak and the edges of the band.
func TestCarryOverInTime(t *testing.T) {
	worst := struct{ size, phase, peak, edge float64 }{}
	bands := 0
	for seed := range uint64(50) {
		r := rand.New(rand.NewPCG(seed, 8))
		h := slanting(t, randomSide(r, false)...)
		f := evenForce(t, tableK, 0.5)
		in := input(t, h, 60, wide(1))
		in.Force = f
		rub := unit.Stiffness(0)
		if seed%2 == 1 {
			rub = unit.Stiffness(between(r, 0.1, 2)) // at 63 mm/s
		}
		in.Process = Process{rub, rub, max(rub, 1e-9)}
		// as wide as makes the largest carry-over 0.5 to 3
		b := unit.Length(assess(t, in).Passes[0].Margin * between(r, 0.5, 3))
		in.Passes[0].Chip = wide(b)
		a := assess(t, in)
		p := a.Passes[0]
		if p.Frequency == 0 {
			continue
		}
		lo, hi := p.Frequency*0.8, p.Frequency*1.25
		if len(p.Grows) > 0 {
			lo, hi = p.Grows[0].Low*0.97, p.Grows[0].High*1.03
		}
		c := linearPass(h, wide(b), f, lo, hi, p.Frequency, r)
		c.Rub = rub * unit.Stiffness(c.Passes[0].Speed/60) // the same rubbing at another speed
		s := simulate(t, c)
		turn := c.Passes[0].Speed.Hz().Hz()
		var hz, size []float64
		for i, m := range c.Follow {
			w := c.Waves[i]
			left := s.Passes[0].Waves[0][i].complex() / cmplx.Rect(w.Radial.MM(), w.Phase.Rad())
			want := a.run.exactAt(0, unit.Frequency(m*turn))
			e, d := math.Abs(cmplx.Abs(left)/cmplx.Abs(want)-1), math.Abs(cmplx.Phase(left/want))*180/math.Pi
			worst.size, worst.phase = max(worst.size, e), max(worst.phase, d)
			if e > 0.02 || d > 2 {
				t.Errorf("seed %d, %g Hz: left %.4f, %.2f degrees; carry-over %.4f, %.2f degrees", seed, m, cmplx.Abs(left), cmplx.Phase(left)*180/math.Pi, cmplx.Abs(want), cmplx.Phase(want)*180/math.Pi)
			}
			hz, size = append(hz, m*turn), append(size, cmplx.Abs(left))
		}
		most := top(hz, size)
		worst.peak = max(worst.peak, math.Abs(most/p.CarryOver.Likely-1))
		if math.Abs(most/p.CarryOver.Likely-1) > 0.02 {
			t.Errorf("seed %d: largest left of any wave %.4f, largest carry-over %.4f", seed, most, p.CarryOver.Likely)
		}
		if len(p.Grows) != 1 {
			continue
		}
		bands++
		for _, e := range []struct {
			what       string
			want       unit.Frequency
			rise, from float64
		}{{"lower", p.Grows[0].Low, 1, 0}, {"upper", p.Grows[0].High, -1, 1}} {
			got := edge(hz, size, e.rise)
			worst.edge = max(worst.edge, math.Abs(got/e.want.Hz()-1))
			if !(math.Abs(got/e.want.Hz()-1) < 0.02) {
				t.Errorf("seed %d: %s edge of the band at %.2f Hz in time, %.2f Hz by the carry-over", seed, e.what, got, e.want.Hz())
			}
		}
	}
	if bands < 15 {
		t.Errorf("only %d cases had a band of waves that grow", bands)
	}
	t.Logf("worst of 50: size %.2g, phase %.2g degrees, peak %.2g, edge %.2g (%d bands)", worst.size, worst.phase, worst.peak, worst.edge, bands)
}

// top is the largest of a series: that of a parabola in 1/y^2 over x^2 through the
// three points round it, which is the shape of one mode's carry-over.
func top(x, y []float64) float64 {
	k := 1
	for i := 2; i < len(y)-1; i++ {
		if y[i] > y[k] {
			k = i
		}
	}
	a, b, c := parabola(x[k-1]*x[k-1], 1/(y[k-1]*y[k-1]), x[k]*x[k], 1/(y[k]*y[k]), x[k+1]*x[k+1], 1/(y[k+1]*y[k+1]))
	if c <= 0 {
		return y[k]
	}
	return 1 / math.Sqrt(a-b*b/(4*c))
}

// edge is where a series first passes 1 upwards, or last downwards.
func edge(x, y []float64, rise float64) float64 {
	at := math.NaN()
	for i := 1; i < len(x); i++ {
		if rise*(y[i-1]-1) < 0 && rise*(y[i]-1) >= 0 {
			at = x[i-1] + (x[i]-x[i-1])*(1-y[i-1])/(y[i]-y[i-1])
			if rise > 0 {
				return at
			}
		}
	}
	return at
}

// TestSlantingInTime does the same for modes aslant, unequal flanks and a nose: the
// two surfaces of the flanks and that of the nose after one pass.
func TestSlantingInTime(t *testing.T) {
	worst := struct{ size, phase float64 }{}
	done := 0
	for seed := uint64(0); done < 50; seed++ {
		r := rand.New(rand.NewPCG(seed, 88))
		h := slanting(t, randomSide(r, true)...)
		f := evenForce(t, tableK, 0.5)
		chip := vee(unit.Length(between(r, 0.05, 0.6)), unit.Length(between(r, 0.02, 0.2)), unit.Length(between(r, 0.01, 0.1)), unit.Length(between(r, 0.0005, 0.1)))
		rub := unit.Stiffness(between(r, 0.05, 1))
		g, err := NewGain(chip, f, cut.EdgeType{MinHi: 0.001})
		if err != nil {
			t.Fatal(err)
		}
		near := g
		near.Radial, near.Axial, near.Cross = 1.5*g.Radial, 1.5*g.Axial, 1.5*g.Cross
		near.TangentialRadial, near.TangentialAxial = 1.5*g.TangentialRadial, 1.5*g.TangentialAxial
		if grows, _ := h.InPass(0, near); grows {
			continue // within the pass, or nearly: there is nothing steady to compare
		}
		done++
		mid := h.mode0()
		c := linearPass(h, chip, f, mid*0.8, mid*1.5, mid, r)
		c.Rub = rub * unit.Stiffness(c.Passes[0].Speed/60)
		turn := c.Passes[0].Speed.Hz().Hz()
		axial := r.NormFloat64()
		for i := range c.Waves {
			c.Waves[i].Axial = unit.Length(axial) * c.Waves[i].Radial
		}
		s := simulate(t, c)
		for i, m := range c.Follow {
			w := c.Waves[i]
			phase := cmplx.Rect(1, w.Phase.Rad())
			met := [2]complex128{phase * complex(w.Radial.MM(), 0), phase * complex(w.Axial.MM(), 0)}
			a, sys := g.loop(h.places[0].exact(unit.Frequency(m*turn), likely), 1, float64(rub)/unit.Rotation(60).Surface(20).MMPerS()*2*math.Pi*m*turn)
			x, z := a.xx*met[0]+a.xz*met[1], a.zx*met[0]+a.zz*met[1]
			det := sys.xx*sys.zz - sys.xz*sys.zx
			x, z = (sys.zz*x-sys.xz*z)/det, (sys.xx*z-sys.zx*x)/det
			for k, sf := range s.Surfaces {
				if sf.Part == cut.TrailingFlank && chip.Elements[2].Thickness < 0.001 {
					continue // it only rubs, and keeps what it met
				}
				want := x*complex(sf.Radial, 0) + z*complex(sf.Axial, 0)
				got := s.Passes[0].Waves[k][i].complex()
				scale := math.Hypot(cmplx.Abs(x), cmplx.Abs(z))
				worst.size = max(worst.size, cmplx.Abs(got-want)/scale)
				if cmplx.Abs(got-want) > 0.02*scale {
					t.Errorf("seed %d, %g Hz, %v: %v, want %v", seed, m, sf.Part, got, want)
				}
			}
		}
	}
	t.Logf("worst difference of 50 cases: %.2g of the wave", worst.size)
}

// mode0 is the lowest frequency of the tool side.
func (h *Holding) mode0() unit.Frequency {
	least := math.Inf(1)
	for _, s := range h.places[0].swings() {
		least = min(least, s.Omega/(2*math.Pi))
	}
	return unit.Frequency(least)
}

// TestStepHalved holds what is left of a wave against half the step.
func TestStepHalved(t *testing.T) {
	worst := 0.0
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 888))
		h := slanting(t, randomSide(r, seed%3 == 2)...)
		f := evenForce(t, tableK, 0.5)
		chip := vee(0.2, 0.1, 0.05, 0.05)
		mid := h.mode0()
		c := linearPass(h, chip, f, mid*0.8, mid*1.5, mid, r)
		c.Rub = unit.Stiffness(between(r, 0.05, 1))
		perTurn, _, err := c.grid()
		if err != nil {
			t.Fatal(err)
		}
		one := simulate(t, c)
		c.Rate = 2 * unit.Frequency(perTurn) * unit.Frequency(c.Passes[0].Speed.Hz())
		two := simulate(t, c)
		for k := range one.Surfaces {
			for i, m := range c.Follow {
				a, b := one.Passes[0].Waves[k][i].Height(), two.Passes[0].Waves[k][i].Height()
				if a < c.Waves[i].Radial/100 {
					continue
				}
				worst = max(worst, math.Abs(float64(a/b)-1))
				if math.Abs(float64(a/b)-1) > 0.003 {
					t.Errorf("seed %d, %g Hz, surface %d: %.5g um, with half the step %.5g um", seed, m, k, 1000*a.MM(), 1000*b.MM())
				}
			}
		}
	}
	t.Logf("worst change: %.2g", worst)
}
