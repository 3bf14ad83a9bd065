package shaft

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// beamCase is a bar of docs/validation/calculix_beams.json.
type beamCase struct {
	Name     string
	E        float64
	Nu       float64
	Rho      float64
	Sections [][3]float64 // diameter, bore, length
	Head     string
	Tail     any // "free", "pinned" or a spring in N/mm; the solids float in space and have neither
	Rests    [][2]float64
}

func (c beamCase) work() Work {
	w := Work{Stuff: Stuff{unit.Stress(c.E), c.Nu, unit.Density(c.Rho)}, Head: joint(c.Head), Tail: joint(c.Tail)}
	for _, s := range c.Sections {
		w.Sections = append(w.Sections, Section{Diameter: unit.Length(s[0]), Bore: unit.Length(s[1]), Length: unit.Length(s[2])})
	}
	for _, r := range c.Rests {
		w.Rests = append(w.Rests, Rest{unit.Length(r[0]), unit.Stiffness(r[1])})
	}
	return w
}

// floating returns the bar as the solids were computed: bent over its two end
// sections, and vibrating in space, which a pair of very soft springs stands for.
func (c beamCase) floating(vibrating bool) Work {
	c.Head, c.Tail = "pinned", "pinned"
	if !vibrating {
		return c.work()
	}
	c.Head, c.Tail = "free", "free"
	length := 0.0
	for _, s := range c.Sections {
		length += s[2]
	}
	c.Rests = [][2]float64{{0, 0.01}, {length, 0.01}}
	return c.work()
}

func joint(v any) Joint {
	switch v {
	case "clamped":
		return Clamped()
	case "pinned":
		return Pinned()
	case "free":
		return Free()
	}
	return Joint{Radial: unit.Stiffness(v.(float64))}
}

// TestCalculiXBeams compares with the same bars solved by a general finite-element
// program with beam elements; docs/validation keeps the script, its input and its
// output.
func TestCalculiXBeams(t *testing.T) {
	for _, r := range rows(t, "calculix_beams") {
		b := bar(t, r.bar.work(), false)
		r.claim.Ours = r.ours(t, b, 0)
		outside.Check(t, r.claim)
	}
}

// TestCalculiXSolids compares stubby bars with true solids, which know nothing of
// beams: it is the test of shear and rotary inertia.
func TestCalculiXSolids(t *testing.T) {
	for _, r := range rows(t, "calculix_solids") {
		b := bar(t, r.bar.floating(r.mode > 0), false)
		r.claim.Ours = r.ours(t, b, 2) // two modes are the bar swaying on its springs
		if strings.HasPrefix(r.claim.What, "solid aluminium") && r.mode < 2 {
			r.claim.Decision = "behind an abrupt step the corner of the thicker length carries little, so the real bar bends up to 6 % more; " +
				"far less than the doubt in any joint, so a beam's step is kept simple"
		}
		outside.Check(t, r.claim)
	}
}

// row is one line of the program's output.
type row struct {
	bar       beamCase
	mode      int // zero for a deflection
	at, force float64
	claim     outside.Claim
}

func (r row) ours(t *testing.T, b *Bar, skip int) float64 {
	if r.mode > 0 {
		return frequencies(t, b, r.mode+skip)[r.mode+skip-1]
	}
	return bends(t, b, r.at, r.force)
}

func rows(t *testing.T, name string) []row {
	t.Helper()
	text, err := os.ReadFile("../docs/validation/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []beamCase
	if err := json.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	output, err := os.ReadFile("../docs/validation/" + name + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	if hash := fmt.Sprintf("%s.json sha256 %x\n", name, sha256.Sum256(text)); !strings.Contains(string(output), hash) {
		t.Fatalf("%s.csv was not made from the %s.json beside it", name, name)
	}
	rd := csv.NewReader(bytes.NewReader(output))
	rd.Comment = '#'
	lines, err := rd.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%s.csv: %v", name, err)
		}
		return v
	}
	seen := map[string]bool{}
	var out []row
	for _, l := range lines[1:] {
		i := slices.IndexFunc(cases, func(c beamCase) bool { return c.Name == l[0] })
		if i < 0 {
			t.Fatalf("%s.csv: no bar %q in the input", name, l[0])
		}
		seen[l[0]] = true
		r := row{bar: cases[i], claim: outside.Claim{
			What: l[0] + ": " + l[1], Source: "docs/validation/" + name + ".py, CalculiX 2.20", Status: outside.Computed,
			Published: number(l[4]), Unit: l[5], Tolerance: 0.015 * number(l[4]),
		}}
		if mode, ok := strings.CutPrefix(l[1], "frequency "); ok {
			r.mode = int(number(mode))
		} else {
			r.at, r.force = number(l[2]), number(l[3])
			r.claim.What += " at " + l[2] + " mm"
		}
		out = append(out, r)
	}
	if len(seen) != len(cases) {
		t.Fatalf("%s.csv has %d of the %d bars", name, len(seen), len(cases))
	}
	return out
}
