package cut

import (
	_ "embed"
	"encoding/csv"
	"strings"
	"sync"
)

// MaterialKey is one key that a material of a file may have, for a form.
type MaterialKey struct {
	Section string
	Name    string
	Label   string
	Kind    string // "word", "words" (a list), "figure", "choice"
	Choices []string
	Needed  bool
	Words   string // what it means
}

//go:embed data/material-keys.csv
var materialKeysCSV string

// MaterialKeys lists every key, in the order in which a form asks for them.
var MaterialKeys = sync.OnceValue(func() []MaterialKey {
	r := csv.NewReader(strings.NewReader(materialKeysCSV))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic("cut: data/material-keys.csv: " + err.Error())
	}
	var out []MaterialKey
	for _, row := range rows[1:] {
		k := MaterialKey{Section: row[0], Name: row[1], Label: row[2], Kind: row[3], Needed: row[5] == "yes", Words: row[6]}
		if row[4] != "" {
			k.Choices = strings.Split(row[4], "|")
		}
		out = append(out, k)
	}
	return out
})
