package cause

import (
	"strings"

	"thrum/unit"
)

// patternNames are the short names of the patterns, as they are typed and sent.
var patternNames = map[string]Pattern{"": PatternUnknown, "together": Together, "opposed": Opposed, "ragged": Ragged, "clean": Clean}

// ReadPattern reads the short name of a pattern: together, opposed, ragged or clean; nothing
// is PatternUnknown.
func ReadPattern(name string) (Pattern, error) {
	p, ok := patternNames[strings.ToLower(strings.TrimSpace(name))]
	if !ok {
		return "", &unit.InputError{Field: "pattern", Value: name, Reason: "is not a pattern of marks", Hint: "write together, opposed, ragged or clean"}
	}
	return p, nil
}

// Short returns the short name of a pattern.
func (p Pattern) Short() string {
	for name, q := range patternNames {
		if q == p {
			return name
		}
	}
	return ""
}

// Seen are marks as they were seen: how many there are once around, should they have been
// counted, and how they lie. ok is false when neither is known.
func Seen(perTurn float64, p Pattern) (m Marks, ok bool) {
	if perTurn > 0 {
		m = Counted(perTurn)
	}
	m.Pattern = p
	return m, perTurn > 0 || p != PatternUnknown
}
