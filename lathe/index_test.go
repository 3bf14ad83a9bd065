package lathe

import (
	"slices"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

func method(t *testing.T, ms []IndexMethod, k IndexKind) IndexMethod {
	t.Helper()
	i := slices.IndexFunc(ms, func(m IndexMethod) bool { return m.Kind == k })
	if i < 0 {
		t.Fatalf("no method %q", k)
	}
	return ms[i]
}

func TestIndexMethods(t *testing.T) {
	inch, metric := example(t, "inch-bench.toml"), example(t, "metric-geared.toml")
	// Two starts of 8 threads per inch: a lead of 1/4 in.
	lead := unit.MustRatio(127, 20)
	ts, err := Trains(inch, lead, Options{Keep: 1})
	if err != nil {
		t.Fatal(err)
	}
	ms := inch.IndexMethods(lead, 2, &ts[0])
	m := method(t, ms, IndexCompound)
	if !m.Possible || m.Shift != 3.175 || m.Error > 1e-9 || !strings.Contains(m.Text, "1 turn + .025 in (direct dial)") || !strings.Contains(m.Conflicts[0], "straight in") {
		t.Errorf("compound: %+v", m)
	}
	m = method(t, ms, IndexStudWheel)
	if !m.Possible || m.Count != ts[0].Wheels[0].Teeth/2 || !strings.Contains(m.Text, "Power off") {
		t.Errorf("stud wheel: %+v with %v", m, ts[0])
	}
	// 8 tpi screw, 1/4 in lead: lines of the 16-tooth dial lie 1/4 in apart, all meet
	// the same start; the second start lies 1/8 in on, between lines.
	if m = method(t, ms, IndexDial); m.Possible {
		t.Errorf("dial: %+v", m)
	}
	if m = method(t, ms, IndexFaceplate); !m.Possible || m.Count != 3 || !strings.Contains(m.Text, "3rd slot") {
		t.Errorf("faceplate: %+v", m)
	}
	if m = method(t, ms, IndexPlate); m.Possible || !strings.Contains(m.Text, "index plate") {
		t.Errorf("index plate: %+v", m)
	}

	// 1 in lead in 4 starts: lines 1/4 in apart are the starts.
	ms = inch.IndexMethods(unit.MustRatio(127, 5), 4, nil)
	m = method(t, ms, IndexDial)
	if !m.Possible || len(m.Lines) != 4 || !slices.Equal(m.Lines[0], []int{0, 4}) || !slices.Equal(m.Lines[1], []int{1, 5}) || !strings.Contains(m.Text, "start 1 on lines 1 and 3") {
		t.Errorf("dial: %+v", m)
	}
	if m = method(t, ms, IndexStudWheel); m.Possible || m.Text != "The train is not settled." {
		t.Errorf("stud: %+v", m)
	}
	if m = method(t, ms, IndexFaceplate); m.Possible || !strings.Contains(m.Text, "6 slots on the faceplate cannot be divided by 4 starts") {
		t.Errorf("faceplate: %+v", m)
	}

	// Three starts on the metric lathe, 4.5 mm lead: the pitch of 1.5 mm falls on a division.
	lead = unit.MustRatio(9, 2)
	tr, err := CheckTrain(metric, "C 2", 32, 80, 80, 96)
	if err != nil {
		t.Fatal(err)
	}
	ms = metric.IndexMethods(lead, 3, tr)
	m = method(t, ms, IndexStudWheel)
	if m.Possible || !strings.Contains(m.Text, "32 teeth, and 1/3 turn of the spindle is 32/3") || !strings.Contains(m.Text, "24, 30, 36") {
		t.Errorf("stud wheel of 32 by three: %+v", m)
	}
	m = method(t, ms, IndexCompound)
	if !m.Possible || m.Shift != 1.5 || len(m.Conflicts) != 1 {
		t.Errorf("compound: %+v", m)
	}
	if m = method(t, metric.IndexMethods(unit.MustRatio(10, 3), 2, nil), IndexCompound); len(m.Conflicts) != 2 || m.Error < 0.006 || m.Error > 0.0067 {
		t.Errorf("a pitch of 5/3 mm between divisions of 0.02: %+v", m)
	}
	if m = method(t, ms, IndexPlate); !m.Possible || m.Count != 12 {
		t.Errorf("index plate of 36: %+v", m)
	}
	if m = method(t, metric.IndexMethods(unit.Whole(150), 4, nil), IndexCompound); m.Possible || !strings.Contains(m.Text, "it travels 90.0 mm") {
		t.Errorf("112.5 mm in all on a compound of 90: %+v", m)
	}
	if inch.IndexMethods(lead, 1, nil) != nil || inch.IndexMethods(unit.Ratio{}, 2, nil) != nil {
		t.Error("a thread of one start needs no index")
	}
}

// The shifts of the collection: lead over starts along the axis, one turn over
// starts round it.
func TestIndexRules(t *testing.T) {
	rows := outside.Rows(t, func(r outside.Row) bool { return r.Quantity == "Multi-start indexing" })
	if len(rows) != 3 {
		t.Fatalf("%d rows, want 3", len(rows))
	}
	metric := example(t, "metric-geared.toml")
	m := method(t, metric.IndexMethods(unit.Whole(6), 3, nil), IndexCompound)
	outside.Check(t, outside.Claim{
		What: "shift along the axis for the next of 3 starts, lead 6 mm", Source: rows[0].ID + " " + rows[0].Source, Status: rows[0].Status(),
		Published: 2, Ours: m.Shift.MM(), Unit: "mm", Tolerance: 1e-9,
	})
	tr, err := CheckTrain(metric, "C 1", 36, 80, 80, 96)
	if err != nil {
		t.Fatal(err)
	}
	outside.Check(t, outside.Claim{
		What: "teeth of a 36 stud wheel for the next of 3 starts", Source: rows[1].ID + " " + rows[1].Source, Status: rows[1].Status(),
		Published: 12, Ours: float64(method(t, metric.IndexMethods(unit.Whole(6), 3, tr), IndexStudWheel).Count), Unit: "teeth",
	})
}
