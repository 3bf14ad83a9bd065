package render

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"thrum/trial"
)

// The text of a finding keeps the three answers apart and shows every sample.
func TestFindingText(t *testing.T) {
	file, err := os.Open("../examples/trials/centre.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	x, err := trial.ReadCSV(file, "")
	if err != nil {
		t.Fatal(err)
	}
	x.Drawn, x.Better, x.ScoreIs, x.Factor.Name = true, trial.Lower, "marks", "support"
	f, err := trial.Analyze(*x)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Finding(&b, f, TextOptions{}); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, want := range []string{"\nseen", "\nmeasured", "\ncaused", "\nsize", "8 pairs", "all 256 ways, 4 are", "changed on purpose", "[L3]", "oil                    held"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing from\n%s", want, text)
		}
	}
	dots := strings.Count(text, "●")
	for _, c := range strings.Join(strings.SplitN(text, "\n", 6)[2:4], "") {
		if c >= '2' && c <= '9' {
			dots += int(c - '0')
		}
	}
	if dots != 16 {
		t.Errorf("%d of 16 samples are drawn\n%s", dots, text)
	}
}
