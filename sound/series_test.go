package sound

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"thrum/unit"
)

// logOf writes an accelerometer log of a 31 Hz sine along the direction d, with
// gravity on the last axis and steps that waver by the given fraction.
func logOf(rate, seconds, waver float64, d [3]float64, format string) string {
	rng := rand.New(rand.NewPCG(5, 6))
	var b strings.Builder
	b.WriteString("time [ms],ax,ay,az\n")
	for i := range int(rate * seconds) {
		t := (float64(i) + waver*(rng.Float64()-0.5)) / rate
		v := math.Sin(2 * math.Pi * 31 * t)
		fmt.Fprintf(&b, format, 1000*t, d[0]*v, d[1]*v, 9.81+d[2]*v)
	}
	return b.String()
}

func TestAccelerometerLog(t *testing.T) {
	d := [3]float64{0.36, -0.48, 0.8} // length 1
	text := logOf(416, 5, 0.4, d, "%.3f,%.5f,%.5f,%.5f\n")
	s, err := Open(strings.NewReader(text), OpenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	in := s.Info()
	if in.Channels != 3 || math.Abs(in.Rate.Hz()-416) > 8 || in.Names[2] != "az" || in.FullScale != 0 {
		t.Errorf("header read as %+v", in)
	}
	r, err := Load(s, Pick{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for c, w := range r.Direction {
		if math.Abs(w-d[c]) > 0.02 {
			t.Errorf("direction %v, the movement lies along %v", r.Direction, d)
		}
	}
	// The sine comes out at its own frequency, not an octave high.
	mean, _ := meanSD(r.Samples)
	for i := range r.Samples {
		r.Samples[i] -= mean
	}
	if a := amplitudeAt(r.Samples, r.Rate.Hz(), 31); math.Abs(a-1) > 0.05 {
		t.Errorf("amplitude at 31 Hz %.3f, want 1", a)
	}
	if a := amplitudeAt(r.Samples, r.Rate.Hz(), 62); a > 0.03 {
		t.Errorf("amplitude at 62 Hz %.3f, want none", a)
	}
	notes := strings.Join(r.Notes, "\n")
	for _, want := range []string{"times in ms", "even grid", "direction of most movement", "+0.80 az"} {
		if !strings.Contains(notes, want) {
			t.Errorf("notes do not mention %q:\n%s", want, notes)
		}
	}
}

func TestSeriesForms(t *testing.T) {
	tests := []struct {
		name, text string
		given      unit.Frequency
		rate       float64
		channels   int
		first      []float64
	}{
		{"values only", "1\n2\n-3\n", 400, 400, 1, []float64{1, 2, -3}},
		{"two values", "1,5\n-2,6\n3,7\n", 100, 100, 2, []float64{1, 5, -2, 6, 3, 7}},
		{"seconds", "0,1\n0.01,2\n0.02,3\n", 0, 100, 1, []float64{1, 2, 3}},
		{"milliseconds", "t,a\n0,1\n5,2\n10,3\n", 0, 200, 1, []float64{1, 2, 3}},
		{"nanoseconds", "0 1\n2500000 2\n5000000 3\n", 0, 400, 1, []float64{1, 2, 3}},
		{"microseconds by title", "time (us);x\n0;1\n10000;2\n20000;3\n", 0, 100, 1, []float64{1, 2, 3}},
		{"decimal comma", "0,00;1,5\n0,01;2,5\n0,02;-1,5\n", 0, 100, 1, []float64{1.5, 2.5, -1.5}},
		{"remarks and a byte order mark", "\ufeff# sensor 3\n\n\"time\",\"z\"\n0,1\n0.01,2\n\n0.02,3\n", 0, 100, 1, []float64{1, 2, 3}},
		{"one late row", "0,0\n0.01,1\n0.02,2\n0.035,3.5\n0.04,4\n0.05,5\n", 0, 100, 1, []float64{0, 1, 2, 3, 4, 5}},
	}
	for _, tt := range tests {
		s, err := Open(strings.NewReader(tt.text), OpenOptions{Rate: tt.given})
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		in := s.Info()
		if in.Channels != tt.channels || math.Abs(in.Rate.Hz()-tt.rate) > 1e-6*tt.rate {
			t.Errorf("%s: header read as %+v", tt.name, in)
		}
		got := readAll(t, s)
		for i, want := range tt.first {
			if v := got[i%tt.channels][i/tt.channels]; math.Abs(v-want) > 1e-9 {
				t.Errorf("%s: value %d is %g, want %g", tt.name, i, v, want)
			}
		}
	}
}

func TestSeriesRefused(t *testing.T) {
	for name, tt := range map[string]struct{ text, hint string }{
		"no rate":         {"1\n2\n3\n", "samples per second"},
		"a word":          {"0,1\n0.01,2\n0.02,oops\n0.03,4\n", "one instant a line"},
		"hourly":          {"0,1\n3600000000000000,2\n7200000000000000,3\n", "seconds"},
		"backwards":       {"0,1\n0.01,2\n0.02,3\n0.03,3\n0.04,3\n" + strings.Repeat("0.05,1\n", 1) + "0.01,2\n", "samples per second"},
		"a gap":           {"0,1\n0.01,2\n0.02,3\n9,4\n9.01,5\n", "without gaps"},
		"a missing field": {"0,1\n0.01,2\n0.02\n", ""},
	} {
		s, err := Open(strings.NewReader(tt.text), OpenOptions{})
		if err == nil {
			_, err = Load(s, Pick{}, 0)
		}
		wantInputError(t, name, err, tt.hint)
	}
}
