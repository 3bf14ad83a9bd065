package gauge

import (
	_ "embed"
	"fmt"
	"strconv"
	"sync"

	"thrum/unit"
)

// Set is a set of wires to choose from when the user does not list their own.
type Set struct {
	Name   string
	Source string
	Sizes  []unit.Length // in ascending order
}

//go:embed data/wires.csv
var wiresCSV string

// Sets lists the standard sets of wires.
func Sets() []Set { return append([]Set(nil), sets()...) }

var sets = sync.OnceValue(func() []Set {
	metric := Set{Name: "metric series", Source: "DIN 2269 (from memory)"}
	for _, rec := range table(wiresCSV, 1) {
		v, err := strconv.ParseFloat(rec[0], 64)
		if err != nil {
			panic(fmt.Sprintf("gauge: wires.csv: %v", err)) // our own table
		}
		metric.Sizes = append(metric.Sizes, unit.Length(v)*unit.Millimetre)
	}
	return []Set{
		metric,
		perInch("60° inch best sizes", "ISO 16239:2013, 3: P/(2 cos 30°), for the pitches of ASME B1.1", 30*unit.Degree,
			80, 72, 64, 56, 48, 44, 40, 36, 32, 28, 27, 24, 20, 18, 16, 14, 13, 12, 11.5, 11, 10, 9, 8, 7, 6, 5, 4.5, 4),
		perInch("29° inch best sizes", "Machinery's Handbook 31st ed. p.2135: P/(2 cos 14.5°), for the pitches of ASME B1.5", 14.5*unit.Degree,
			16, 14, 12, 10, 8, 6, 5, 4, 3, 2.5, 2),
	}
})

// perInch makes a set of best sizes, to the nearest 0.00001 in, finest first.
func perInch(name, source string, half unit.Angle, tpi ...float64) Set {
	s := Set{Name: name, Source: source}
	for _, n := range tpi {
		in, err := strconv.ParseFloat(strconv.FormatFloat(1/n/(2*half.Cos()), 'f', 5, 64), 64)
		if err != nil {
			panic(err)
		}
		s.Sizes = append(s.Sizes, unit.Length(in)*unit.Inch)
	}
	return s
}

// SetByName finds a set.
func SetByName(name string) (Set, error) {
	hint := ""
	for i, s := range sets() {
		if s.Name == name {
			return s, nil
		}
		if i > 0 {
			hint += ", "
		}
		hint += s.Name
	}
	return Set{}, &unit.InputError{Field: "set of wires", Value: name, Reason: "is not known", Hint: "known are " + hint + "; or list the sizes you own"}
}
