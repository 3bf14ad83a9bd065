package plan

import (
	"fmt"
	"math"
	"slices"

	"thrum/lathe"
	"thrum/unit"
)

// The ways to end a pass. A carriage stop is not among them: under closed half
// nuts it stops nothing.
const (
	EndOpen     = "open"     // half nuts opened by hand in a relief
	EndPullOut  = "pull out" // tool drawn out by hand without a relief
	EndStop     = "stop"     // motor switched off, spindle coasts
	EndBrake    = "brake"    // spindle braked
	EndKickOut  = "kick-out" // the half nuts are thrown out by a stop
	EndClutch   = "clutch"   // single-tooth clutch
	EndScrew    = "electronic"
	EndHandTurn = "hand turn" // last turns by hand
	EndAway     = "away"      // cut away from the chuck, out of the end of the part
	EndSameLine = "same line" // opened in the relief, closed again on the same line while reversing
)

// Endings lists the names that Request.Ending accepts.
func Endings() []string {
	return []string{EndOpen, EndPullOut, EndStop, EndBrake, EndKickOut, EndClutch, EndScrew, EndHandTurn, EndAway, EndSameLine}
}

// Shares of the room that do not depend on the operator's timing.
// Common practice, no source: half nuts let go of the screw only after their
// threads have risen clear, within a quarter of the screw's pitch.
const nutShare = 0.25

// handReserve is how many coasts must fit into the thread before the last turns may
// be left to the crank. Common practice, no source.
const handReserve = 1.5

// endingCase is what judging an ending needs to know.
type endingCase struct {
	la       *lathe.Lathe
	units    unit.System // in which its words are printed
	centre   bool        // the tailstock centre holds the part
	lead     unit.Length
	toolHalf unit.Length // tool's half width that meets the shoulder first
	timing   Timing
	risk     float64
	passes   int
	openable bool        // the half nuts may be opened: some dial line is right
	room     unit.Length // available beyond the last full thread; +Inf when nothing is in the way
	length   unit.Length // of full thread
	reverse  bool        // cutting away from the chuck would turn the spindle backwards
}

// nutTravel is how far the screw still drives the carriage while the half nuts open.
func (c endingCase) nutTravel() unit.Length {
	return unit.Length(nutShare) * c.la.Leadscrew.Pitch().Length()
}

// passEnd is what a way of ending is judged by at one spindle speed.
type passEnd struct {
	endingCase
	speed lathe.Speed
	v     unit.Velocity // of the carriage
	fixed unit.Length   // room that no timing saves: half the tool, and the travel of the half nuts
	delay unit.Time     // what the operator's timing needs
}

// judge works out one way of ending a pass at one spindle speed.
func (c endingCase) judge(method string, s lathe.Speed) Ending {
	e := Ending{Method: method, Assumed: c.timing.Passes == 0}
	p := passEnd{c, s, s.RPM.Feed(c.lead), c.toolHalf + c.nutTravel(), c.timing.RoomFor(c.risk, c.passes)}
	refusal := "is not a way to end a pass"
	switch method {
	case EndOpen, EndPullOut:
		refusal = p.openNuts(&e)
	case EndSameLine:
		refusal = p.sameLine(&e)
	case EndStop, EndBrake:
		refusal = p.stopSpindle(&e)
	case EndKickOut:
		refusal = p.kickOut(&e)
	case EndClutch:
		refusal = p.inStep(&e, "the single-tooth clutch drops out at its stop and closes again in step", c.la.Carriage.SingleToothClutch, "this lathe has no single-tooth clutch")
	case EndScrew:
		refusal = p.inStep(&e, "the electronic leadscrew stops at its set position", c.la.Leadscrew.Electronic, "the leadscrew of this lathe is driven by wheels")
	case EndHandTurn:
		refusal = p.handTurn(&e)
	case EndAway:
		if refusal = p.away(&e); refusal == "" {
			return e // nothing to run into: no room to be compared
		}
	}
	if refusal != "" {
		e.Reason = refusal
		return e
	}
	e.fit(c, p.fixed, p.v)
	return e
}

// What follows fills in one way each, and returns why it cannot be used, or nothing.

const noLine = "no line of the threading dial is right for this lead: the half nuts must stay closed"

func (p passEnd) openNuts(e *Ending) string {
	e.Words = "open the half nuts as the tip leaves the last full thread and enters the relief"
	if e.Method == EndPullOut {
		e.Words = "wind the cross slide out at the mark, then open the half nuts; the same spot each pass, never deeper along"
		if !p.openable {
			e.Words = "wind the cross slide out at the mark, then stop the spindle with the half nuts closed; the same spot each pass, never deeper along"
		}
	}
	if e.Method == EndOpen {
		if !p.openable {
			return noLine
		}
		if p.la.Carriage.HalfNuts == lathe.HalfNutsFixed {
			return "the carriage of this lathe is always engaged"
		}
	}
	e.timed(p.fixed, p.delay, p.v)
	return ""
}

func (p passEnd) sameLine(e *Ending) string {
	e.Words = "open the half nuts in the relief, let the spindle stop, withdraw the tool, reverse, and close on the SAME line as it first comes round; run back past the start with the half nuts closed"
	switch ok, why := p.la.CanReverse(); {
	case p.la.Carriage.HalfNuts == lathe.HalfNutsFixed:
		return "the carriage of this lathe is always engaged"
	case len(p.la.DialWheels) == 0:
		return "this lathe has no threading dial to find the line by"
	case !ok:
		return "the spindle may not be run in reverse: " + why
	}
	e.timed(p.fixed, p.delay, p.v)
	return ""
}

// stopSpindle switches off early, so that the coast ends in the relief; what the room
// must hold is the operator's spread and the spread of the coast.
func (p passEnd) stopSpindle(e *Ending) string {
	braked := e.Method == EndBrake
	e.Words = "switch off before the end; the spindle coasts into the relief with the half nuts closed"
	if braked {
		e.Words = "switch off and brake; the spindle stops in the relief with the half nuts closed"
		if p.la.Brake.Kind == lathe.NoBrake || p.la.Brake.Kind == "" {
			return "this lathe has no brake"
		}
	}
	turns, measured := coast(p.speed, braked)
	if !measured {
		return p.noCoast("measure it twice and add " + coastKey(braked) + " to that speed")
	}
	e.timed(p.fixed+p.lead*unit.Length(turns.spread), p.delay-p.timing.Mean, p.v)
	e.Words += fmt.Sprintf(" (it makes %.1f turns, %s of travel)", turns.most, p.along(turns))
	e.Assumed = e.Assumed || turns.readings < 2
	return ""
}

func (p passEnd) kickOut(e *Ending) string {
	e.Words = "the stop throws the half nuts out"
	repeat := p.la.Carriage.KickOutRepeat
	switch {
	case !p.la.Carriage.KickOut:
		return "this lathe has no kick-out"
	case !p.openable:
		return noLine
	case repeat == 0:
		return "how well the kick-out repeats is not in the lathe file; measure ten and add carriage.kick_out_repeatability"
	}
	e.timed(p.fixed+repeat, 0, p.v)
	e.Assumed = false
	return ""
}

// inStep is an ending that the lathe makes by itself, always at the same place.
func (p passEnd) inStep(e *Ending, words string, has bool, lacks string) string {
	e.Words = words
	if !has {
		return lacks
	}
	e.timed(p.fixed, 0, p.v)
	e.Assumed = false
	return ""
}

func (p passEnd) handTurn(e *Ending) string {
	e.Words = "motor off and out of gear well before the end; turn the last turns by the crank"
	turns, measured := coast(p.speed, false)
	switch {
	case !p.la.Spindle.HandCrank:
		return "this lathe has no crank for turning the spindle by hand"
	case !measured:
		return p.noCoast("measure it twice and add coast_turns to that speed")
	case p.lead*unit.Length(handReserve*turns.most) > p.length:
		return fmt.Sprintf("after switching off at %s rpm the carriage runs on %s, too far for a thread of %s", trimRPM(p.speed.RPM), p.along(turns), p.length.Format(p.units, 3))
	}
	e.timed(p.fixed, 0, 0)
	e.Assumed = false
	return ""
}

func (p passEnd) away(e *Ending) string {
	e.Words = "start in the relief and cut towards the tailstock, out of the end of the part: nothing to run into"
	if p.centre {
		e.Words = "start in the relief and cut towards the tailstock, out of the end of the part, and end the pass before the tool or its holder meets the centre"
	}
	e.Reason = "no shoulder lies in the direction of cutting"
	if !p.reverse { // a left-hand thread goes this way with the spindle forward
		e.Reason = "a left-hand thread runs towards the tailstock with the spindle forward"
	} else if ok, why := p.la.CanReverse(); !ok {
		return "cutting away from the chuck turns the spindle backwards: " + why
	}
	e.timed(0, 0, p.v)
	e.Assumed, e.Usable = false, true
	return ""
}

// along is how far the carriage runs while the spindle coasts.
func (p passEnd) along(turns coasting) string {
	return (p.lead * unit.Length(turns.most)).Format(p.units, 3)
}

func (p passEnd) noCoast(do string) string {
	return fmt.Sprintf("how many turns the spindle makes after switching off at %s rpm is not in the lathe file; %s", trimRPM(p.speed.RPM), do)
}

// timed fills in the room: a fixed share and a share that grows with speed.
func (e *Ending) timed(fixed unit.Length, delay unit.Time, v unit.Velocity) {
	e.Room = fixed + unit.Length(float64(delay)*float64(v))
	if v > 0 {
		e.Seconds = unit.Time(float64(e.Room) / float64(v))
	}
}

// fit compares the room needed with the room there is.
func (e *Ending) fit(c endingCase, fixed unit.Length, v unit.Velocity) {
	e.Turns = float64(e.Room) / float64(c.lead)
	share := e.Room - fixed
	if share > 0 && v > 0 && !math.IsInf(float64(c.room), 1) {
		left := c.room - fixed
		if left > 0 {
			e.MaxRPM = math.Floor(float64(left) / float64(share) * float64(v) * 60 / float64(c.lead))
		}
	}
	if manual(e.Method) && v > 0 && !math.IsInf(float64(c.room), 1) {
		left := unit.Time(float64(c.room-fixed) / float64(v))
		if e.Method == EndStop || e.Method == EndBrake {
			left += c.timing.Mean // switching off is anticipated, as judge says
		}
		// Nothing smaller than what was planned for is claimed: neither an assumption
		// nor ten air passes support it.
		e.Risk = max(c.timing.LateRisk(left, c.passes), c.risk)
		if c.room <= fixed {
			e.Risk = 1
		}
	}
	if e.Room <= c.room {
		e.Usable = true
		e.Reason = "the room is enough"
		if math.IsInf(float64(c.room), 1) {
			e.Reason = "nothing is in the way beyond the thread"
		}
		return
	}
	e.Usable = false
	e.Reason = fmt.Sprintf("needs %s beyond the last full thread and has %s", e.Room.Format(c.units, 3), c.room.Format(c.units, 3))
	if e.MaxRPM > 0 {
		e.Reason += fmt.Sprintf("; at %.0f rpm or slower it would be enough", e.MaxRPM)
	}
}

// manual tells whether an ending depends on the operator's timing.
func manual(method string) bool {
	return method == EndOpen || method == EndSameLine || method == EndPullOut || method == EndStop || method == EndBrake
}

// coasting is what is known of the spindle's run after switching off.
type coasting struct {
	most, spread float64 // turns
	readings     int
}

// coast reads the measured turns at this very speed. Nothing is extrapolated: with
// a stepped drive the motor always stops from the same speed, so no square law holds.
func coast(s lathe.Speed, braked bool) (coasting, bool) {
	readings := s.CoastTurns
	if braked {
		readings = s.BrakeTurns
	}
	if len(readings) == 0 {
		return coasting{}, false
	}
	var x []float64
	for _, r := range readings {
		x = append(x, r.Float())
	}
	c := coasting{most: slices.Max(x), spread: slices.Max(x) - slices.Min(x), readings: len(x)}
	// Two readings bound nothing: allow at least a tenth of the coast either way.
	c.spread = max(2*c.spread, 0.1*c.most)
	return c, true
}

func coastKey(braked bool) string {
	if braked {
		return "brake_turns"
	}
	return "coast_turns"
}

func trimRPM(r unit.Rotation) string { return fmt.Sprintf("%.4g", r.RPM()) }
