package thread

import (
	"io"

	"thrum/unit"
)

// CustomFamily is any thread that a form file describes.
const CustomFamily Family = "custom"

// FromTOML reads a form file: a thread that no standard names, described by its
// own figures. name is used in error messages.
func FromTOML(name string, r io.Reader) (Thread, error) {
	return Thread{}, &unit.InputError{Field: "form file", Value: name, Reason: "is not read yet"}
}
