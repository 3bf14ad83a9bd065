package web

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"thrum/cut"
	"thrum/internal/tomltext"
	"thrum/lathe"
)

// formKey is one value of a text as a form asks for it.
type formKey struct {
	path    tomltext.Path // in the text; inside a list of tables without a number
	section string
	label   string
	words   string
	kind    string // "word", "figure", "yes-no", "choice", "figures", "words", "list", "table", "tables"
	choices []string
	needed  bool
}

func latheKeys() []formKey {
	kinds := map[lathe.KeyKind]string{
		lathe.Word: "word", lathe.Figure: "figure", lathe.YesNo: "yes-no", lathe.Choice: "choice", lathe.Figures: "figures",
		lathe.List: "list", lathe.Table: "table", lathe.Tables: "tables",
	}
	var out []formKey
	for _, k := range lathe.Keys() {
		p := tomltext.ParsePath(k.Path)
		out = append(out, formKey{p, k.Section, plainLabel(p[len(p)-1]), k.Words, kinds[k.Kind], k.Choices, k.Needed})
	}
	return out
}

func materialKeys() []formKey {
	var out []formKey
	for _, k := range cut.MaterialKeys() {
		p := append(tomltext.Path{"material", "0"}, tomltext.ParsePath(k.Name)...)
		out = append(out, formKey{p, k.Section, k.Label, k.Words, k.Kind, k.Choices, k.Needed})
	}
	return out
}

// plainLabel makes a label of a key: "stud_to_screw" is "Stud to screw".
func plainLabel(key string) string {
	s := strings.ReplaceAll(key, "_", " ")
	s = strings.NewReplacer("tpi", "threads per inch", "rpm", "speed, rpm", "300mm", "300 mm").Replace(s)
	return strings.ToUpper(s[:1]) + s[1:]
}

// formSection is one part of the form, with the drawings that show what it says.
type formSection struct {
	ID, Title string
	Groups    []formGroup
	Pictures  []picture
}

// formGroup is the fields under one heading of the text, or one entry of a list.
type formGroup struct {
	ID, Title string
	Words     string
	Fields    []control
	Entry     string // path of the entry, which can be taken away; empty for a plain table
	More      bool   // an entry that is not there yet
}

// formOf lays out the values of a text. typed holds what was sent, which is shown
// instead; faults stand beside their fields.
func formOf(keys []formKey, text string, typed map[string][]string, faults map[string][]fault) []formSection {
	f := formWriter{text: text, typed: typed, faults: faults}
	for i, k := range keys {
		if k.kind == "tables" && !f.inline(k) {
			f.entries(k, keys[i+1:])
			continue
		}
		if f.inside(k) {
			continue
		}
		f.section(k.section)
		switch k.kind {
		case "table":
			f.group(k.path.String(), plainLabel(k.path[len(k.path)-1]), tableWords(k.words))
		default:
			f.field(k, k.path)
		}
	}
	out := f.out[:0]
	for _, s := range f.out {
		s.Groups = slicesNonEmpty(s.Groups)
		if len(s.Groups) > 0 {
			out = append(out, s)
		}
	}
	return out
}

// tableWords is what is said of a table beyond that it is one.
func tableWords(words string) string {
	_, rest, _ := strings.Cut(words, ": ")
	return rest
}

func slicesNonEmpty(all []formGroup) []formGroup {
	var out []formGroup
	for _, g := range all {
		if len(g.Fields) > 0 {
			out = append(out, g)
		}
	}
	return out
}

type formWriter struct {
	text   string
	typed  map[string][]string
	faults map[string][]fault
	out    []formSection
	lists  []string // paths of the lists of tables met so far
}

// inline reports whether a list of tables is written as one value.
func (f *formWriter) inline(k formKey) bool {
	_, ok := tomltext.Get(f.text, k.path)
	return ok
}

// inside reports whether a key belongs to a list of tables, which is laid out whole.
func (f *formWriter) inside(k formKey) bool {
	for _, l := range f.lists {
		if strings.HasPrefix(k.path.String(), l+".") {
			return true
		}
	}
	if k.kind == "tables" {
		f.lists = append(f.lists, k.path.String())
	}
	return false
}

func (f *formWriter) section(title string) {
	if n := len(f.out); n == 0 || f.out[n-1].Title != title {
		f.out = append(f.out, formSection{ID: fmt.Sprintf("s%d", n+1), Title: title, Groups: []formGroup{{ID: fmt.Sprintf("g%d", n+1)}}})
	}
}

func (f *formWriter) group(id, title, words string) {
	s := &f.out[len(f.out)-1]
	s.Groups = append(s.Groups, formGroup{ID: "g-" + id, Title: title, Words: words})
}

// field adds a value to the group that is open, or to that of its table.
func (f *formWriter) field(k formKey, at tomltext.Path) {
	s := &f.out[len(f.out)-1]
	g := &s.Groups[len(s.Groups)-1]
	for i := range s.Groups { // a key of the table above stands behind a table inside it
		if s.Groups[i].ID == "g-"+at[:len(at)-1].String() {
			g = &s.Groups[i]
		}
	}
	g.Fields = append(g.Fields, f.control(k, at))
}

func (f *formWriter) control(k formKey, at tomltext.Path) control {
	name := at.String()
	raw, _ := tomltext.Get(f.text, at)
	c := control{Name: name, Label: k.label, Kind: "text", Value: shownValue(k.kind, raw), Hint: k.words, Faults: f.faults[name]}
	if k.needed {
		c.Hint = strings.TrimPrefix(c.Hint+"; needed", "; ")
	}
	if vs, ok := f.typed[name]; ok || f.typed != nil {
		c.Value = ""
		if len(vs) > 0 {
			c.Value = vs[0]
		}
	}
	c.Broad = len(c.Value) > broadValue
	switch k.kind {
	case "yes-no":
		c.Kind, c.Checked = "check", c.Value == "true" || c.Value == "yes"
		c.Label += ": " + strings.TrimPrefix(k.words, "true ")
	case "choice":
		c.Kind = "select"
		c.Options = append(c.Options, option{Label: "not given", Chosen: c.Value == ""})
		for _, v := range k.choices {
			c.Options = append(c.Options, option{Value: v, Label: v, Chosen: v == c.Value})
		}
	case "tables":
		c.Kind = "area"
	}
	return c
}

// entries lays out a list of tables: each entry, and one that is not there yet.
func (f *formWriter) entries(list formKey, rest []formKey) {
	f.lists = append(f.lists, list.path.String())
	f.section(list.section)
	n := tomltext.Count(f.text, list.path)
	for i := 0; i <= n; i++ {
		at := append(append(tomltext.Path{}, list.path...), strconv.Itoa(i))
		g := formGroup{ID: "g-" + at.String(), Entry: at.String(), More: i == n}
		for _, k := range rest {
			if len(k.path) > len(list.path) && strings.HasPrefix(k.path.String(), list.path.String()+".") {
				g.Fields = append(g.Fields, f.control(k, append(append(tomltext.Path{}, at...), k.path[len(list.path):]...)))
			}
		}
		g.Title = fmt.Sprintf("%s %d", plainLabel(list.path[len(list.path)-1]), i+1)
		if g.More {
			g.Title = "One more: " + strings.ToLower(plainLabel(list.path[len(list.path)-1]))
		} else if len(g.Fields) > 1 && g.Fields[1].Kind == "text" {
			g.Title += ": " + g.Fields[0].Value + ", " + g.Fields[1].Value
		}
		s := &f.out[len(f.out)-1]
		s.Groups = append(s.Groups, g)
	}
}

// broadValue is the length from which a value takes the whole width.
const broadValue = 30

var bareFigure = regexp.MustCompile(`^[-+]?(\d+(\.\d+)?|\.\d+)$`)

// shownValue is a value as a form shows it: without the quotes and brackets of the
// text.
func shownValue(kind, raw string) string {
	switch kind {
	case "figures", "words":
		if strings.HasPrefix(raw, "[") && strings.HasSuffix(raw, "]") && !strings.ContainsAny(raw, "#\n{") && !strings.Contains(raw[1:], "[") {
			var out []string
			for v := range strings.SplitSeq(raw[1:len(raw)-1], ",") {
				if v = strings.TrimSpace(v); v != "" {
					out = append(out, unquoted(v))
				}
			}
			return strings.Join(out, ", ")
		}
		return raw
	case "list", "tables":
		return raw
	}
	return unquoted(raw)
}

func unquoted(raw string) string {
	if len(raw) >= 2 && raw[0] == '\'' && raw[len(raw)-1] == '\'' && !strings.HasPrefix(raw, "'''") {
		return raw[1 : len(raw)-1]
	}
	if s, err := strconv.Unquote(raw); err == nil && strings.HasPrefix(raw, `"`) {
		return s
	}
	return raw
}

// writtenValue is what a form was given as the text has it; empty when there is
// nothing.
func writtenValue(kind, typed string) string {
	typed = strings.TrimSpace(strings.ReplaceAll(typed, "\r\n", "\n"))
	if typed == "" {
		return ""
	}
	one := func(v string) string {
		if kind != "words" && bareFigure.MatchString(v) {
			if strings.HasPrefix(v, ".") {
				v = "0" + v
			}
			return v
		}
		return quoted(v)
	}
	switch kind {
	case "figure":
		return one(typed)
	case "figures", "words":
		if strings.HasPrefix(typed, "[") {
			return typed
		}
		var out []string
		for v := range strings.SplitSeq(typed, ",") {
			if v = strings.TrimSpace(v); v != "" {
				out = append(out, one(v))
			}
		}
		return "[" + strings.Join(out, ", ") + "]"
	case "list", "tables":
		return typed
	}
	return quoted(typed)
}
