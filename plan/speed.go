package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"thrum/cut"
	"thrum/lathe"
	"thrum/unit"
)

// expectedPasses is what the overrun risk is spread over before the passes are
// known; a schedule rarely needs more.
const expectedPasses = 15

// speedAndStopping chooses the spindle speed and the way to end a pass together:
// a speed is only worth having if every pass can be ended in the room there is.
func (b *builder) speedAndStopping() error {
	if b.train == nil {
		return nil
	}
	steps := slices.Clone(b.la.Speeds)
	slices.SortFunc(steps, func(x, y lathe.Speed) int { return int(math.Copysign(1, float64(x.RPM-y.RPM))) })
	rng := b.mat.Speeds(b.profile.Edge.Material)
	if b.req.Ending != "" && !slices.Contains(Endings(), b.req.Ending) {
		return &unit.InputError{Field: "ending", Value: b.req.Ending, Reason: "is not a way to end a pass", Hint: "write one of: " + strings.Join(Endings(), ", ")}
	}
	c, err := b.endingCase(b.room())
	if err != nil {
		return err
	}
	chosen, err := b.chooseSpeed(steps, rng, c)
	if err != nil {
		return err
	}
	b.fillSpeed(chosen, rng)
	if e, _ := b.best(c, chosen); e.Usable && b.reliefIsOurs() {
		c.room = b.chooseRelief(e)
	}
	b.settleEnding(c, chosen)
	b.judgeSteps(steps, rng, c)
	return b.finishSpeed(steps, chosen)
}

// startingRelief settles the relief in which a pass away from the chuck begins: the
// tool has to stand in it at full depth with lost motion out.
func (b *builder) startingRelief(c endingCase) {
	least := 2*c.toolHalf + c.nutTravel()
	b.plan.Stopping.Available, b.plan.Stopping.AvailableTime = 0, 0
	if b.req.Relief > 0 {
		b.plan.Work.ReliefWidth = b.req.Relief
		if b.req.Relief < least {
			b.hazard(Forbidden, fmt.Sprintf("each pass starts in the relief, which is %s wide; the tool needs %s to stand in it", b.len(b.req.Relief), b.len(least)), "make the relief at least "+b.len(least)+" wide")
		}
		return
	}
	b.plan.Work.ReliefWidth = b.wholeSteps(max(least, 3*b.th.Pitch.Length()))
	b.assume("relief", "give the drawing's relief: --relief", true, "the part allows a relief %s wide at the chuck end of the thread, in which each pass starts", b.len(b.plan.Work.ReliefWidth))
}

// wholeSteps rounds a width up to what a drawing would say: half a millimetre, or a
// thirty-second of an inch.
func (b *builder) wholeSteps(l unit.Length) unit.Length {
	step := unit.Length(0.5)
	if b.req.Units == unit.Inches {
		step = unit.Inch / 32
	}
	return unit.Length(math.Ceil(float64(l/step)-1e-9)) * step
}

// judgeSteps says of every speed of the lathe what it would mean for this thread,
// with the relief as it now stands, and marks the fastest that the chosen risk allows.
func (b *builder) judgeSteps(steps []lathe.Speed, rng cut.SpeedRange, c endingCase) {
	fastest := -1
	for i, s := range steps {
		e := c.judge(b.plan.Stopping.Method, s)
		v := s.RPM.Surface(b.surface)
		st := SpeedStep{
			RPM: s.RPM, Setting: s.Label, Surface: v, InRange: v >= rng.Low && (v <= rng.High || !rng.Given()),
			Ending: e.Method, Room: e.Room, Usable: e.Usable, Why: e.Reason,
		}
		if limit := b.la.Chuck.MaxSpeed; limit > 0 && s.RPM > limit {
			st.Usable, st.Why = false, "above the chuck's limit"
		}
		if st.Usable && (v <= rng.High || !rng.Given()) {
			fastest = i
		}
		b.plan.Speed.Steps = append(b.plan.Speed.Steps, st)
	}
	if fastest >= 0 {
		b.plan.Speed.Steps[fastest].Fastest = true
	}
}

// reliefIsOurs tells whether the part leaves the width of the relief to the plan.
func (b *builder) reliefIsOurs() bool {
	return b.req.Relief == 0 && !b.req.OpenEnd && !b.fromChuck() && b.req.Ending != EndAway
}

// room is what lies beyond the last full thread. Where the plan may choose, a
// relief of four pitches, or of 6 mm on a fine thread, is as wide as most parts
// allow (common practice, no source).
func (b *builder) room() unit.Length {
	switch {
	case b.req.OpenEnd:
		return unit.Length(math.Inf(1))
	case b.req.Relief > 0:
		return b.req.Relief
	}
	return max(4*b.th.Lead().Length(), unit.Inch/4)
}

// endingCase collects what judging an ending needs.
func (b *builder) endingCase(room unit.Length) (endingCase, error) {
	timing := AssumedTiming()
	if b.req.Timing != nil {
		timing = *b.req.Timing
	}
	lead := b.th.Lead().Length()
	half, err := b.toolHalf()
	return endingCase{
		la: b.la, units: b.req.Units, centre: b.req.Centre, lead: lead, toolHalf: half, timing: timing, risk: b.req.risk(), passes: expectedPasses,
		openable: b.openable(), room: room, length: b.req.Length, reverse: b.needsReverse() || !b.fromChuck(),
	}, err
}

// preferred endings in order of how little they ask of the operator's nerves.
var preferred = []string{EndScrew, EndClutch, EndKickOut, EndOpen, EndBrake, EndStop, EndSameLine}

// best returns the ending to use at a speed: the one asked for, or the first
// usable one.
func (b *builder) best(c endingCase, s lathe.Speed) (Ending, []Ending) {
	var all []Ending
	for _, m := range Endings() {
		if m == EndAway && !b.fromChuck() && b.req.Ending != EndAway {
			continue
		}
		all = append(all, c.judge(m, s))
	}
	pick := func(method string) (Ending, bool) {
		i := slices.IndexFunc(all, func(e Ending) bool { return e.Method == method })
		if i < 0 {
			return Ending{}, false
		}
		return all[i], true
	}
	switch {
	case b.req.Ending != "":
		e, _ := pick(b.req.Ending)
		return e, all
	case b.fromChuck():
		e, _ := pick(EndAway)
		return e, all
	}
	for _, m := range preferred {
		if c.openable && (m == EndStop || m == EndBrake || m == EndSameLine) {
			continue // with the half nuts free, opening them at a slower speed is the surer way
		}
		if e, ok := pick(m); ok && e.Usable {
			return e, all
		}
	}
	if e, ok := pick(EndHandTurn); ok && e.Usable && b.req.RPM == 0 {
		return e, all // only where no speed leaves room otherwise, never at a speed that was asked for
	}
	e, _ := pick(EndOpen)
	return e, all
}

// chooseSpeed returns the step to cut at. Asked for: that one. Otherwise the
// slowest step inside the range of surface speeds, since slow passes are the
// easiest to end; if the room does not allow that, the fastest that it does.
func (b *builder) chooseSpeed(steps []lathe.Speed, rng cut.SpeedRange, c endingCase) (lathe.Speed, error) {
	if b.req.RPM > 0 {
		return findStep(steps, b.req.RPM, "spindle speed")
	}
	limit := b.la.Chuck.MaxSpeed
	var inside, below []lathe.Speed
	for _, s := range steps {
		v := s.RPM.Surface(b.surface)
		if limit > 0 && s.RPM > limit || rng.Given() && v > rng.High {
			continue
		}
		if e, _ := b.best(c, s); !e.Usable || e.Method == EndHandTurn && b.req.Ending == "" {
			continue // turning by hand is for when no speed leaves room otherwise
		}
		if v >= rng.Low {
			inside = append(inside, s)
		} else {
			below = append(below, s)
		}
	}
	sp := &b.plan.Speed
	switch {
	case len(inside) > 0:
		sp.Governed = "slowest step inside the range of surface speeds: the most time to end a pass"
		return inside[0], nil
	case len(below) > 0:
		s := below[len(below)-1]
		sp.Governed = "fastest step that leaves room and time to end a pass; it lies below the range of surface speeds"
		if s.RPM == steps[len(steps)-1].RPM {
			sp.Governed = "the lathe's fastest step; it lies below the range of surface speeds"
		}
		return s, nil
	}
	sp.Governed = "the slowest step of the lathe"
	return steps[0], nil
}

func findStep(steps []lathe.Speed, rpm unit.Rotation, field string) (lathe.Speed, error) {
	near := steps[0]
	for _, s := range steps {
		if math.Abs(float64(s.RPM-rpm)) < 0.005*float64(rpm) {
			return s, nil
		}
		if math.Abs(float64(s.RPM-rpm)) < math.Abs(float64(near.RPM-rpm)) {
			near = s
		}
	}
	var all []string
	for _, s := range steps {
		all = append(all, trimRPM(s.RPM))
	}
	return near, &unit.InputError{
		Field: field, Value: trimRPM(rpm), Reason: "is not a speed of this lathe",
		Hint: "nearest is " + trimRPM(near.RPM) + "; it has " + strings.Join(all, ", ") + " rpm",
	}
}

func (b *builder) fillSpeed(s lathe.Speed, rng cut.SpeedRange) {
	sp := &b.plan.Speed
	sp.RPM, sp.Setting, sp.BackGear = s.RPM, s.Label, s.BackGear
	sp.Surface = s.RPM.Surface(b.surface)
	sp.Low, sp.High = rng.Low, rng.High
	if sp.Governed == "" {
		sp.Governed = "as asked for"
	}
	if len(b.mat.Fluids) > 0 {
		sp.Oil = b.mat.Fluids[0]
	}
	b.reason("speed", b.mat.Sources.Speed, "%s with %s: %s to %s for threading; %s rpm is %s at the blank's surface; governed by: %s", b.mat.Name, strings.ToUpper(b.plan.Tool.Material),
		rng.Low.Format(b.req.Units, 0), rng.High.Format(b.req.Units, 0), trimRPM(s.RPM), sp.Surface.Format(b.req.Units, 0), sp.Governed)
	switch {
	case b.la.Chuck.MaxSpeed > 0 && s.RPM > b.la.Chuck.MaxSpeed:
		b.hazard(Forbidden, fmt.Sprintf("%s rpm is above the chuck's limit of %s rpm", trimRPM(s.RPM), trimRPM(b.la.Chuck.MaxSpeed)), "choose a slower step")
	case rng.Given() && sp.Surface > rng.High*1.0001:
		b.hazard(Warning, fmt.Sprintf("%s is above the range for %s with this tool (%s to %s): the edge will not last",
			sp.Surface.Format(b.req.Units, 0), b.mat.Name, rng.Low.Format(b.req.Units, 0), rng.High.Format(b.req.Units, 0)), b.slower(s))
	}
}

// slower says what to do about a speed that wears the edge.
func (b *builder) slower(s lathe.Speed) string {
	for _, o := range b.la.Speeds {
		if o.RPM < s.RPM {
			return "choose a slower step"
		}
	}
	if b.plan.Tool.Material == "carbide" {
		return "this lathe has no slower step: expect to resharpen, or to change the insert, before the last passes"
	}
	return "this lathe has no slower step: use a carbide tool, or expect to sharpen again before the last passes"
}

// settleEnding judges every ending at the chosen speed and fixes the relief.
func (b *builder) settleEnding(c endingCase, s lathe.Speed) {
	e, all := b.best(c, s)
	st := &b.plan.Stopping
	st.Ending = e
	v := s.RPM.Feed(c.lead)
	st.Carriage = v.MMPerS()
	st.FloorPerPass = c.timing.Floor()
	if !math.IsInf(float64(c.room), 1) {
		st.Available = c.room
		st.AvailableTime = unit.Time(float64(c.room) / float64(v))
	}
	for _, o := range all {
		if o.Method != e.Method {
			st.Others = append(st.Others, o)
		}
	}
	b.startAndReturn(e)
	switch {
	case e.Method == EndAway:
		b.startingRelief(c)
	case !math.IsInf(float64(c.room), 1):
		b.plan.Work.ReliefWidth = c.room
	}
	if !e.Usable {
		cures := []string{}
		if e.MaxRPM > 0 {
			cures = append(cures, fmt.Sprintf("run at %.0f rpm or slower", e.MaxRPM))
		}
		if e.Room > c.room {
			cures = append(cures, "make the relief at least "+b.len(e.Room)+" wide")
		}
		for _, o := range all {
			if o.Usable {
				cures = append(cures, "end the pass another way: "+o.Method)
			}
		}
		b.hazard(Forbidden, fmt.Sprintf("ending a pass by %q: %s", e.Method, e.Reason), cures...)
	}
	if !manual(e.Method) {
		return
	}
	if e.Assumed {
		b.assume("stopping", "make ten air passes, read each stop on an indicator, and enter them", true,
			"the operator is late by %.2f s on average with a spread of %.2f s", c.timing.Mean.S(), c.timing.Spread.S())
	} else {
		b.reason("stopping", "Clopper and Pearson 1934",
			"timing from %d air passes; with so few, no chance of a missed end below %.0f in 100 passes can be claimed", c.timing.Passes, 100*st.FloorPerPass)
	}
	b.reason("stopping", "", "room = carriage speed %s x %.2f s + tool's half width %s + half-nut allowance %s, so that at most 1 part in %.0f overruns",
		v.Travel(b.req.Units), c.timing.RoomFor(c.risk, c.passes).S(), b.len(c.toolHalf), b.len(c.nutTravel()), 1/c.risk)
}

// chooseRelief settles the width of the relief where the part leaves it open: three
// pitches are usual, the pass may need more.
func (b *builder) chooseRelief(e Ending) unit.Length {
	width := b.wholeSteps(max(e.Room, 3*b.th.Pitch.Length()))
	b.assume("relief", "give the drawing's relief: --relief, or --open-end when nothing is in the way", true,
		"the part allows a relief %s wide beyond the thread", b.len(width))
	return width
}

// startAndReturn says how a pass begins and how the carriage comes back.
func (b *builder) startAndReturn(e Ending) {
	st := &b.plan.Stopping
	switch {
	case b.la.Leadscrew.Electronic:
		st.Start, st.Return = "start position of the electronic leadscrew", "withdraw the tool, return to the start position"
	case e.Method == EndAway:
		st.Start = "spindle at rest or slow, tool standing in the relief at the depth of the pass with lost motion out; close the half nuts as the dial rule says"
		st.Return = "let the tool run out of the end of the part, open the half nuts, withdraw, wind back and set the tool into the relief again"
		if !b.openable() {
			st.Start = "half nuts closed at standstill and left closed; tool standing in the relief at the depth of the pass, lost motion out"
			st.Return = "let the tool run out of the end of the part, wait until the spindle stands still, withdraw, and turn the spindle back until the tool stands in the relief again"
		}
	case e.Method == EndSameLine:
		st.Start = "half nuts closed; start the spindle with the tool clear of the work by more than the lost motion; note the line of the dial"
		st.Return = "as the pass ends: reverse, close on the noted line as it first comes round, run back past the start"
	case b.openable():
		st.Start = "spindle running, carriage at the start; close the half nuts as the dial rule says"
		st.Return = "withdraw the tool, open the half nuts, wind the carriage back by hand past the start"
	default:
		st.Start = "half nuts closed at standstill and left closed; start the spindle with the tool clear of the work by more than the lost motion"
		st.Return = "wait until the spindle stands still, withdraw the tool, run the spindle backwards until the tool is well past the start; forward again takes out the lost motion"
		if ok, _ := b.la.CanReverse(); !ok {
			st.Return = "switch off, wait until the spindle stands still, withdraw the tool, then with the power off turn the spindle backwards by hand until the tool is well past the start"
		}
	}
}

// finishSpeed checks a second speed for the last cutting passes.
func (b *builder) finishSpeed(steps []lathe.Speed, rough lathe.Speed) error {
	if b.req.FinishRPM == 0 {
		return nil
	}
	s, err := findStep(steps, b.req.FinishRPM, "finishing speed")
	if err != nil {
		return err
	}
	b.plan.Speed.Finish, b.plan.Speed.FinishHow = s.RPM, s.Label
	if !lathe.KeepsPhase(rough, s) {
		b.hazard(Warning, "changing from "+trimRPM(rough.RPM)+" to "+trimRPM(s.RPM)+" rpm loses the thread's phase on this lathe: pick the thread up again before the first pass at the new speed")
	}
	c, err := b.endingCase(b.room())
	if err != nil {
		return err
	}
	if b.plan.Work.ReliefWidth > 0 {
		c.room = b.plan.Work.ReliefWidth
	}
	if e := c.judge(b.plan.Stopping.Method, s); !e.Usable {
		b.hazard(Forbidden, fmt.Sprintf("at the finishing speed of %s rpm: %s", trimRPM(s.RPM), e.Reason), "choose a slower finishing speed", "make the relief wider")
	}
	return nil
}
