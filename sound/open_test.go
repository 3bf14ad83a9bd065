package sound

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/go-audio/wav"

	"thrum/internal/outside"
	"thrum/unit"
)

const filesScript = "docs/validation/sound/files.py (scipy 1.10, ffmpeg 5.1)"

func testFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "files", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// readAll reads a stream in blocks of an awkward size.
func readAll(t testing.TB, s Stream) [][]float64 {
	t.Helper()
	n := s.Info().Channels
	out := make([][]float64, n)
	buf := make([]float64, 37*n)
	for {
		got, err := s.Read(buf)
		for i := range got * n {
			out[i%n] = append(out[i%n], buf[i])
		}
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func decode(t testing.TB, name string) (Info, [][]float64) {
	t.Helper()
	s, err := Open(bytes.NewReader(testFile(t, name)), OpenOptions{})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	x := readAll(t, s)
	return s.Info(), x
}

func wanted(t testing.TB) (left, right []float64) {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(testFile(t, "want.csv")))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		a, _ := strconv.ParseFloat(row[0], 64)
		b, _ := strconv.ParseFloat(row[1], 64)
		left, right = append(left, a), append(right, b)
	}
	return left, right
}

func TestUncompressed(t *testing.T) {
	left, right := wanted(t)
	tests := []struct {
		file, encoding string
		channels       int
		frames         int64
		step           float64 // one step of the format
	}{
		{"u8.wav", "8-bit integer", 2, 400, 1.0 / 128},
		{"s16.wav", "16-bit integer", 2, 400, 1.0 / (1 << 15)},
		{"s24.wav", "24-bit integer", 2, 400, 1.0 / (1 << 23)},
		{"s32.wav", "32-bit integer", 2, 400, 1.0 / (1 << 31)},
		{"f32.wav", "32-bit float", 2, 400, 1e-7},
		{"f64.wav", "64-bit float", 2, 400, 0},
		{"rf64.wav", "32-bit float", 2, 400, 1e-7},
		{"ext-f32.wav", "32-bit float", 4, 400, 1e-7},
		{"ext-s24.wav", "24-bit integer", 4, 400, 1.0 / (1 << 23)},
		{"bare.wav", "16-bit integer", 2, 400, 1.0 / (1 << 15)},
		{"pipe.wav", "32-bit float", 2, -1, 1e-7},
		{"s16.flac", "16-bit integer", 2, 400, 1.0 / (1 << 15)},
		{"s24.flac", "24-bit integer", 2, 400, 1.0 / (1 << 23)},
	}
	for _, tt := range tests {
		in, x := decode(t, tt.file)
		if in.Encoding != tt.encoding || in.Channels != tt.channels || in.Frames != tt.frames || in.Rate != 8000 || in.FullScale != 1 {
			t.Errorf("%s: header read as %+v", tt.file, in)
		}
		for c, want := range [][]float64{left, right} {
			if len(x[c]) != len(want) {
				t.Fatalf("%s: %d samples, want %d", tt.file, len(x[c]), len(want))
			}
			worst, at := 0.0, 0
			for i := range want {
				if d := math.Abs(x[c][i] - want[i]); d > worst {
					worst, at = d, i
				}
			}
			outside.Check(t, outside.Claim{
				What: tt.file + " channel " + strconv.Itoa(c+1) + ", sample furthest off", Source: filesScript, Status: outside.Computed,
				Published: want[at], Ours: x[c][at], Unit: "of full scale", Tolerance: tt.step,
			})
		}
	}
}

func TestLossy(t *testing.T) {
	for _, name := range []string{"stereo.mp3", "stereo.opus"} {
		_, x := decode(t, name)
		_, ref := decode(t, name+".ref.wav")
		// Decoders may differ in how much of the start they drop.
		lag, r := bestLag(x[0], ref[0], 2600)
		outside.Check(t, outside.Claim{
			What: name + ": correlation with another decoder", Source: filesScript, Status: outside.Computed,
			Published: 1, Ours: r, Unit: "", Tolerance: 2e-5,
		})
		t.Logf("%s: %d frames, other decoder %d, lag %d", name, len(x[0]), len(ref[0]), lag)
	}
	// The tones that went into the encoder come out with their size and sign.
	for _, tt := range []struct {
		file     string
		rate     unit.Frequency
		channels int
	}{
		{"stereo.mp3", 44100, 2},
		{"mono.mp3", 44100, 1},
		{"low.mp3", 22050, 1},
		{"stereo.opus", 48000, 2},
		{"mono.opus", 48000, 1},
		{"voice.opus", 48000, 1},
	} {
		in, x := decode(t, tt.file)
		if in.Rate != tt.rate || in.Channels != tt.channels || !in.Lossy {
			t.Errorf("%s: header read as %+v", tt.file, in)
		}
		for c := range x {
			mid := x[c][len(x[c])/4 : len(x[c])*3/4]
			for _, tone := range []struct{ hz, amplitude float64 }{{440, 0.5}, {1250, 0.25}} {
				want := tone.amplitude / float64(1+c)
				outside.Check(t, outside.Claim{
					What: tt.file + ", amplitude of " + strconv.Itoa(int(tone.hz)) + " Hz", Source: filesScript, Status: outside.Computed,
					Published: want, Ours: amplitudeAt(mid, in.Rate.Hz(), tone.hz), Unit: "of full scale", Tolerance: 0.06 * want,
				})
			}
		}
		want := 0.3 * in.Rate.Hz()
		if got := float64(len(x[0])); got < want || got > want+3000 {
			t.Errorf("%s: %g frames for 0.3 s", tt.file, got)
		}
	}
}

// TestOpusLength: pre-skip and the padding at the end are both taken off, so the
// length is exact.
func TestOpusLength(t *testing.T) {
	for _, name := range []string{"stereo.opus", "mono.opus", "voice.opus"} {
		_, x := decode(t, name)
		outside.Check(t, outside.Claim{What: name + " frames", Source: "RFC 7845, 4.2 and 4.4; " + filesScript, Status: outside.Computed, Published: 14400, Ours: float64(len(x[0])), Unit: "frames"})
	}
}

func bestLag(x, ref []float64, most int) (lag int, r float64) {
	r = -1
	for l := -most; l <= most; l++ {
		a, b := x, ref
		if l > 0 {
			a = x[min(l, len(x)):]
		} else {
			b = ref[min(-l, len(ref)):]
		}
		n := min(len(a), len(b))
		var ab, aa, bb float64
		for i := range n {
			ab, aa, bb = ab+a[i]*b[i], aa+a[i]*a[i], bb+b[i]*b[i]
		}
		if v := ab / math.Sqrt(aa*bb); v > r {
			lag, r = l, v
		}
	}
	return lag, r
}

func amplitudeAt(x []float64, rate, hz float64) float64 {
	var re, im, sum float64
	for i, v := range x {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(len(x)))
		s, c := math.Sincos(2 * math.Pi * hz * float64(i) / rate)
		re, im, sum = re+w*v*c, im+w*v*s, sum+w
	}
	return 2 * math.Hypot(re, im) / sum
}

// TestWhyOwnWAV keeps watch over the reason for a WAV reader of our own. Where the
// library can read a file, the two must agree; if it learns to read all of them,
// ours should go.
func TestWhyOwnWAV(t *testing.T) {
	cannot := 0
	for _, name := range []string{"u8.wav", "s16.wav", "s24.wav", "s32.wav", "f32.wav", "f64.wav", "rf64.wav", "ext-f32.wav", "ext-s24.wav", "bare.wav", "pipe.wav"} {
		_, x := decode(t, name)
		d := wav.NewDecoder(bytes.NewReader(testFile(t, name)))
		buf, err := d.FullPCMBuffer()
		if err != nil || buf == nil || len(buf.Data) < 400*len(x) {
			cannot++
			t.Logf("%s: the library cannot read it (%v)", name, err)
			continue
		}
		scale := float64(int64(1) << (buf.SourceBitDepth - 1))
		worst := 0.0
		for i := range 400 * len(x) {
			v := float64(buf.Data[i])
			if buf.SourceBitDepth == 8 {
				v -= 128
			}
			worst = math.Max(worst, math.Abs(v/scale-x[i%len(x)][i/len(x)]))
		}
		if worst > 1e-12 {
			cannot++
			t.Logf("%s: the library reads it wrongly, by up to %.2g of full scale", name, worst)
			if !strings.Contains(name, "f32") {
				t.Errorf("%s holds integers, and the two readers differ", name)
			}
		}
	}
	if cannot == 0 {
		t.Error("the library now reads every kind: use it instead of ours")
	}
}

func TestNotNative(t *testing.T) {
	for file, want := range map[string]Container{"stereo.m4a": MPEG4, "bare.aac": ADTS, "stereo.ogg": OggOther} {
		b := testFile(t, file)
		if got := Sniff(b); got != want || got.Native() {
			t.Errorf("%s told as %q, native %v", file, got, got.Native())
		}
		_, err := Open(bytes.NewReader(b), OpenOptions{})
		wantInputError(t, file, err, "ffmpeg")
	}
	for file, hint := range map[string]string{"mulaw.wav": "uncompressed", "verylow.mp3": "ffmpeg"} {
		_, err := Open(bytes.NewReader(testFile(t, file)), OpenOptions{})
		wantInputError(t, file, err, hint)
	}
	for name, b := range map[string][]byte{"nothing": nil, "zeros": make([]byte, 5000), "words": []byte("dear sir,\nthe thread is torn\n")} {
		_, err := Open(bytes.NewReader(b), OpenOptions{})
		wantInputError(t, name, err, "WAV")
	}
}

func wantInputError(t *testing.T, name string, err error, hint string) {
	t.Helper()
	var in *unit.InputError
	if !errors.As(err, &in) || !strings.Contains(in.Hint, hint) {
		t.Errorf("%s: error %v, want an input error whose hint mentions %q", name, err, hint)
	}
}

// TestCutShort: a file that ends early gives what it holds and then an error that
// says where it ended.
func TestCutShort(t *testing.T) {
	for _, name := range []string{"s16.wav", "f64.wav", "rf64.wav", "s16.flac", "s24.flac", "stereo.opus"} {
		b := testFile(t, name)
		s, err := Open(bytes.NewReader(b[:len(b)-len(b)/16]), OpenOptions{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		buf := make([]float64, 100)
		for err == nil {
			_, err = s.Read(buf)
		}
		var in *unit.InputError
		if !errors.As(err, &in) || !strings.Contains(in.Reason, " after ") {
			t.Errorf("%s cut short: %v", name, err)
		}
	}
}

// TestHostileHeaders: sizes that are not there are neither believed nor allocated.
func TestHostileHeaders(t *testing.T) {
	w := testFile(t, "s16.wav")
	edit := func(at int, b ...byte) []byte {
		c := bytes.Clone(w)
		copy(c[at:], b)
		return c
	}
	for name, b := range map[string][]byte{
		"no channels":          edit(22, 0, 0),
		"65535 channels":       edit(22, 255, 255),
		"no rate":              edit(24, 0, 0, 0, 0),
		"4 GHz":                edit(24, 255, 255, 255, 255),
		"no frame size":        edit(32, 0, 0),
		"frame size 65535":     edit(32, 255, 255),
		"200 bits":             edit(34, 200, 0),
		"fmt chunk of 3 GB":    edit(16, 255, 255, 255, 190),
		"fmt chunk of 3 bytes": edit(16, 3, 0, 0, 0),
	} {
		s, err := Open(bytes.NewReader(b), OpenOptions{})
		var in *unit.InputError
		if !errors.As(err, &in) {
			t.Errorf("%s: stream %v, error %v", name, s, err)
		}
	}
	long := []byte("ID3\x04\x00\x00\x7f\x7f\x7f\x7f") // a tag of 256 MB in ten bytes
	_, err := Open(bytes.NewReader(long), OpenOptions{})
	wantInputError(t, "tag longer than the file", err, "copy")
	if n := allocated(func() { _, _ = Open(bytes.NewReader(long), OpenOptions{}) }); n > 4<<20 {
		t.Errorf("a short file with a long tag took %d bytes of memory", n)
	}
}

func allocated(f func()) uint64 {
	var a, b runtime.MemStats
	runtime.ReadMemStats(&a)
	f()
	runtime.ReadMemStats(&b)
	return b.TotalAlloc - a.TotalAlloc
}
