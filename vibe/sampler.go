package vibe

import (
	"context"
	"math"
	"math/cmplx"

	"thrum/cut"
	"thrum/unit"
)

// Joints makes the work as it is held, at one place along the thread, with the
// stiffness of chuck and tailstock times the given factors.
type Joints func(chuck, tailstock float64, at unit.Length) (*Holding, error)

// Known tells what was measured, and so scatters less than what is usual.
type Known struct{ Chuck, Tailstock, Tool bool }

// Sampler is one way of cutting, made ready to be asked about many plausible
// cases. What differs from case to case by factors (damping, tool side, cut,
// rubbing) is varied on samples that are there already; the joints and the edge come
// in classes, each prepared once.
//
// The place along the thread is the worst of the likely case.
type Sampler struct {
	in     Input
	joints Joints
	ranges struct{ chuck, tail, tool, cut, wear, rub Range }
	at     unit.Length
	likely Figures

	holdings [chuckClasses][tailClasses]*Holding
	gains    [edgeClasses][]Gain
	run      run
	sampled  []compliance
	spectra  []spectrum
	peaks    [][2]float64 // of each pass: square of the frequency, 1/|T|^2
}

// Classes of what is costly to make anew, each equally likely.
const (
	chuckClasses = 9
	tailClasses  = 7
	edgeClasses  = 4
)

// Figures are what the passes make of waves in one case.
type Figures struct {
	CarryOver float64 // largest of any pass
	Growth    float64 // of the wave that starts in the worst pass for it
}

// Marks tells that growth makes a mark of a wave too small to see.
func (f Figures) Marks() bool { return f.Growth >= visible }

// Quiet tells that waves hardly grow.
func (f Figures) Quiet() bool { return f.Growth < hardly }

// Helped tells that a change helped: waves grew and now hardly do, or they made marks
// and now do not.
func (f Figures) Helped(now Figures) bool {
	return !f.Quiet() && (now.Quiet() || f.Marks() && !now.Marks())
}

// NewSampler prepares a way of cutting. The input's Other, Steps and Starters are
// left out of account.
func NewSampler(in Input, joints Joints, known Known) (*Sampler, error) {
	in.Other, in.Steps, in.Starters = nil, nil, nil
	a, err := Assess(in)
	if err != nil {
		return nil, err
	}
	s := &Sampler{in: a.in, joints: joints, at: a.Place, run: *a.run}
	s.likely = Figures{CarryOver: a.Passes[a.Worst].CarryOver.Likely, Growth: a.Growth.Factor.Likely}
	s.ranges.chuck, s.ranges.tail, s.ranges.tool = stiffnessOf(chuckStiffness, known.Chuck), stiffnessOf(tailStiffness, known.Tailstock), stiffnessOf(toolStiffness, known.Tool)
	u := 0.0
	for _, g := range a.run.gains {
		u = max(u, g.Doubt)
	}
	s.ranges.cut = Range{1 / (1 + u), 1, 1 + u}
	s.ranges.wear = plausibleRange(edgeWear)
	p := a.in.Process
	s.ranges.rub = Range{float64(p.Low), float64(p.Likely), float64(p.High)}
	return s, s.edges()
}

func stiffnessOf(quantity string, measured bool) Range {
	if measured {
		quantity = stiffIsMeasured
	}
	return plausibleRange(quantity)
}

// edges prepares the gains for edges that cut chips down to different thicknesses,
// spread evenly over the range of their kind.
func (s *Sampler) edges() error {
	e := s.in.Edge
	for i := range s.gains {
		least := cut.EdgeType{MinHi: e.MinLo + (e.MinHi-e.MinLo)*unit.Length((float64(i)+0.5)/edgeClasses)}
		for _, p := range s.in.Passes {
			g, err := NewGain(p.Chip, s.in.Force, least)
			if err != nil {
				return err
			}
			s.gains[i] = append(s.gains[i], g)
		}
	}
	return nil
}

// All returns the figures of every case; it stops with the context.
func (s *Sampler) All(ctx context.Context, cases []Case) ([]Figures, error) {
	out := make([]Figures, len(cases))
	for i, c := range cases {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var err error
		if out[i], err = s.one(c); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// holding returns the prepared holding of a case's class.
func (s *Sampler) holding(c Case) (*Holding, error) {
	i, j := class(c.Chuck, chuckClasses), class(c.Tailstock, tailClasses)
	h := &s.holdings[i][j]
	if *h == nil {
		var err error
		*h, err = s.joints(s.ranges.chuck.At(middle(i, chuckClasses)), s.ranges.tail.At(middle(j, tailClasses)), s.at)
		if err != nil {
			return nil, err
		}
	}
	return *h, nil
}

// one works out one case.
func (s *Sampler) one(c Case) (Figures, error) {
	h, err := s.holding(c)
	if err != nil {
		return Figures{}, err
	}
	r := &s.run
	r.h, r.p = h, &h.places[0]
	r.gains = s.gains[class(c.MinChip, edgeClasses)]
	wear := s.ranges.wear.At(c.Wear)
	r.trial = trial{scale{
		damping: damped(r.p, s.in.Damping, c.Damping), give: 1, tool: 1 / s.ranges.tool.At(c.Tool),
		cut: s.ranges.cut.At(c.Cut) * wear * (s.in.Force.Thrust + 0.6*(wear-1)) / s.in.Force.Thrust,
	}, unit.Stiffness(s.ranges.rub.At(c.Rubbing))}
	for k, n := range r.speeds {
		r.rub[k] = rubs(r.trial.process, n, s.in.Diameter)
	}
	s.sampled = r.p.variedInto(h.hz, r.trial.scale, s.sampled[:0])
	r.give = s.sampled
	if s.spectra == nil {
		s.spectra = make([]spectrum, len(r.gains))
	}
	worst, f := s.liveliest(h, r)
	for _, k := range r.stiffest() { // where nothing resonates, waves are carried over by mere give
		f.CarryOver = max(f.CarryOver, cmplx.Abs(r.exactAt(k, 0)))
	}
	f.Growth, _ = r.most(s.spectra, r.speeds[worst])
	return f, nil
}

// damped is the factor on the damping of the work in a case.
func damped(p *place, d DampingRange, z float64) float64 {
	m := p.work.modes[0]
	if m.Damping <= 0 {
		return 1
	}
	if m.Measured {
		return plausibleRange(dampingIsMeasured).At(z)
	}
	r := plausibleRange(workDamping)
	if d != (DampingRange{}) {
		r.Low, r.High = d.Least, d.Most
	}
	r.Likely = m.Damping
	r.Low, r.High = min(r.Low, r.Likely), max(r.High, r.Likely)
	return r.At(z) / r.Likely
}

// liveliest samples every pass and returns the one that carries over most; passes that
// sparse samples hardly tell apart are looked at closely.
func (s *Sampler) liveliest(h *Holding, r *run) (worst int, f Figures) {
	const alike = 1.2
	least := still
	s.peaks = s.peaks[:0]
	for k := range r.gains {
		s.spectra[k] = r.one(k, r.rub[k], s.spectra[k])
		i := lowestOf(s.spectra[k])
		x, y, ok := h.lowest(s.spectra[k], i)
		if !ok {
			x, y = h.x[i], s.spectra[k][i]
		}
		if r.gains[k].Spring() {
			y = still
		}
		s.peaks = append(s.peaks, [2]float64{x, y})
		least = min(least, y)
	}
	for k, p := range s.peaks {
		if p[1] > alike*least || p[1] == still {
			continue
		}
		if t := r.peakNear(k, unit.Frequency(math.Sqrt(p[0]))); t > f.CarryOver {
			worst, f.CarryOver = k, t
		}
	}
	return worst, f
}

// peakNear returns the largest |T| of a pass close to a frequency at which sparse
// samples have it: 1/|T|^2 is taken as a parabola once more, on three points close by.
func (r *run) peakNear(k int, f unit.Frequency) float64 {
	d := unit.Frequency(1 + 0.2*(r.h.ratio-1))
	x := func(f unit.Frequency) float64 { return f.Hz() * f.Hz() }
	y := func(f unit.Frequency) float64 { return 1 / max(size(r.exactAt(k, f)), 1/still) }
	best, b, c := parabola(x(f/d), y(f/d), x(f), y(f), x(f*d), y(f*d))
	if c > 0 {
		moved := min(max(x(f)-b/(2*c), x(f/d)), x(f*d))
		best = min(best, y(unit.Frequency(math.Sqrt(moved))))
	}
	return 1 / math.Sqrt(best)
}

func lowestOf(s spectrum) int {
	at := 0
	for i, v := range s {
		if v < s[at] {
			at = i
		}
	}
	return at
}
