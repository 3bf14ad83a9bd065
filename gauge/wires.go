package gauge

import (
	"fmt"
	"math"

	"thrum/thread"
	"thrum/unit"
)

// Choice says how a thread is to be measured and with what.
type Choice struct {
	Method Method        // three wires unless said otherwise; balls for an internal thread
	Use    unit.Length   // this size of wire or ball and no other; zero to choose
	Owned  []unit.Length // sizes at hand; when empty the best size is taken
	Major  unit.Length   // measured major diameter, for one wire; zero takes the middle of its limits
}

// Wires is the measurement of one thread over wires (over balls for an internal
// thread), ready for the sheet.
type Wires struct {
	Thread    thread.Thread
	Method    Method
	Best      unit.Length // touches the flanks at the pitch diameter
	Usable    thread.Band // from the least that stands proud of the crest to the greatest that seats on the straight flank
	Size      unit.Length // the wire chosen
	Over      thread.Band // readings at the limits of pitch diameter, exact seat
	Approx    thread.Band // the same by the square-root formula; zero where there is none
	Simple    thread.Band // the same without lead correction
	Lean      unit.Angle  // how far the wires lean from square
	Depth     unit.Length // full radial depth of the groove, middle of the limits
	FirstSeat unit.Length // radial depth at which the wire leaves the corners and touches flank
	Seats     unit.Length // radial depth from which readings count; not less than FirstSeat
	Notes     []thread.Note

	body  body
	major unit.Length // for one wire
}

// seatingShare is the share of the full depth before which readings over wires
// are not trusted even if the wire touches flank: the flank there is narrow and
// its edge carries a burr. Common practice, no source.
const seatingShare = 0.6

// ForThread chooses wires for a thread and gives the readings for its limits. It
// refuses threads and wires that cannot be measured so, with the reason.
func ForThread(t thread.Thread, c Choice) (*Wires, error) {
	b, err := bodyOf(t)
	if err != nil {
		return nil, err
	}
	w := &Wires{Thread: t, Method: c.Method, body: b, Depth: b.depth, major: c.Major}
	if err := w.settleMethod(); err != nil {
		return nil, err
	}
	if w.Best, err = b.f.BestWire(); err != nil {
		return nil, err
	}
	var some bool
	if w.Usable, some = b.usable(w.Best); !some {
		return nil, &unit.InputError{
			Field: "thread", Value: t.Callout,
			Reason: "has flanks too short for wires: one that touches them does not stand proud of the crest",
			Hint:   "use a thread micrometer, a ring gauge or the mating part",
		}
	}
	if w.Size, err = w.choose(c); err != nil {
		return nil, err
	}
	if w.FirstSeat, err = b.firstSeat(w.Size); err != nil {
		return nil, err
	}
	w.Seats = max(w.FirstSeat, seatingShare*b.depth)
	if err := w.readings(); err != nil {
		return nil, err
	}
	w.remarks()
	return w, nil
}

// settleMethod fits the method to the thread, or says why it cannot be used.
func (w *Wires) settleMethod() error {
	internal := w.Thread.Side == thread.Internal
	switch {
	case internal && w.Method == ThreeWires: // the zero value: not chosen
		w.Method = Balls
	case internal && w.Method != Balls, !internal && w.Method == Balls, w.Method == ThreadMicrometer:
		return &unit.InputError{
			Field: "method", Value: w.Method.String(), Reason: "does not measure an " + w.Thread.Side.String() + " thread over wires",
			Hint: "wires are for external threads, balls for internal ones; a thread micrometer reads the pitch diameter itself",
		}
	case w.body.f.Taper != 0 && w.Method == OneWire:
		return &unit.InputError{Field: "method", Value: w.Method.String(), Reason: "cannot be used on a taper", Hint: "use two or three wires"}
	}
	if w.Method == OneWire && w.major == 0 {
		w.major = w.body.crest.Mean()
		w.Notes = append(w.Notes, thread.Note{Text: "the reading over one wire takes in the major diameter; the middle of its limits is assumed until the real one is measured", Assumed: true})
	}
	return nil
}

// choose picks the wire: the one that was named, or of those owned the usable one
// that touches nearest the pitch line, or the best size.
func (w *Wires) choose(c Choice) (unit.Length, error) {
	if c.Use != 0 {
		return c.Use, w.suits(c.Use)
	}
	if len(c.Owned) == 0 {
		return w.chooseAny()
	}
	best, off := unit.Length(0), math.Inf(1)
	for _, size := range c.Owned {
		if w.suits(size) != nil {
			continue
		}
		at, err := w.body.contact(w.body.pitch.Mean(), size)
		if err != nil {
			continue
		}
		if d := math.Abs(float64(at)); d < off {
			best, off = size, d
		}
	}
	if best == 0 {
		return 0, &unit.InputError{
			Field: "wires at hand", Value: sizes(c.Owned, w.Thread.System), Reason: "none can be used on " + w.Thread.Callout,
			Hint: w.wanted(),
		}
	}
	return best, nil
}

// chooseAny takes the best size, or when it cannot be used on this form the usable
// one nearest to it.
func (w *Wires) chooseAny() (unit.Length, error) {
	err := w.suits(w.Best)
	if err == nil {
		return w.Best, nil
	}
	for _, share := range []unit.Length{0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95} {
		if w.Best > w.Usable.Max {
			share = 1 - share
		}
		size := w.Usable.Min + share*(w.Usable.Max-w.Usable.Min)
		if err = w.suits(size); err == nil {
			w.Notes = append(w.Notes, thread.Note{Text: fmt.Sprintf("the best size by formula, %s, cannot be used on this form; the nearest that can is taken", w.short(w.Best))})
			return size, nil
		}
	}
	return 0, err
}

// clear refuses a wire that would ride on the crests instead of seating.
func (w *Wires) clear(size unit.Length) error {
	cut, err := w.body.f.Fouls(w.body.pitch.Mean(), size, w.body.crest.Max)
	if err != nil || cut <= unit.Micrometre/10 {
		return err
	}
	return &unit.InputError{
		Field: "wire", Value: w.short(size),
		Reason: fmt.Sprintf("rides on the edges of the crests, %s before it seats: a flank so steep at a lead angle of %s leaves a straight wire no room",
			fine(cut, w.Thread.System), w.body.f.LeadAngle(w.body.pitch.Mean()).Format(1)),
		Hint: "try a thicker wire, or use a measuring machine with a ball, a ring gauge or the mating part",
	}
}

// suits says what is wrong with a wire, or nil.
func (w *Wires) suits(size unit.Length) error {
	var reason string
	switch {
	case !(size > 0) || math.IsInf(float64(size), 0):
		reason = "is not the size of a wire"
	case size < w.Usable.Min && w.Thread.Side == thread.External:
		reason = "is too thin: at the limits of size the crest would be measured, or the bottom of the groove touched"
	case size < w.Usable.Min:
		reason = "is too small: it would touch below the straight flank or lie on the bottom of the groove"
	case size > w.Usable.Max:
		reason = "is too thick: it would rest on the edge of the crest and not on the flank"
	default:
		return w.clear(size)
	}
	return &unit.InputError{Field: "wire", Value: w.short(size), Reason: reason, Hint: w.wanted()}
}

func (w *Wires) wanted() string {
	return fmt.Sprintf("usable here are %s to %s, best %s", w.short(w.Usable.Min), w.short(w.Usable.Max), w.short(w.Best))
}

// short prints a length the way this thread's drawing does.
func (w *Wires) short(l unit.Length) string { return brief(l, w.Thread.System) }

// brief prints micrometres in metric and tenths of a thou in inches: the last
// digit that a workshop micrometer shows.
func brief(l unit.Length, sys unit.System) string {
	if sys == unit.Inches {
		return l.Format(sys, 4)
	}
	return l.Format(sys, 3)
}

func sizes(list []unit.Length, sys unit.System) string {
	s := ""
	for i, l := range list {
		if i > 0 {
			s += ", "
		}
		s += brief(l, sys)
	}
	return s
}

// readings fills in the readings at the limits of the pitch diameter.
func (w *Wires) readings() error {
	fill := func(e unit.Length, over, approx, simple *unit.Length) error {
		if e == 0 {
			return nil
		}
		s, err := w.body.f.SeatOf(e, w.Size)
		if err != nil {
			return err
		}
		*over, *simple, w.Lean = w.shown(s), w.asShown(s.Simple), s.Lean
		if w.Method == ThreeWires && w.body.f.Taper != 0 {
			*simple = s.OnCone - (s.Over - s.Simple)
		} else if s.Approx != 0 {
			*approx = w.asShown(s.Approx)
		}
		return nil
	}
	limits := w.Thread.Limits.Pitch
	if err := fill(limits.Min, &w.Over.Min, &w.Approx.Min, &w.Simple.Min); err != nil {
		return err
	}
	return fill(limits.Max, &w.Over.Max, &w.Approx.Max, &w.Simple.Max)
}

// shown is what the micrometer shows for a seat.
func (w *Wires) shown(s Seat) unit.Length {
	if w.Method == ThreeWires {
		return s.OnCone
	}
	return w.asShown(s.Over)
}

// asShown turns a reading square to the axis over all wires into what the
// micrometer shows: over one wire, half of it and half the major diameter.
func (w *Wires) asShown(m unit.Length) unit.Length {
	if w.Method == OneWire {
		return (m + w.major) / 2
	}
	return m
}

// Reading returns what the micrometer shows at pitch diameter e.
func (w *Wires) Reading(e unit.Length) (unit.Length, error) {
	s, err := w.body.f.SeatOf(e, w.Size)
	if err != nil {
		return 0, err
	}
	return w.shown(s), nil
}

// DepthAt returns how deep the groove is, square to the axis from the blank, when
// the pitch diameter is e: the full depth less what is still to go.
func (w *Wires) DepthAt(e unit.Length) unit.Length {
	return w.Depth - w.body.out(e-w.body.pitch.Mean())/2
}

// PitchDiameter returns the pitch diameter for a reading. A reading taken before
// the wires seat is refused: they then rest on the corners of the groove, or on
// the burr beside it, and the reading says nothing of the flanks.
func (w *Wires) PitchDiameter(reading unit.Length) (unit.Length, error) {
	e, err := w.invert(reading)
	if err != nil {
		return 0, err
	}
	return e, w.refuse(reading, e)
}

// Deepest is the depth of groove, in depths of the whole thread, beyond which a reading is
// not believed: no thread that was ever near its size is so deep. Common practice, no source.
const Deepest = 1.5

// refuse says why a reading was taken too early, or nil.
func (w *Wires) refuse(reading, e unit.Length) error {
	depth := w.DepthAt(e)
	if depth > Deepest*w.Depth {
		return &unit.InputError{
			Field: "reading", Value: w.short(reading), Reason: fmt.Sprintf("over %s means a groove %s deep, and the whole thread is %s deep", w.short(w.Size), w.short(depth), w.short(w.Depth)),
			Hint: "check the wire, the unit and the micrometer's turn",
		}
	}
	if depth >= w.Seats {
		return nil
	}
	if depth <= 0 {
		return &unit.InputError{
			Field: "reading", Value: w.short(reading), Reason: fmt.Sprintf("is more than wires of %s over an uncut blank would give", w.short(w.Size)),
			Hint: "check the wire, the unit and the micrometer's turn",
		}
	}
	return &unit.InputError{
		Field: "reading", Value: w.short(reading),
		Reason: fmt.Sprintf("was taken before the wires seat: the groove can be no more than %s deep, and readings over %s count from %s (full depth %s)",
			w.short(depth), w.short(w.Size), w.short(w.Seats), w.short(w.Depth)),
		Hint: "cut on by the dial and measure again after that depth",
	}
}

// invert finds the pitch diameter for what the micrometer showed, seated or not.
func (w *Wires) invert(reading unit.Length) (unit.Length, error) {
	m := reading
	switch {
	case w.Method == OneWire:
		m = 2*reading - w.major
	case w.Method == ThreeWires && w.body.f.Taper != 0:
		return w.invertOnCone(reading)
	}
	return w.body.f.PitchDiameter(m, w.Size)
}

// invertOnCone is invert for three wires on a taper.
func (w *Wires) invertOnCone(reading unit.Length) (unit.Length, error) {
	e := w.body.pitch.Mean()
	for range 50 {
		s, err := w.body.f.SeatOf(e, w.Size)
		if err != nil {
			return 0, err
		}
		step := reading - s.OnCone
		e += step
		if math.Abs(float64(step)) < 1e-12 {
			return e, nil
		}
	}
	return 0, noSeat(float64(w.Size))
}
