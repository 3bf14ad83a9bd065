package outside

import (
	"encoding/csv"
	"os"
	"testing"
)

// Table reads a table of reference figures, all its rows with the heading first.
// Lines that begin with # say where they come from and are left out; rows may differ
// in length.
func Table(t testing.TB, file string) [][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	if len(rows) < 2 {
		t.Fatalf("%s holds no figures", file)
	}
	return rows
}

// Named returns the rows under the heading of a table, by the names of its columns.
func Named(t testing.TB, file string) []map[string]string {
	t.Helper()
	rows := Table(t, file)
	var out []map[string]string
	for _, r := range rows[1:] {
		row := map[string]string{}
		for i, name := range rows[0] {
			if i < len(r) {
				row[name] = r[i]
			}
		}
		out = append(out, row)
	}
	return out
}
