package bench

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"thrum/sound"
	"thrum/unit"
)

const (
	takeRate    = 48000
	takeMinutes = 4
)

// longTake writes minutes of a lathe in turn idle and cutting, ten seconds each, as a WAV file.
func longTake(b *testing.B) string {
	b.Helper()
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]int16, 20*takeRate)
	for i := range x {
		t := float64(i) / takeRate
		v := 0.01*math.Sin(2*math.Pi*100*t) + 0.002*rng.NormFloat64()
		if i >= 10*takeRate {
			v += 0.03*rng.NormFloat64() + 0.05*math.Sin(2*math.Pi*412*t) + 0.02*math.Sin(2*math.Pi*135.6*t) + 0.02*math.Sin(2*math.Pi*271.2*t)
		}
		x[i] = int16(32767 * max(-1, min(v, 1)))
	}
	const times = takeMinutes * 3
	size := uint32(2 * times * len(x))
	name := filepath.Join(b.TempDir(), "take.wav")
	f, err := os.Create(name)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	put := func(v any) { err = errors.Join(err, binary.Write(w, binary.LittleEndian, v)) }
	put([]byte("RIFF"))
	put(size + 36)
	put([]byte("WAVEfmt "))
	put([]uint32{16, 1 | 1<<16, takeRate, 2 * takeRate, 2 | 16<<16}) // whole numbers, one channel, 16 bits
	put([]byte("data"))
	put(size)
	for range times {
		put(x)
	}
	if err := errors.Join(err, w.Flush(), f.Close()); err != nil {
		b.Fatal(err)
	}
	return name
}

// decode reads a recording to its end and throws it away.
func decode(b *testing.B, name string) {
	f, err := os.Open(name)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	s, err := sound.Open(f, sound.OpenOptions{})
	if err != nil {
		b.Fatal(err)
	}
	buf := make([]float64, 1<<14)
	for err == nil {
		_, err = s.Read(buf)
	}
	if !errors.Is(err, io.EOF) {
		b.Fatal(err)
	}
}

func listen(b *testing.B, name string) {
	f, err := os.Open(name)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	s, err := sound.Open(f, sound.OpenOptions{})
	if err != nil {
		b.Fatal(err)
	}
	gear := sound.Line{Name: "gear", Kind: sound.MeshLine, PerTurn: unit.Whole(40), Harmonics: 3}
	h, err := sound.Listen(context.Background(), s, sound.ListenOptions{Given: 203, Lines: []sound.Line{gear}})
	if err != nil || len(h.Passes) != takeMinutes*3 {
		b.Fatalf("%d passes, %v", len(h.Passes), err)
	}
}

// BenchmarkListen reports the processor time of an hour, the best of the runs: of decoding
// alone, and of what listening adds to it.
func BenchmarkListen(b *testing.B) {
	wav := longTake(b)
	hour := func(b *testing.B, name string) {
		reading, all := math.Inf(1), math.Inf(1)
		for b.Loop() {
			start := processor(b)
			decode(b, name)
			half := processor(b)
			listen(b, name)
			reading, all = min(reading, (half-start).Seconds()), min(all, (processor(b)-half).Seconds())
		}
		b.ReportMetric(reading*60/takeMinutes, "s-decode/hour")
		b.ReportMetric((all-reading)*60/takeMinutes, "s-beyond/hour")
	}
	b.Run("wav", func(b *testing.B) { hour(b, wav) })
	b.Run("opus", func(b *testing.B) {
		opus := filepath.Join(b.TempDir(), "take.opus")
		if out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-i", wav, "-c:a", "libopus", "-b:a", "24k", opus).CombinedOutput(); err != nil {
			b.Skipf("needs ffmpeg with libopus: %v %s", err, out)
		}
		hour(b, opus)
	})
}

// BenchmarkSpectrogramAgainstScipy makes the spectrogram of a recording here and with
// scipy, on the same grid, and fails unless both read the same level of a tone.
func BenchmarkSpectrogramAgainstScipy(b *testing.B) {
	python := withScipy(b)
	wav := longTake(b)
	out, err := exec.Command(python, "../docs/validation/spectrogram_speed.py", wav).Output()
	if err != nil {
		b.Fatal(err)
	}
	var theirs [4]float64
	words := strings.Fields(string(out))
	for i, w := range words[:min(len(words), 4)] {
		if theirs[i], err = strconv.ParseFloat(w, 64); err != nil {
			b.Fatal(err)
		}
	}
	f, err := os.Open(wav)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	s, err := sound.Open(f, sound.OpenOptions{})
	if err != nil {
		b.Fatal(err)
	}
	r, err := sound.Load(s, sound.Pick{}, 0)
	if err != nil {
		b.Fatal(err)
	}
	best, mean := math.Inf(1), 0.0
	for b.Loop() {
		start := processor(b)
		g, err := sound.STFT(r, unit.Time(4096./takeRate), unit.Time(1024./takeRate))
		if err != nil {
			b.Fatal(err)
		}
		best = min(best, (processor(b) - start).Seconds())
		if len(g.Columns) != int(theirs[1]) || len(g.Columns[0]) != int(theirs[2]) {
			b.Fatalf("%d columns of %d here, %s there", len(g.Columns), len(g.Columns[0]), out)
		}
		row := int(math.Round(412 / g.FreqStep.Hz()))
		mean = 0
		for _, c := range g.Columns {
			mean += float64(c[row]) / float64(len(g.Columns))
		}
	}
	// Both spectra are one-sided, so that a sine reads as its mean square.
	if math.Abs(mean-theirs[3]) > 0.01 {
		b.Fatalf("not the same job: %.3f dB at 412 Hz here, %.3f dB there", mean, theirs[3])
	}
	b.ReportMetric(1000*best, "ms-here")
	b.ReportMetric(1000*theirs[0], "ms-scipy")
	b.ReportMetric(best/theirs[0], "times-scipy")
}

// withScipy finds a python that has scipy; without one the measurement is skipped.
func withScipy(b *testing.B) string {
	b.Helper()
	for _, p := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(p, "-c", "import scipy").Run() == nil {
			return p
		}
	}
	b.Skip("needs python3 with scipy: apt-get install python3-scipy")
	return ""
}
