package unit

import (
	"fmt"
	"strconv"
	"unicode/utf8"
)

// InputError says what is wrong with one thing that a person typed: which field,
// what was typed, why it cannot be used, and the nearest thing that can.
// Every package that reads input reports faults this way; errors.Join collects
// several of them.
type InputError struct {
	Field  string // what was being read: "length", "thread", "inch-bench.toml:14: leadscrew.tpi"
	Value  string // as the user wrote it
	Reason string // what is wrong, as the end of a sentence: "is not a number"
	Hint   string // what would be accepted; may be empty
}

// Error prints field, value in quotes and reason; the hint follows after a semicolon.
func (e *InputError) Error() string {
	s := e.Field + " " + Quote(e.Value) + ": " + e.Reason
	if e.Hint != "" {
		s += "; " + e.Hint
	}
	return s
}

// Quote puts s in quotes for an error message. Anything longer than 60 bytes is
// cut and its length given, so that 10 MB of input does not fill the screen.
func Quote(s string) string {
	const most = 60
	if len(s) <= most {
		return strconv.Quote(s)
	}
	cut := most
	for cut > 0 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return fmt.Sprintf("%s... (%d bytes)", strconv.Quote(s[:cut]), len(s))
}
