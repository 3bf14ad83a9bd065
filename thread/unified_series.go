package thread

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"thrum/unit"
)

//go:embed data/unified_series.csv
var unifiedSeriesData string

// unifiedKey is a size in inches and the threads per inch.
type unifiedKey struct{ size, tpi unit.Ratio }

type unifiedEntry struct {
	unifiedKey
	series string
}

// unifiedTable is the standard series in the order of the file, for lists and hints.
var unifiedTable = sync.OnceValue(func() (list []unifiedEntry) {
	for _, f := range unifiedLines() {
		for _, s := range strings.Fields(f[2]) {
			list = append(list, unifiedEntry{unifiedKey{unifiedTableSize(s), number(f[1])}, f[0]})
		}
	}
	return list
})

// unifiedTableSize reads a size of our own tables: #10, 1/2, 1-1/8.
func unifiedTableSize(s string) unit.Ratio {
	if n, ok := strings.CutPrefix(s, "#"); ok {
		return unit.MustRatio(60+13*number(n).Num(), 1000)
	}
	return number(s)
}

// unifiedStandard returns the series ("UNC", "UNF", "UNEF", "UN") that lists this
// size at this pitch. It looks for the size as it is written in the file, since
// one callout is read far more often than the whole table is needed.
func unifiedStandard(size, tpi unit.Ratio) (series string, ok bool) {
	pitch, text := numberText(tpi), unifiedSizeText(size)
	for _, f := range unifiedLines() {
		if f[1] != pitch {
			continue
		}
		for _, s := range strings.Fields(f[2]) {
			if s == text {
				return f[0], true
			}
		}
	}
	return "", false
}

var unifiedLines = sync.OnceValue(func() [][]string { return readTable(unifiedSeriesData) })

func unifiedSeries() []SeriesRow {
	var rows []SeriesRow
	for _, e := range unifiedTable() {
		p, err := perInch(e.tpi)
		if err != nil {
			panic(err)
		}
		rows = append(rows, SeriesRow{
			Family: UnifiedFamily, Series: e.series,
			Designation: unifiedSizeText(e.size) + "-" + numberText(e.tpi) + " " + e.series,
			Nominal:     inches(e.size.Float()), Pitch: p, System: unit.Inches,
		})
	}
	return rows
}

// neighbours is the hint for a combination that no series has: the pitches of
// this size, or the nearest sizes with this pitch.
func (u *unifiedThread) neighbours() string {
	var pitches []unifiedEntry
	var below, above *unifiedEntry
	for i, e := range unifiedTable() {
		if e.size == u.size {
			pitches = append(pitches, e)
		}
		if e.series == "UNEF" || e.series == "UN" {
			continue // for the nearest size, only the common series
		}
		if c := e.size.Cmp(u.size); c < 0 && (below == nil || e.size.Cmp(below.size) > 0) {
			below = &unifiedTable()[i]
		} else if c > 0 && (above == nil || e.size.Cmp(above.size) < 0) {
			above = &unifiedTable()[i]
		}
	}
	special := fmt.Sprintf("write %s-%s UNS to use it anyway", unifiedSizeText(u.size), numberText(u.tpi))
	if len(pitches) > 0 {
		slices.SortStableFunc(pitches, func(a, b unifiedEntry) int { return a.tpi.Cmp(b.tpi) })
		var names []string
		for _, e := range pitches {
			names = append(names, numberText(e.tpi)+" "+e.series)
		}
		return unifiedSizeText(u.size) + " has " + strings.Join(names, ", ") + "; " + special
	}
	var names []string
	for _, e := range []*unifiedEntry{below, above} {
		if e != nil {
			names = append(names, unifiedSizeText(e.size))
		}
	}
	return "nearest sizes " + strings.Join(names, " and ") + "; " + special
}

// unifiedSizeText writes a size as the standard does: #10, 1/2, 1-1/8, .300.
func unifiedSizeText(size unit.Ratio) string {
	for n := int64(0); n <= 12; n++ {
		if k, err := unit.NewRatio(60+13*n, 1000); err == nil && k == size {
			return "#" + strconv.FormatInt(n, 10)
		}
	}
	if d := size.Den(); d <= 64 && d&(d-1) == 0 {
		w, r := size.Num()/d, size.Num()%d
		switch {
		case r == 0:
			return strconv.FormatInt(w, 10)
		case w == 0:
			return fmt.Sprintf("%d/%d", r, d)
		}
		return fmt.Sprintf("%d-%d/%d", w, r, d)
	}
	return decimalInches(size)
}

// decimalInches writes .300 or 1.0625: no leading zero, at least three places.
// A fraction that has no end as a decimal stays a fraction.
func decimalInches(v unit.Ratio) string {
	for places := 3; places <= 12; places++ {
		if s := strconv.FormatFloat(v.Float(), 'f', places, 64); sameNumber(s, v) {
			return strings.TrimPrefix(s, "0")
		}
	}
	return v.String()
}

// numberText writes a number exactly and short: 13, 4.5.
func numberText(v unit.Ratio) string {
	for places := 0; places <= 12; places++ {
		if s := strconv.FormatFloat(v.Float(), 'f', places, 64); sameNumber(s, v) {
			return s
		}
	}
	return v.String()
}

func sameNumber(s string, v unit.Ratio) bool {
	r, err := unit.ParseRatio(s)
	return err == nil && r == v
}
