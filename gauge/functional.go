package gauge

import (
	"math"

	"thrum/thread"
	"thrum/unit"
)

// LeadEffect returns the pitch-diameter equivalent of a lead error: the amount by
// which the thread seems larger (external) or smaller (internal) to its mate when
// two of its ridges, within the length of engagement, are dp nearer or farther
// apart than they should be.
//
//	dE = 2 dp / (tan a1 + tan a2)      dp cot a for equal flanks: 1.732 dp at 60°
//
// Units: dp is the largest error between any two ridges in engagement, not per pitch.
//
// Source: NBS Handbook H28 and textbooks, from memory, for equal flanks; unequal
// flanks by the same geometry (each flank is wedged by its own tangent).
func (f Flanks) LeadEffect(dp unit.Length) (unit.Length, error) {
	if err := f.check(); err != nil {
		return 0, err
	}
	cot, _ := f.sums()
	return dp.Abs() * unit.Length(cot), nil
}

// AngleEffect returns the pitch-diameter equivalent of errors of the two flank
// angles (measured less nominal, one for each flank):
//
//	dE = 2 (y1 tan|da1|/cos² a1 + y2 tan|da2|/cos² a2) / (tan a1 + tan a2)
//
// where y is the height, from the pitch line, of the end of the flank that then
// touches the mate first. A flank of a screw that stands too square (da < 0)
// touches at its own crest; one that leans too far touches the crest of the nut.
// For an internal thread it is the other way about. For 60° that is 1.5 P tan da
// at the crest of the screw and 1.0 P tan da at the crest of the nut.
//
// Valid: errors up to about 2°; beyond, the neglected second order exceeds 4 %.
//
// Source: 1.5 P tan da: ASME B1.2 and NBS Handbook H28, from memory; general form
// derived here.
func AngleEffect(t thread.Thread, leading, trailing unit.Angle) (unit.Length, error) {
	f := FlanksOf(t)
	if err := f.check(); err != nil {
		return 0, err
	}
	for _, d := range []unit.Angle{leading, trailing} {
		if math.Abs(d.Degrees()) > 5 {
			return 0, &unit.InputError{Field: "flank angle error", Value: d.Format(2), Reason: "is larger than this formula holds for", Hint: "up to 5° is accepted; such a thread wants another tool, not a correction"}
		}
	}
	sum := 0.0
	for i, d := range []unit.Angle{leading, trailing} {
		a := []unit.Angle{f.Leading, f.Trailing}[i]
		cos := a.Cos()
		sum += float64(engaged(t, a, d)) * math.Abs(d.Tan()) / (cos * cos)
	}
	cot, _ := f.sums()
	return unit.Length(sum * cot), nil
}

// engaged returns the height from the pitch line to the end of the straight flank
// at which a flank with angle a and error d touches its mate.
func engaged(t thread.Thread, a, d unit.Angle) unit.Length {
	lost := unit.Length(t.Form.CrestRadius*(1-a.Sin())) * t.Pitch.Length()
	atCrestOfScrew := (d < 0) == (t.Side == thread.External)
	if atCrestOfScrew {
		return max((t.Basic.Major-t.Basic.Pitch)/2-lost, 0)
	}
	return max((t.Basic.Pitch-t.Basic.Minor)/2-lost, 0)
}

// Functional returns the pitch diameter that the mating thread feels: the measured
// one with the equivalents of lead and flank errors added for an external thread,
// taken away for an internal one. It is this that must keep clear of the limit of
// most metal; the measured one must keep clear of the other limit.
func Functional(t thread.Thread, measured, leadError unit.Length, leading, trailing unit.Angle) (unit.Length, error) {
	lead, err := FlanksOf(t).LeadEffect(leadError)
	if err != nil {
		return 0, err
	}
	angle, err := AngleEffect(t, leading, trailing)
	if err != nil {
		return 0, err
	}
	if t.Side == thread.Internal {
		return measured - lead - angle, nil
	}
	return measured + lead + angle, nil
}
