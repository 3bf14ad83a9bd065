package lathe

import (
	_ "embed"
	"encoding/csv"
	"reflect"
	"strings"
	"sync"

	"thrum/unit"
)

// KeyKind is how the value of a key is written.
type KeyKind int

// What a form offers for a value.
const (
	Word    KeyKind = iota // a text in quotes
	Figure                 // a number, or a text with a unit
	YesNo                  // true or false
	Choice                 // one of a few words
	Figures                // a list of numbers
	List                   // a list of anything else
	Table                  // a heading with keys under it
	Tables                 // a heading that comes once for each
)

// Key is one key that a lathe file may have.
type Key struct {
	Path    string // "leadscrew.tpi"; keys inside a list of tables have no number: "speed.rpm"
	Section string // of the description in which it is explained
	Words   string // what it means
	Kind    KeyKind
	Choices []string // of a Choice
	Needed  bool     // where its table stands
}

//go:embed data/keys.csv
var keysCSV string

// Keys lists every key that a lathe file may have, in the order in which they are
// explained.
var Keys = sync.OnceValue(func() []Key {
	r := csv.NewReader(strings.NewReader(keysCSV))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic("lathe: data/keys.csv: " + err.Error())
	}
	types := map[string]Key{}
	describeKeys(reflect.TypeFor[Lathe](), "", types)
	var out []Key
	for _, row := range rows[1:] {
		k, ok := types[row[1]]
		if !ok {
			panic("lathe: data/keys.csv: no key " + row[1])
		}
		k.Section, k.Words = row[0], row[2]
		out = append(out, k)
	}
	return out
})

// describeKeys finds the kind of every key under a type.
func describeKeys(t reflect.Type, path string, to map[string]Key) {
	for _, sf := range reflect.VisibleFields(t) {
		tg, ok := tagOf(sf)
		if !ok {
			continue
		}
		k := Key{Path: join(path, tg.key), Needed: tg.required}
		ft := sf.Type
		for ft.Kind() == reflect.Pointer {
			ft = ft.Elem()
		}
		k.Kind, k.Choices = kindOf(ft)
		to[k.Path] = k
		if k.Kind == Tables {
			ft = ft.Elem()
		}
		if k.Kind == Table || k.Kind == Tables {
			describeKeys(ft, k.Path, to)
		}
	}
}

func kindOf(t reflect.Type) (KeyKind, []string) {
	if c, ok := reflect.Zero(t).Interface().(chooser); ok {
		return Choice, c.choices()
	}
	switch {
	case t == reflect.TypeFor[unit.System]():
		return Choice, []string{"mm", "in"}
	case t == reflect.TypeFor[Hand]():
		return Choice, []string{Right.String(), Left.String()}
	case t == ratioType || t.Kind() == reflect.Float64 || t.Kind() == reflect.Int:
		return Figure, nil
	case t.Kind() == reflect.Bool:
		return YesNo, nil
	case t.Kind() == reflect.String:
		return Word, nil
	case t.Kind() == reflect.Struct:
		return Table, nil
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct && t.Elem() != ratioType && t.Elem() != reflect.TypeFor[Mesh]():
		return Tables, nil
	case t.Kind() == reflect.Slice && (t.Elem() == ratioType || t.Elem().Kind() == reflect.Int):
		return Figures, nil
	}
	return List, nil
}
