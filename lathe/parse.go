package lathe

import (
	"bytes"
	"fmt"
	"reflect"
	"unicode/utf8"

	"thrum/unit"
)

// MostBytes is the largest lathe file that is read.
const MostBytes = 1 << 20

// mostKeys bounds keys, headings and the dots in them: the library's check for keys
// given twice takes a time that grows with their square.
const mostKeys = 10_000

// Parse reads a lathe file, described in docs/lathe-file.md. The name is used in
// errors only: "inch-bench.toml". All faults are reported together, each a
// *unit.InputError whose Field gives file, line and key:
// "inch-bench.toml:14: leadscrew.tpi".
func Parse(name string, text []byte) (*Lathe, error) {
	if len(text) > MostBytes {
		return nil, &unit.InputError{
			Field: name, Value: fmt.Sprintf("%d bytes", len(text)), Reason: "is too large for a lathe file",
			Hint: fmt.Sprintf("at most %d bytes are read", MostBytes),
		}
	}
	if n := bytes.Count(text, []byte("=")) + bytes.Count(text, []byte("[")) + bytes.Count(text, []byte(".")); n > mostKeys {
		return nil, &unit.InputError{
			Field: name, Value: fmt.Sprintf("%d keys, lists and points", n), Reason: "is more than any lathe file has",
			Hint: fmt.Sprintf("at most %d are read", mostKeys),
		}
	}
	if !utf8.Valid(text) {
		return nil, &unit.InputError{Field: name, Value: string(text), Reason: "is not UTF-8 text", Hint: "a lathe file is plain text"}
	}
	root, err := readTree(name, text)
	if err != nil {
		return nil, err
	}
	l := &Lathe{text: string(text)}
	f := &faults{file: name, seen: map[string]*node{"": root}, at: map[string]bool{}, bad: map[string]bool{}}
	f.table(reflect.ValueOf(l).Elem(), root, "", unit.Metric)
	check(l, f)
	if err := f.err(); err != nil {
		return nil, err
	}
	return l, nil
}

// Text returns the file from which the lathe was read.
func (l *Lathe) Text() string { return l.text }
