package sound

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"thrum/unit"
)

// drain opens whatever b is and reads it to its end or for at most ten million
// values. It may fail, but only with an input error, and it may not panic, hand
// out more than was asked for, or values that are not finite.
func drain(t *testing.T, b []byte, rate unit.Frequency) {
	s, err := Open(bytes.NewReader(b), OpenOptions{Rate: rate})
	buf := make([]float64, 4096*maxChannels)
	for total := 0; err == nil && total < 10_000_000; {
		in := s.Info()
		var n int
		n, err = s.Read(buf[:4096*in.Channels])
		if n < 0 || n > 4096 || (n == 0 && err == nil) {
			t.Fatalf("Read returned %d, %v", n, err)
		}
		total += n * in.Channels
		for _, v := range buf[:n*in.Channels] {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatal("a sample is not finite")
			}
		}
	}
	var in *unit.InputError
	if err != nil && !errors.Is(err, io.EOF) && !errors.As(err, &in) {
		t.Fatalf("error %v is not an input error", err)
	}
}

func fuzzKind(f *testing.F, patterns ...string) {
	for _, p := range patterns {
		names, err := filepath.Glob(filepath.Join("testdata", "files", p))
		if err != nil || len(names) == 0 {
			f.Fatalf("no seeds %s: %v", p, err)
		}
		for _, n := range names {
			b, err := os.ReadFile(n)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(b)
			f.Add(b[:len(b)/2])
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) { drain(t, b, 100) })
}

func FuzzWAV(f *testing.F)  { fuzzKind(f, "*.wav") }
func FuzzFLAC(f *testing.F) { fuzzKind(f, "*.flac") }
func FuzzMP3(f *testing.F)  { fuzzKind(f, "*.mp3") }
func FuzzOpus(f *testing.F) { fuzzKind(f, "*.opus", "*.ogg", "*.m4a", "*.aac") }

func FuzzSeries(f *testing.F) {
	for _, s := range []string{
		"1\n2\n3\n", "0,1\n0.01,2\n0.02,3\n", "time,ax,ay,az\n0,1,2,3\n10,1,2,4\n20,1,2,5\n", "0;1,5\n0,01;2,5\n0,02;-1,5\n",
		"# log\n\ntime (ns)\tx\n0\t1\n5000000\t2\n10000000\t3\n", "0,1\n1e300,2\n", "0,1\n0,1\n0,1\n0,1\n", "0,1\n-1,2\n", "0,1\n0.01,2,3\n",
	} {
		f.Add([]byte(s), 100.0)
	}
	f.Fuzz(func(t *testing.T, b []byte, rate float64) { drain(t, b, unit.Frequency(rate)) })
}

// FuzzMeasure feeds any signal whatever to the measurements: they may find nothing,
// but they may not panic, hang, or give figures that JSON cannot hold.
func FuzzMeasure(f *testing.F) {
	f.Add([]byte{0}, uint8(0), uint16(300))
	f.Add([]byte{127, 128}, uint8(3), uint16(40))
	f.Add([]byte{0, 0, 0, 100, 156, 50, 200, 10, 0}, uint8(1), uint16(900))
	f.Add(testFile(f, "s16.wav")[44:844], uint8(2), uint16(12))
	f.Fuzz(func(t *testing.T, b []byte, kind uint8, repeat uint16) {
		rate := []unit.Frequency{400, 8000, 22050, 48000}[kind%4]
		var x []float64
		for range int(repeat)%1000 + 1 {
			for _, v := range b {
				x = append(x, float64(int8(v))/127*math.Pow(10, float64(kind%12)-6))
			}
			x = append(x, make([]float64, int(kind)*3)...)
			if len(x) > 40000 {
				break
			}
		}
		r := &Recording{Info: Info{Container: WAV, Rate: rate, Channels: 1, Frames: -1, FullScale: 1}, Rate: rate, Samples: x}
		var in *unit.InputError
		k, err := Knock(r, KnockOptions{})
		if err != nil && !errors.As(err, &in) {
			t.Fatal(err)
		}
		if _, err := json.Marshal(k); err != nil {
			t.Fatal(err)
		}
		h, err := Listen(context.Background(), &memory{r: r}, ListenOptions{Given: 200})
		if err != nil && !errors.As(err, &in) {
			t.Fatal(err)
		}
		if _, err := json.Marshal(h); err != nil {
			t.Fatal(err)
		}
	})
}

// memory is a stream of samples at hand.
type memory struct {
	r  *Recording
	at int
}

func (m *memory) Info() Info { return m.r.Info }

func (m *memory) Read(dst []float64) (int, error) {
	n := copy(dst, m.r.Samples[m.at:])
	if m.at += n; n == 0 {
		return 0, io.EOF
	}
	return n, nil
}
