package piece

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/examples"
	"thrum/internal/outside"
	"thrum/plan"
	"thrum/unit"
)

func request(t testing.TB, callout, lathe, material string, length, stickout unit.Length, sys unit.System) plan.Request {
	t.Helper()
	text, ok := examples.Lathe(lathe)
	if !ok {
		t.Fatal(lathe + " is missing")
	}
	return plan.Request{Callout: callout, Units: sys, Lathe: text, Material: material, Length: length, Stickout: stickout}
}

func vice(t testing.TB) plan.Request {
	return request(t, "1/2-13 UNC-2A", "inch-bench", "1018", unit.Inch, 2*unit.Inch, unit.Inches)
}

func made(t testing.TB, r plan.Request) *plan.Plan {
	t.Helper()
	p, err := plan.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// What is left on the dial for a reading, against the three-wire formula worked by
// hand: M = E - (P/2) cot 30 + W [1 + (cosec^2 30 + cot^2 30 tan^2 L)^(1/2)], and the
// compound at 29 degrees feeds (E - target) / (2 cos 29).
func TestTableAgainstWireFormula(t *testing.T) {
	p := made(t, vice(t))
	table := TableOf(p)
	const pitch, wire, target, cos29 = 1.0 / 13, 1.0 / 13 / 2 / 0.8660254, 0.4460, 0.8746197
	reading := func(e float64) float64 {
		tan := pitch / math.Pi / e
		return e - pitch/2*1.7320508 + wire*(1+math.Sqrt(4+3*tan*tan))
	}
	for _, left := range []float64{.004, .008, .012, .016} {
		m := reading(target + 2*left*cos29)
		words, verdict := table.Left(unit.Length(m) * unit.Inch)
		var ours float64
		if _, err := fmt.Sscanf(words, "%f in (direct dial)", &ours); err != nil || verdict != "not at size yet" {
			t.Fatalf("a reading of %.4f in leaves %q, %s", m, words, verdict)
		}
		outside.Check(t, outside.Claim{
			What:   fmt.Sprintf("infeed left at %.4f in over wires, 1/2-13 UNC-2A, compound at 29°", m),
			Source: "three-wire formula of ASME B1.2 worked by hand in this test", Status: outside.Memory,
			Published: left, Ours: ours, Unit: "in", Tolerance: .0005,
		})
	}
	if words, verdict := table.Left(unit.Length(reading(target)) * unit.Inch); words != "nothing" || verdict != "inside the limits" {
		t.Errorf("at the size aimed at: %q, %s", words, verdict)
	}
	if _, verdict := table.Left(.5 * unit.Inch); !strings.Contains(verdict, "too much") {
		t.Errorf("far below size: %s", verdict)
	}
	if words, verdict := table.Left(.60 * unit.Inch); words != "" || !strings.Contains(verdict, "seat") {
		t.Errorf("before the wires seat: %q, %s", words, verdict)
	}
}

// Each step of the example says what the sheet says, with the dial's own unit and kind.
func TestSteps(t *testing.T) {
	for _, c := range []struct {
		r              plan.Request
		slide, to      string
		kind, withdraw string
	}{
		{vice(t), "COMPOUND", ".005 in", "direct dial", "CROSS out, towards you"},
		{request(t, "M10x1.5-6g", "metric-geared", "C45", 25, 50, unit.Metric), "COMPOUND", "mm", "direct dial", "CROSS out, towards you"},
		{request(t, "3/4-10 UNC-2B", "inch-bench", "1018", unit.Inch, 1.5*unit.Inch, unit.Inches), "COMPOUND", " in", "direct dial", "CROSS in, away from you, off the thread"},
	} {
		p := made(t, c.r)
		steps := Steps([]Link{{Plan: p}})
		if len(steps) != len(p.Passes)+5 {
			t.Fatalf("%s: %d steps for %d passes", c.r.Callout, len(steps), len(p.Passes))
		}
		order := []string{GateSetup, GateZero, GateAir, GateScratch}
		for i, id := range order {
			if steps[i].ID != id || steps[i].Kind != Gate {
				t.Errorf("%s: step %d is %s, want the gate %s", c.r.Callout, i+1, steps[i].ID, id)
			}
		}
		first := steps[4]
		if first.Title != fmt.Sprintf("Pass 1 of %d", len(p.Passes)) || first.Clear != c.withdraw || first.Room == "" || first.End == "" {
			t.Errorf("%s: the first pass is %+v", c.r.Callout, first)
		}
		i := slices.IndexFunc(first.Dials, func(d Dial) bool { return d.Slide == c.slide })
		if i < 0 || !strings.Contains(first.Dials[i].To, c.to) || first.Dials[i].Kind != c.kind {
			t.Errorf("%s: dials of the first pass %+v", c.r.Callout, first.Dials)
		}
		for _, s := range steps {
			text := fmt.Sprintf("%+v", s)
			if strings.Contains(strings.ToLower(text), "open now") || strings.Contains(text, "thrum passes") {
				t.Errorf("%s: %s says what it may not: %s", c.r.Callout, s.ID, text)
			}
			if s.Kind == Cut && (s.Before == "" || s.Then == "") {
				t.Errorf("%s: %s does not say where the dials stood", c.r.Callout, s.ID)
			}
		}
		if s := steps[3]; len(s.Sure) != 1 || !strings.Contains(s.Sure[0], "turns of the helix") || !strings.Contains(s.Sure[0], "hand") {
			t.Errorf("%s: the scratch gate wants %q", c.r.Callout, s.Sure)
		}
	}
}

// A new plan takes the place of the passes after it, and the last pass before it
// stays what it was.
func TestChain(t *testing.T) {
	r := vice(t)
	p := made(t, r)
	pitch, err := plan.PitchFromWires(r, .5305*unit.Inch)
	if err != nil {
		t.Fatal(err)
	}
	rest, err := plan.Replan(r, plan.State{After: 11, Pitch: pitch, Last: &p.Passes[10]})
	if err != nil {
		t.Fatal(err)
	}
	steps := Steps([]Link{{Plan: p}, {Plan: rest, After: 11}})
	of := rest.Passes[len(rest.Passes)-1].N
	if len(steps) != of+5 {
		t.Fatalf("%d steps for %d passes", len(steps), of)
	}
	if b := steps[4+11].Before; !strings.Contains(b, p.Passes[10].Compound.Text) {
		t.Errorf("before pass 12 the dials stood %q", b)
	}
	stood := p.Passes[10].Compound.Slide.Inches()
	if last := rest.Passes[len(rest.Passes)-1]; math.Abs(last.Compound.Slide.Inches()-stood-.010) > 1e-6 {
		t.Errorf("the last reading is %s, want %.3f + .010", last.Compound.Text, stood)
	}
	// A second reading after the new passes counts from their dials, not the first plan's.
	again, err := plan.Replan(r, plan.State{After: of, Pitch: pitch, Last: &rest.Passes[len(rest.Passes)-1]})
	if err != nil {
		t.Fatal(err)
	}
	if first, last := again.Passes[0], again.Passes[len(again.Passes)-1]; first.N != of+1 || math.Abs(last.Compound.Slide.Inches()-stood-.020) > 1e-6 {
		t.Errorf("after a second reading: pass %d, last reading %s, want %.3f + .020", first.N, last.Compound.Text, stood)
	}
	// After a fresh zero the same depth is left from 0.
	fresh, err := plan.Replan(r, plan.State{After: 11, Pitch: pitch, FreshZero: true, Last: &p.Passes[10]})
	if err != nil {
		t.Fatal(err)
	}
	if last := fresh.Passes[len(fresh.Passes)-1]; math.Abs(last.Compound.Slide.Inches()-.010) > 1e-6 {
		t.Errorf("from a fresh zero the last reading is %s, want .010", last.Compound.Text)
	}
}

// foldCase is one log and where it leaves the piece. The browser's own code is held
// to the same file.
type foldCase struct {
	Name string  `json:"name"`
	Log  []Entry `json:"log"`
	Want struct {
		Next    string `json:"next"` // of setup, zero, air, scratch, pass-1 ...
		Cut     int    `json:"cut"`
		Last    string `json:"last"`
		Paused  bool   `json:"paused"`
		Crossed bool   `json:"crossed"`
		Again   bool   `json:"again"`
		Waiting string `json:"waiting"`
		Reading string `json:"reading"`
		Fresh   bool   `json:"fresh"`
		Plans   int    `json:"plans"`
	} `json:"want"`
}

func TestFold(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "fold.json"))
	if err != nil {
		t.Fatal(err)
	}
	var cases []foldCase
	if err := json.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	steps := []Step{{ID: GateSetup}, {ID: GateZero}, {ID: GateAir}, {ID: GateScratch}}
	for n := range 9 {
		steps = append(steps, Step{ID: PassID(n + 1)})
	}
	for _, c := range cases {
		s := Fold(c.Log)
		got := c.Want
		got.Next, got.Last, got.Waiting, got.Reading = "", id(s.Last), id(s.Waiting), id(s.Reading)
		if n := s.Next(steps); n != nil {
			got.Next = n.ID
		}
		got.Cut, got.Paused, got.Crossed, got.Again, got.Fresh, got.Plans = s.Cut, s.Paused, s.Crossed, s.Again != "", s.Fresh, len(s.Plans)
		if got != c.Want {
			t.Errorf("%s:\n got %+v\nwant %+v", c.Name, got, c.Want)
		}
	}
}

func id(e *Entry) string {
	if e == nil {
		return ""
	}
	return e.ID
}

// Doing something and taking it back leaves the piece where it was.
func TestUndoTakesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := anyLog(t)
		before := Fold(log)
		e := anyEntry(t, len(log), nil)
		if e.Kind == Undid || e.Kind == Did && before.Done[e.Body.Step] {
			return // an undo of an undo does nothing; a step confirmed twice is taken back whole
		}
		after := Fold(append(slices.Clone(log), e, Entry{ID: "z", Kind: Undid, Undoes: e.ID}))
		if !reflect.DeepEqual(before, after) {
			t.Fatalf("%+v\nwas %+v\n is %+v", e, before, after)
		}
	})
}

// Sent twice or not, a log says the same.
func TestFoldIsSteady(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := anyLog(t)
		s := Fold(log)
		if s.Cut > 0 && !s.Done[PassID(s.Cut)] || s.Done[PassID(s.Cut+1)] {
			t.Fatalf("%d passes cut, done %v", s.Cut, s.Done)
		}
		if !reflect.DeepEqual(s, Fold(log)) {
			t.Fatal("a second reading of the log differs")
		}
	})
}

func anyLog(t *rapid.T) []Entry {
	var log []Entry
	for i := range rapid.IntRange(0, 25).Draw(t, "entries") {
		log = append(log, anyEntry(t, i, log))
	}
	return log
}

func anyEntry(t *rapid.T, i int, log []Entry) Entry {
	kinds := []string{Did, Did, Did, Undid, Measured, Picked, Checked, Resumed, Paused, Noted, Replaned, "later"}
	e := Entry{ID: fmt.Sprintf("e%d", i), Kind: rapid.SampledFrom(kinds).Draw(t, "kind")}
	other := ""
	if len(log) > 0 {
		other = rapid.SampledFrom(log).Draw(t, "other").ID
	}
	switch e.Kind {
	case Did:
		e.Body.Step = PassID(rapid.IntRange(1, 5).Draw(t, "pass"))
	case Undid:
		e.Undoes = other
	case Checked:
		e.Body.What, e.Body.Found = rapid.SampledFrom([]string{"tip", "slip"}).Draw(t, "what"), rapid.SampledFrom([]string{Good, Bad}).Draw(t, "found")
	case Resumed:
		e.Body.Found = rapid.SampledFrom([]string{"moved", "not-moved", Unsure}).Draw(t, "found")
	case Replaned:
		e.Body.Cause = other
	}
	return e
}
