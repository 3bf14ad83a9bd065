package gauge

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"thrum/unit"
)

// Expansion is a coefficient of linear thermal expansion, per kelvin.
type Expansion float64

// reference is the temperature at which every size on a drawing holds (ISO 1).
const reference = 20 * unit.Celsius

// Warmth is the temperature of a thing and how its material grows. The zero value
// stands for a thing at 20 degrees.
type Warmth struct {
	Known     bool // false: taken to be at 20 degrees
	At        unit.Temperature
	Expansion Expansion
}

// Growth returns the factor by which the thing is larger than at 20 degrees:
//
//	1 + alpha (T - 20)
//
// Source: ISO 1 for the reference temperature.
func (w Warmth) Growth() float64 {
	if !w.Known {
		return 1
	}
	return 1 + float64(w.Expansion)*float64(w.At-reference)
}

func (w Warmth) check(field string) error {
	if !w.Known {
		return nil
	}
	if !(w.At >= -40) || !(w.At <= 200) {
		return &unit.InputError{Field: "temperature of the " + field, Value: fmt.Sprintf("%g °C", float64(w.At)), Reason: "is not a temperature to measure at", Hint: "-40 to 200 °C is accepted; let warm parts cool before the finish passes"}
	}
	if !(w.Expansion >= 0) || !(w.Expansion <= 1e-4) {
		return &unit.InputError{Field: "expansion of the " + field, Value: strconv.FormatFloat(float64(w.Expansion), 'g', 4, 64), Reason: "is not a coefficient of expansion per kelvin", Hint: "steel has about 11.5e-6"}
	}
	return nil
}

// Material is one line of the table of expansion coefficients.
type Material struct {
	Name      string
	Expansion Expansion
	Source    string
}

//go:embed data/expansion.csv
var expansionCSV string

// Materials lists the expansion coefficients at room temperature that are at hand.
func Materials() []Material { return append([]Material(nil), materials()...) }

var materials = sync.OnceValue(func() []Material {
	var list []Material
	for _, rec := range table(expansionCSV, 3) {
		v, err := strconv.ParseFloat(rec[1], 64)
		if err != nil {
			panic(fmt.Sprintf("gauge: expansion.csv: %v", err)) // our own table
		}
		list = append(list, Material{Name: rec[0], Expansion: Expansion(v * 1e-6), Source: rec[2]})
	}
	return list
})

// ExpansionOf returns the coefficient of a material of the table.
func ExpansionOf(name string) (Expansion, error) {
	var names []string
	for _, m := range materials() {
		if strings.EqualFold(m.Name, strings.TrimSpace(name)) {
			return m.Expansion, nil
		}
		names = append(names, m.Name)
	}
	return 0, &unit.InputError{Field: "material", Value: name, Reason: "is not in the table of expansion coefficients", Hint: "known are " + strings.Join(names, ", ")}
}

// table reads one of the embedded tables, without its comments and header line.
func table(text string, fields int) [][]string {
	rd := csv.NewReader(strings.NewReader(text))
	rd.Comment = '#'
	rd.FieldsPerRecord = fields
	recs, err := rd.ReadAll()
	if err != nil {
		panic(fmt.Sprintf("gauge: embedded table: %v", err))
	}
	return recs[1:]
}
