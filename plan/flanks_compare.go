package plan

import (
	"fmt"
	"math"

	"thrum/photo"
)

// index returns the mean flank index of the accepted photographs, in per cent.
func (f *Flanks) index() (v float64, ok bool) {
	n := 0
	for _, p := range f.Photos {
		if p.Reading != nil && p.Reading.Index != nil {
			v += p.Reading.Index.Value
			n++
		}
	}
	return v / float64(max(n, 1)), n > 0
}

// CompareFlanks says what two samples' photographs show against each other. How
// strongly marks show is compared only when all photographs were taken in one go:
// same lamp, distance and exposure. Contrast follows the slope of the marks, so
// where their number differs, strength over number is what goes with their height.
func CompareFlanks(before, after *Flanks, oneGo bool) []string {
	a, b := before.All, after.All
	seenA, seenB := a.Verdict != photo.Refused, b.Verdict != photo.Refused
	var out []string
	switch {
	case !seenA && !seenB:
		return []string{"Neither sample could be read, so nothing can be said of the change."}
	case seenA && !seenB:
		out = append(out, "Regular marks were read before and none after. That alone does not say that they are gone: they may be too weak, too fine or lit along.")
		if oneGo {
			out = append(out, "In the same light and at the same distance, marks as strong as before would have shown.")
		}
		return out
	case !seenA && seenB:
		return []string{"Regular marks were read after and none before. The first photographs may not have been able to show them."}
	}
	if d := math.Abs(a.MarksPerTurn - b.MarksPerTurn); d <= 2*math.Hypot(a.Uncertainty, b.Uncertainty) {
		out = append(out, fmt.Sprintf("The number of marks is the same within what the photographs can tell (%.0f and %.0f per turn).", a.MarksPerTurn, b.MarksPerTurn))
	} else {
		out = append(out, fmt.Sprintf("The number of marks changed from %.0f to %.0f per turn.", a.MarksPerTurn, b.MarksPerTurn))
	}
	if before.Tone != nil && after.Tone != nil {
		out = append(out, fmt.Sprintf("As a frequency: %.0f ± %.0f Hz before, %.0f ± %.0f Hz after.", before.Tone.Value.Hz(), before.Tone.Doubt.Hz(), after.Tone.Value.Hz(), after.Tone.Doubt.Hz()))
	}
	ia, okA := before.index()
	ib, okB := after.index()
	switch {
	case !oneGo:
		out = append(out, "How strong the marks are is not compared: that takes photographs taken in one go, with lamp, distance and exposure left alone.")
	case !okA || !okB || ia <= 0:
		out = append(out, "How strong the marks are is not compared: both samples must be read for certain.")
	default:
		out = append(out, fmt.Sprintf("Flank index %.2f %% before, %.2f %% after: the marks show %.2f times as strongly. It goes with the slope of the marks.", ia, ib, ib/ia))
		if math.Abs(a.MarksPerTurn/b.MarksPerTurn-1) > 0.05 {
			out = append(out, fmt.Sprintf("Their number differs, and finer marks of the same height are steeper. Index over number, which goes with height: %.2f times.", ib/b.MarksPerTurn/(ia/a.MarksPerTurn)))
		}
		out = append(out, "One pair of samples cannot tell the change from the luck of the bar, and a lamp moved by a hand's breadth changes the index too.")
	}
	return out
}
