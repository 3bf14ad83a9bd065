package photo

import (
	"fmt"
	"math"
	"strings"

	"thrum/unit"
)

// Exposure is what the file says of how the picture was taken. Zero where it does
// not say. A camera that changes one of these between two photographs has changed
// how bright, and with the picture's own processing how contrasty, the thread looks.
type Exposure struct {
	Camera  string // model
	Time    unit.Time
	FNumber float64
	ISO     float64 // sensitivity
}

// settingRounded is, in steps (factors of two), what is only how a figure was rounded. A third
// of a step is the finest that cameras are set by. From memory.
const settingRounded = 0.05

// Differs lists where two exposures differ, of what both files say.
func (e Exposure) Differs(o Exposure) []string {
	var out []string
	if e.Camera != "" && o.Camera != "" && e.Camera != o.Camera {
		out = append(out, fmt.Sprintf("camera %s and %s", e.Camera, o.Camera))
	}
	for _, f := range []struct {
		name string
		a, b float64
		show func(float64) string
	}{
		{"exposure time", e.Time.S(), o.Time.S(), seconds},
		{"f-number", e.FNumber, o.FNumber, func(v float64) string { return fmt.Sprintf("%.3g", v) }},
		{"ISO", e.ISO, o.ISO, func(v float64) string { return fmt.Sprintf("%.4g", v) }},
	} {
		if f.a > 0 && f.b > 0 && math.Abs(math.Log2(f.a/f.b)) > settingRounded {
			out = append(out, fmt.Sprintf("%s %s and %s", f.name, f.show(f.a), f.show(f.b)))
		}
	}
	return out
}

func seconds(v float64) string {
	if v < 0.3 {
		return fmt.Sprintf("1/%.0f s", 1/v)
	}
	return fmt.Sprintf("%.2g s", v)
}

// Shot is a photograph with what was read in it.
type Shot struct {
	Meta    Meta
	Reading *Reading
}

// Compared is how strongly marks show after a change against before it. Index is
// what is seen and goes with the slope of the marks; Height is index over marks per
// turn, which goes with their height, since N marks of height h have the slope
// N h/(2 r) at their steepest. Above 1 is stronger after. The two part where N differs,
// as it does between two speeds when the frequency stays.
type Compared struct {
	Before, After float64 // mean index of each side, per cent, null floor removed
	Index, Height float64 // after over before
}

// CompareIndex compares how strongly the marks show in two sets of photographs. It
// refuses with a *unit.InputError where the readings were not all declared to be of
// one session (Options.Session), where two files say that the camera was set
// differently, and where a side has no accepted reading or nothing over its floor.
func CompareIndex(before, after []Shot) (*Compared, error) {
	all := append(append([]Shot{}, before...), after...)
	if err := oneSession(all); err != nil {
		return nil, err
	}
	a, na, okA := meanIndex(before)
	b, nb, okB := meanIndex(after)
	if !okA || !okB || a <= 0 {
		return nil, notCompared("index", "is known of one side only", "both samples must be read for certain, with marks above the picture's own floor")
	}
	return &Compared{Before: a, After: b, Index: b / a, Height: b / nb / (a / na)}, nil
}

// SameLight returns an error where two of the files say that the camera was set
// differently, and says which setting. Files that say nothing pass.
func SameLight(shots []Shot) error {
	for i, s := range shots {
		for _, o := range shots[:i] {
			if d := o.Meta.Exposure.Differs(s.Meta.Exposure); len(d) > 0 {
				return notCompared(strings.Join(d, "; "), "differ between the photographs", "lock focus and exposure, and take them in one go with one camera")
			}
		}
	}
	return nil
}

func oneSession(shots []Shot) error {
	session := ""
	for _, s := range shots {
		if s.Reading == nil || s.Reading.Index == nil {
			continue
		}
		switch of := s.Reading.Index.Session; {
		case of == "":
			return notCompared("", "were not declared as taken in one go", "lamp, distance and exposure left alone between them")
		case session != "" && of != session:
			return notCompared(session+" and "+of, "are two sessions", "take them in one go, with lamp, distance and exposure left alone")
		default:
			session = of
		}
	}
	return SameLight(shots)
}

func notCompared(value, reason, hint string) error {
	return &unit.InputError{Field: "photographs", Value: value, Reason: reason, Hint: hint}
}

// meanIndex is the mean index and marks per turn of the accepted readings.
func meanIndex(shots []Shot) (index, marks float64, ok bool) {
	n := 0.0
	for _, s := range shots {
		if s.Reading != nil && s.Reading.Index != nil && s.Reading.MarksPerTurn > 0 {
			index, marks, n = index+s.Reading.Index.Value, marks+s.Reading.MarksPerTurn, n+1
		}
	}
	if n == 0 {
		return 0, 0, false
	}
	return index / n, marks / n, true
}
