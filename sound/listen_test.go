package sound

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

const cutScript = "docs/validation/sound/listen_make.py (numpy 1.24, scipy 1.10, libopus)"

// trainLines are the lines that the made recordings hold.
var trainLines = []Line{
	{Name: "gear 40 on the spindle", Kind: MeshLine, PerTurn: unit.Whole(40), Harmonics: 3},
	{Name: "stud 35 into 30", Kind: MeshLine, PerTurn: unit.MustRatio(105, 4), Harmonics: 3},
	{Name: "mains", Kind: MainsLine, Freq: 50, Harmonics: 4},
	{Name: "motor, 4 poles", Kind: MotorLine, Freq: 25, Slip: 0.06, Harmonics: 2},
}

func hear(t testing.TB, path string, o ListenOptions, open OpenOptions) *Heard {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(bytes.NewReader(b), open)
	if err != nil {
		t.Fatal(err)
	}
	h, err := Listen(context.Background(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func heardFile(t testing.TB, name string, o ListenOptions) *Heard {
	return hear(t, filepath.Join("testdata", "listen", name), o, OpenOptions{})
}

// near returns the tone of a pass nearest to f.
func near(p Pass, f float64) *Tone {
	var best *Tone
	for i := range p.Tones {
		if best == nil || math.Abs(p.Tones[i].Freq.Value.Hz()-f) < math.Abs(best.Freq.Value.Hz()-f) {
			best = &p.Tones[i]
		}
	}
	return best
}

func TestMadeCuts(t *testing.T) {
	truth := map[string]map[string][]float64{}
	for _, row := range csvRows(t, filepath.Join("testdata", "listen", "truth.csv")) {
		if truth[row["file"]] == nil {
			truth[row["file"]] = map[string][]float64{}
		}
		truth[row["file"]][row["what"]] = append(truth[row["file"]][row["what"]], value(t, row, "value"))
	}
	for file, tt := range map[string]struct {
		given   unit.Rotation
		verdict SpeedVerdict
	}{"slow.opus": {210, SpeedAgrees}, "fast.opus": {240, SpeedContradicts}} {
		h := heardFile(t, file, ListenOptions{Given: tt.given, Lines: trainLines})
		want := truth[file]
		check := func(what, u string, published, ours, tolerance float64) {
			t.Helper()
			outside.Check(t, outside.Claim{What: file + ": " + what, Source: cutScript, Status: outside.Computed, Published: published, Ours: ours, Unit: u, Tolerance: tolerance})
		}
		if len(h.Passes) != len(want["start"]) {
			t.Fatalf("%s: %d passes, want %d", file, len(h.Passes), len(want["start"]))
		}
		check("spindle speed", "rpm", want["rpm"][0], h.Speed.Heard.Value.RPM(), 2e-4*want["rpm"][0])
		if h.Speed.Verdict != tt.verdict || h.Speed.Given != tt.given || len(h.Speed.Lines) < 2 {
			t.Errorf("%s: speed %+v", file, h.Speed)
		}
		for i, p := range h.Passes {
			check(fmt.Sprintf("start of pass %d", i+1), "s", want["start"][i], p.Start.S(), 0.15)
			check(fmt.Sprintf("end of pass %d", i+1), "s", want["end"][i], p.End.S(), 0.35) // the room rings on
			checkTones(t, file, p, want["tone_hz"][0], want["rpm"][0])
		}
		if len(h.Growth) != 1 {
			t.Fatalf("%s: growth of %d tones: %+v", file, len(h.Growth), h.Growth)
		}
		g := h.Growth[0].PerPass
		check("growth of the free tone per pass", "", want["growth"][0], float64(g.Value), float64(g.High-g.Low))
	}
}

// checkTones: the tone of the part is free, the gears and the mains are not.
func checkTones(t *testing.T, file string, p Pass, tone, rpm float64) {
	t.Helper()
	for _, w := range []struct {
		freq float64
		line string
	}{{tone, ""}, {40 * rpm / 60, "gear 40 on the spindle"}, {52.5 * rpm / 60, "stud 35 into 30"}, {100.04, "mains"}} {
		got := near(p, w.freq)
		outside.Check(t, outside.Claim{
			What: fmt.Sprintf("%s, pass at %.1f s, tone at %.1f Hz", file, p.Start.S(), w.freq), Source: cutScript, Status: outside.Computed,
			Published: w.freq, Ours: got.Freq.Value.Hz(), Unit: "Hz", Tolerance: 0.003*w.freq + 0.2,
		})
		if got.Line != w.line || got.Free() != (w.line == "") || len(got.Track) == 0 || got.Steady < 0.7 {
			t.Errorf("%s: %.1f Hz is marked %q, steady %.2f, %d points; want %q", file, w.freq, got.Line, got.Steady, len(got.Track), w.line)
		}
	}
	if g := near(p, 40*rpm/60); g.Whole != WholeYes || math.Round(g.PerTurn) != 40 {
		t.Errorf("%s: the gear has %.3f waves per turn, %s", file, g.PerTurn, g.Whole)
	}
	if g := near(p, 52.5*rpm/60); g.Whole != WholeNo {
		t.Errorf("%s: the stud has %.3f waves per turn, %s", file, g.PerTurn, g.Whole)
	}
}

// TestBareTone: a test tone is no cut, and says nothing about a spindle.
func TestBareTone(t *testing.T) {
	h := heardFile(t, "tone.opus", ListenOptions{Given: 200, Lines: trainLines})
	if h.Speed.Verdict != SpeedCannot || h.Speed.Heard.Value != 0 || len(h.Growth) != 0 {
		t.Errorf("speed %+v", h.Speed)
	}
	notes := strings.Join(h.Notes, "\n")
	for _, want := range []string{"cannot be told from not cutting", "lines tied to the spindle are not marked"} {
		if !strings.Contains(notes, want) {
			t.Errorf("notes lack %q:\n%s", want, notes)
		}
	}
	if len(h.Passes) != 1 || len(h.Passes[0].Tones) == 0 || h.Passes[0].Tones[0].Whole != WholeCannot || h.Passes[0].Tones[0].PerTurn != 0 {
		t.Errorf("passes %+v", h.Passes)
	}
	outside.Check(t, outside.Claim{What: "tone.opus: tone", Source: cutScript, Status: outside.Computed, Published: 600, Ours: h.Passes[0].Tones[0].Freq.Value.Hz(), Unit: "Hz", Tolerance: 0.1})
}

const millingRecord = "../../shared/reference/data/milling-accel-N255/N255_accelY_10kHz.csv"

func milling(t *testing.T) *Heard {
	t.Helper()
	if _, err := os.Stat(millingRecord); errors.Is(err, os.ErrNotExist) {
		t.Skip("the open milling record (M. H. Rahimi 2021) is not beside the project in shared/reference/data")
	}
	return hear(t, millingRecord, ListenOptions{Given: 5000}, OpenOptions{Rate: 10000})
}

// TestMillingRecord: an accelerometer on a milling machine, labelled 5000 rpm with a
// cutter of four flutes. The forced lines say 4500; the burst of chatter is free.
func TestMillingRecord(t *testing.T) {
	h := milling(t)
	const source = "open milling record N255 (M. H. Rahimi 2021), reading of its spectrum noted beside it"
	outside.Check(t, outside.Claim{What: "spindle speed from the forced lines at 150 and 300 Hz", Source: source, Status: outside.Read, Published: 4500, Ours: h.Speed.Heard.Value.RPM(), Unit: "rpm", Tolerance: 15})
	if h.Speed.Verdict != SpeedContradicts || !strings.Contains(h.Speed.Reason, "5000 rpm given") {
		t.Errorf("the label's contradiction is not reported: %+v", h.Speed)
	}
	if len(h.Passes) != 1 {
		t.Fatalf("%d passes, want the one burst", len(h.Passes))
	}
	p := h.Passes[0]
	outside.Check(t, outside.Claim{What: "end of the burst", Source: source, Status: outside.Read, Published: 5.0, Ours: p.End.S(), Unit: "s", Tolerance: 0.1})
	loudest := p.Tones[0]
	outside.Check(t, outside.Claim{What: "chatter tone", Source: source, Status: outside.Read, Published: 683.8, Ours: loudest.Freq.Value.Hz(), Unit: "Hz", Tolerance: 1})
	outside.Check(t, outside.Claim{What: "waves per turn of the chatter", Source: source, Status: outside.Read, Published: 9.12, Ours: loudest.PerTurn, Tolerance: 0.03})
	if !loudest.Free() || loudest.Whole != WholeNo {
		t.Errorf("the chatter is marked %q, %s", loudest.Line, loudest.Whole)
	}
	for order, f := range map[int]float64{2: 150, 4: 300} {
		line := near(p, f)
		outside.Check(t, outside.Claim{What: fmt.Sprintf("forced line %d times a turn", order), Source: source, Status: outside.Read, Published: f, Ours: line.Freq.Value.Hz(), Unit: "Hz", Tolerance: 0.5})
		if line.Kind != SpindleLine || line.Multiple != order || line.Whole != WholeYes {
			t.Errorf("%.0f Hz is marked %q x %d, %s", f, line.Line, line.Multiple, line.Whole)
		}
	}
}

// TestMillingSpectrum compares the spectrum of the burst with scipy's.
func TestMillingSpectrum(t *testing.T) {
	milling(t)
	r := loadOptions(t, millingRecord, OpenOptions{Rate: 10000})
	r.Samples = r.Samples[33000:50000]
	w, err := Welch(r, 0.4096)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range csvRows(t, "testdata/milling.csv") {
		k, want := int(value(t, row, "bin")), value(t, row, "density")
		outside.Check(t, outside.Claim{
			What: fmt.Sprintf("milling record, density at %s Hz", row["bin_hz"]), Source: "docs/validation/sound/spectra.py (scipy 1.10)", Status: outside.Computed,
			Published: want, Ours: w.Density[k], Unit: "1/Hz", Tolerance: 1e-8 * want,
		})
	}
}

// TestAirPass: with an air pass named, what is no louder than it is no cut.
func TestAirPass(t *testing.T) {
	h := heardFile(t, "slow.opus", ListenOptions{Given: 203, Lines: trainLines, Air: &Span{5.9, 6.8}})
	if len(h.Passes) != 5 {
		t.Errorf("%d passes, want 5", len(h.Passes))
	}
	h = heardFile(t, "slow.opus", ListenOptions{Given: 203, Lines: trainLines, Air: &Span{1.6, 5.4}})
	if len(h.Passes) > 2 { // taken against a cut, only what outdoes it is left
		t.Errorf("%d passes louder than the first", len(h.Passes))
	}
}

func TestListenRefused(t *testing.T) {
	for name, o := range map[string]ListenOptions{
		"negative speed":  {Given: -5},
		"no number":       {Given: unit.Rotation(math.NaN())},
		"range":           {Within: 2},
		"band":            {Low: 900, High: 100},
		"above the rate":  {High: 40000},
		"too long":        {Most: 1e9},
		"air backwards":   {Air: &Span{5, 2}},
		"empty line":      {Lines: []Line{{Name: "nothing"}}},
		"two-fold line":   {Lines: []Line{{Name: "both", PerTurn: unit.Whole(2), Freq: 50}}},
		"missing channel": {Pick: Pick{Channel: 3}},
		"longer than":     {Most: 3},
	} {
		s, err := Open(bytes.NewReader(readKept(t, filepath.Join("listen", "slow.opus"))), OpenOptions{})
		if err != nil {
			t.Fatal(err)
		}
		_, err = Listen(context.Background(), s, o)
		wantInputError(t, name, err, "")
	}
}

func TestListenStops(t *testing.T) {
	s, err := Open(bytes.NewReader(readKept(t, filepath.Join("listen", "slow.opus"))), OpenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	seen := 0
	_, err = Listen(ctx, s, ListenOptions{Progress: func(unit.Time) {
		if seen++; seen == 3 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) || seen != 3 {
		t.Errorf("error %v after %d reports", err, seen)
	}
}

// TestSlippingLine: an induction motor runs below its synchronous speed, by no more
// than the slip.
func TestSlippingLine(t *testing.T) {
	l := Line{Name: "motor", Kind: MotorLine, Freq: 25, Slip: 0.06, Harmonics: 2}
	for f, want := range map[float64]int{24.3: 1, 23.6: 1, 25: 1, 23.2: 0, 25.4: 0, 48.6: 2, 46: 0, 73: 0} {
		_, k, ok := l.agrees(estimate(unit.Frequency(f), 0.01, 20), 0, 0)
		if !ok {
			k = 0
		}
		if k != want {
			t.Errorf("%.1f Hz: multiple %d, want %d", f, k, want)
		}
	}
}

// TestWholeNeedsSpeed: the same tone of 126 waves per turn is whole, not whole or
// undecided as the speed is known better or worse.
func TestWholeNeedsSpeed(t *testing.T) {
	for _, tt := range []struct {
		freq, rel float64
		want      Whole
	}{{420, 1e-4, WholeYes}, {421.2, 1e-4, WholeNo}, {420, 0.01, WholeCannot}, {421.2, 0.01, WholeCannot}, {420, 0, WholeYes}} {
		tones := []Tone{{Freq: estimate(unit.Frequency(tt.freq), 0.02, 50)}}
		mark(tones, estimate(unit.Rotation(200), unit.Rotation(200*tt.rel), 50), ListenOptions{})
		if tones[0].Whole != tt.want {
			t.Errorf("%.1f Hz with the speed to %g: %.3f waves per turn, %s, want %s", tt.freq, tt.rel, tones[0].PerTurn, tones[0].Whole, tt.want)
		}
	}
}

// TestPacking: two bytes a sample lose less than 90 dB below the loudest sample
// nearby, and any stretch can be read back.
func TestPacking(t *testing.T) {
	var k taken
	x := make([]float64, 5000)
	for i := range x {
		x[i] = math.Sin(float64(i)) * math.Exp(-float64(i)/800)
	}
	for at := 0; at < len(x); at += 333 {
		k.write(x[at:min(at+333, len(x))])
	}
	got := make([]float64, 6000)
	k.read(got[7:], 7)
	for i := 7; i < len(x); i++ {
		if math.Abs(got[i]-x[i]) > 3e-5*math.Exp(-float64(i/chunkLen*chunkLen)/800) {
			t.Fatalf("sample %d: %g, want %g", i, got[i], x[i])
		}
	}
	if k.len() != 5000 || got[5000] != 0 || got[5999] != 0 {
		t.Errorf("length %d, beyond the end %g", k.len(), got[5500])
	}
}
