package main

import (
	"io"
	"strings"

	"thrum/unit"
)

// textArg returns an argument, reading standard input when it is "-". Input
// longer than most is refused after reading no more than it takes to know.
func (s *session) textArg(field, arg string, most int) (string, error) {
	if arg != "-" {
		return arg, nil
	}
	data, err := io.ReadAll(io.LimitReader(s.in, int64(most)+2))
	if err != nil {
		return "", err
	}
	text := strings.TrimRight(string(data), "\r\n")
	if len(text) > most {
		return "", &unit.InputError{Field: field, Value: text, Reason: "on standard input is too long", Hint: "write one callout, at most 200 bytes"}
	}
	if strings.TrimSpace(text) == "" {
		return "", &unit.InputError{Field: field, Value: text, Reason: "on standard input is empty", Hint: "write one callout, such as M10x1.5-6g"}
	}
	return text, nil
}
