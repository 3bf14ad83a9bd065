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
}

// Doubtful is a figure with the range that what is not known leaves open.
type Doubtful struct {
	Low    float64 `json:"low"`
	Likely float64 `json:"likely"`
	High   float64 `json:"high"`
}

// lastPasses is how many of the last passes a change of speed is considered for.
const lastPasses = 3

// MakeWithVibration is Make with the vibration of work and tool assessed as well,
// which takes a few milliseconds more.
func MakeWithVibration(r Request) (*Plan, error) {
	b, err := newBuilder(r)
	if err != nil {
		return nil, err
	}
	p, err := b.make()
	if err != nil || len(p.Passes) == 0 {
		return p, err
	}
	return p, b.vibration()
}

// vibration assesses the passes as planned, with the centre and without.
func (b *builder) vibration() error {
	with, other, err := b.holdings()
	if err != nil {
		return err
	}
	in := vibe.Input{
		Holding: with, Other: other, HasCentre: b.req.Centre, Force: b.force, Edge: b.profile.Edge,
		Diameter: b.surface, Starters: b.starters(), Steps: b.speedChoices(), LastPasses: lastPasses,
	}
	for i, c := range b.chips {
		in.Passes = append(in.Passes, vibe.Pass{Chip: c, Speed: b.plan.Passes[i].RPM})
	}
	a, err := vibe.Assess(in)
	if err != nil {
		return err
	}
	b.tellVibration(a)
	return nil
}

// holdings prepares the work as it is held and, for an outside thread, with the
// centre brought up or taken away.
func (b *builder) holdings() (with, other *vibe.Holding, err error) {
	tool := b.la.Stiffness.Tool
	if tool == 0 {
		tool = usualTool
	}
	prepare := func(bar *shaft.Bar, err error) (*vibe.Holding, error) {
		if err != nil {
			return nil, err
		}
		at := b.stations()
		if b.internal() {
			at = []unit.Length{bar.Length()}
		}
		return vibe.Prepare(bar, at)
	}
	if b.internal() {
		with, err = prepare(b.boringBar(tool))
		return with, nil, err
	}
	if with, err = prepare(b.knockedBar(tool, b.req.Centre)); err != nil {
		return nil, nil, err
	}
	other, err = prepare(b.knockedBar(tool, !b.req.Centre))
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
	}
	b.plan.Vibration = v
	b.plan.CarryOver = nil
	for _, p := range a.Passes {
		b.plan.CarryOver = append(b.plan.CarryOver, p.CarryOver.Likely)
	}
	v.Words = a.Words()
	if a.Centre != nil {
		v.Centre, v.CentreMay = a.Centre.Why, a.Centre.Matters
	}
	if a.Choice >= 0 && a.Steps[a.Choice].Speed != b.plan.Passes[len(b.plan.Passes)-1].RPM {
		v.LastRPM, v.LastLeave = a.Steps[a.Choice].Speed, a.Steps[a.Choice].Product
	}
	b.reason("vibration", "linear theory of waves from pass to pass, checked by simulation; no experiment on a single-point thread has been published", "see docs/vibration.md")
}
