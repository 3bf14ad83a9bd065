package lathe

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thrum/unit"
)

var update = flag.Bool("update", false, "rewrite golden files")

// The summaries of both examples, as a machinist reads them.
func TestDescribe(t *testing.T) {
	for _, name := range []string{"inch-bench", "metric-geared"} {
		got := Describe(example(t, name+".toml"))
		golden := filepath.Join("testdata", name+".txt")
		if *update {
			if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s: got\n%s", name, got)
		}
	}
}

// A file with only the required keys is a lathe too, and says what is not known.
func TestLeastFile(t *testing.T) {
	l, err := Parse("least.toml", []byte(`
name = "Old lathe (invented)"
units = "mm"
bed = { swing = 200, between_centres = 500 }
leadscrew = { lead = 3 }
spindle = { nose = "flange" }
motor = { kind = "treadle" }
[cross_slide.dial]
reads = "direct"
division = 0.05
divisions = 60
[compound.dial]
reads = "direct"
division = 0.05
divisions = 60
[[speed]]
rpm = 60
label = "foot"
`))
	if err != nil {
		t.Fatal(err)
	}
	if l.Leadscrew.Starts != 1 || l.Drive.StudRatio != unit.Whole(1) || l.Carriage.HalfNuts != HalfNutsLever || l.Brake.Kind != NoBrake || l.CrossSlide.Dial.Units != unit.Metric {
		t.Errorf("what is not said: %+v", l)
	}
	keys := map[string]bool{}
	for _, m := range l.Missing() {
		keys[m.Key] = true
		if m.How == "" {
			t.Errorf("%s: how to measure it is not said", m.Key)
		}
	}
	for _, k := range []string{"speed.coast_turns", "cross_slide.dial.lost_motion", "compound.dial.lost_motion", "compound.protractor", "chuck.max_rpm", "stiffness"} {
		if !keys[k] {
			t.Errorf("%s is not asked for", k)
		}
	}
	if ts, err := Trains(l, unit.Whole(3), Options{}); err != nil || !ts[0].Exact || len(ts[0].Wheels) != 0 {
		t.Errorf("its only lead: %v, %v", ts, err)
	}
	if ok, why := l.CanReverse(); ok || !strings.Contains(why, "no reversing switch") {
		t.Errorf("reverse: %v %q", ok, why)
	}
	if d := Describe(l); !strings.Contains(d, "a fixed train") || !strings.Contains(d, "exact: 3\n") {
		t.Errorf("summary:\n%s", d)
	}
}
