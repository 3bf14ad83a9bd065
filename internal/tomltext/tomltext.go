// Package tomltext changes single values of a TOML text and leaves all the rest of
// it as it was written: comments, order, blank lines, the way a figure is spelt.
// Forms edit the texts of lathes and materials through it.
package tomltext

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Path leads to a value: the names of its tables and its key. The entry of a list
// of tables is named by its number, from 0: speed, 3, rpm.
type Path []string

// ParsePath takes a path apart at its dots.
func ParsePath(s string) Path { return strings.Split(s, ".") }

func (p Path) String() string { return strings.Join(p, ".") }

// ErrNoPlace says that a value cannot be put where its path leads.
var ErrNoPlace = errors.New("there is no place for it in the text")

// entry is one key with its value, where they stand in the text.
type entry struct {
	path       Path
	start      int // of the key
	from, to   int // of the value
	underTable int // index of its table; -1 for the keys before all tables
}

// table is a heading, with where what belongs to it ends.
type table struct {
	path  Path
	start int // of the heading's line
	end   int // behind its last key or, without one, its heading
}

type document struct {
	text    string
	entries []entry
	tables  []table
}

// read finds every key of a text.
func read(text string) (*document, error) {
	d := &document{text: text}
	var p unstable.Parser
	p.Reset([]byte(text))
	counts := map[string]int{}
	at := -1
	for p.NextExpression() {
		e := p.Expression()
		keys, start, end := keysOf(e)
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			path := d.absolute(keys, counts, e.Kind == unstable.ArrayTable)
			d.tables = append(d.tables, table{path: path, start: lineStart(text, start), end: lineEnd(text, end)})
			at = len(d.tables) - 1
		case unstable.KeyValue:
			en := entry{start: start, underTable: at}
			if at >= 0 {
				en.path = append(en.path, d.tables[at].path...)
			}
			en.path = append(en.path, keys...)
			en.from = end + strings.IndexByte(text[end:], '=') + 1
			for en.from < len(text) && (text[en.from] == ' ' || text[en.from] == '\t') {
				en.from++
			}
			en.to = valueEnd(text, en.from)
			d.entries = append(d.entries, en)
			if at >= 0 {
				d.tables[at].end = lineEnd(text, en.to)
			}
		}
	}
	return d, p.Error()
}

// keysOf returns the dotted key of an expression and where it stands.
func keysOf(e *unstable.Node) (keys Path, start, end int) {
	start = -1
	for it := e.Key(); it.Next(); {
		k := it.Node()
		keys = append(keys, string(k.Data))
		if start < 0 {
			start = int(k.Raw.Offset)
		}
		end = int(k.Raw.Offset + k.Raw.Length)
	}
	return keys, start, end
}

// absolute turns the words of a heading into a path, the entries of lists of tables
// being numbered.
func (d *document) absolute(keys Path, counts map[string]int, list bool) Path {
	var path Path
	for i, k := range keys {
		path = append(path, k)
		name := path.String()
		switch n, many := counts[name]; {
		case list && i == len(keys)-1:
			path = append(path, strconv.Itoa(n))
			counts[name] = n + 1
		case many:
			path = append(path, strconv.Itoa(n-1))
		}
	}
	return path
}

func lineStart(s string, at int) int { return strings.LastIndexByte(s[:at], '\n') + 1 }

// lineEnd is behind the end of the line in which at stands.
func lineEnd(s string, at int) int {
	if i := strings.IndexByte(s[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(s)
}

// valueEnd finds the end of the value that begins at a place.
func valueEnd(s string, at int) int {
	depth, end := 0, at
	for at < len(s) {
		switch c := s[at]; {
		case c == '"' || c == '\'':
			at = stringEnd(s, at)
			end = at
			continue
		case c == '#':
			if depth == 0 {
				return end
			}
			at = lineEnd(s, at)
			continue
		case c == '\n' && depth == 0:
			return end
		case c == '[' || c == '{':
			depth++
		case c == ']' || c == '}':
			depth--
		case c == ' ' || c == '\t' || c == '\r' || c == '\n':
			at++
			continue
		}
		at++
		end = at
	}
	return end
}

// stringEnd finds the end of the string that begins at a place.
func stringEnd(s string, at int) int {
	quote := s[at : at+1]
	if triple := strings.Repeat(quote, 3); strings.HasPrefix(s[at:], triple) {
		quote = triple
	}
	for at += len(quote); at < len(s); at++ {
		if s[at] == '\\' && quote[0] == '"' {
			at++
			continue
		}
		if strings.HasPrefix(s[at:], quote) {
			at += len(quote)
			for len(quote) == 3 && at < len(s) && s[at] == quote[0] { // up to two quotes may stand before the end
				at++
			}
			return at
		}
	}
	return len(s)
}

func (d *document) find(p Path) (entry, bool) {
	for _, e := range d.entries {
		if slices.Equal(e.path, p) {
			return e, true
		}
	}
	return entry{}, false
}

// Get returns the value at a path as it is written, quotes and all.
func Get(text string, p Path) (value string, ok bool) {
	d, err := read(text)
	if err != nil {
		return "", false
	}
	e, ok := d.find(p)
	if !ok {
		return "", false
	}
	return text[e.from:e.to], true
}

// Count returns how many entries the list of tables at a path has.
func Count(text string, p Path) int {
	d, err := read(text)
	if err != nil {
		return 0
	}
	n := 0
	for _, t := range d.tables {
		if len(t.path) == len(p)+1 && slices.Equal(t.path[:len(p)], p) {
			n++
		}
	}
	return n
}

// Set gives the value at a path, written as in TOML, and returns the new text. A
// key that is not there is put behind the last of its table; a table that is not
// there is put at the end. An entry of a list of tables may be added by the number
// that follows the last. An empty value takes the key away.
func Set(text string, p Path, value string) (string, error) {
	d, err := read(text)
	if err != nil {
		return text, err
	}
	e, there := d.find(p)
	switch {
	case there && value == "":
		text = text[:lineStart(text, e.start)] + text[lineEnd(text, e.to):]
	case there:
		text = text[:e.from] + value + text[e.to:]
	case value == "":
		return text, nil
	default:
		if text, err = d.add(p, value); err != nil {
			return d.text, err
		}
	}
	var any map[string]any
	if err := toml.Unmarshal([]byte(text), &any); err != nil {
		return d.text, fmt.Errorf("%s = %s: %w", p, value, err)
	}
	return text, nil
}

func (d *document) add(p Path, value string) (string, error) {
	key, in := p[len(p)-1], p[:len(p)-1]
	line := bare(key) + " = " + value + "\n"
	for _, t := range slices.Backward(d.tables) {
		if slices.Equal(t.path, in) {
			return d.insert(t.end, line), nil
		}
	}
	if len(in) == 0 {
		at := 0
		for _, e := range d.entries {
			if e.underTable < 0 {
				at = lineEnd(d.text, e.to)
			}
		}
		return d.insert(at, line), nil
	}
	heading, err := d.heading(in)
	if err != nil {
		return "", err
	}
	text := d.text
	if text != "" && !strings.HasSuffix(text, "\n") {
		text += "\n"
	}
	return text + "\n" + heading + "\n" + line, nil
}

func (d *document) insert(at int, line string) string {
	before := d.text[:at]
	if before != "" && !strings.HasSuffix(before, "\n") {
		before += "\n"
	}
	return before + line + d.text[at:]
}

// heading writes the heading of a table that is not there yet.
func (d *document) heading(in Path) (string, error) {
	last := in[len(in)-1]
	n, err := strconv.Atoi(last)
	if err != nil {
		for _, k := range in {
			if _, err := strconv.Atoi(k); err == nil {
				return "", ErrNoPlace // a table inside an entry of a list: not needed, and easily misread
			}
		}
		return "[" + dotted(in) + "]", nil
	}
	list := in[:len(in)-1]
	if _, inline := d.find(list); inline || n != Count(d.text, list) {
		return "", ErrNoPlace
	}
	return "[[" + dotted(list) + "]]", nil
}

// Remove takes an entry of a list of tables away, with everything in it. Comments
// before its heading stay.
func Remove(text string, p Path) (string, error) {
	d, err := read(text)
	if err != nil {
		return text, err
	}
	for i, t := range d.tables {
		if !slices.Equal(t.path, p) {
			continue
		}
		end := t.end
		for _, inside := range d.tables[i+1:] { // tables inside this entry go with it
			if len(inside.path) <= len(p) || !slices.Equal(inside.path[:len(p)], p) {
				break
			}
			end = inside.end
		}
		for strings.HasPrefix(text[end:], "\n") { // and the blank line behind it
			end++
		}
		return text[:t.start] + text[end:], nil
	}
	return text, ErrNoPlace
}

func dotted(p Path) string {
	var out []string
	for _, k := range p {
		out = append(out, bare(k))
	}
	return strings.Join(out, ".")
}

// bare writes a key, in quotes only where it needs them.
func bare(k string) string {
	for _, r := range k {
		if !(r == '_' || r == '-' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z') {
			return strconv.Quote(k)
		}
	}
	if k == "" {
		return `""`
	}
	return k
}

// At returns the path of the key whose value stands at a line, counted from 1, or of
// the table whose heading does.
func At(text string, line int) Path {
	d, err := read(text)
	if err != nil || line < 1 {
		return nil
	}
	number := func(at int) int { return 1 + strings.Count(text[:at], "\n") }
	for _, e := range d.entries {
		if number(e.start) <= line && line <= number(e.to) {
			return e.path
		}
	}
	for _, t := range d.tables {
		if number(t.start) == line {
			return t.path
		}
	}
	return nil
}
