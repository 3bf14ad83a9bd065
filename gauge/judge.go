package gauge

import (
	"fmt"
	"math"

	"thrum/thread"
	"thrum/unit"
)

// Reading is one measured thread: what was read, and how far each thing that
// went into it may be out. Errors left at zero are filled in with an assumption,
// which the verdict names: no micrometer, wire or flank is without error.
type Reading struct {
	Method  Method
	Value   unit.Length   // what the micrometer showed; zero when Repeats are given
	Repeats []unit.Length // several readings at the same place, taken anew each time
	Wire    unit.Length   // diameter of the wires (balls)
	Major   unit.Length   // measured major diameter, for one wire

	ReadError  unit.Length // the micrometer and its reading are right within this, either way
	WireError  unit.Length // the wires are of the size given, within this
	MajorError unit.Length // for one wire: major diameter, its runout against the thread included
	FlankError unit.Angle  // each flank angle is right within this

	Part, Wires, Micrometer Warmth
	TemperatureError        unit.Temperature // temperatures are right within this

	LeadError     unit.Length // measured lead error over the engagement, for the functional size
	LeadingError  unit.Angle  // measured flank angle less nominal
	TrailingError unit.Angle  // the same for the other flank
}

// Mean returns the reading, or the mean of the repeated ones.
func (r Reading) Mean() unit.Length {
	if len(r.Repeats) == 0 {
		return r.Value
	}
	var sum unit.Length
	for _, l := range r.Repeats {
		sum += l
	}
	return sum / unit.Length(len(r.Repeats))
}

// Standing says where the pitch diameter stands with regard to its limits.
type Standing int

// The standings, from metal still to come off to too much off.
const (
	MetalLeft       Standing = iota // outside, and cutting on helps
	PerhapsLeft                     // outside on that side by less than can be proved
	InsideUnclaimed                 // inside, but within the guard band
	Inside                          // inside, and can be claimed
	PerhapsOver                     // too far cut by less than can be proved
	Over                            // too far cut
)

// String prints the standing in words.
func (s Standing) String() string {
	switch s {
	case MetalLeft:
		return "metal left"
	case PerhapsLeft:
		return "perhaps metal left"
	case InsideUnclaimed:
		return "inside but within the guard band"
	case Inside:
		return "inside"
	case PerhapsOver:
		return "perhaps cut too far"
	case Over:
		return "cut too far"
	}
	return fmt.Sprintf("standing %d", int(s))
}

// TakeOff says how much the pitch diameter still has to change by cutting: to
// become smaller for an external thread, larger for an internal one. All zero
// when nothing has to come off, or when nothing can be mended by cutting.
type TakeOff struct {
	AtLeast unit.Length // from here on the size can be claimed
	Middle  unit.Length // to the middle of what is allowed: aim here
	AtMost  unit.Length // beyond this it can no longer be claimed
}

// Radial returns a change of pitch diameter as a depth square to the axis.
func Radial(d unit.Length) unit.Length { return d / 2 }

// Verdict is a judged reading.
type Verdict struct {
	Pitch      unit.Length    // measured pitch diameter at 20 degrees
	Functional unit.Length    // what the mate feels, with the lead and flank errors that were given
	Standard   unit.Length    // standard uncertainty u of both
	Expanded   unit.Length    // U = 2u, about 95 %
	Budget     []Contribution // where u comes from
	Limits     thread.Band    // limits of the pitch diameter
	Allowed    thread.Band    // the same for the measured pitch diameter: narrower by what lead and flank errors take up
	Accept     thread.Band    // Allowed, drawn in by the guard band; both zero when the measurement is too coarse
	Conforms   float64        // probability that the thread is inside its limits
	Standing   Standing
	Words      string // the verdict as a sentence
	TakeOff    TakeOff
	Notes      []thread.Note
}

// Judge turns a reading into a verdict: the pitch diameter at 20 degrees, how
// sure it is, and whether it may be said to be inside its limits.
//
// The rule is the default of ISO 14253-1: a thread is claimed to be inside only
// when that is true with a probability of 95 %, so the limits are drawn in by a
// guard band, and it is claimed to be outside only with the same certainty. In
// between the reading proves nothing, and the verdict says so.
//
// Judge refuses, with the reason, a wire that does not suit the thread and a
// reading taken before the wires seat.
func Judge(t thread.Thread, r Reading) (*Verdict, error) {
	m, err := newMeasurement(t, r)
	if err != nil {
		return nil, err
	}
	v := &Verdict{Limits: t.Limits.Pitch, Notes: m.notes()}
	if v.Pitch, err = m.pitch(m.nominal); err != nil {
		return nil, err
	}
	if err := m.seated(v.Pitch); err != nil {
		return nil, err
	}
	if v.Functional, err = Functional(t, v.Pitch, r.LeadError, r.LeadingError, r.TrailingError); err != nil {
		return nil, err
	}
	if v.Budget, err = m.budget(); err != nil {
		return nil, err
	}
	var square float64
	for _, c := range v.Budget {
		square += float64(c.Share) * float64(c.Share)
	}
	v.Standard = unit.Length(math.Sqrt(square))
	v.Expanded = 2 * v.Standard
	v.decide(t)
	return v, nil
}

// decide compares pitch diameter and limits.
func (v *Verdict) decide(t thread.Thread) {
	v.Allowed = v.Limits
	taken := v.Functional - v.Pitch // positive external, negative internal
	tight, loose := &v.Allowed.Max, &v.Allowed.Min
	if t.Side == thread.Internal {
		tight, loose = loose, tight
	}
	if *tight != 0 {
		*tight -= taken
	}
	// Toward the tight limit there is metal left; s turns sizes so that this is up.
	s := unit.Length(FlanksOf(t).opens())
	crossed := *tight != 0 && *loose != 0 && s*(*tight-*loose) < 0
	ok := false
	if !crossed {
		v.Accept, ok = Acceptance(v.Standard, v.Allowed)
		v.Conforms = ConformanceProbability(v.Pitch, v.Standard, v.Allowed)
	}
	switch {
	case *tight != 0 && s*(v.Pitch-*tight) > 0:
		v.Standing = PerhapsLeft
		if phi(float64(s*(v.Pitch-*tight)/v.Standard)) >= enough {
			v.Standing = MetalLeft
		}
	case *loose != 0 && s*(v.Pitch-*loose) < 0:
		v.Standing = PerhapsOver
		if phi(float64(s*(*loose-v.Pitch)/v.Standard)) >= enough {
			v.Standing = Over
		}
	case v.Conforms >= enough:
		v.Standing = Inside
	default:
		v.Standing = InsideUnclaimed
	}
	v.takeOff(t, s, *tight, *loose, ok)
	v.word(t, crossed, ok)
}

// takeOff works out how much has to come off, when cutting on is what helps.
func (v *Verdict) takeOff(t thread.Thread, s, tight, loose unit.Length, ok bool) {
	if v.Standing > InsideUnclaimed || tight == 0 || loose == 0 || s*(tight-loose) < 0 {
		return
	}
	middle := s * (v.Pitch - (tight+loose)/2)
	if middle <= 0 { // nearer the loose limit already
		return
	}
	v.TakeOff = TakeOff{AtLeast: middle, Middle: middle, AtMost: middle}
	if ok {
		near, far := v.Accept.Max, v.Accept.Min
		if t.Side == thread.Internal {
			near, far = far, near
		}
		v.TakeOff.AtLeast = max(s*(v.Pitch-near), 0)
		v.TakeOff.AtMost = s * (v.Pitch - far)
	}
}

// word puts the verdict into a sentence.
func (v *Verdict) word(t thread.Thread, crossed, ok bool) {
	p := func(l unit.Length) string { return brief(l, t.System) }
	big, small := "too big", "too small"
	if t.Side == thread.Internal {
		big, small = small, big
	}
	measured := fmt.Sprintf("pitch diameter %s, right within %s", p(v.Pitch), p(v.Expanded))
	switch v.Standing {
	case Inside:
		v.Words = "inside: " + measured
	case InsideUnclaimed:
		v.Words = fmt.Sprintf("inside, but within the guard band: cannot be claimed (%s; inside with %.0f %% probability)", measured, 100*v.Conforms)
	case MetalLeft:
		v.Words = fmt.Sprintf("outside: %s still (%s)", big, measured)
	case PerhapsLeft:
		v.Words = fmt.Sprintf("outside, %s by less than this measurement can prove (%s)", big, measured)
	case PerhapsOver:
		v.Words = fmt.Sprintf("outside, %s by less than this measurement can prove (%s): measure again, better, before scrapping", small, measured)
	case Over:
		v.Words = fmt.Sprintf("outside: %s, and nothing can be put back (%s)", small, measured)
	}
	if o := v.TakeOff; o.Middle > 0 {
		v.Words += fmt.Sprintf("; take off %s more on the pitch diameter (%s in depth) to the middle", p(o.Middle), p(Radial(o.Middle)))
		if ok {
			v.Words += fmt.Sprintf(", at least %s, at most %s", p(o.AtLeast), p(o.AtMost))
		}
	}
	say := func(format string, args ...any) {
		v.Notes = append(v.Notes, thread.Note{Text: fmt.Sprintf(format, args...), Source: "ISO 14253-1:2017 default rule, from memory; JCGM 106:2012, 8.3"})
	}
	switch {
	case crossed:
		say("the errors of lead and flank use up more than the whole tolerance: at no pitch diameter is this thread inside")
	case !ok:
		say("too coarse for this tolerance: with a standard uncertainty of %s no reading between %s and %s could be claimed; reduce the largest share of the uncertainty", p(v.Standard), p(v.Allowed.Min), p(v.Allowed.Max))
	default:
		say("claimed to be inside from %s to %s: the limits drawn in so that the claim is right with 95 %% probability", p(v.Accept.Min), p(v.Accept.Max))
	}
}
