package vibe

import (
	"math"

	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
)

// Pass is one pass of the schedule.
type Pass struct {
	Chip  cut.Chip      // from Cutter.Cut, with its elements
	Speed unit.Rotation // of the spindle
}

// Step is a spindle speed that the lathe has.
type Step struct {
	Speed  unit.Rotation
	Refuse string // why it must not be used, such as too little room to stop; empty when it may
}

// Input is everything an assessment needs.
type Input struct {
	Holding    *Holding     // the work as it is held, or the boring bar, with the tool side
	Other      *Holding     // the same with the centre taken away, or brought up; nil to leave that question
	HasCentre  bool         // Holding is the one with the centre
	Passes     []Pass       // 1 to 200
	Force      *cut.Force   //
	Edge       cut.EdgeType // chips thinner than its MinLo are not cut
	Diameter   unit.Length  // of the work where it is cut, for the surface speed
	Starters   []Starter    // what may set off the first wave
	Steps      []Step       // speeds to choose from for the last passes; may be empty
	LastPasses int          // how many of the last passes may be cut at another speed; zero means 3
	Process    Process      // zero means DefaultProcess
	Damping    DampingRange // of the work; zero means 0.01 to 0.06, or a fifth either way when it was measured
	Overlap    float64      // part of the edge that cuts again what the last turn cut; 0 for a partial-profile tool
}

// DampingRange is the least and the largest fraction of critical damping.
type DampingRange struct{ Least, Most float64 }

// Assessment is the answer.
type Assessment struct {
	Place    unit.Length   // the worst place along the work
	Places   []PlaceResult // the largest carry-over of any pass at each place
	Passes   []PassResult  // at the worst place
	Worst    int           // index of the pass with the largest carry-over
	Growth   Growth        // of the wave that starts in the worst pass for it
	Mode     Mode          // what swings
	InPass   InPass
	Starters []Outcome
	Steps    []StepResult // the last passes at each of the speeds
	// StepsLively tells that Steps are reckoned at the lively end of the doubt, because
	// at the likely figures there is nothing to clean up.
	StepsLively bool
	Choice      int           // index of the best of Steps; -1 when none helps, or there is none
	Least       unit.Length   // of radial infeed among the last passes: marks that it is to clean up must be lower, DeepEnough
	Centre      *Centre       // nil without Other
	Process     ProcessResult //
	Turns       *TurnToTurn   // nil without Overlap
	Doubts      []Doubt       // what the answer hangs on, the heaviest first
	Verdict     Verdict

	in     Input
	run    *run
	quiet  *run
	loud   *run
	sp     []spectrum
	loudSp []spectrum
	ref    unit.Rotation
	other  *Assessment // of Other; nil without it
}

// PlaceResult is the carry-over at one place.
type PlaceResult struct {
	At        unit.Length
	Give      shaft.Compliance // static and radial, tool side included
	CarryOver float64
	Frequency unit.Frequency // zero when no resonance stands out of the static give
}

// PassResult is one pass at the worst place.
type PassResult struct {
	Gain      Gain
	Depth     unit.Length    // of the tool's tip below the blank
	Speed     unit.Rotation  //
	Surface   unit.Velocity  //
	CarryOver Range          // largest over all waves
	Frequency unit.Frequency // where it stands; zero when no resonance stands out of the static give
	Waves     float64        // the same in waves a turn
	Margin    float64        // by how much the cut may stiffen before waves grow, rubbing left out; below 1 they do
	Grows     []Band         // where |T| > 1
	Memory    int            // 1: it cuts what the last pass left; 2: what the last but one left
	Spring    bool           // takes no chip, and leaves the waves as they are
}

// Growth is the largest product of carry-overs from any pass to the end: what the
// schedule makes of a wave that starts in the worst pass for it. Where directions
// of the cut change from pass to pass it is an upper bound. It ends where the wave
// gets as high as the chip is thick.
type Growth struct {
	Factor    Range
	Waves     float64        // the wave that grows most, per turn
	Frequency unit.Frequency // at the speed of the worst pass; zero when no resonance stands out
}

// ProcessResult compares marks with what rubbing of the edge lets grow.
type ProcessResult struct {
	Wavelength unit.Length // of the most likely mark, along the helix
	Critical   Range       // mm: below this length rubbing keeps waves from growing
	Speed      Range       // mm/s: the surface speed below which the same holds for this frequency
	RuledOut   bool        // even the least rubbing keeps waves of this length from growing
	Likely     bool        // the likely rubbing does
}

// TurnToTurn is the ordinary chatter of edges that overlap the last turn.
type TurnToTurn struct {
	Overlap float64
	Width   unit.Length // of the chip
	Limit   unit.Length // above which waves grow from turn to turn at this speed
	Least   unit.Length // the same at the unluckiest speed
	Grows   bool
}

// Verdict sorts the answer into three.
type Verdict int

// Quiet: waves hardly grow even at the lively end of the range. Doubtful: they may
// grow or not. Lively: they are likely to grow enough to be seen, tenfold or more.
const (
	Quiet Verdict = iota
	Doubtful
	Lively
)

const (
	visible = 10 // growth that makes a mark of a wave too small to see
	hardly  = 3
)

// String prints "quiet", "doubtful" or "lively".
func (v Verdict) String() string { return [...]string{"quiet", "doubtful", "lively"}[v] }

// Assess answers: what vibrates, how much of it each pass leaves, whether it
// grows over the schedule, what would start it, which speed would clean it up,
// and whether the centre matters.
func Assess(in Input) (*Assessment, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	in.fill()
	a, err := held(in)
	if err != nil {
		return nil, err
	}
	for _, s := range in.Starters {
		a.Starters = append(a.Starters, a.run.outcome(s, a.Worst, a.Growth.Frequency))
	}
	a.lastPasses()
	if in.Other != nil {
		in.Holding = in.Other
		b, err := held(in)
		if err != nil {
			return nil, err
		}
		a.Centre, a.other = compare(a, b, in.HasCentre), b
	}
	return a, nil
}

// held works out all that belongs to one way of holding.
func held(in Input) (*Assessment, error) {
	r, err := newRun(in)
	if err != nil {
		return nil, err
	}
	a := &Assessment{in: in, Choice: -1, run: r}
	a.worstPlace()
	a.passes()
	a.growth()
	a.inPass()
	a.process()
	a.turns()
	a.Verdict = a.verdict()
	return a, nil
}

func newRun(in Input) (*run, error) {
	r := &run{h: in.Holding, trial: trial{likely, in.Process.Likely}}
	chips := make([]cut.Chip, len(in.Passes))
	for i, p := range in.Passes {
		g, err := NewGain(p.Chip, in.Force, in.Edge)
		if err != nil {
			return nil, err
		}
		chips[i] = p.Chip
		r.gains = append(r.gains, g)
		r.speeds = append(r.speeds, p.Speed)
		r.rub = append(r.rub, rubs(in.Process.Likely, p.Speed, in.Diameter))
	}
	r.memory = memories(chips)
	r.at(&in.Holding.places[0])
	return r, nil
}

// stiffest are the passes that may have the largest carry-over: the stiffest cut
// in each direction.
func (r *run) stiffest() []int {
	x, z := 0, 0
	for i, g := range r.gains {
		if g.Radial > r.gains[x].Radial {
			x = i
		}
		if g.Axial > r.gains[z].Axial {
			z = i
		}
	}
	if x == z {
		return []int{x}
	}
	return []int{x, z}
}

// worstPlace finds the place with the largest carry-over.
func (a *Assessment) worstPlace() {
	r, worst := a.run, 0
	var sp spectrum
	for i := range r.h.places {
		r.at(&r.h.places[i])
		res := PlaceResult{At: r.p.at, Give: r.p.give}
		for _, k := range r.stiffest() {
			if r.gains[k].Spring() {
				continue
			}
			sp = r.one(k, r.rub[k], sp)
			if t, f := r.largest(k, sp); t > res.CarryOver {
				res.CarryOver, res.Frequency = t, f
			}
		}
		a.Places = append(a.Places, res)
		if res.CarryOver > a.Places[worst].CarryOver {
			worst = i
		}
	}
	r.at(&r.h.places[worst])
	a.Place = r.p.at
}

func (a *Assessment) passes() {
	r := a.run
	a.sp = r.spectra()
	var slow unit.Frequency
	for k := range r.gains {
		g := &r.gains[k]
		t, f := r.largest(k, a.sp[k])
		p := PassResult{
			Gain: *g, Depth: a.in.Passes[k].Chip.At.Depth, Speed: r.speeds[k], Surface: r.speeds[k].Surface(a.in.Diameter),
			CarryOver: Range{t, t, t}, Frequency: f, Waves: f.Hz() / r.speeds[k].Hz().Hz(),
			Memory: r.memory[k], Spring: g.Spring(), Margin: math.Inf(1),
		}
		if !p.Spring {
			p.Grows = r.h.bands(a.sp[k])
			var at unit.Frequency
			p.Margin, at = r.h.margin(r.p, g)
			if w := a.Passes; len(w) == 0 || w[a.Worst].Spring || t > w[a.Worst].CarryOver.Likely {
				a.Worst, slow = k, at
			}
		}
		a.Passes = append(a.Passes, p)
	}
	a.ref = r.speeds[a.Worst]
	if f := a.Passes[a.Worst].Frequency; f > 0 {
		slow = f
	}
	a.Mode = r.p.mode(slow, r.gains[a.Worst])
}

func (a *Assessment) growth() {
	r := a.run
	most, f := r.most(a.sp, a.ref)
	a.Growth = Growth{Factor: Range{most, most, most}, Frequency: f, Waves: f.Hz() / a.ref.Hz().Hz()}
	a.loud, a.loudSp = r, a.sp
	if r.gains[a.Worst].Spring() {
		return
	}
	doubts, quiet, loud := r.doubts(a.Worst, a.ends(), a.in.Process.Likely, a.in.Diameter)
	a.Doubts, a.quiet = doubts, r.under(quiet, a.in.Diameter)
	a.loud = r.under(loud, a.in.Diameter)
	a.loudSp = a.loud.spectra()
	low, _ := a.widen(a.quiet, a.quiet.spectra())
	high, f := a.widen(a.loud, a.loudSp)
	a.Growth.Factor.Low, a.Growth.Factor.High = min(low, most), max(high, most)
	if a.Growth.Frequency == 0 { // the likely case has no resonance to name; the lively one may
		a.Growth.Frequency, a.Growth.Waves = f, f.Hz()/a.ref.Hz().Hz()
	}
}

// widen takes one end of the doubt into the range of each pass and returns the
// growth there.
func (a *Assessment) widen(r *run, sp []spectrum) (float64, unit.Frequency) {
	for k := range a.Passes {
		c := &a.Passes[k].CarryOver
		t, _ := r.largest(k, sp[k])
		c.Low, c.High = min(c.Low, t), max(c.High, t)
	}
	return r.most(sp, a.ref)
}

func (a *Assessment) inPass() {
	for i := range a.run.h.places {
		for k := range a.run.gains {
			if grows, f := a.run.h.InPass(i, a.run.gains[k]); grows {
				a.InPass = InPass{true, k, f}
				return
			}
		}
	}
}

func (a *Assessment) lastPasses() {
	r, n := a.run, len(a.run.gains)
	last := min(a.in.LastPasses, n)
	a.Least = unit.Length(math.Inf(1))
	for k := n - last; k < n; k++ {
		before := unit.Length(0)
		if k > 0 {
			before = a.in.Passes[k-1].Chip.At.Depth
		}
		a.Least = min(a.Least, a.in.Passes[k].Chip.At.Depth-before)
	}
	if len(a.in.Steps) == 0 {
		return
	}
	// If there are waves to clean up, then things are as lively as that takes.
	sp := a.sp
	if a.Growth.Factor.Likely < hardly {
		r, sp, a.StepsLively = a.loud, a.loudSp, true
	}
	_, wave := r.most(sp, a.ref)
	if first := n - last; first > 0 {
		early := *r
		early.gains, early.speeds, early.memory, early.rub = r.gains[:first], r.speeds[:first], r.memory[:first], r.rub[:first]
		if _, w := early.most(sp[:first], a.ref); w > 0 {
			wave = w
		}
	}
	a.Steps = r.cleanUp(sp, a.in.Steps, last, wave, a.ref, a.in.Diameter)
	now := r.cleanUp(sp, []Step{{Speed: r.speeds[n-1]}}, last, wave, a.ref, a.in.Diameter)[0]
	a.Choice = choose(a.Steps, now.Growth)
}

func (a *Assessment) process() {
	w := a.Passes[a.Worst]
	if w.Spring || w.Frequency == 0 {
		return
	}
	p, c := &a.Process, a.in.Process
	p.Wavelength = Wavelength(w.Surface, w.Frequency)
	for _, s := range []struct {
		c        unit.Stiffness
		len, vel *float64
	}{
		{c.Low, &p.Critical.Low, &p.Speed.Low}, {c.Likely, &p.Critical.Likely, &p.Speed.Likely}, {c.High, &p.Critical.High, &p.Speed.High},
	} {
		*s.len = CriticalWavelength(s.c, w.Gain.Kn).MM()
		*s.vel = CriticalSpeed(s.c, w.Gain.Kn, w.Frequency).MMPerS()
	}
	p.RuledOut = p.Wavelength.MM() < p.Critical.Low
	p.Likely = p.Wavelength.MM() < p.Critical.Likely
}

func (a *Assessment) verdict() Verdict {
	turns := a.Turns != nil && a.Turns.Grows
	switch f := a.Growth.Factor; {
	case a.InPass.Grows, turns, f.Likely >= visible:
		return Lively
	case f.High < hardly:
		return Quiet
	}
	return Doubtful
}
