package vibe

import (
	"fmt"
	"math"
	"math/rand/v2"

	"thrum/unit"
)

// Simulation is the cut that was followed.
type Simulation struct {
	PerTurn  int       // steps in a turn
	Turns    float64   // length of the thread
	Passes   []Ran     //
	Surfaces []Surface // of each edge after the last pass
}

// Ran is one pass as it went.
type Ran struct {
	Speed    unit.Rotation
	Rate     unit.Frequency // steps per second
	Waviness []unit.Length  // of each of Simulation.Surfaces after the pass: rms along its normal, mean taken off
	Waves    [][]Wave       // of each surface, the waves of Cutting.Follow
	Off      float64        // part of the time in which no edge was in the metal
	Series   *Series        // with Cutting.Record
}

// Wave is one wave of a surface: its height is Re (Cos + i Sin) e^(2 pi i waves turn).
type Wave struct{ Cos, Sin unit.Length }

// Height returns half of the wave's height, valley to peak.
func (w Wave) Height() unit.Length { return unit.Length(math.Hypot(w.Cos.MM(), w.Sin.MM())) }

// Series is what happened in every step of one pass.
type Series struct {
	Step          unit.Time
	Radial, Axial []unit.Length // how far the tool was moved into the work and along the thread by the forces
	Cutting, Push []unit.Force  // along the direction of cutting, and out of the work
}

func (s *Series) add(move plane, force vector) {
	s.Radial, s.Axial = append(s.Radial, unit.Length(move.x)), append(s.Axial, unit.Length(move.z))
	s.Cutting, s.Push = append(s.Cutting, unit.Force(force[1])), append(s.Push, unit.Force(-force[0]))
}

// Simulate follows a complete cut through time. Work and tool are oscillators that
// start at rest in every pass, and each edge keeps the surface it cuts, step for
// step along the helix. A chip is where the edge went less what stands there:
//
//	h = n . (place commanded + ripple + movement) - surface
//	F = sum Kn L h (-n + tangential / thrust) - C/v L n (n . speed)   over edges with h > 0
//	surface = the deepest that the edge went in any pass
//
// Nothing of the carry-over's theory is in it, and so it shows where that ends: waves
// higher than the chip is thick, passes without infeed, the run from rest.
//
// The force is taken as proportional to the chip, with the slope that Kienzle's law
// has at that pass's thickness. What it leaves out: the place along the work
// changes; a flank's new length near the root has no waves yet; the constant part of
// the force, which bends the work but does not swing.
//
// Accuracy: oscillators are solved exactly for a force that goes straight from
// step to step, which differs from a swinging one by (w dt)^2 / 12: 0.1 % at 60
// steps a wave.
func Simulate(in Cutting) (*Simulation, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	perTurn, steps, err := in.grid()
	if err != nil {
		return nil, err
	}
	tracks := in.tracks()
	if err := tooMany(tracks); err != nil {
		return nil, err
	}
	p := path{perTurn: perTurn, steps: steps, runIn: in.RunIn * float64(perTurn), linear: in.Linear}
	fastest := in.fastest().Hz().Hz() * float64(perTurn)
	p.starters(&in, fastest)
	for i := range tracks {
		tracks[i].blank(&in, i, perTurn, steps, fastest)
	}
	out := &Simulation{PerTurn: perTurn, Turns: in.Turns}
	for k := range in.Passes {
		out.Passes = append(out.Passes, p.pass(&in, tracks, k))
	}
	for _, t := range tracks {
		out.Surfaces = append(out.Surfaces, t.surfaced())
	}
	return out, nil
}

// pass runs one pass over what the passes before it left.
func (p *path) pass(in *Cutting, tracks []track, k int) Ran {
	rate := in.Passes[k].Speed.Hz().Hz() * float64(p.perTurn)
	r := Ran{Speed: in.Passes[k].Speed, Rate: unit.Frequency(rate)}
	p.random, p.off = rand.New(rand.NewPCG(in.Seed, uint64(k)+1)), 0
	if in.Record {
		r.Series = newSeries(rate, p.steps)
	}
	p.keep = r.Series
	if m := newMarch(in, tracks, k, 1/rate); m.single() && p.plain() {
		m.alone(p)
	} else {
		m.run(p)
	}
	r.Off = float64(p.off) / float64(p.steps)
	r.measure(in, tracks, p.perTurn, p.steps)
	return r
}

// tooMany refuses edges of more directions than a set of them is kept for.
func tooMany(tracks []track) error {
	if len(tracks) > mostTracks {
		return &unit.InputError{Field: "edge", Value: fmt.Sprint(len(tracks)), Reason: fmt.Sprintf("directions are more than %d", mostTracks), Hint: "take chips from one Cutter"}
	}
	return nil
}

const mostTracks = 30

func newSeries(rate float64, steps int) *Series {
	return &Series{
		Step:   unit.Time(1 / rate),
		Radial: make([]unit.Length, 0, steps), Axial: make([]unit.Length, 0, steps),
		Cutting: make([]unit.Force, 0, steps), Push: make([]unit.Force, 0, steps),
	}
}

// blank is the surface that the first pass meets.
func (t *track) blank(in *Cutting, index, perTurn, steps int, rate float64) {
	t.surface = make([]float64, steps)
	for _, w := range in.Waves {
		a := t.nx*w.Radial.MM() + t.nz*w.Axial.MM()
		for i := range t.surface {
			t.surface[i] += a * math.Cos(2*math.Pi*w.Waves*float64(i)/float64(perTurn)+w.Phase.Rad())
		}
	}
	if in.Rough > 0 {
		random := rand.New(rand.NewPCG(in.Seed, 1<<32+uint64(index)))
		rms := in.Rough.MM() * math.Sqrt(rate/2/noiseTop)
		for i := range t.surface {
			t.surface[i] += rms * random.NormFloat64()
		}
	}
}

func (t *track) surfaced() Surface {
	s := Surface{Part: t.part, Radial: t.nx, Axial: t.nz, Height: make([]unit.Length, len(t.surface))}
	for i, h := range t.surface {
		s.Height[i] = unit.Length(h)
	}
	return s
}

// from is the first step that counts for a pass's waviness: after the first turn,
// or the first quarter of a thread of fewer than four turns.
func from(perTurn, steps int) int { return min(perTurn, steps/4) }

func (r *Ran) measure(in *Cutting, tracks []track, perTurn, steps int) {
	for i := range tracks {
		s := tracks[i].surface[from(perTurn, steps):]
		var sum, squares float64
		for _, h := range s {
			sum += h - s[0]
		}
		mean := s[0] + sum/float64(len(s))
		for _, h := range s {
			squares += (h - mean) * (h - mean)
		}
		r.Waviness = append(r.Waviness, unit.Length(math.Sqrt(squares/float64(len(s)))))
		var waves []Wave
		for _, w := range in.Follow {
			waves = append(waves, waveOf(tracks[i].surface, from(perTurn, steps), perTurn, w, mean))
		}
		r.Waves = append(r.Waves, waves)
	}
}

// waveOf returns one wave of a surface, over whole turns where the thread is long
// enough and the wave comes out even in a turn, so that waves do not mix; else over
// whole waves.
func waveOf(surface []float64, first, perTurn int, waves, mean float64) Wave {
	n := len(surface) - first
	perStep := waves / float64(perTurn)
	if turns := n / perTurn; turns > 0 && waves == math.Round(waves) {
		n = turns * perTurn
	} else if whole := math.Floor(float64(n) * perStep); whole >= 1 {
		n = int(math.Round(whole / perStep))
	}
	first = len(surface) - n
	var re, im float64
	for i, h := range surface[first:] {
		sin, cos := math.Sincos(2 * math.Pi * perStep * float64(first+i))
		re += (h - mean) * cos
		im -= (h - mean) * sin
	}
	return Wave{unit.Length(2 * re / float64(n)), unit.Length(2 * im / float64(n))}
}
