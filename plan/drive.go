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
		b.leadReason(first)
	}
	return nil
}

// mostLeadShare is the part of the pitch diameter's tolerance that a lead error may take
// up: its equivalent in functional diameter may be half of it.
// Source: ASME B1.1-2003, 9.1 and table 3, for 1A to 3B: 3/4-10 UNC-2A with a tolerance
// of .0059 in is allowed .0017 in of lead, .00295 in of functional diameter. Other
// standards let the gauge decide; half is then a rule of good practice.
const mostLeadShare = 0.5

// leadReason says what an inexact lead comes to, and warns where it takes up too much of
// the tolerance.
func (b *builder) leadReason(g GearChoice) {
	b.reason("gears", "dp cot of the flank angle; half of the tolerance: ASME B1.1-2003, table 3",
		"no exact train can be set up with the wheels owned; %s. A lead error adds up over the length engaged, %s here, and may take half of the tolerance; in a longer nut it counts for more",
		g.LeadWords, b.len(b.engaged()))
	tol := b.th.Limits.Pitch.Width()
	if share := float64(g.PitchGrowth / tol); tol > 0 && share > mostLeadShare/2 {
		b.hazard(Warning, fmt.Sprintf("the lead error takes %.0f %% of the pitch diameter's tolerance over %s engaged", 100*share, b.len(b.engaged())),
			"a shorter engagement suffers less", "wheels that give the exact lead, a 127 among them, cure it")
	}
}

// engaged is the length over which a lead error adds up: that for which the tolerances
// hold, or the thread's own where it is shorter.
func (b *builder) engaged() unit.Length {
	if e := b.th.Engagement; e > 0 && (b.req.Length == 0 || e < b.req.Length) {
		return e
	}
	return b.req.Length
}

// standardLength is what leadscrews are judged over.
func (b *builder) standardLength() unit.Length {
	if b.req.Units == unit.Inches {
		return 12 * unit.Inch
	}
	return 300 * unit.Millimetre
}

// leadWords states a lead error over the thread's own length and over the standard one,
// and what it takes of the tolerance.
func (b *builder) leadWords(g GearChoice) string {
	if g.LeadErrorPPM == 0 {
		return "exact"
	}
	signed := func(l unit.Length) string {
		if l < 0 {
			return "-" + b.fine(-l)
		}
		return "+" + b.fine(l)
	}
	s := fmt.Sprintf("lead %+.0f ppm: %s over the %s of thread, %s over %s", g.LeadErrorPPM, signed(g.OverThread), b.short(b.req.Length), signed(g.OverStandard), b.short(b.standardLength()))
	tol := b.th.Limits.Pitch.Width()
	if tol <= 0 {
		return s
	}
	share := float64(g.PitchGrowth / tol)
	verdict := "harmless"
	switch {
	case share > mostLeadShare:
		verdict = "too much: more than half of it"
	case share > mostLeadShare/2:
		verdict = "allowed, but the pitch diameter has that much less room"
	case share > mostLeadShare/10:
		verdict = "allowed"
	}
	percent := fmt.Sprintf("%.0f %%", 100*share)
	if share < 0.005 {
		percent = "under 1 %"
	}
	return s + fmt.Sprintf("; feels as %s of pitch diameter, %s of its tolerance: %s", b.fine(g.PitchGrowth), percent, verdict)
}

// fine prints a small length one place finer than the sheet's others.
func (b *builder) fine(l unit.Length) string {
	if b.req.Units == unit.Inches {
		return l.Number(unit.Inches, 5) + " in"
	}
	return l.Number(unit.Metric, 4) + " mm"
}

func (b *builder) gearChoice(t lathe.Train) GearChoice {
	g := GearChoice{
		Ratio: t.Ratio, Lead: t.Lead, LeadErrorPPM: t.LeadErrorPPM, Stages: t.Stages,
	}
	if t.LeadErrorPPM != 0 {
		off := unit.Length(t.LeadErrorPPM * 1e-6)
		g.OverThread, g.OverStandard = b.req.Length*off, b.standardLength()*off
		if flank := (b.th.Form.Leading + b.th.Form.Trailing) / 2; flank > 0 { // square flanks feel no lead in the diameter
			g.PitchGrowth = t.PitchDiameterEffect(b.engaged(), flank).Abs()
		}
	}
	g.LeadWords = b.leadWords(g)
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
	b.plan.Dial.Detail = wheelWords(rules)
	if r.Kind == lathe.DialSameLine {
		b.plan.Dial.Detail = strings.TrimPrefix(b.plan.Dial.Detail+"; write the line on the lathe", "; ")
	}
	if b.th.Starts > 1 {
		b.starts()
	}
	return nil
}

// wheelWords names the wheels of the dial to which the first rule belongs; none where any
// of them would do, or no wheel does.
func wheelWords(rules []lathe.DialRule) string {
	first := rules[0]
	if first.Kind == lathe.DialAnywhere || first.Kind == lathe.DialNone {
		return ""
	}
	var teeth []string
	for _, r := range rules {
		if r.Text == first.Text {
			teeth = append(teeth, fmt.Sprintf("%d-tooth", r.Wheel.Teeth))
		}
	}
	if len(teeth) == len(rules) {
		return ""
	}
	return "with the " + strings.Join(teeth, " or ") + " wheel on the dial"
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
