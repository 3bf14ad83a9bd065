package cut

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"thrum/unit"
)

// EdgeType is the condition of a cutting edge: how sharp it is, and how thin a
// chip it can still cut. A thinner chip is pushed under the edge: it rubs.
type EdgeType struct {
	Name     string
	Material ToolMaterial
	RadiusLo unit.Length // edge radius, lower end of the usual range
	RadiusHi unit.Length
	MinLo    unit.Length // least chip thickness that cuts, lower end of the band
	MinHi    unit.Length
	Source   string
}

//go:embed data/edges.csv
var edgeFile string

var edges = sync.OnceValue(func() []EdgeType {
	rd := csv.NewReader(strings.NewReader(edgeFile))
	rd.Comment = '#'
	rows, err := rd.ReadAll()
	if err != nil {
		panic(err) // our own file; a test reads it
	}
	source := strings.TrimPrefix(strings.SplitN(edgeFile, "\n", 2)[0], "# source: ")
	var out []EdgeType
	for _, r := range rows[1:] {
		um := func(i int) unit.Length {
			v, err := strconv.ParseFloat(r[i], 64)
			if err != nil {
				panic(err)
			}
			return unit.Length(v) * unit.Micrometre
		}
		e := EdgeType{Name: r[0], RadiusLo: um(2), RadiusHi: um(3), MinLo: um(4), MinHi: um(5), Source: source}
		if r[1] == Carbide.String() {
			e.Material = Carbide
		}
		out = append(out, e)
	}
	return out
})

// EdgeTypes returns the known conditions of an edge, the usual one of each tool
// material first.
func EdgeTypes() []EdgeType { return append([]EdgeType(nil), edges()...) }

// FindEdge looks an edge up by name, or by its first word: "stoned", "honed". An
// empty name means the usual edge of that tool material.
func FindEdge(name string, m ToolMaterial) (EdgeType, error) {
	want := strings.ToLower(strings.TrimSpace(name))
	var known []string
	for _, e := range edges() {
		full := strings.ToLower(e.Name)
		word, _, _ := strings.Cut(full, " ")
		if e.Material == m && (want == "" || want == full || want == word) {
			return e, nil
		}
		if e.Material == m {
			known = append(known, e.Name)
		}
	}
	return EdgeType{}, &unit.InputError{
		Field: "edge", Value: name, Reason: fmt.Sprintf("is not a known edge of %s", m), Hint: "write one of: " + strings.Join(known, ", "),
	}
}
