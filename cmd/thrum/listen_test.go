package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
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
