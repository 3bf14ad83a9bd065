package cause

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thrum/sound"
	"thrum/unit"
)

// trainLines are the lines of the set-up in which the recordings of package sound
// were made.
var trainLines = []sound.Line{
	{Name: "gear 40 on the spindle", Kind: sound.MeshLine, PerTurn: unit.Whole(40), Harmonics: 3},
	{Name: "stud 35 into 30", Kind: sound.MeshLine, PerTurn: unit.MustRatio(105, 4), Harmonics: 3},
	{Name: "mains", Kind: sound.MainsLine, Freq: 50, Harmonics: 4},
	{Name: "motor, 4 poles", Kind: sound.MotorLine, Freq: 25, Slip: 0.06, Harmonics: 2},
}

func hear(t testing.TB, file string, o sound.ListenOptions) *sound.Heard {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	s, err := sound.Open(bytes.NewReader(b), sound.OpenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	h, err := sound.Listen(context.Background(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func made(name string) string { return filepath.Join("..", "sound", "testdata", "listen", name) }

// TestBareTone: a test tone does not even show that something was cut.
func TestBareTone(t *testing.T) {
	h := hear(t, made("tone.opus"), sound.ListenOptions{Given: 200, Lines: trainLines})
	f, err := Judge(Case{Cuts: []Cut{{Name: "tone", Heard: h}}, Lines: trainLines})
	if err != nil {
		t.Fatal(err)
	}
	if f.Told || f.Confidence > capBare || !strings.HasPrefix(f.Sentence, "cannot tell") || f.Because == "" || f.Test == nil {
		t.Errorf("%s %s %+v", f.Sentence, f.Because, f.Test)
	}
}
