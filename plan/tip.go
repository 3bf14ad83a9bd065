package plan

import (
	"thrum/thread"
	"thrum/unit"
)

// parallel tells whether the flanks run square to the axis, as on a square thread:
// there the width of the groove says nothing about its depth.
func (b *builder) parallel() bool { return b.th.Form.Leading.Tan()+b.th.Form.Trailing.Tan() < 1e-9 }

// belowPitchLine returns how deep the tip stands below the pitch line at size. On a
// square thread that is half the form's depth.
func (b *builder) belowPitchLine() (unit.Length, error) {
	p := b.th.Pitch.Length()
	if b.parallel() {
		return unit.Length(b.th.Form.Depth) * p / 2, nil
	}
	return b.profile.BelowPitchLine(p)
}

// groove is the outline that this tool leaves at full depth, cut off at the blank's
// surface.
func (b *builder) groove() (thread.Groove, error) {
	if !b.parallel() {
		return b.profile.Groove(b.th.Pitch.Length(), b.tipDepth)
	}
	half, d := b.plan.Tool.Flat/2, b.tipDepth
	corner := []thread.Point{{Z: -half}, {Z: -half, X: d}, {Z: half, X: d}, {Z: half}}
	var g thread.Groove
	for i := range corner[1:] {
		g = append(g, thread.Segment{From: corner[i], To: corner[i+1]})
	}
	return g, nil
}

// toolHalf is how far the tool reaches beyond the middle of its tip, at the blank's
// surface, on the side that leads: what meets a shoulder first.
func (b *builder) toolHalf() (unit.Length, error) {
	g, err := b.groove()
	if err != nil {
		return 0, err
	}
	return g[len(g)-1].To.Z, nil
}
