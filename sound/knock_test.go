package sound

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"thrum/internal/dsp"
	"thrum/internal/outside"
	"thrum/unit"
)

func load(t testing.TB, path string) *Recording { return loadOptions(t, path, OpenOptions{}) }

func readKept(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func loadOptions(t testing.TB, path string, o OpenOptions) *Recording {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(bytes.NewReader(b), o)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Load(s, Pick{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func loadKept(t testing.TB, name string) *Recording { return load(t, kept(name)) }

func knockFile(t testing.TB, path string) *KnockTest {
	t.Helper()
	k, err := Knock(load(t, path), KnockOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func kept(name string) string { return filepath.Join("testdata", "knock", name) }

// csvRows reads a table with a heading; lines that begin with # are remarks.
func csvRows(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", path, len(rows), err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func value(t testing.TB, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestKnockTruth: the modes that were put into the recordings come out, all of
// them and no others, each inside twice its 95 % interval.
func TestKnockTruth(t *testing.T) {
	const source = "docs/validation/sound/knock_make.py (numpy 1.24, scipy 1.10)"
	byFile := map[string][]trueMode{}
	for _, m := range truths(t, kept("truth.csv")) {
		byFile[m.file] = append(byFile[m.file], m)
	}
	for file, modes := range byFile {
		k := knockFile(t, kept(file))
		if len(k.Modes) != len(modes) {
			t.Errorf("%s: %d modes, want %d", file, len(k.Modes), len(modes))
			continue
		}
		for i, want := range modes {
			m := k.Modes[i]
			outside.Check(t, outside.Claim{
				What: fmt.Sprintf("%s mode %d, frequency", file, i+1), Source: source, Status: outside.Computed,
				Published: want.freq, Ours: m.Freq.Value.Hz(), Unit: "Hz", Tolerance: (m.Freq.High - m.Freq.Low).Hz(),
			})
			outside.Check(t, outside.Claim{
				What: fmt.Sprintf("%s mode %d, damping", file, i+1), Source: source, Status: outside.Computed,
				Published: want.zeta, Ours: float64(m.Damping.Value), Unit: "of critical", Tolerance: float64(m.Damping.High - m.Damping.Low),
			})
			if half := (m.Freq.High - m.Freq.Low).Hz() / 2; half > 0.005*want.freq {
				t.Errorf("%s mode %d: interval of +-%.3f Hz is useless", file, i+1, half)
			}
		}
	}
}

// TestKnockAgainstScipy compares every single tap with a fit by scipy that shares
// no code and no choices: other stretch, other rate, no filter.
func TestKnockAgainstScipy(t *testing.T) {
	tests := map[string]*KnockTest{}
	for _, row := range csvRows(t, kept("scipy.csv")) {
		file := row["file"]
		if tests[file] == nil {
			tests[file] = knockFile(t, kept(file))
		}
		tap := tests[file].Taps[int(value(t, row, "tap"))]
		f, se := value(t, row, "freq_hz"), value(t, row, "freq_se")
		var m *Mode
		for i := range tap.Modes {
			if math.Abs(tap.Modes[i].Freq.Value.Hz()-f) < 8 {
				m = &tap.Modes[i]
			}
		}
		if m == nil {
			t.Errorf("%s at %.2f s: no mode near %.1f Hz", file, tap.At.S(), f)
			continue
		}
		what := fmt.Sprintf("%s tap %s, mode at %.0f Hz", file, row["tap"], f)
		source := "docs/validation/sound/knock_fit.py (scipy 1.10, curve_fit)"
		// The same noise is in both fits, but not over the same stretch.
		outside.Check(t, outside.Claim{What: what, Source: source, Status: outside.Computed, Published: f, Ours: m.Freq.Value.Hz(), Unit: "Hz", Tolerance: 2 * se})
		outside.Check(t, outside.Claim{What: what + ", damping", Source: source, Status: outside.Computed, Published: value(t, row, "damping"), Ours: float64(m.Damping.Value), Unit: "of critical", Tolerance: 2 * value(t, row, "damping_se")})
		if ratio := m.Freq.SE.Hz() / se; ratio < 0.5 || ratio > 2 {
			t.Errorf("%s: standard error %.4f Hz, scipy %.4f", what, m.Freq.SE.Hz(), se)
		}
	}
}

func TestCompareKnock(t *testing.T) {
	c := CompareKnock(knockFile(t, kept("bar.wav")), knockFile(t, kept("centre.wav")))
	// Made with the centre in: 387 Hz gone, 1011 Hz new, 1203 -> 1209.5 Hz, 2410 Hz unchanged.
	got := ""
	for _, s := range c.Shifts {
		got += fmt.Sprintf("%.0f %s, damping %s\n", s.freq().Hz(), s.FreqVerdict, s.DampingVerdict)
	}
	want := "387 only in the first, damping only in the first\n1010 only in the second, damping only in the second\n" +
		"1203 moved, damping moved\n2410 not distinguishable, damping not distinguishable\n"
	if got != want {
		t.Errorf("got:\n%swant:\n%s", got, want)
	}
	s := c.Shifts[2]
	const source = "docs/validation/sound/knock_make.py (numpy 1.24, scipy 1.10)"
	outside.Check(t, outside.Claim{What: "shift of the second mode", Source: source, Status: outside.Computed, Published: 1209.44542 - 1202.95128, Ours: s.Freq.Value.Hz(), Unit: "Hz", Tolerance: (s.Freq.High - s.Freq.Low).Hz()})
	outside.Check(t, outside.Claim{What: "change of its damping", Source: source, Status: outside.Computed, Published: 0.0095 / 0.009, Ours: float64(s.Damping.Value), Tolerance: float64(s.Damping.High - s.Damping.Low)})
	same := CompareKnock(knockFile(t, kept("bar.wav")), knockFile(t, kept("bar.wav")))
	for _, s := range same.Shifts {
		if s.FreqVerdict != NotDistinguishable || s.DampingVerdict != NotDistinguishable {
			t.Errorf("a test against itself: %+v", s)
		}
	}
}

// struck makes a recording of taps at the given times in white noise.
func struck(rate, seconds, noise float64, modes []dsp.Wave, at ...float64) *Recording {
	rng := rand.New(rand.NewPCG(4, uint64(len(at))))
	r := &Recording{Info: Info{Container: WAV, Rate: unit.Frequency(rate), Channels: 1, FullScale: 1}, Rate: unit.Frequency(rate)}
	r.Samples = make([]float64, int(seconds*rate))
	for i := range r.Samples {
		r.Samples[i] = noise * rng.NormFloat64()
	}
	for _, t := range at {
		for _, w := range modes {
			w.Add(r.Samples[int(t*rate):], rate, 1)
		}
	}
	return r
}

var plainMode = []dsp.Wave{{Pole: dsp.Pole{Freq: 500, Decay: 60}, S: 0.4}}

func TestRejected(t *testing.T) {
	clip := struck(22050, 1, 0.001, []dsp.Wave{{Pole: dsp.Pole{Freq: 500, Decay: 60}, S: 3}}, 0.3)
	soft := struck(22050, 1, 0.001, []dsp.Wave{{Pole: dsp.Pole{Freq: 500, Decay: 60}, S: 1}}, 0.3)
	for i, v := range clip.Samples {
		clip.Samples[i] = math.Max(-1, math.Min(1, v))
		soft.Samples[i] = math.Max(-0.4, math.Min(0.4, soft.Samples[i])) // a limiter below full scale
	}
	for _, tt := range []struct {
		name string
		r    *Recording
		taps int
		why  string
	}{
		{"good", struck(22050, 1, 0.001, plainMode, 0.3), 1, ""},
		{"clipped", clip, 1, "clipped"},
		{"limited below full scale", soft, 1, "clipped"},
		{"bounced after 11 ms", struck(22050, 1, 0.001, plainMode, 0.3, 0.311), 1, "struck again after 11 ms"},
		{"bounced after 60 ms", struck(22050, 1, 0.001, plainMode, 0.3, 0.36), 1, "struck again after 60 ms"},
		{"end of file", struck(22050, 0.31, 0.001, plainMode, 0.3), 1, "cut short"},
		{"a click", struck(22050, 1, 0.001, []dsp.Wave{{Pole: dsp.Pole{Freq: 2000, Decay: 9000}, S: 0.5}}, 0.3), 1, "no ring"},
		{"nothing", struck(22050, 1, 0.001, nil), 0, ""},
	} {
		k, err := Knock(tt.r, KnockOptions{})
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		if len(k.Taps) != tt.taps {
			t.Errorf("%s: %d taps, want %d", tt.name, len(k.Taps), tt.taps)
			continue
		}
		if tt.taps == 1 && (!strings.Contains(k.Taps[0].Rejected, tt.why) || (tt.why == "") != (k.Taps[0].Rejected == "")) {
			t.Errorf("%s: rejected because %q, want %q", tt.name, k.Taps[0].Rejected, tt.why)
		}
	}
	faults := knockFile(t, kept("faults.wav"))
	why := ""
	for _, tap := range faults.Taps {
		why += tap.Rejected + "; "
	}
	if want := "; struck again after 18 ms; too loud: the recording is clipped; ; "; !strings.Contains(why, want) {
		t.Errorf("faults.wav: %q, want %q among it", why, want)
	}
}

// TestBeatIsNoDoubleHit: two modes 12 Hz apart beat so deeply that the loudness
// rises again; that is not a second stroke.
func TestBeatIsNoDoubleHit(t *testing.T) {
	modes := []dsp.Wave{{Pole: dsp.Pole{Freq: 700, Decay: 12}, S: 0.3}, {Pole: dsp.Pole{Freq: 712, Decay: 13}, S: 0.29}}
	k, err := Knock(struck(22050, 3, 0.0005, modes, 0.4, 1.6), KnockOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if k.Used() != 2 || len(k.Modes) != 2 {
		t.Errorf("taps %+v, modes %+v", k.Taps, k.Modes)
	}
}

// TestSteadyToneIsNoMode: mains hum goes on before and after the tap.
func TestSteadyToneIsNoMode(t *testing.T) {
	r := struck(22050, 3, 0.001, plainMode, 0.5, 1.2, 1.9)
	for i := range r.Samples {
		r.Samples[i] += 0.02 * math.Sin(2*math.Pi*100*float64(i)/22050)
	}
	k, err := Knock(r, KnockOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(k.Modes) != 1 || math.Abs(k.Modes[0].Freq.Value.Hz()-500) > 1 {
		t.Errorf("modes %+v, want 500 Hz alone", k.Modes)
	}
}

// TestPhoneLog: an accelerometer log of 400 rows a second reaches modes below 160 Hz.
func TestPhoneLog(t *testing.T) {
	r := struck(400, 12, 0.01, []dsp.Wave{{Pole: dsp.Pole{Freq: 38, Decay: 7}, S: 1}, {Pole: dsp.Pole{Freq: 91, Decay: 11}, S: 0.8}}, 1, 3.5, 6, 8.5)
	r.Info.FullScale = 0
	k, err := Knock(r, KnockOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(k.Modes) != 2 || !k.Modes[0].Freq.Contains(38) || !k.Modes[1].Freq.Contains(91) {
		t.Errorf("taps %+v, modes %+v, want 38 and 91 Hz", k.Taps, k.Modes)
	}
}

func TestKnockOptions(t *testing.T) {
	r := struck(22050, 1, 0.001, plainMode, 0.3)
	for _, o := range []KnockOptions{{Low: 500, High: 100}, {High: 20000}, {Low: -1}, {MaxModes: 99}, {Low: unit.Frequency(math.NaN())}} {
		_, err := Knock(r, o)
		wantInputError(t, fmt.Sprintf("%+v", o), err, "")
	}
	_, err := Knock(&Recording{Rate: 8000}, KnockOptions{})
	wantInputError(t, "no samples", err, "")
}
