package plan

import (
	"errors"
	"fmt"
	"math"

	"thrum/photo"
	"thrum/unit"
)

// shots are the photographs as photo compares them.
func (f *Flanks) shots() []photo.Shot {
	var out []photo.Shot
	for _, p := range f.Photos {
		out = append(out, photo.Shot{Meta: p.Meta, Reading: p.Reading})
	}
	return out
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
		if oneGo && photo.SameLight(append(before.shots(), after.shots()...)) == nil {
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
	return append(out, strengthWords(before, after, oneGo)...)
}

// strengthWords compares how strongly the marks show, or says why that cannot be done.
func strengthWords(before, after *Flanks, oneGo bool) []string {
	if !oneGo {
		return []string{"How strong the marks are is not compared: that takes photographs taken in one go, with lamp, distance and exposure left alone."}
	}
	c, err := photo.CompareIndex(before.shots(), after.shots())
	if err != nil {
		var in *unit.InputError
		if !errors.As(err, &in) {
			return []string{"How strong the marks are is not compared: " + err.Error() + "."}
		}
		what := in.Value
		if what == "" {
			what = "the photographs"
		}
		return []string{fmt.Sprintf("How strong the marks are is not compared: %s %s; %s.", what, in.Reason, in.Hint)}
	}
	out := []string{fmt.Sprintf("Flank index %.2f %% before, %.2f %% after, each less what its picture shows at other counts: the marks show %.2f times as strongly. It goes with the slope of the marks.", c.Before, c.After, c.Index)}
	if a, b := before.All.MarksPerTurn, after.All.MarksPerTurn; math.Abs(a/b-1) > 0.05 {
		why := "Their number differs"
		if s, t := before.Request.Speed, after.Request.Speed; s > 0 && t > 0 && s != t {
			why = fmt.Sprintf("At %.4g rpm instead of %.4g rpm their number differs", t.RPM(), s.RPM())
		}
		out = append(out, fmt.Sprintf("%s, and finer marks of the same height are steeper. Index over number, which goes with height: %.2f times.", why, c.Height))
	}
	return append(out, "One pair of samples cannot tell the change from the luck of the bar, and a lamp moved by a hand's breadth changes the index too.")
}
