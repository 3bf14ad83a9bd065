package lathe

import (
	"encoding"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"thrum/unit"
)

// chooser is a text that must be one of a few words.
type chooser interface{ choices() []string }

// faults collects everything wrong with a file, so that its owner can mend it in
// one go. Beyond mostFaults it only counts.
type faults struct {
	file string
	seen map[string]*node // every key read, by path
	at   map[string]bool  // paths at fault
	bad  map[string]bool  // the same, and the tables round them
	errs []error
	more int
}

const mostFaults = 30

// place names a spot in the file: "inch-bench.toml:14".
func place(file string, line int) string { return file + ":" + strconv.Itoa(line) }

// add reports a fault of the key at path; a path that is not in the file is
// reported at the heading of its table. Numbers of list entries inside the path
// find the line but are not printed.
func (f *faults) add(path, value, reason, hint string) {
	f.at[path] = true
	for at := path; at != ""; at = parent(at) {
		f.bad[at] = true
	}
	if len(f.errs) >= mostFaults {
		f.more++
		return
	}
	line := 1
	for at := path; at != ""; at = parent(at) {
		if n := f.seen[at]; n != nil {
			line = n.line
			break
		}
	}
	f.errs = append(f.errs, &unit.InputError{Field: place(f.file, line) + ": " + shown(path), Value: value, Reason: reason, Hint: hint})
}

// parent returns the path of the table in which a key stands.
func parent(path string) string { return path[:max(strings.LastIndexByte(path, '.'), 0)] }

// shown drops the numbers of list entries from a path.
func shown(path string) string {
	parts := strings.Split(path, ".")
	parts = slices.DeleteFunc(parts, func(s string) bool { return s[:min(1, len(s))] >= "0" && s[:min(1, len(s))] <= "9" })
	return strings.Join(parts, ".")
}

func (f *faults) err() error {
	if f.more > 0 {
		f.errs = append(f.errs, &unit.InputError{Field: f.file, Value: strconv.Itoa(f.more), Reason: "further faults are not listed", Hint: "mend these first"})
		f.more = 0
	}
	return errors.Join(f.errs...)
}

// tag is what a field's toml tag says.
type tag struct {
	key      string
	required bool
	length   bool // a Ratio that is a length
}

func tagOf(sf reflect.StructField) (tag, bool) {
	s, ok := sf.Tag.Lookup("toml")
	if !ok {
		return tag{}, false
	}
	parts := strings.Split(s, ",")
	return tag{key: parts[0], required: slices.Contains(parts, "required"), length: slices.Contains(parts, "length")}, true
}

// table fills a struct from a table and reports keys that it does not have.
func (f *faults) table(v reflect.Value, n *node, path string, sys unit.System) {
	if n.kind != tableNode {
		f.add(path, n.text, "is "+n.kind.String()+", not a table", "give its keys under ["+shown(path)+"]")
		return
	}
	t := v.Type()
	var known []string
	if u := n.keys["units"]; u != nil { // numbers of this table follow its own units
		if s, err := unit.ParseSystem(u.text); err == nil {
			sys = s
		}
	}
	for _, sf := range reflect.VisibleFields(t) {
		tg, ok := tagOf(sf)
		if !ok {
			continue
		}
		known = append(known, tg.key)
		child, at := n.keys[tg.key], join(path, tg.key)
		switch {
		case child != nil:
			f.seen[at] = child
			f.value(v.FieldByIndex(sf.Index), child, at, tg, sys)
		case tg.required:
			f.add(at, "", "is missing", missingHint(sf.Type, at))
		case tg.key == "units":
			v.FieldByIndex(sf.Index).Set(reflect.ValueOf(sys))
		}
	}
	for _, name := range n.names {
		if !slices.Contains(known, name) {
			at := join(path, name)
			f.seen[at] = n.keys[name]
			if len(f.errs) >= mostFaults { // the hint is not worth its time
				f.more++
				continue
			}
			f.add(at, name, "is not a key that a lathe file has here", unknownHint(name, known))
		}
	}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func missingHint(t reflect.Type, path string) string {
	switch {
	case t.Kind() == reflect.Struct && t != ratioType:
		return "add the table [" + shown(path) + "]"
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct && t.Elem() != ratioType:
		return "add a table [[" + shown(path) + "]] for each"
	}
	_, key, _ := cutLast(path)
	if c, ok := reflect.Zero(t).Interface().(chooser); ok {
		return "add " + key + " = " + oneOf(c.choices())
	}
	if t == reflect.TypeFor[unit.System]() {
		return `add units = "mm" or "in"`
	}
	return "add " + key + " = ..."
}

// unknownHint finds what was probably meant: a key of this table spelt nearly
// so, or the same key in another table.
func unknownHint(name string, known []string) string {
	if k := nearest(name, known); k != "" {
		return fmt.Sprintf("did you mean %q?", k)
	}
	for _, k := range schema() {
		if head, last, ok := cutLast(k); ok && last == name {
			return fmt.Sprintf("%q belongs under [%s]", name, head)
		}
	}
	for _, k := range schema() {
		if head, last, ok := cutLast(k); ok && nearest(name, []string{last}) != "" {
			return fmt.Sprintf("did you mean %q under [%s]?", last, head)
		}
	}
	return "the keys here are " + strings.Join(known, ", ")
}

func cutLast(path string) (head, last string, ok bool) {
	i := strings.LastIndexByte(path, '.')
	if i < 0 {
		return "", path, false
	}
	return path[:i], path[i+1:], true
}

func oneOf(choices []string) string {
	quoted := make([]string, len(choices))
	for i, c := range choices {
		quoted[i] = strconv.Quote(c)
	}
	return strings.Join(quoted, " or ")
}

var (
	ratioType   = reflect.TypeFor[unit.Ratio]()
	lengthType  = reflect.TypeFor[unit.Length]()
	angleType   = reflect.TypeFor[unit.Angle]()
	rpmType     = reflect.TypeFor[unit.Rotation]()
	unmarshaler = reflect.TypeFor[encoding.TextUnmarshaler]()
)

// value reads one value into a field.
func (f *faults) value(v reflect.Value, n *node, path string, tg tag, sys unit.System) {
	t := v.Type()
	switch {
	case t.Kind() == reflect.Pointer:
		v.Set(reflect.New(t.Elem()))
		f.table(v.Elem(), n, path, sys)
	case t == ratioType || t == lengthType || t == angleType || t == rpmType || suffixes(t) != nil:
		f.number(v, n, path, tg, sys)
	case reflect.PointerTo(t).Implements(unmarshaler):
		if f.want(n, textNode, path, "in quotes") {
			f.note(path, n.text, v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(n.text)))
		}
	case t.Kind() == reflect.Struct:
		f.table(v, n, path, sys)
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
		f.list(v, n, path, tg, sys)
	case t.Kind() == reflect.Bool:
		if f.want(n, flagNode, path, "write true or false, without quotes") {
			v.SetBool(n.text == "true")
		}
	case t.Kind() == reflect.String:
		f.str(v, n, path)
	case t.Kind() == reflect.Int:
		f.whole(v, n, path)
	default:
		panic("lathe: no way to read a " + t.String()) // a new field type needs a case here
	}
}

func (f *faults) want(n *node, k nodeKind, path, hint string) bool {
	if n.kind == k {
		return true
	}
	f.add(path, n.text, "is "+n.kind.String()+"; "+k.String()+" is wanted", hint)
	return false
}

// note reports the error of a value that reads itself.
func (f *faults) note(path, value string, err error) {
	if err == nil {
		return
	}
	var in *unit.InputError
	if errors.As(err, &in) {
		f.add(path, value, in.Reason, in.Hint)
		return
	}
	f.add(path, value, err.Error(), "")
}

func (f *faults) str(v reflect.Value, n *node, path string) {
	if !f.want(n, textNode, path, "put it in quotes") {
		return
	}
	if len(n.text) > 200 {
		f.add(path, n.text, "is longer than 200 bytes", "")
		return
	}
	if strings.ContainsFunc(n.text, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\ufffd' }) {
		f.add(path, n.text, "has characters that cannot be printed on one line", "")
		return
	}
	if c, ok := v.Interface().(chooser); ok && !slices.Contains(c.choices(), n.text) {
		hint := "write " + oneOf(c.choices())
		if k := nearest(n.text, c.choices()); k != "" {
			hint = fmt.Sprintf("did you mean %q?", k)
		}
		f.add(path, n.text, "is not one of the words that this key knows", hint)
		return
	}
	v.SetString(strings.TrimSpace(n.text))
}

func (f *faults) whole(v reflect.Value, n *node, path string) {
	if !f.want(n, numberNode, path, "write a whole number without quotes") {
		return
	}
	i, err := strconv.Atoi(n.text)
	if err != nil || i < 0 || i > 1_000_000 {
		f.add(path, n.text, "is not a whole number that can be counted on a lathe", "write a number such as 24")
		return
	}
	v.SetInt(int64(i))
}

// list reads a list, or a single value as a list of one.
func (f *faults) list(v reflect.Value, n *node, path string, tg tag, sys unit.System) {
	items := []*node{n}
	if n.kind == listNode {
		items = n.items
	}
	t := v.Type()
	if t.Kind() == reflect.Array {
		if len(items) != t.Len() {
			f.add(path, fmt.Sprint(len(items)), fmt.Sprintf("is the number of entries; %d are wanted", t.Len()), "write a mesh as [driver, driven], for example [20, 60]")
			return
		}
	} else {
		if len(items) > mostEntries {
			f.add(path, fmt.Sprint(len(items)), fmt.Sprintf("entries are more than the %d that are allowed", mostEntries), "")
			return
		}
		v.Set(reflect.MakeSlice(t, len(items), len(items)))
	}
	for i, it := range items {
		at := path + "." + strconv.Itoa(i)
		f.seen[at] = it
		f.value(v.Index(i), it, at, tg, sys)
	}
}

const mostEntries = 200 // of any list

// quantity is a unit suffix and its factor.
type quantity struct {
	suffix string
	factor float64
}

// suffixes lists the units in which a quantity may be written, the most usual
// first; nil for a type that is no such quantity.
func suffixes(t reflect.Type) []quantity {
	switch t {
	case reflect.TypeFor[unit.Power]():
		return []quantity{{"kW", 1000}, {"hp", float64(unit.Horsepower)}, {"W", 1}}
	case reflect.TypeFor[unit.Torque]():
		return []quantity{{"N m", 1000}, {"Nm", 1000}, {"lbf ft", 1355.8179483314004}, {"lbf in", 112.98482902761669}}
	case reflect.TypeFor[unit.Stiffness]():
		return []quantity{{"N/um", 1000}, {"N/mm", 1}, {"lbf/thou", 175.12683524647636}, {"lbf/in", 0.17512683524647636}}
	case reflect.TypeFor[unit.AngularStiffness]():
		return []quantity{{"N m/rad", 1000}, {"Nm/rad", 1000}}
	}
	return nil
}

// number reads a quantity: a bare number in the usual unit, or a text with a unit.
func (f *faults) number(v reflect.Value, n *node, path string, tg tag, sys unit.System) {
	t, s := v.Type(), n.text
	if n.kind != numberNode && n.kind != textNode {
		f.add(path, s, "is "+n.kind.String()+"; a number is wanted", "")
		return
	}
	if qs := suffixes(t); qs != nil {
		f.suffixed(v, s, path, qs)
		return
	}
	var r unit.Ratio
	var err error
	switch {
	case t == lengthType || tg.length:
		r, err = unit.ParseExact(s, sys)
	case t == angleType:
		r, err = unit.ParseRatio(trimUnit(s, "°", "deg", "degrees"))
	case t == rpmType:
		r, err = unit.ParseRatio(trimUnit(s, "rpm", "rev/min"))
	default:
		r, err = unit.ParseRatio(s)
	}
	if err != nil {
		f.note(path, s, err)
		return
	}
	switch t {
	case ratioType:
		v.Set(reflect.ValueOf(r))
	case angleType:
		v.SetFloat(r.Float() * float64(unit.Degree))
	default:
		v.SetFloat(r.Float())
	}
}

func trimUnit(s string, units ...string) string {
	for _, u := range units {
		if cut, ok := strings.CutSuffix(strings.TrimSpace(s), u); ok {
			return cut
		}
	}
	return s
}

func (f *faults) suffixed(v reflect.Value, s, path string, qs []quantity) {
	for _, q := range qs {
		cut, ok := strings.CutSuffix(strings.TrimSpace(s), q.suffix)
		if !ok {
			continue
		}
		r, err := unit.ParseRatio(cut)
		f.note(path, s, err)
		v.SetFloat(r.Float() * q.factor)
		return
	}
	var names []string
	for _, q := range qs {
		names = append(names, strconv.Quote("1 "+q.suffix))
	}
	f.add(path, s, "has no unit that fits", "write it in quotes with its unit, like "+strings.Join(names, " or "))
}
