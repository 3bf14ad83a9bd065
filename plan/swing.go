package plan

import (
	"fmt"

	"thrum/cut"
	"thrum/unit"
)

// inside is how far inside the flank angle the compound is set for modified flank
// infeed, so that the trailing flank still takes a chip.
// Common practice, no source: 29 degrees on a 60 degree thread.
const inside = unit.Degree

// swing settles the infeed method and how the compound is set for it.
func (b *builder) swing() error {
	s := &b.plan.Swing
	s.FromChuck, s.Reverse = b.fromChuck(), b.needsReverse()
	flank := b.th.Form.Trailing
	s.Method = b.req.Infeed
	if s.Method == "" {
		s.Method = b.defaultInfeed(flank)
	}
	switch s.Method {
	case "straight":
		s.Angle = 0
	case "flank":
		s.Angle = flank
	default:
		s.Angle = flank - inside
		if b.req.Angle > 0 {
			s.Angle = b.req.Angle
		}
	}
	if s.Angle < 0 || s.Angle > flank+1e-9 {
		return &unit.InputError{
			Field: "infeed angle", Value: s.Angle.Format(2), Reason: "is steeper than the flank (" + flank.Format(2) + "): the tool would spoil the form",
			Hint: "write an angle from 0 to " + flank.Format(2),
		}
	}
	if s.Method == "straight" {
		s.Direction = "leave the compound parallel to the bed or as it stands; every infeed is on the cross slide"
		if b.th.Starts > 1 {
			s.Direction = "set the compound parallel to the bed: it can then go on by the pitch from start to start; every infeed is on the cross slide"
		}
		return nil
	}
	r := b.la.Compound.Protractor.Reading(s.Angle)
	s.ScaleReads = r.Text
	s.Direction = swingWords(b.internal(), b.fromChuck())
	return nil
}

// defaultInfeed picks the method that most lathe hands would.
func (b *builder) defaultInfeed(flank unit.Angle) string {
	p := b.th.Pitch.Length()
	switch {
	case flank < 10*unit.Degree:
		b.reason("infeed", "", "straight: the flanks are too steep for a compound to follow")
		return "straight"
	case b.th.Starts > 1:
		b.reason("infeed", "", "straight: the compound is left free to move from one start to the next")
		return "straight"
	case p < 1:
		b.reason("infeed", "common practice, no source", "straight: below a pitch of 1 mm the chips are light enough for both edges")
		return "straight"
	}
	b.reason("infeed", "common practice, no source", "compound set %s inside the flank: the leading edge cuts, the trailing edge keeps a thin chip instead of rubbing", inside.Format(0))
	return "modified"
}

// swingWords says which way to swing the compound, seen from above with the
// headstock on the left, the operator in front and the tool on the operator's side.
func swingWords(internal, fromChuck bool) string {
	way, handle, feed := "anticlockwise", "towards the tailstock", "wind the compound in"
	if internal != fromChuck {
		way, handle = "clockwise", "towards the headstock"
	}
	if internal {
		feed = "wind the compound back: the tool cuts towards you, so the dial runs backwards"
	}
	return fmt.Sprintf("from the cross-slide line swing the compound %s seen from above (handle %s); %s", way, handle, feed)
}

// infeed translates the plan's method for the chip geometry.
func (b *builder) infeed() cut.Infeed {
	in := cut.Infeed{Angle: b.plan.Swing.Angle, FinalStraight: b.req.FinalStraight}
	switch b.plan.Swing.Method {
	case "flank":
		in.Method = cut.OneFlank
	case "modified":
		in.Method = cut.Modified
	case "alternating":
		in.Method = cut.Alternating
	default:
		return cut.Infeed{Method: cut.Straight}
	}
	return in
}
