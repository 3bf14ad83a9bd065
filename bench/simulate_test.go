package bench

import (
	"math"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"thrum/cut"
	"thrum/internal/made"
	"thrum/shaft"
	"thrum/unit"
	"thrum/vibe"
)

// linearCut is the job of docs/validation/lfilter_speed.py: one mode of 400 Hz, 5 N/um and
// 3 %, one edge of 1.2 times the limiting width.
func linearCut(t testing.TB) vibe.Cutting {
	t.Helper()
	b, err := shaft.New(shaft.Work{
		Sections: []shaft.Section{{Length: 50, Diameter: 100}},
		Stuff:    shaft.Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre},
		Head:     shaft.Clamped(), Tail: shaft.Free(),
		Tool: shaft.Tool{Modes: []shaft.ToolMode{{Frequency: 400, Stiffness: 5000, Damping: 0.03, Along: shaft.Direction{Radial: 1}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	h, err := vibe.Prepare(b, []unit.Length{0})
	if err != nil {
		t.Fatal(err)
	}
	f, err := cut.NewForce(cut.Material{Name: "even", Specific: 2000}, cut.Tool{}, 1000, cut.ThrustRatio(1),
		cut.Without(cut.FactorRake, cut.FactorTool, cut.FactorSpeed, cut.FactorWear, cut.FactorCollide))
	if err != nil {
		t.Fatal(err)
	}
	width, _ := vibe.Oscillator{Frequency: 400, Stiffness: 5000, Damping: 0.03}.Limit(2000)
	in := vibe.Cutting{Holding: h, Force: f, Diameter: 20, Turns: 10, Rate: 50000, Linear: true, Rough: 0.0001}
	for i := range 20 {
		in.Passes = append(in.Passes, vibe.Pass{Speed: 200, Chip: cut.Chip{
			At:       cut.Position{Depth: unit.Length(1e-9 * float64(i+1))}, // hardly any chip, so that its onset starts no waves
			Elements: []cut.Element{{Part: cut.Nose, Length: 1.2 * width, Thickness: 1e-9, Radial: 1}},
		}})
	}
	return in
}

// processor is the processor time that this process has used.
func processor(t testing.TB) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkLinearCutAgainstLfilter measures both in one run, in processor time, since
// other work on the machine slows both down by the clock.
func BenchmarkLinearCutAgainstLfilter(b *testing.B) {
	python := withScipy(b)
	out, err := exec.Command(python, "../docs/validation/lfilter_speed.py").Output()
	if err != nil {
		b.Fatal(err)
	}
	words := strings.Fields(string(out))
	if len(words) != 2 {
		b.Fatalf("lfilter_speed.py printed %q", out)
	}
	theirs, err1 := strconv.ParseFloat(words[0], 64)
	grown, err2 := strconv.ParseFloat(words[1], 64)
	if err1 != nil || err2 != nil {
		b.Fatalf("lfilter_speed.py printed %q", out)
	}
	in := linearCut(b)
	best, ours := math.Inf(1), 0.0
	for b.Loop() {
		start := processor(b)
		s, err := vibe.Simulate(in)
		if err != nil {
			b.Fatal(err)
		}
		best = min(best, (processor(b) - start).Seconds())
		ours = s.Passes[19].Waviness[0].MM() / 0.0001 / math.Sqrt(2.5) // white to 25 kHz, told below 10 kHz
	}
	if r := ours / grown; r < 0.5 || r > 2 {
		b.Fatalf("not the same job: waves became %.3g times the white surface here, %.3g times there", ours, grown)
	}
	b.ReportMetric(1000*best, "ms-here")
	b.ReportMetric(1000*theirs, "ms-lfilter")
	b.ReportMetric(best/theirs, "times-lfilter")
}

// BenchmarkWholeCut is a slender bar with a centre: two flanks and a root, loss of contact, rubbing, an
// unsteady force; 20 passes of 10 turns at 200 rev/min and 50000 steps a second.
func BenchmarkWholeCut(b *testing.B) {
	s := made.Setup{
		Material: "1018", Tool: cut.HSS, Diameter: 12, Out: 150, At: 100, Centre: true, Pitch: 1.75, Depth: 1.07, NoseFlat: 0.22, Passes: 20,
		Speeds: []unit.Rotation{200}, Turns: 10, Unsteady: 0.02, RunIn: 0.5, Rub: 130, PerTurn: 15000,
	}
	in, err := s.Cutting()
	if err != nil {
		b.Fatal(err)
	}
	best := math.Inf(1)
	for b.Loop() {
		start := processor(b)
		if _, err := vibe.Simulate(in); err != nil {
			b.Fatal(err)
		}
		best = min(best, (processor(b) - start).Seconds())
	}
	b.ReportMetric(1000*best, "ms-processor")
}
