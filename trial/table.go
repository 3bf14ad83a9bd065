package trial

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
)

// WriteCSV writes the samples as a table that ReadCSV reads back: sample, arm, score,
// block where there are blocks, undersize_mm, and the conditions by name.
func WriteCSV(w io.Writer, samples []Sample) error {
	var names []string
	blocks := false
	for _, s := range samples {
		blocks = blocks || s.Block != ""
		for n := range s.Conditions {
			if !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	slices.Sort(names)
	head := []string{"sample", "arm", "score", "undersize_mm"}
	if blocks {
		head = append(head, "block")
	}
	c := csv.NewWriter(w)
	rows := [][]string{append(head, names...)}
	for _, s := range samples {
		row := []string{s.Name, s.Arm, number(s.Score), number(s.Undersize.MM())}
		if blocks {
			row = append(row, s.Block)
		}
		for _, n := range names {
			row = append(row, s.Conditions[n])
		}
		rows = append(rows, row)
	}
	return c.WriteAll(rows)
}

// number writes a value so that reading it gives the same value.
func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
