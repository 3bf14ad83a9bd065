package plan

import (
	"thrum/lathe"
	"thrum/shaft"
	"thrum/unit"
	"thrum/vibe"
)

// Vibration says what is likely to vibrate in this set-up and what the passes make
// of it.
type Vibration struct {
	Verdict   string         `json:"verdict"` // "quiet", ...
	Mode      string         `json:"mode"`    // what swings: "first bending of the work"
	Frequency unit.Frequency `json:"frequency_hz"`
	Damping   float64        `json:"damping"` // fraction of critical
	Measured  bool           `json:"measured"`
	Worst     int            `json:"worst_pass"`
	CarryOver Doubtful       `json:"carry_over"` // of the worst pass: each pass leaves this times the last
	Growth    Doubtful       `json:"growth"`     // over the whole schedule
	Waves     float64        `json:"waves_per_turn"`
	Centre    string         `json:"centre,omitempty"`
	CentreMay bool           `json:"centre_matters"`
	LastRPM   unit.Rotation  `json:"last_passes_rpm,omitempty"` // cleans up best; zero when no change is needed
	LastLeave float64        `json:"last_passes_leave,omitempty"`
	Words     []string       `json:"words"`

	Outlook  *Outlook `json:"outlook,omitempty"`  // where it was asked for
	Remedies []Remedy `json:"remedies,omitempty"` // likewise

	Assessment *vibe.Assessment `json:"-"` // for charts; nil in a plan that was read back
}

// Doubtful is a figure with the range that what is not known leaves open.
type Doubtful struct {
	Low    float64 `json:"low"`
	Likely float64 `json:"likely"`
	High   float64 `json:"high"`
}

// usualLast is how many of the last passes a change of speed is considered for where
// the plan has no stop to measure before them.
const usualLast = 3

// MakeWithVibration is Make with the vibration of work and tool assessed as well,
// which takes some twenty milliseconds more.
func MakeWithVibration(r Request) (*Plan, error) {
	s, err := Examine(r)
	if err != nil {
		return nil, err
	}
	return s.Plan, nil
}

// Study is a plan with its vibration assessed, of which more can be asked: which
// change would help (Remedies), and how sure the answer is (Outlook).
type Study struct {
	Plan *Plan // Vibration is nil where nothing is cut

	b  *builder
	in vibe.Input
	a  *vibe.Assessment
}

// Examine plans a thread and assesses its vibration.
func Examine(r Request) (*Study, error) { return examine(newBuilder(r)) }

// Examine is the function Examine with the lathe's text read only once.
func (p *Planner) Examine(r Request) (*Study, error) { return examine(newBuilderWith(r, p.lathe)) }

func examine(b *builder, err error) (*Study, error) {
	if err != nil {
		return nil, err
	}
	p, err := b.make()
	if err != nil {
		return nil, err
	}
	s := &Study{Plan: p, b: b}
	if len(p.Passes) == 0 {
		return s, nil
	}
	if s.in, err = b.vibrationInput(); err != nil {
		return nil, err
	}
	if s.a, err = vibe.Assess(s.in); err != nil {
		return nil, err
	}
	b.tellVibration(s.a)
	return s, nil
}

// vibrationInput gathers the passes as planned, the work with the centre and
// without, the starters and the speeds there are.
func (b *builder) vibrationInput() (vibe.Input, error) {
	with, other, err := b.holdings()
	if err != nil {
		return vibe.Input{}, err
	}
	in := b.passInput()
	in.Holding, in.Other, in.HasCentre = with, other, b.req.Centre
	in.Starters, in.Steps = b.starters(), b.speedChoices()
	in.Process, err = b.process(in)
	b.rubbing = in.Process
	return in, err
}

// passInput is what an assessment takes from the passes.
func (b *builder) passInput() vibe.Input {
	in := vibe.Input{Process: b.rubbing, Force: b.force, Edge: b.profile.Edge, Diameter: b.surface, LastPasses: b.lastPasses()}
	if in.LastPasses == 0 {
		in.LastPasses = usualLast
	}
	for i, c := range b.chips {
		in.Passes = append(in.Passes, vibe.Pass{Chip: c, Speed: b.plan.Passes[i].RPM})
	}
	return in
}

// reread gives the lathe that was read already.
func (b *builder) reread(string) (*lathe.Lathe, error) { return b.la, nil }

// lastPasses is how many passes come after the first stop to measure: those that a
// finishing speed is for.
func (b *builder) lastPasses() int {
	for i, p := range b.plan.Passes {
		if p.Measure {
			return len(b.plan.Passes) - 1 - i
		}
	}
	return 0
}

// toolSide is the stiffness of the tool side.
func (b *builder) toolSide() unit.Stiffness {
	if k := b.la.Stiffness.Tool; k > 0 {
		return k
	}
	return usualTool
}

// held prepares the work with the centre or without, or the boring bar.
func (b *builder) held(centre bool, j joints, at []unit.Length, prepare func(*shaft.Bar, []unit.Length) (*vibe.Holding, error)) (*vibe.Holding, error) {
	var bar *shaft.Bar
	var err error
	if b.internal() {
		if bar, err = b.boringBar(b.toolSide()); err == nil {
			at = []unit.Length{bar.Length()}
		}
	} else {
		bar, err = b.knockedBar(b.toolSide(), centre, j)
	}
	if err != nil {
		return nil, err
	}
	return prepare(bar, at)
}

// holdings prepares the work as it is held and, for an outside thread, with the
// centre brought up or taken away.
func (b *builder) holdings() (with, other *vibe.Holding, err error) {
	if with, err = b.held(b.req.Centre, asHeld, b.stations(), vibe.Prepare); err != nil || b.internal() {
		return with, nil, err
	}
	other, err = b.held(!b.req.Centre, asHeld, b.stations(), vibe.Prepare)
	return with, other, err
}

// starters are what may set off the first wave: every mesh of this set-up, and the
// shock of entering the cut.
func (b *builder) starters() []vibe.Starter {
	s := []vibe.Starter{vibe.Entry(0)}
	for _, l := range b.plan.Lines {
		if l.Mesh {
			s = append(s, vibe.Starter{Name: l.Name, Kind: vibe.Repeating, Waves: l.PerTurn.Float()})
		}
	}
	return s
}

// speedChoices are the speeds at which the last passes could be cut, each with the
// reason when it must not be.
func (b *builder) speedChoices() []vibe.Step {
	var rough lathe.Speed
	for _, s := range b.la.Speeds {
		if s.RPM == b.plan.Speed.RPM {
			rough = s
		}
	}
	var steps []vibe.Step
	for _, s := range b.plan.Speed.Steps {
		st := vibe.Step{Speed: s.RPM}
		switch {
		case !s.Usable:
			st.Refuse = s.Why
		case s.Surface > b.plan.Speed.High && b.plan.Speed.High > 0:
			st.Refuse = "above the range of surface speeds"
		}
		for _, l := range b.la.Speeds {
			if l.RPM == s.RPM && l.RPM != rough.RPM && !lathe.KeepsPhase(rough, l) && st.Refuse == "" {
				st.Refuse = "loses the thread's phase: pick it up again first"
			}
		}
		steps = append(steps, st)
	}
	return steps
}

func doubtful(r vibe.Range) Doubtful { return Doubtful{Low: r.Low, Likely: r.Likely, High: r.High} }

// tellVibration puts the assessment into the plan, in words a machinist can use.
func (b *builder) tellVibration(a *vibe.Assessment) {
	worst := a.Passes[a.Worst]
	v := &Vibration{
		Verdict: a.Verdict.String(), Mode: a.Mode.Name, Frequency: a.Mode.Frequency, Damping: a.Mode.Damping, Measured: a.Mode.Measured,
		Worst: b.plan.Passes[a.Worst].N, CarryOver: doubtful(worst.CarryOver), Growth: doubtful(a.Growth.Factor), Waves: a.Growth.Waves,
		Assessment: a,
	}
	b.plan.Vibration = v
	b.plan.CarryOver = nil
	for _, p := range a.Passes {
		b.plan.CarryOver = append(b.plan.CarryOver, p.CarryOver.Likely)
	}
	v.Words = a.Words(b.req.Units)
	if a.Centre != nil {
		v.Centre, v.CentreMay = a.Centre.Why, a.Centre.Matters
	}
	if a.Choice >= 0 && a.Steps[a.Choice].Speed != b.plan.Passes[len(b.plan.Passes)-1].RPM {
		v.LastRPM, v.LastLeave = a.Steps[a.Choice].Speed, a.Steps[a.Choice].Product
	}
	b.reason("vibration", "linear theory of waves from pass to pass, checked by simulation; no experiment on a single-point thread has been published", "see docs/vibration.md")
}
