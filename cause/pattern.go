package cause

import (
	"strings"

	"thrum/unit"
)

// ReadPattern reads a pattern as it is typed: together, opposed, ragged or clean; nothing
// is PatternUnknown.
func ReadPattern(name string) (Pattern, error) {
	switch p := Pattern(strings.ToLower(strings.TrimSpace(name))); p {
	case PatternUnknown, Together, Opposed, Ragged, Clean:
		return p, nil
	}
	return "", &unit.InputError{Field: "pattern", Value: name, Reason: "is not a pattern of marks", Hint: "write together, opposed, ragged or clean"}
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
