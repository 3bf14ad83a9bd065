package store

import (
	"errors"
	"fmt"

	"thrum/unit"
)

// Code sorts the errors that a caller can do something about. Every other error
// is a fault of the machine (a full disk, a lost connection).
type Code string

// The codes, as they appear on the wire.
const (
	Invalid  Code = "invalid"   // what was given cannot be kept
	NotFound Code = "not_found" // what was asked for is not there
	Conflict Code = "conflict"  // somebody else was faster, or the id is taken by something different
)

// Error is an error with a code. It wraps a *unit.InputError that names the
// field, its value, the reason and a way out.
type Error struct {
	Code Code
	Err  error
}

// Error prints the wrapped error.
func (e *Error) Error() string { return e.Err.Error() }

// Unwrap gives the wrapped error.
func (e *Error) Unwrap() error { return e.Err }

// CodeOf returns the code of an error of this package, or "" when it is none.
func CodeOf(err error) Code {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Code
	}
	return ""
}

func invalid(field, value, reason, hint string) error {
	return &Error{Invalid, &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint}}
}

func notFound(what, value, hint string) error {
	return &Error{NotFound, &unit.InputError{Field: what, Value: value, Reason: "is not stored", Hint: hint}}
}

func conflict(what, value, reason, hint string) error {
	return &Error{Conflict, &unit.InputError{Field: what, Value: value, Reason: reason, Hint: hint}}
}

// taken reports an id that is in use for something else.
func taken(what, id string) error {
	return conflict(what, id, "is taken by a different "+what, fmt.Sprintf("give each %s an id of its own", what))
}
