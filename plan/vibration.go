package plan

import (
	"fmt"

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
	if with, err = prepare(b.bar(tool, b.req.Centre)); err != nil {
		return nil, nil, err
	}
	other, err = prepare(b.bar(tool, !b.req.Centre))
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
	say := func(format string, args ...any) { v.Words = append(v.Words, fmt.Sprintf(format, args...)) }
	say("%s: in pass %d, the worst, waves of an earlier pass are left at %s times their height (%s to %s for what is not known)",
		v.Verdict, v.Worst, factor(v.CarryOver.Likely), factor(v.CarryOver.Low), factor(v.CarryOver.High))
	if v.Frequency > 0 {
		how := "computed"
		if v.Measured {
			how = "from a knock test"
		}
		say("what swings: %s at %.0f Hz (%s)", v.Mode, v.Frequency.Hz(), how)
	}
	if v.Growth.Likely > 1 {
		say("over the whole schedule a wave grows %s times, most of all one of %.0f waves a turn", factor(v.Growth.Likely), v.Waves)
	}
	for _, s := range a.Starters {
		if s.Amplified {
			say("%s sets off waves that grow", s.Name)
		}
	}
	if a.Centre != nil {
		v.Centre, v.CentreMay = a.Centre.Why, a.Centre.Matters
		say("the centre: %s", v.Centre)
	}
	if a.Choice >= 0 && v.CarryOver.High > 1 {
		c := a.Steps[a.Choice]
		if c.Speed != b.plan.Passes[len(b.plan.Passes)-1].RPM {
			v.LastRPM, v.LastLeave = c.Speed, c.Product
			say("the last %d cutting passes at %.4g rpm would leave %s of the waves that stand on the thread; they must be real cuts deeper than the marks, not spring passes", lastPasses, c.Speed.RPM(), factor(c.Product))
		}
	}
	if a.InPass.Grows {
		say("a vibration may grow within one pass, which no change of speed cures: stiffen the tool, lower its overhang")
	}
	for _, d := range a.Doubts[:min(len(a.Doubts), 2)] {
		say("rests on %s (%s): %s", d.Name, d.From, d.Cure)
	}
	b.reason("vibration", "linear theory of waves from pass to pass, checked by simulation; no experiment on a single-point thread has been published", "see docs/vibration.md")
}

// factor prints a ratio with two significant figures.
func factor(f float64) string {
	switch {
	case f >= 100:
		return fmt.Sprintf("%.0f", f)
	case f >= 10:
		return fmt.Sprintf("%.0f", f)
	case f >= 1:
		return fmt.Sprintf("%.1f", f)
	case f >= 0.01:
		return fmt.Sprintf("%.2f", f)
	}
	return "less than 0.01"
}
