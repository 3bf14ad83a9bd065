package lathe

import (
	"bytes"
	"errors"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"thrum/unit"
)

// nodeKind is the kind of a value in the file, as far as a lathe cares.
type nodeKind int

const (
	tableNode nodeKind = iota
	listNode
	textNode
	numberNode
	flagNode
	otherNode // dates and times, which no key takes
)

// String names the kind as a reader of the file would.
func (k nodeKind) String() string {
	return [...]string{"a table", "a list", "a text", "a number", "true or false", "a date"}[k]
}

// node is one value of the file with the place where it stands. Numbers keep
// the digits that were typed, because 0.1 must stay exactly one tenth.
type node struct {
	kind  nodeKind
	line  int
	text  string
	names []string // keys of a table in the order of the file
	keys  map[string]*node
	items []*node
}

// readTree reads the file into nodes. The library checks the whole document
// first (syntax, keys given twice), so the walk only has to note what it finds.
func readTree(name string, text []byte) (*node, error) {
	var any map[string]any
	if err := toml.Unmarshal(text, &any); err != nil {
		return nil, syntaxError(name, text, err)
	}
	w := treeWalk{breaks: lineBreaks(text)}
	root := &node{kind: tableNode, line: 1}
	at := root
	var p unstable.Parser
	p.Reset(text)
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			at = w.table(root, e)
		case unstable.KeyValue:
			w.keyValue(at, e)
		}
	}
	if err := p.Error(); err != nil {
		return nil, syntaxError(name, text, err)
	}
	return root, nil
}

// syntaxError turns the library's error into one that shows the line as typed.
func syntaxError(name string, text []byte, err error) error {
	in := &unit.InputError{Field: name, Reason: strings.TrimPrefix(err.Error(), "toml: "), Hint: "the file must be TOML: key = value lines under [table] headings"}
	var d *toml.DecodeError
	if errors.As(err, &d) {
		line, _ := d.Position()
		in.Field = place(name, line)
		if all := bytes.SplitN(text, []byte("\n"), line+1); line >= 1 && line <= len(all) {
			in.Value = strings.TrimSpace(string(all[line-1]))
		}
	}
	return in
}

type treeWalk struct{ breaks []int }

func lineBreaks(text []byte) []int {
	var at []int
	for i, c := range text {
		if c == '\n' {
			at = append(at, i)
		}
	}
	return at
}

// line returns the line on which a byte of the file stands, counted from 1.
func (w treeWalk) line(offset uint32) int {
	n, _ := slices.BinarySearch(w.breaks, int(offset))
	return n + 1
}

// table opens the table that a [heading] or [[heading]] names.
func (w treeWalk) table(root *node, e *unstable.Node) *node {
	at := root
	it := e.Key()
	for it.Next() {
		k := it.Node()
		name, line := string(k.Data), w.line(k.Raw.Offset)
		next := at.keys[name]
		if e.Kind == unstable.ArrayTable && it.IsLast() {
			if next == nil {
				next = at.add(name, &node{kind: listNode, line: line})
			}
			row := &node{kind: tableNode, line: line}
			next.items = append(next.items, row)
			return row
		}
		switch {
		case next == nil:
			next = at.add(name, &node{kind: tableNode, line: line})
		case next.kind == listNode && len(next.items) > 0:
			next = next.items[len(next.items)-1]
		case it.IsLast():
			next.line = line
		}
		at = next
	}
	return at
}

// keyValue adds one key = value line, whose key may be dotted.
func (w treeWalk) keyValue(at *node, e *unstable.Node) {
	it := e.Key()
	for it.Next() {
		k := it.Node()
		name, line := string(k.Data), w.line(k.Raw.Offset)
		if it.IsLast() {
			at.add(name, w.value(e.Value(), line))
			return
		}
		next := at.keys[name]
		if next == nil {
			next = at.add(name, &node{kind: tableNode, line: line})
		}
		at = next
	}
}

func (w treeWalk) value(v *unstable.Node, line int) *node {
	n := &node{line: line, text: string(v.Data)}
	if v.Raw.Length > 0 {
		n.line = w.line(v.Raw.Offset)
	}
	switch v.Kind {
	case unstable.String:
		n.kind = textNode
	case unstable.Integer, unstable.Float:
		n.kind = numberNode
	case unstable.Bool:
		n.kind = flagNode
	case unstable.Array:
		n.kind = listNode
		it := v.Children()
		for it.Next() {
			if c := it.Node(); c.Kind != unstable.Comment {
				n.items = append(n.items, w.value(c, n.line))
			}
		}
	case unstable.InlineTable:
		n.kind = tableNode
		it := v.Children()
		for it.Next() {
			if c := it.Node(); c.Kind == unstable.KeyValue {
				w.keyValue(n, c)
			}
		}
	default:
		n.kind = otherNode
	}
	return n
}

func (n *node) add(name string, child *node) *node {
	if n.keys == nil {
		n.keys = map[string]*node{}
	}
	if _, again := n.keys[name]; !again {
		n.names = append(n.names, name)
	}
	n.keys[name] = child
	return child
}
