package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"thrum/lathe"
	"thrum/thread"
	"thrum/unit"
)

// trains kept in a plan; the first is the one the sheet is made for.
const trainsKept = 4

func (b *builder) hand() lathe.Hand {
	if b.th.Hand == thread.Left {
		return lathe.Left
	}
	return lathe.Right
}

// gears finds the trains for the thread's lead.
func (b *builder) gears() error {
	b.plan.Gears = []GearChoice{}
	trains, err := b.trains()
	var none *lathe.NoTrain
	switch {
	case errors.As(err, &none):
		b.hazard(Forbidden, "this lathe cannot be geared for a lead of "+b.len(b.th.Lead().Length())+": "+none.Detail,
			"add wheels to the lathe file if you own more", "choose another pitch")
		return nil
	case err != nil:
		return err
	case len(trains) == 0:
		b.hazard(Forbidden, "this lathe cannot be geared for a lead of "+b.len(b.th.Lead().Length()))
		return nil
	}
	if n := b.req.Train; n > 0 { // another than the first: the rest keep their order
		if n > len(trains) {
			return &unit.InputError{Field: "train", Value: fmt.Sprint(n), Reason: fmt.Sprintf("is not one of the %d ways to gear this lathe for the thread", len(trains)), Hint: "the sheet numbers them"}
		}
		t := trains[n-1]
		trains = slices.Insert(slices.Delete(trains, n-1, n), 0, t)
	}
	for _, t := range trains {
		b.plan.Gears = append(b.plan.Gears, b.gearChoice(t))
	}
	b.train = &trains[0]
	first := b.plan.Gears[0]
	if first.LeadErrorPPM != 0 {
		b.reason("gears", "dp cot of the flank angle",
			"no exact train can be set up with the wheels owned; the lead is out by %+.0f parts in a million, which changes the functional pitch diameter by %s over the engagement",
			first.LeadErrorPPM, b.len(first.PitchGrowth))
		if tol := b.th.Limits.Pitch.Width(); tol > 0 && first.PitchGrowth > tol/4 {
			b.hazard(Warning, fmt.Sprintf("the lead error takes %.0f %% of the pitch diameter's tolerance", 100*float64(first.PitchGrowth/tol)),
				"a shorter engagement suffers less", "wheels that give the exact lead, a 127 among them, cure it")
		}
	}
	return nil
}

func (b *builder) gearChoice(t lathe.Train) GearChoice {
	g := GearChoice{
		Ratio: t.Ratio, Lead: t.Lead, LeadErrorPPM: t.LeadErrorPPM, Stages: t.Stages,
		PitchGrowth: t.PitchDiameterEffect(b.th.Engagement, (b.th.Form.Leading+b.th.Form.Trailing)/2).Abs(),
	}
	if t.Position != nil {
		g.Levers = t.Position.Levers
	}
	for _, w := range t.Wheels {
		g.Wheels = append(g.Wheels, w.Teeth)
		g.Words = append(g.Words, fmt.Sprintf("%s %d", w.Place, w.Teeth))
		g.Circles = append(g.Circles, Circle{X: w.X, Y: w.Y, Radius: w.Radius, Teeth: w.Teeth, Name: w.Place, Shaft: w.Shaft})
	}
	var notes []string
	if t.Tumbler != "" {
		notes = append(notes, "tumbler: "+t.Tumbler)
	}
	switch {
	case t.Moved == 1:
		notes = append(notes, "one wheel to change")
	case t.Moved > 1:
		notes = append(notes, fmt.Sprintf("%d wheels to change", t.Moved))
	}
	g.Note = strings.Join(notes, "; ")
	return g
}

// trains looks among simple and two-stage trains first: three stages are only worth
// mounting when fewer do not give the lead well enough.
func (b *builder) trains() ([]lathe.Train, error) {
	good := b.goodPPM()
	opt := lathe.Options{Hand: b.hand(), Keep: trainsKept, GoodPPM: good, MaxStages: 2}
	trains, err := lathe.Trains(b.la, b.th.Lead(), opt)
	if err == nil && len(trains) > 0 && math.Abs(trains[0].LeadErrorPPM) <= good {
		return trains, nil
	}
	opt.MaxStages = 3
	return lathe.Trains(b.la, b.th.Lead(), opt)
}

// goodPPM is the lead error that does not matter for this thread: a twentieth of
// the pitch diameter's tolerance over the engagement. Below it the simpler train
// is the better one.
func (b *builder) goodPPM() float64 {
	cot := 1 / math.Max((b.th.Form.Included()/2).Tan(), 0.05)
	if b.th.Engagement <= 0 {
		return 0
	}
	return 1e6 * float64(b.th.Limits.Pitch.Width()) / 20 / (float64(b.th.Engagement) * cot)
}

// dial settles where the half nuts may be closed, by exact arithmetic on the lead
// that the train really cuts.
func (b *builder) dial() error {
	if b.train == nil {
		b.plan.Dial = DialRule{Rule: "no gears, no rule", Closed: true}
		return nil
	}
	lead := b.train.Lead
	rules, err := b.la.Rules(lead)
	if err != nil {
		return err
	}
	if b.la.Carriage.HalfNuts == lathe.HalfNutsFixed {
		b.plan.Dial = DialRule{Rule: "the carriage is always engaged: reverse the spindle to return", Closed: true}
		return nil
	}
	if len(rules) == 0 {
		whole, err := b.la.Leadscrew.Pitch().Quo(lead)
		if err == nil && whole.IsWhole() {
			b.plan.Dial = DialRule{Rule: "close the half nuts anywhere", Detail: "the pitch of the screw is a whole multiple of the lead"}
			return nil
		}
		b.plan.Dial = DialRule{Rule: "no threading dial on this lathe: keep the half nuts closed", Closed: true}
		return nil
	}
	r := rules[0]
	b.plan.Dial = DialRule{Rule: r.Text, Closed: r.Kind == lathe.DialNone}
	if len(rules) > 1 {
		b.plan.Dial.Detail = fmt.Sprintf("with the %d-tooth wheel on the dial", r.Wheel.Teeth)
	}
	if r.Kind == lathe.DialSameLine {
		b.plan.Dial.Detail = strings.TrimPrefix(b.plan.Dial.Detail+"; write the line on the lathe", "; ")
	}
	if b.th.Starts > 1 {
		b.starts()
	}
	return nil
}

// starts says how to go from one start to the next on this lathe.
func (b *builder) starts() {
	var ways []string
	for _, m := range b.la.IndexMethods(b.th.Lead(), b.th.Starts, b.train) {
		text := string(m.Kind) + ": " + m.Text
		if len(m.Conflicts) > 0 {
			text = strings.TrimSuffix(text, ".") + "; " + strings.Join(m.Conflicts, "; ")
		}
		if m.Possible {
			ways = append(ways, text)
		} else {
			b.reason("starts", "", "not possible: %s", text)
		}
	}
	b.hazard(Warning, fmt.Sprintf("%d starts: finish each start with the same readings, then go to the next by one of the ways below; a start cut twice or missed spoils the part", b.th.Starts), ways...)
}

// openable tells whether the half nuts may be opened between passes.
func (b *builder) openable() bool { return !b.plan.Dial.Closed }
