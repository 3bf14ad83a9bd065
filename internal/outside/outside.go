// Package outside compares figures of this program with figures that others
// published: standards, handbook tables, worked examples, papers, and the output
// of general reference programs. It is used by tests only.
//
// A Claim names the quantity, where the outside figure was found, whether that
// page was read, and by how much ours may differ. Check fails the test when it
// differs by more. Where an outside figure is itself in doubt (a misprint, two
// sources that disagree) the claim carries a Decision in words; then the figure
// must really differ, so that a decision cannot outlive its reason.
//
// With THRUM_OUTSIDE_DIR set, every claim is also written there, one JSON object
// a line; the report command in the subfolder turns them into docs/validation.md.
package outside

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
)

// Status says how an outside figure was obtained.
type Status string

// A figure may have been read on a page, recalled, or computed by a general
// reference program whose script is kept in docs/validation.
const (
	Read     Status = "read"
	Memory   Status = "from memory"
	Computed Status = "reference program"
)

// Claim is one comparison with an outside figure.
type Claim struct {
	What      string  `json:"what"`   // "1/2-13 UNC-2A d2 max"
	Source    string  `json:"source"` // page, table, clause or script
	Status    Status  `json:"status"`
	Published float64 `json:"published"`
	Ours      float64 `json:"ours"`
	Unit      string  `json:"unit"`
	Tolerance float64 `json:"tolerance"`          // largest difference accepted, in the same unit
	Decision  string  `json:"decision,omitempty"` // why a difference is right; empty when none is expected
}

// Check fails t when the claim does not hold, and records it.
func Check(t testing.TB, c Claim) {
	t.Helper()
	if c.What == "" || c.Source == "" || c.Status == "" {
		t.Errorf("claim %+v: quantity, source and status are all needed", c)
	}
	diff := math.Abs(c.Published - c.Ours)
	beyond := !(diff <= c.Tolerance*(1+1e-9)+1e-12)
	switch {
	case beyond && c.Decision == "":
		t.Errorf("%s: ours %.8g, published %.8g %s (%s, %s); differs by %.3g, allowed %.3g",
			c.What, c.Ours, c.Published, c.Unit, c.Source, c.Status, diff, c.Tolerance)
	case !beyond && c.Decision != "":
		t.Errorf("%s: ours %.8g agrees with %.8g %s (%s), so the decision %q no longer has a reason",
			c.What, c.Ours, c.Published, c.Unit, c.Source, c.Decision)
	}
	if err := record(c); err != nil {
		t.Errorf("recording %s: %v", c.What, err)
	}
}

var recording sync.Mutex // tests of one package may run in parallel

func record(c Claim) error {
	dir := os.Getenv("THRUM_OUTSIDE_DIR")
	if dir == "" {
		return nil
	}
	recording.Lock()
	defer recording.Unlock()
	line, err := json.Marshal(c)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("%s-%d.jsonl", filepath.Base(os.Args[0]), os.Getpid())
	f, err := os.OpenFile(filepath.Join(dir, name), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(append(line, '\n'))
	return errors.Join(err, f.Close())
}

// Row is one line of the collection of published figures that is kept beside
// this package.
type Row struct {
	ID, Quantity, Designation, Symbol, Value, Unit, Tolerance, Source, Confirmed, Check string
}

// Status translates the row's mark: "yes" means that the figure was read.
func (r Row) Status() Status {
	switch r.Confirmed {
	case "yes":
		return Read
	case "no":
		return Computed
	}
	return Memory
}

// Float returns the row's value and its printed tolerance as numbers; ok is
// false when the row holds a formula or a sentence.
func (r Row) Float() (value, tolerance float64, ok bool) {
	v, err := strconv.ParseFloat(r.Value, 64)
	if err != nil {
		return 0, 0, false
	}
	tol, err := strconv.ParseFloat(r.Tolerance, 64)
	if err != nil {
		tol = math.NaN()
	}
	return v, tol, true
}

//go:embed published.csv
var published []byte

// Rows returns every row of the collection for which keep is true.
func Rows(t testing.TB, keep func(Row) bool) []Row {
	t.Helper()
	rd := csv.NewReader(bytes.NewReader(published))
	rd.FieldsPerRecord = 10
	if _, err := rd.Read(); err != nil {
		t.Fatalf("published.csv: %v", err)
	}
	var rows []Row
	for {
		f, err := rd.Read()
		if err == io.EOF {
			return rows
		}
		if err != nil {
			t.Fatalf("published.csv: %v", err)
		}
		r := Row{f[0], f[1], f[2], f[3], f[4], f[5], f[6], f[7], f[8], f[9]}
		if keep(r) {
			rows = append(rows, r)
		}
	}
}
