package photo

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// tracedCase is one photograph by the ray tracer with what is true of it.
type tracedCase map[string]string

func (c tracedCase) number(t *testing.T, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(c[name], 64)
	if err != nil {
		t.Fatalf("%s: %s: %v", c["name"], name, err)
	}
	return v
}

func tracedCases(t *testing.T) []tracedCase {
	t.Helper()
	var out []tracedCase
	for _, row := range outside.Named(t, filepath.Join("testdata", "traced", "cases.csv")) {
		out = append(out, row)
	}
	return out
}

// Photographs that POV-Ray made of meshes with a known number of marks. What is
// accepted must be right within 1.5 per cent; a thread without marks must never be
// accepted. At least eight of the nine with marks are to be accepted: they are
// within the conditions under which the reading promises four in five.
func TestTracedPhotographs(t *testing.T) {
	const source = "POV-Ray 3.7 rendering of a mesh, docs/validation/photo/traced.py"
	accepted, with := 0, 0
	for _, c := range tracedCases(t) {
		b, err := os.ReadFile(filepath.Join("testdata", "traced", c["name"]+".jpg"))
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := Decode(bytes.NewReader(b), Limits{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := NewPicture(img)
		if err != nil {
			t.Fatal(err)
		}
		th := Thread{
			Pitch: unit.Length(c.number(t, "pitch_mm")), Major: unit.Length(c.number(t, "major_mm")),
			Starts: int(c.number(t, "starts")), Left: c["hand"] == "left",
		}
		r, err := Measure(p, th, Options{})
		if err != nil {
			t.Errorf("%s: %v", c["name"], err)
			continue
		}
		truth := c.number(t, "marks")
		t.Logf("%-16s truth %.1f: %s %.2f ± %.2f, peak %.1f, votes %.2f", c["name"], truth, r.Verdict, r.MarksPerTurn, r.Uncertainty, r.Peak, r.Votes)
		if truth > 0 {
			with++
		}
		if r.Verdict != Accepted {
			continue
		}
		if truth == 0 {
			t.Errorf("%s has no marks, and %.1f per turn were accepted", c["name"], r.MarksPerTurn)
			continue
		}
		accepted++
		outside.Check(t, outside.Claim{
			What: "marks per turn, ray-traced photo " + c["name"], Source: source, Status: outside.Computed,
			Published: truth, Ours: r.MarksPerTurn, Unit: "marks per turn", Tolerance: 0.015 * truth,
		})
		if math.Abs(r.MarksPerTurn-truth) > 3*r.Uncertainty {
			t.Errorf("%s: %.2f ± %.2f does not cover %.1f", c["name"], r.MarksPerTurn, r.Uncertainty, truth)
		}
		if g := r.Geometry; g != nil {
			outside.Check(t, outside.Claim{
				What: "camera distance, ray-traced photo " + c["name"], Source: source, Status: outside.Computed,
				Published: c.number(t, "distance_mm"), Ours: g.Distance.MM(), Unit: "mm", Tolerance: 0.1 * c.number(t, "distance_mm"),
			})
		}
	}
	if accepted < with-1 {
		t.Errorf("%d of %d photographs with marks were accepted", accepted, with)
	}
}
