package thread

import (
	"slices"

	"thrum/unit"
)

// FamilyInfo describes a system of threads for lists and help pages.
type FamilyInfo struct {
	Name     Family   //
	What     string   // one line: "Unified inch threads, 60°"
	Standard string   // "ASME B1.1"
	Examples []string // callouts that Parse accepts
	Series   []SeriesRow
}

// SeriesRow is one standard combination of size and pitch.
type SeriesRow struct {
	Family      Family
	Series      string      // "UNC", "coarse"
	Designation string      // a callout that Parse accepts: "1/2-13 UNC"
	Nominal     unit.Length // major diameter in the designation
	Pitch       unit.Ratio  // in millimetres, exact
	System      unit.System // the system in which the series is dimensioned
}

// TPI returns the threads per inch, 25.4 mm / P, exactly.
func (r SeriesRow) TPI() unit.Ratio {
	n, err := unit.MustRatio(127, 5).Quo(r.Pitch)
	if err != nil { // a row of our own tables with a zero pitch: a broken invariant
		panic(err)
	}
	return n
}

// family is one entry of the dispatch. A callout goes to the first family that
// claims it; claims looks at the form of the callout only, so that a wrong size
// or class is reported by the family it belongs to.
type family struct {
	info   FamilyInfo // without Series
	claims func(*callout) bool
	parse  func(*callout) (Thread, error)
	series func() []SeriesRow // nil when the family has no standard sizes
}

// families lists all families in the order in which they are asked. Those with
// an unmistakable word or prefix come first; a bare 1/2-13 comes last.
func families() []family {
	return []family{
		unifiedJFamily(),
		unifiedFamily(),
		metricJFamily(),
		metricFamily(),
		trapezoidalFamily(),
		sawtoothFamily(),
		knuckleFamily(),
		pipeFamily(),
		taperPipeFamily(),
		nptFamily(),
		acmeFamily(),
		buttressFamily(),
		squareFamily(),
		baFamily(),
		whitworthFamily(),
		bareUnified(),
	}
}

// Families describes every family that Parse knows, in a fixed order.
func Families() []FamilyInfo {
	var out []FamilyInfo
	for _, f := range families() {
		info := f.info
		if info.Name == "" {
			continue
		}
		if f.series != nil {
			info.Series = f.series()
		}
		out = append(out, info)
	}
	return out
}

// Series lists every standard size of every family, ordered by family and then
// as the standard lists them.
func Series() []SeriesRow {
	var out []SeriesRow
	for _, f := range families() {
		if f.series != nil {
			out = append(out, f.series()...)
		}
	}
	return slices.Clip(out)
}
