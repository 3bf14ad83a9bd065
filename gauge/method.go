package gauge

import (
	"fmt"

	"thrum/thread"
	"thrum/unit"
)

// Method says how a pitch diameter is measured.
type Method int

// Ways of measuring a pitch diameter.
const (
	ThreeWires       Method = iota // two on one side and one on the other, flat anvils
	TwoWires                       // one on each side
	OneWire                        // a wire on one side, the other anvil on the crest
	ThreadMicrometer               // vee and cone anvils, reads the pitch diameter itself
	Balls                          // internal: a probe with two balls, set in a plain ring
)

// String names the method in words.
func (m Method) String() string {
	switch m {
	case ThreeWires:
		return "three wires"
	case TwoWires:
		return "two wires"
	case OneWire:
		return "one wire"
	case ThreadMicrometer:
		return "thread micrometer"
	case Balls:
		return "balls"
	}
	return fmt.Sprintf("method %d", int(m))
}

// ParseMethod reads what String prints.
func ParseMethod(s string) (Method, error) {
	for m := ThreeWires; m <= Balls; m++ {
		if s == m.String() {
			return m, nil
		}
	}
	return 0, &unit.InputError{
		Field: "method", Value: s, Reason: "is not a way of measuring a pitch diameter",
		Hint: "write three wires, two wires, one wire, thread micrometer or balls",
	}
}

// remarks says what the user of these wires should know.
func (w *Wires) remarks() {
	say := func(source, format string, args ...any) {
		w.Notes = append(w.Notes, thread.Note{Text: fmt.Sprintf(format, args...), Source: source})
	}
	mean := w.Over.Mean()
	if off := (mean - w.Simple.Mean()).Abs(); off > unit.Micrometre {
		say("", "the formula without lead correction reads %s away from this at the same pitch diameter", w.short(off))
	}
	if off := (mean - w.Approx.Mean()).Abs(); w.Approx.Mean() != 0 && off > unit.Micrometre {
		say("", "the square-root formula of the handbooks reads %s away from this; it is meant for lead angles below 5°", w.short(off))
	}
	if w.Lean > 5*unit.Degree {
		say("", "the wires lean %s: short wires, so that the anvils reach across all of them", w.Lean.Format(1))
	}
	switch {
	case w.body.f.Taper != 0 && w.Method == TwoWires:
		say("NBS Handbook H28, from memory", "limits hold at the gauge plane: set the two wires so that the plane lies midway between them, and hold the micrometer square to the axis; %s of height along the axis changes the reading by %s",
			w.short(w.body.f.Pitch), w.short(w.body.f.Pitch*2*unit.Length(w.body.f.Taper.Tan())))
	case w.body.f.Taper != 0:
		say("NBS Handbook H28, from memory", "limits hold at the gauge plane: the single wire lies at that plane, the pair opposite straddles it, and the anvil lies along the cone")
	}
	if w.Method == OneWire {
		say("", "an error of the major diameter, or of its running true with the thread, goes into the pitch diameter in full, and an error of the reading twice")
	}
	if w.Thread.Side == thread.External {
		say("gauge calibration magazine series", "the wires are pressed into the flanks by the measuring force; that is left in, as is the custom where wires are sized under the same force (10 to 11 N for 20 tpi and coarser, about 4.4 N finer: from memory)")
	}
	say("common practice, no source", "readings count from a groove %s deep on; before that the wires rest on the corners or the burr of the groove", w.short(w.Seats))
}
