package ffmpeg

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func tool(t *testing.T) *Tool {
	t.Helper()
	f, err := Find()
	if err != nil {
		t.Skip("no ffmpeg on this machine")
	}
	return f
}

const files = "../../sound/testdata/files"

// samples takes the first channel out of the WAV that ffmpeg writes to a pipe.
func samples(t *testing.T, b []byte) (rate uint32, x []float64) {
	t.Helper()
	if len(b) < 12 || string(b[:4]) != "RIFF" {
		t.Fatalf("%d bytes that are no WAV", len(b))
	}
	var channels int
	for at := 12; at+8 <= len(b); {
		id, size := string(b[at:at+4]), int(binary.LittleEndian.Uint32(b[at+4:]))
		body := b[at+8:]
		switch id {
		case "fmt ":
			channels, rate = int(binary.LittleEndian.Uint16(body[2:])), binary.LittleEndian.Uint32(body[4:])
		case "data":
			for i := 0; i+4*channels <= len(body); i += 4 * channels {
				x = append(x, float64(math.Float32frombits(binary.LittleEndian.Uint32(body[i:]))))
			}
			return rate, x
		}
		at += 8 + size + size%2
	}
	t.Fatal("no data chunk")
	return 0, nil
}

func TestWav(t *testing.T) {
	f := tool(t)
	for _, name := range []string{"stereo.m4a", "stereo.ogg", "bare.aac", "stereo.mp3", "mulaw.wav"} {
		s, err := f.Wav(context.Background(), filepath.Join(files, name))
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(s)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := s.Close(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		rate, x := samples(t, b)
		// 440 Hz at 0.5 of full scale went into every one of these files.
		mid := x[len(x)/4 : len(x)*3/4]
		var re, im, sum float64
		for i, v := range mid {
			w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(len(mid)))
			sin, cos := math.Sincos(2 * math.Pi * 440 * float64(i) / float64(rate))
			re, im, sum = re+w*v*cos, im+w*v*sin, sum+w
		}
		if a := 2 * math.Hypot(re, im) / sum; math.Abs(a-0.5) > 0.04 {
			t.Errorf("%s: %.3f of 440 Hz, want 0.5", name, a)
		}
	}
}

func TestDamaged(t *testing.T) {
	f := tool(t)
	dir := t.TempDir()
	whole, err := os.ReadFile(filepath.Join(files, "stereo.m4a"))
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{
		"words.m4a":    []byte("dear sir, this is no sound"),
		"empty.m4a":    nil,
		"cut.m4a":      whole[:len(whole)/2],
		"playlist.m3u": []byte("#EXTM3U\n#EXTINF:1,\nfile:///etc/hostname\n"),
		"concat.txt":   []byte("ffconcat version 1.0\nfile '/etc/hostname'\n"),
	} {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := f.Wav(context.Background(), p)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := io.ReadAll(s); err == nil {
			t.Errorf("%s: %d bytes and no error", name, len(got))
		}
		_ = s.Close()
	}
}

func TestStops(t *testing.T) {
	f := tool(t)
	// Closing early, and a cancelled context, both end ffmpeg at once.
	s, err := f.Wav(context.Background(), filepath.Join(files, "stereo.m4a"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadFull(s, make([]byte, 10)); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Errorf("closing early: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	s, err = f.Wav(ctx, filepath.Join(files, "stereo.m4a"))
	if err != nil {
		return // not even started
	}
	done := make(chan error, 1)
	go func() { _, err := io.ReadAll(s); done <- err }()
	select {
	case err := <-done:
		if err == nil {
			t.Error("a cancelled conversion ended without an error")
		}
	case <-time.After(20 * time.Second):
		t.Error("a cancelled conversion goes on")
	}
	_ = s.Close()
}

func TestMissing(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	if _, err := Find(); !errors.Is(err, ErrMissing) {
		t.Errorf("error %v", err)
	}
	var none Tool
	if _, err := none.Wav(context.Background(), filepath.Join(files, "stereo.m4a")); err == nil {
		t.Error("a tool that is not there has started")
	}
	for _, bad := range []string{"no such file", t.TempDir()} {
		if _, err := none.Wav(context.Background(), bad); err == nil {
			t.Errorf("%s was taken", bad)
		}
	}
}
