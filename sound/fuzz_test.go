package sound

import (
	"bytes"
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
