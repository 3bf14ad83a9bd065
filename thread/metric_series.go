package thread

import (
	_ "embed"
	"strings"
	"sync"

	"thrum/unit"
)

//go:embed data/metric_series.csv
var metricSeriesData string

// metricRow is one diameter of ISO 261 with its pitches.
type metricRow struct {
	order  int
	coarse unit.Ratio // zero when there is none
	fine   []unit.Ratio
}

var metricTable = sync.OnceValue(func() map[unit.Ratio]metricRow {
	m := map[unit.Ratio]metricRow{}
	for i, f := range readTable(metricSeriesData) {
		row := metricRow{order: i}
		if f[2] != "" {
			row.coarse = number(f[2])
		}
		for _, p := range strings.Fields(f[3]) {
			row.fine = append(row.fine, number(p))
		}
		m[number(f[0])] = row
	}
	return m
})

// series names the series that has this pitch, or "".
func (r metricRow) series(p unit.Ratio) string {
	if p == r.coarse {
		return "coarse"
	}
	for _, f := range r.fine {
		if f == p {
			return "fine"
		}
	}
	return ""
}

// String lists the pitches: "coarse 1.5; fine 1.25, 1, 0.75".
func (r metricRow) String() string {
	var fine []string
	for _, f := range r.fine {
		fine = append(fine, numberText(f))
	}
	s := "fine " + strings.Join(fine, ", ")
	if !r.coarse.IsZero() {
		s = "coarse " + numberText(r.coarse) + "; " + s
	}
	return s
}

// names lists the callouts of this diameter.
func (r metricRow) names(d unit.Ratio) string {
	var s []string
	for _, f := range r.fine {
		s = append(s, "M"+numberText(d)+"x"+numberText(f))
	}
	return strings.Join(s, ", ")
}

// metricDiameters are the diameters of ISO 261 in rising order.
var metricDiameters = sync.OnceValue(func() []unit.Ratio {
	out := make([]unit.Ratio, len(metricTable()))
	for d, row := range metricTable() {
		out[row.order] = d
	}
	return out
})

// metricNeighbours names the standard diameters next to d.
func metricNeighbours(d unit.Ratio) string {
	var near []string
	all := metricDiameters()
	for i, e := range all {
		if e.Cmp(d) > 0 {
			if i > 0 {
				near = append(near, "M"+numberText(all[i-1]))
			}
			near = append(near, "M"+numberText(e))
			break
		}
	}
	if len(near) == 0 {
		near = []string{"M" + numberText(all[len(all)-1])}
	}
	return "nearest standard " + strings.Join(near, " and ")
}

func metricSeries() []SeriesRow {
	var rows []SeriesRow
	for _, d := range metricDiameters() {
		r := metricTable()[d]
		add := func(series string, p unit.Ratio) {
			rows = append(rows, SeriesRow{
				Family: MetricFamily, Series: series, Designation: "M" + numberText(d) + "x" + numberText(p),
				Nominal: d.Length(), Pitch: p, System: unit.Metric,
			})
		}
		if !r.coarse.IsZero() {
			add("coarse", r.coarse)
		}
		for _, p := range r.fine {
			add("fine", p)
		}
	}
	return rows
}
