package plan

import (
	"math"

	"thrum/cause"
	"thrum/photo"
)

// Marks are what the photographs say of the marks, for the weighing of causes: how many
// there are in a turn, and how they lie. They lie together when both flanks and the root show
// that number by themselves. They are ragged when no photograph has a number and
// all look torn. That no regular marks were found never means that there are none: marks lit along
// the axis cannot be seen. ok is false when nothing is known.
func (f *Flanks) Marks() (m cause.Marks, ok bool) {
	var together, torn, read int
	for _, p := range f.Photos {
		r := p.Reading
		if r == nil {
			continue
		}
		read++
		if r.Verdict == photo.Refused && r.Appearance.Look == photo.Torn {
			torn++
		}
		if everywhere(r) {
			together++
		}
	}
	if f.All == nil || f.All.Verdict == photo.Refused {
		if read > 0 && torn == read {
			return cause.Marks{Pattern: cause.Ragged}, true
		}
		return cause.Marks{}, false
	}
	m = cause.Marks{PerTurn: f.All.MarksPerTurn, SE: f.All.Uncertainty, Speed: f.Request.Speed}
	if together > 0 {
		m.Pattern = cause.Together
	}
	return m, true
}

// everywhere reports whether both flanks and the root show the marks of the reading.
func everywhere(r *photo.Reading) bool {
	n := 0
	for _, b := range r.Bands {
		if b.Found && math.Abs(b.Marks.Value-r.MarksPerTurn) < 3*math.Hypot(b.Marks.Doubt, r.Uncertainty) {
			n++
		}
	}
	return r.Verdict != photo.Refused && n == 3
}
