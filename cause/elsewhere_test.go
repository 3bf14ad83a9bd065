package cause

import (
	"flag"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"thrum/internal/outside"
	"thrum/sound"
	"thrum/unit"
)

var elsewhereFolder = flag.String("elsewhere", "", "folder that docs/validation/cause/elsewhere.py has filled with WAV and Opus files")

// sureEnough is the confidence beyond which a wrong answer is a serious one.
const sureEnough = 0.8

// stray is a recording of something that is no cutting.
type stray struct {
	file, kind string
	given      unit.Rotation
}

func strays(t *testing.T, folder string) []stray {
	t.Helper()
	var out []stray
	for _, r := range outside.Named(t, filepath.Join(folder, "made.csv")) {
		given, err := strconv.ParseFloat(r["given_rpm"], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, stray{filepath.Join(folder, r["file"]), r["kind"], unit.Rotation(given)})
	}
	return out
}

// TestElsewhere: speech, music, blows on a plate, a hand saw and rain, taken for a recording of
// cutting by mistake, must not be given a cause with confidence. A voice has no steady
// tone either and comes in short bursts over all frequencies: it was once called torn metal at 85 %.
func TestElsewhere(t *testing.T) {
	for _, s := range strays(t, filepath.Join("testdata", "elsewhere")) {
		for _, given := range []unit.Rotation{0, s.given} {
			f, err := Judge(Case{Cuts: []Cut{{Heard: hear(t, s.file, sound.ListenOptions{Given: given})}}})
			if err != nil {
				t.Fatal(err)
			}
			if f.Confidence >= sureEnough || s.kind == "speech" && f.Told {
				t.Errorf("%s at %g rpm: %s", s.file, given.RPM(), f.Sentence)
			}
		}
	}
}

// TestElsewhereTable judges a whole set of them and prints the table of docs/validation/cause.md.
func TestElsewhereTable(t *testing.T) {
	if *elsewhereFolder == "" {
		t.Skip("needs -args -elsewhere FOLDER, which docs/validation/cause/elsewhere.py fills")
	}
	type count struct{ all, named, sure int }
	var kinds []string
	tallies := map[string]count{}
	for _, s := range strays(t, *elsewhereFolder) {
		f, err := Judge(Case{Cuts: []Cut{{Heard: hear(t, s.file, sound.ListenOptions{Given: s.given})}}})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(kinds, s.kind) {
			kinds = append(kinds, s.kind)
		}
		c := tallies[s.kind]
		c.all++
		if f.Told {
			c.named++
			t.Log(filepath.Base(s.file), f.Sentence)
		}
		if f.Told && f.Confidence >= sureEnough {
			c.sure++
		}
		tallies[s.kind] = c
	}
	fmt.Println("kind,recordings,a_cause_named,at_80_percent")
	for _, k := range kinds {
		fmt.Printf("%s,%d,%d,%d\n", k, tallies[k].all, tallies[k].named, tallies[k].sure)
	}
}
