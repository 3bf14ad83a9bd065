package gauge

import (
	"crypto/sha256"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

const validation = "../docs/validation"

// records reads a CSV file with a header line and lines of comment.
func records(t testing.TB, name string) []map[string]string {
	t.Helper()
	all := outside.Table(t, filepath.Join(validation, name))
	var rows []map[string]string
	for _, rec := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = rec[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, row map[string]string, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[name], 64)
	if err != nil {
		t.Fatalf("%s: %s: %v", row["id"], name, err)
	}
	return v
}

func length(t testing.TB, row map[string]string, name string) unit.Length {
	return unit.Length(number(t, row, name))
}

// flanksOf reads the thread of one case.
func flanksOf(t testing.TB, row map[string]string) Flanks {
	f := Flanks{
		Side:     thread.External,
		Leading:  unit.Angle(number(t, row, "leading_deg")) * unit.Degree,
		Trailing: unit.Angle(number(t, row, "trailing_deg")) * unit.Degree,
		Pitch:    length(t, row, "pitch_mm"),
		Lead:     length(t, row, "pitch_mm") * length(t, row, "starts"),
	}
	if row["kind"] == "ball" {
		f.Side = thread.Internal
	}
	return f
}

// TestSeatAgainstNumericalSearch compares the seat with a search that knows only
// the two surfaces: nine forms, lead angles of 2.5 to 25 degrees, wires at, below
// and above the best size, and balls in internal threads.
func TestSeatAgainstNumericalSearch(t *testing.T) {
	cases, err := os.ReadFile(filepath.Join(validation, "over_wires.cases.csv"))
	if err != nil {
		t.Fatal(err)
	}
	result, err := os.ReadFile(filepath.Join(validation, "over_wires.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if sum := fmt.Sprintf("input sha256: %x", sha256.Sum256(cases)); !strings.Contains(string(result), sum) {
		t.Fatal("docs/validation/over_wires.csv was made from another list of cases; run docs/validation/run.sh --update over_wires")
	}
	want := map[string]map[string]string{}
	for _, row := range records(t, "over_wires.csv") {
		want[row["id"]] = row
	}
	rows := records(t, "over_wires.cases.csv")
	if len(rows) < 100 || len(rows) != len(want) {
		t.Fatalf("%d cases, %d results", len(rows), len(want))
	}
	worst, fouled := 0.0, 0
	for _, row := range rows {
		w := want[row["id"]]
		if room := number(t, w, "least_room_um"); room < -0.01 {
			t.Errorf("%s: the search itself left the wire cutting in by %v um", row["id"], -room)
		}
		seat, err := flanksOf(t, row).SeatOf(length(t, row, "pitch_diameter_mm"), length(t, row, "size_mm"))
		if err != nil {
			t.Errorf("%s: %v", row["id"], err)
			continue
		}
		over := number(t, w, "over_mm")
		foul, err := flanksOf(t, row).Fouls(length(t, row, "pitch_diameter_mm"), length(t, row, "size_mm"), length(t, row, "major_mm"))
		if err != nil {
			t.Errorf("%s: %v", row["id"], err)
			continue
		}
		if foul > 0 {
			fouled++
			// The wire rides on the edge of the crest: by search it lies higher.
			if over < seat.Over.MM()+1e-4 {
				t.Errorf("%s: said to foul the crest by %v, but by search it seats as deep as without crests", row["id"], foul)
			}
			continue
		}
		outside.Check(t, outside.Claim{
			What: "reading over " + row["kind"] + "s, " + row["id"], Source: "docs/validation/over_wires.py (scipy)",
			Status: outside.Computed, Published: over, Ours: seat.Over.MM(), Unit: "mm", Tolerance: 1e-4,
		})
		worst = math.Max(worst, math.Abs(over-seat.Over.MM()))
		// The lean and the places of contact are where the depth is flat, so the
		// search finds them less sharply than the reading.
		if d := math.Abs(number(t, w, "lean_deg") - seat.Lean.Degrees()); d > 0.01 {
			t.Errorf("%s: leans %.4f°, by search %s°", row["id"], seat.Lean.Degrees(), w["lean_deg"])
		}
		for name, got := range map[string]unit.Length{"leading_contact_mm": seat.Leading, "trailing_contact_mm": seat.Trailing} {
			if d := math.Abs(number(t, w, name) - got.MM()); d > 0.005 {
				t.Errorf("%s: %s %.5f, by search %s", row["id"], name, got.MM(), w[name])
			}
		}
	}
	if fouled < 3 || fouled > 12 {
		t.Errorf("%d cases foul the crest, want the few with a flank of 3° and a large lead angle", fouled)
	}
	t.Logf("largest difference %.5f um over %d cases, %d more foul the crest", worst*1000, len(rows)-fouled, fouled)
}
