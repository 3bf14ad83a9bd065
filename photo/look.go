package photo

import (
	"fmt"
	"math"
)

// How to take a better photograph, in the order it helps.
const (
	adviceLight   = "light the thread with one lamp from above or below, so that the light rakes round the thread and not along it; move it and try again"
	adviceSharp   = "hold the camera still at 15 cm or more, zoom two or three times, and let it focus on the flanks"
	adviceFrame   = "fill two thirds of the picture's height with the thread, axis across the picture, at least six grooves"
	adviceBack    = "put plain paper behind the thread, clearly lighter or darker than both its edges"
	adviceOutline = "check the outline over the picture, and put the silhouettes and crests right by hand"
	adviceGlare   = "lower the exposure, or put a sheet of paper before the lamp, until no part of the flanks is burnt out"
	adviceLamp    = "use one plain lamp, not a row or ring of small ones and not a screen"
	adviceTurn    = "turn the thread by a few degrees and take a second photograph: real marks turn with it"
	adviceNearer  = "come closer or zoom in: a mark must be four pixels wide"
)

// enough reports whether there is enough to read, and refuses where there is not.
func (w *reader) enough() bool {
	r := w.r
	turns := len(w.turns())
	var burnt, flanks float64
	for _, s := range w.all {
		if s.band != 1 {
			burnt += s.burnt
			flanks++
		}
	}
	burnt /= math.Max(flanks, 1)
	r.Burnt, r.Turns = burnt, turns
	switch {
	case w.hi-w.lo < int(w.bin(30)):
		r.Reason = fmt.Sprintf("the picture is too coarse: it could show no more than %.0f marks per turn", r.Readable)
		r.Advice = []string{adviceNearer, adviceFrame}
	case turns < leastTurns:
		r.Reason = fmt.Sprintf("only %d turns of the groove can be followed, and %d are needed for them to be compared", turns, leastTurns)
		r.Advice = []string{adviceFrame, adviceGlare}
	case burnt > 0.1:
		r.Reason = fmt.Sprintf("%.0f%% of the flanks is burnt out", 100*burnt)
		r.Advice = []string{adviceGlare}
	case !w.g.Confirmed && !w.g.Upper.Seen && !w.g.Lower.Seen:
		r.Reason = "neither edge of the thread can be told from the background, so the outline is not known"
		r.Advice = []string{adviceOutline, adviceBack, adviceFrame}
	case !w.g.Confirmed && w.g.Unfit:
		r.Reason = "the outline that was found does not fit together"
		r.Advice = []string{adviceOutline, adviceBack}
	case !w.g.Confirmed && w.g.CrestDoubt > 0.2:
		r.Reason = "where the crests lie could not be made out"
		r.Advice = []string{adviceOutline, adviceBack}
	default:
		return true
	}
	return false
}

// appearance judges how the flanks look, from how rough their brightness is along the
// groove. It depends on the light, and says so.
func (w *reader) appearance() {
	a := &w.r.Appearance
	a.Look = Unclear
	var rough []float64
	for _, s := range w.all {
		if s.band != 1 {
			rough = append(rough, s.rough)
		}
	}
	if len(rough) == 0 {
		a.Reasons = []string{"no flanks could be followed"}
		return
	}
	m := 100 * median(rough)
	a.Reasons = []string{fmt.Sprintf("brightness along the flanks varies by %.1f%%, in this light", m)}
	switch {
	case w.r.Verdict == Accepted:
		a.Look = Wavy
		a.Reasons = append(a.Reasons, fmt.Sprintf("regular marks, %.0f per turn", w.r.MarksPerTurn))
	case w.r.Verdict == Doubtful:
		a.Reasons = append(a.Reasons, "regular marks are likely but not certain")
	case m > 5:
		a.Look = Torn
		a.Reasons = append(a.Reasons, "the variation is strong and has no common spacing")
	case m < 1.5:
		a.Look = Smooth
		a.Reasons = append(a.Reasons, "there is little variation; a lamp that does not rake round the thread would hide it too")
	}
}
