package thread

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"thrum/unit"
)

const mostFormBytes = 64 << 10

// formValue is one value of a form file with the line on which it stands.
type formValue struct {
	key    string // with its tables: "limits.pitch.min"
	line   int
	number bool
	text   string // as typed; of a text, what stands between the quotes
	other  string // what it is when it is neither text nor number: "a list"
}

// formFile is a form file taken apart, with the faults found so far.
type formFile struct {
	name   string
	values map[string]formValue
	faults []error
}

// readFormFile reads the file into keys and values. Faults of syntax are
// returned; everything else is collected in the file.
func readFormFile(name string, r io.Reader) (*formFile, error) {
	text, err := io.ReadAll(io.LimitReader(r, mostFormBytes+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	if len(text) > mostFormBytes {
		return nil, &unit.InputError{Field: name, Value: fmt.Sprintf("%d bytes and more", len(text)), Reason: "is too long for a form file", Hint: "64 kB at most"}
	}
	var all map[string]any // the library checks the whole document, keys given twice included
	if err := toml.Unmarshal(text, &all); err != nil {
		return nil, formSyntax(name, text, err)
	}
	f := &formFile{name: name, values: map[string]formValue{}}
	var p unstable.Parser
	p.Reset(text)
	table := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = joinKey("", e)
			if e.Kind == unstable.ArrayTable {
				f.fault(formValue{key: table, line: lineOf(text, e), text: "[[" + table + "]]"}, "is a list of tables, which no key takes", "write [limits.pitch]")
			}
		case unstable.KeyValue:
			f.add(text, table, e)
		}
	}
	if err := p.Error(); err != nil {
		return nil, formSyntax(name, text, err)
	}
	return f, nil
}

func formSyntax(name string, text []byte, err error) error {
	in := &unit.InputError{Field: name, Reason: strings.TrimPrefix(err.Error(), "toml: "), Hint: "the file must be TOML: key = value lines"}
	var d *toml.DecodeError
	if errors.As(err, &d) {
		line, _ := d.Position()
		in.Field = fmt.Sprintf("%s:%d", name, line)
		if lines := bytes.SplitN(text, []byte("\n"), line+1); line >= 1 && line <= len(lines) {
			in.Value = strings.TrimSpace(string(lines[line-1]))
		}
	}
	return in
}

// joinKey returns the dotted key of an expression below a table.
func joinKey(table string, e *unstable.Node) string {
	parts := []string{}
	if table != "" {
		parts = append(parts, table)
	}
	for it := e.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
	}
	return strings.Join(parts, ".")
}

// lineOf returns the line of an expression, which is that of its key.
func lineOf(text []byte, e *unstable.Node) int {
	it := e.Key()
	if !it.Next() {
		return 1
	}
	at := min(int(it.Node().Raw.Offset), len(text))
	return 1 + bytes.Count(text[:at], []byte("\n"))
}

func (f *formFile) add(text []byte, table string, e *unstable.Node) {
	v := e.Value()
	val := formValue{key: joinKey(table, e), line: lineOf(text, e), text: string(v.Data)}
	switch v.Kind {
	case unstable.String:
	case unstable.Integer, unstable.Float:
		val.number = true
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			if c := it.Node(); c.Kind == unstable.KeyValue {
				f.add(text, val.key, c)
			}
		}
		return
	case unstable.Array:
		val.other = "a list"
	case unstable.Bool:
		val.other = "true or false"
	default:
		val.other = "a date or time"
	}
	f.values[val.key] = val
}

// fault records that a value cannot be used.
func (f *formFile) fault(v formValue, reason, hint string) {
	field := f.name + ": " + v.key
	if v.line > 0 {
		field = fmt.Sprintf("%s:%d: %s", f.name, v.line, v.key)
	}
	f.faults = append(f.faults, &unit.InputError{Field: field, Value: v.text, Reason: reason, Hint: hint})
}

// text reads a text of at most 100 bytes; empty when the key is absent.
func (f *formFile) text(key string) string {
	v, ok := f.values[key]
	switch {
	case !ok:
		return ""
	case v.number || v.other != "":
		f.fault(v, "is not a text", `write it in quotes: `+key+` = "..."`)
		return ""
	case len(v.text) > 100 || strings.ContainsFunc(v.text, func(r rune) bool { return r < ' ' }):
		f.fault(v, "is longer than 100 bytes or has control characters", "")
		return ""
	}
	return strings.TrimSpace(v.text)
}

// choice reads one of the given words; the first is the default.
func (f *formFile) choice(key string, words ...string) string {
	s := f.text(key)
	if s == "" {
		return words[0]
	}
	if i := slices.IndexFunc(words, func(w string) bool { return strings.EqualFold(w, s) }); i >= 0 {
		return words[i]
	}
	f.fault(f.values[key], "is not known", "write "+strings.Join(words, " or "))
	return words[0]
}

// length reads a text such as "6mm" or "1/4 in", exactly; ok is false when the key
// is absent or faulty. The unit must be written.
func (f *formFile) length(key string, lo, hi float64) (unit.Ratio, bool) {
	v, ok := f.values[key]
	if !ok {
		return unit.Ratio{}, false
	}
	const hint = `write a length with its unit in quotes: "6mm", "1/4in"`
	if v.number || v.other != "" {
		f.fault(v, "is not a length with its unit", hint)
		return unit.Ratio{}, false
	}
	mm, err := unit.ParseExact(v.text, unit.Metric)
	in, err2 := unit.ParseExact(v.text, unit.Inches)
	switch {
	case err != nil || err2 != nil:
		f.fault(v, "is not a length", hint)
	case mm != in:
		f.fault(v, "has no unit", hint)
	case !(mm.Float() >= lo && mm.Float() <= hi):
		f.fault(v, fmt.Sprintf("is not between %g and %g mm", lo, hi), "")
	default:
		return mm, true
	}
	return unit.Ratio{}, false
}

// number reads a plain number; ok is false when the key is absent or faulty.
func (f *formFile) number(key string, lo, hi float64) (float64, bool) {
	v, ok := f.values[key]
	if !ok {
		return 0, false
	}
	r, err := unit.ParseRatio(v.text)
	if !v.number || err != nil {
		f.fault(v, "is not a number", "write it without quotes: "+key+" = 30.0")
		return 0, false
	}
	if !(r.Float() >= lo && r.Float() <= hi) {
		f.fault(v, fmt.Sprintf("is not between %g and %g", lo, hi), "")
		return 0, false
	}
	return r.Float(), true
}

// perPitch reads a size of the form: a number is a fraction of the pitch, a text
// is a length.
func (f *formFile) perPitch(key string, pitch, hi float64) (float64, bool) {
	v, ok := f.values[key]
	if !ok {
		return 0, false
	}
	if v.number {
		return f.number(key, 0, hi)
	}
	l, ok := f.length(key, 0, 1000)
	if !ok || pitch <= 0 {
		return 0, false
	}
	if got := l.Float() / pitch; got <= hi {
		return got, true
	}
	f.fault(v, fmt.Sprintf("is more than %g of the pitch", hi), "")
	return 0, false
}
