package plan

import (
	"fmt"

	"thrum/gauge"
	"thrum/unit"
)

// State says where a thread in work stands, so that its remaining passes can be
// planned anew.
type State struct {
	After     int         // passes taken so far
	Pitch     unit.Length // pitch diameter measured now; zero when not measured
	FreshZero bool        // the tip was set into the groove again and both dials were set to 0 there
	Last      *Pass       // the last pass as it was cut, when an earlier replanning had changed it; nil: as the request plans it
}

// Replan plans what is left of a thread. The depth really reached follows from
// the measured pitch diameter E:
//
//	depth = full depth - |E - target| / 2
//
// Where the dial shows more than that, the difference is what part and tool have
// yielded, and the remaining readings carry it on. After a fresh zero the dials
// count from where the tip was set into the groove.
func Replan(r Request, s State) (*Plan, error) {
	first, err := Make(r)
	if err != nil {
		return nil, err
	}
	if len(first.Blocked()) > 0 {
		return first, nil
	}
	last := s.Last
	if last == nil && s.After >= 1 && s.After <= len(first.Passes) {
		last = &first.Passes[s.After-1]
	}
	if last == nil || last.N != s.After {
		return nil, &unit.InputError{
			Field: "passes taken", Value: fmt.Sprint(s.After), Reason: fmt.Sprintf("is not one of the %d passes of this plan", len(first.Passes)),
			Hint: "give the number of the last pass that was cut",
		}
	}
	if s.Pitch == 0 && !s.FreshZero {
		return nil, &unit.InputError{Field: "measurement", Value: "", Reason: "is missing", Hint: "give what was read: --over-wires or --pitch-diameter"}
	}
	b, err := newBuilder(r)
	if err != nil {
		return nil, err
	}
	b.resume = func() error { return b.standing(s, *last) }
	return b.make()
}

// oversized warns of a groove that is deeper than the limits allow.
func (b *builder) oversized(pitch unit.Length) {
	p := b.plan.Limits.Member().Pitch
	if b.internal() && p.Max > 0 && pitch > p.Max {
		b.hazard(Warning, fmt.Sprintf("the pitch diameter, %s, is above its greatest, %s: the thread is outside its limits and nothing can be put back", b.len(pitch), b.len(p.Max)), "measure again before the part is given up")
	}
	if !b.internal() && p.Min > 0 && pitch < p.Min {
		b.hazard(Warning, fmt.Sprintf("the pitch diameter, %s, is below its least, %s: the thread is outside its limits and nothing can be put back", b.len(pitch), b.len(p.Min)), "measure again before the part is given up")
	}
}

// standing works out the depth reached and what the dials are ahead by.
func (b *builder) standing(s State, last Pass) error {
	b.done = s.After
	b.cutTo = last.Depth
	dialled := last.Depth
	if s.Last != nil {
		dialled = last.Cross.Slide + last.Compound.Slide*unit.Length(b.infeeder().cos)
	}
	if s.Pitch > 0 {
		left := (s.Pitch - b.plan.Limits.Member().Pitch.Target) / 2
		if b.internal() {
			left = -left
		}
		b.cutTo = b.tipDepth - left
		switch {
		case b.cutTo > gauge.Deepest*b.tipDepth:
			return &unit.InputError{
				Field: "measurement", Value: s.Pitch.Format(b.req.Units, 4), Reason: fmt.Sprintf("means a groove %s deep, and the whole thread is %s deep", b.len(b.cutTo), b.len(b.tipDepth)),
				Hint: "check the wires, the unit and the reading",
			}
		case left <= 0:
			b.cutTo = b.tipDepth
			b.oversized(s.Pitch)
		case b.cutTo <= 0:
			return &unit.InputError{
				Field: "measurement", Value: s.Pitch.Format(b.req.Units, 4), Reason: "means that nothing has been cut yet",
				Hint: fmt.Sprintf("at size the pitch diameter is %s; check the wires and the reading", b.len(b.plan.Limits.Member().Pitch.Target)),
			}
		}
		yielded := dialled - b.cutTo
		b.reason("passes", "", "measured pitch diameter %s: %s deep of %s; the dials stand at %s, so part and tool have yielded %s",
			b.len(s.Pitch), b.len(b.cutTo), b.len(b.tipDepth), b.len(dialled), b.len(yielded))
	}
	b.dialAhead = dialled - b.cutTo
	if s.FreshZero {
		b.dialAhead = -b.cutTo
	}
	return nil
}
