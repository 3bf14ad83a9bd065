package main

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thrum/internal/ffmpeg"
)

// The example recordings are of two parts whose waves grow from pass to pass, made by
// docs/validation/cause/pair.py.
func TestListenNamesTheCause(t *testing.T) {
	at := func(name string) string { return filepath.Join("..", "..", "examples", "recordings", name) }
	svg := filepath.Join(t.TempDir(), "heard.svg")
	status, out, errs := thrum("", "listen", at("slow.opus"), "--rpm", "200", "--second", at("fast.opus"), "--second-rpm", "254", "--svg", svg)
	if status != 0 || !strings.Contains(out, "likely: waves that grow from pass to pass") || !strings.Contains(out, "the tone stays at its frequency") {
		t.Errorf("status %d\n%s%s", status, out, errs)
	}
	if b, err := os.ReadFile(svg); err != nil || !strings.Contains(string(b), "Spectrogram") {
		t.Errorf("%d bytes of spectrogram, %v", len(b), err)
	}
}

func TestListenToATone(t *testing.T) {
	status, out, errs := thrum("", "listen", filepath.Join("..", "..", "sound", "testdata", "listen", "tone.opus"), "--rpm", "200")
	if status != 0 || !strings.Contains(out, "cannot tell:") {
		t.Errorf("status %d\n%s%s", status, out, errs)
	}
}

// What people bring: a recording that broke off, a WAV of compressed sound, a muted microphone, a
// folder. Each is either heard as far as it goes, and that is said, or refused with a hint and
// its own name.
func TestListenToWhatIsBrought(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	whole, err := os.ReadFile(filepath.Join("..", "..", "examples", "recordings", "slow.opus"))
	if err != nil {
		t.Fatal(err)
	}
	broken := write("broken.opus", whole[:len(whole)/2])
	status, out, errs := thrum("", "listen", broken, "--rpm", "200")
	if out = strings.Join(strings.Fields(out), " "); status != 0 || !strings.Contains(out, "the recording is damaged after") || !strings.Contains(out, "only the first") {
		t.Errorf("broken off: status %d, %s%s", status, out, errs)
	}
	for _, c := range []struct{ file, want string }{
		{write("muted.wav", wavOf(0, 0, 16000)), "holds nothing but silence"},
		{write("header.wav", wavOf(0, 0, 16000)[:40]), "holds no samples"},
		{write("notes.wav", []byte("pass 3 was loud\n")), "is not a sound file"},
		{dir, "is a folder"},
	} {
		status, out, errs := thrum("", "listen", c.file)
		if status != 2 || out != "" || !strings.Contains(errs, c.want) || !strings.Contains(errs, filepath.Base(c.file)) || !strings.Contains(errs, "hint: ") {
			t.Errorf("%s: status %d, %q, %q; want %q, a hint and the file's name", c.file, status, out, errs, c.want)
		}
	}
	status, out, errs = thrum("", "listen", write("loud.wav", wavOf(32767, 80, 32000)))
	if status != 0 || !strings.Contains(out, "is clipped") {
		t.Errorf("clipped: status %d, %s%s", status, out, errs)
	}
	if _, err := ffmpeg.Find(); err != nil {
		t.Skip("no ffmpeg for compressed sound")
	}
	status, out, errs = thrum("", "listen", filepath.Join("..", "..", "sound", "testdata", "files", "mulaw.wav"))
	if status != 0 {
		t.Errorf("compressed WAV, with ffmpeg at hand: status %d, %s%s", status, out, errs)
	}
}

// wavOf is a second or two of a square wave of n samples a period, 16 000 samples a second.
func wavOf(top int16, n, samples int) []byte {
	var b bytes.Buffer
	put := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) }
	b.WriteString("RIFF")
	put(uint32(36 + 2*samples))
	b.WriteString("WAVEfmt ")
	put([]uint32{16, 1 | 1<<16, 16000, 32000, 2 | 16<<16})
	b.WriteString("data")
	put(uint32(2 * samples))
	for i := range samples {
		v := top
		if n > 0 && i%n >= n/2 {
			v = -top
		}
		put(v)
	}
	return b.Bytes()
}
