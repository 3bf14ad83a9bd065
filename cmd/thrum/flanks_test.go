package main

import (
	"bytes"
	"encoding/json"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func sample(names ...string) []string {
	args := []string{"flanks"}
	for _, n := range names {
		args = append(args, filepath.Join("..", "..", "examples", "photos", n+".jpg"))
	}
	return append(args, "--thread", "M20x2.5")
}

// told reads the JSON answer; keys that are not there are nil.
type told struct {
	Schema          int
	Verdict, Reason string
	MarksPerTurn    *float64 `json:"marks_per_turn"`
	Uncertainty     *float64
	Frequency       *float64 `json:"frequency_hz"`
	Photos          []struct{ Verdict, Reason, Look string }
	Advice          []string
	Used            int `json:"photos_used"`
}

func tell(t *testing.T, args []string) told {
	t.Helper()
	status, out, errs := thrum("", append(args, "--json")...)
	if status != 0 {
		t.Fatalf("%v: status %d: %s", args, status, errs)
	}
	var a told
	if err := json.Unmarshal([]byte(out), &a); err != nil {
		t.Fatalf("%v: %v in %s", args, err, out)
	}
	return a
}

// The invented sample was given 152.4 marks per turn when it was drawn by the ray
// tracer (examples/photos/cases.csv).
func TestFlanksReadsTheSample(t *testing.T) {
	const truth = 152.4
	a := tell(t, append(sample("bar-a-1"), "--rpm", "200"))
	if a.Verdict != "accepted" || a.MarksPerTurn == nil || math.Abs(*a.MarksPerTurn-truth) > 0.015*truth {
		t.Fatalf("answer %+v, want accepted within 1.5 %% of %g", a, truth)
	}
	if f := truth * 200 / 60; a.Frequency == nil || math.Abs(*a.Frequency-f) > 0.015*f {
		t.Errorf("frequency %v, want %g Hz", a.Frequency, f)
	}
	if *a.Uncertainty < 0.01**a.MarksPerTurn {
		t.Errorf("uncertainty %g is below one per cent", *a.Uncertainty)
	}
}

func TestFlanksDrawsTheOutline(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out.png")
	status, text, errs := thrum("", append(sample("bar-a-1"), "--overlay", out)...)
	if status != 0 || !strings.Contains(text, "152 ± ") {
		t.Fatalf("status %d: %s%s", status, text, errs)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	if img, err := png.Decode(bytes.NewReader(b)); err != nil || img.Bounds().Dx() != 1120 {
		t.Fatalf("overlay: %v %v", img, err)
	}
}

func TestFlanksRefusesInput(t *testing.T) {
	page := filepath.Join(t.TempDir(), "photo.jpg")
	if err := os.WriteFile(page, []byte("<html>not found</html>"), 0o600); err != nil {
		t.Fatal(err)
	}
	one := sample("bar-a-1")[1]
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{one}, `thread "": is missing`},
		{[]string{one, "--thread", "M20x2.5-6H"}, "is internal, and flanks are read on outside threads"},
		{[]string{one, "--thread", "1/2-14 NPT"}, "is tapered"},
		{[]string{one, "--thread", "M20x2.5", "--diameter", "16mm"}, "is more than 5 % off the 20 mm"},
		{[]string{one, "--thread", "M20x2.5", "--rpm=-3"}, "is not a spindle speed"},
		{[]string{one, "--thread", "M20x2.5", "--rpm-error", "3"}, "is not an error of this speed"},
		{[]string{one, "--thread", "M20x2.5", "--feed", "up"}, "is not a side of the picture"},
		{[]string{"nowhere.jpg", "--thread", "M20x2.5"}, `photo "nowhere.jpg": cannot be read`},
		{[]string{filepath.Dir(page), "--thread", "M20x2.5"}, "is a folder"},
		{[]string{page, "--thread", "M20x2.5"}, "(text) is not a photo, whatever its name says"},
	} {
		status, out, errs := thrum("", append([]string{"flanks"}, c.args...)...)
		if status != 2 || out != "" || !strings.Contains(errs, c.want) || !strings.Contains(errs, "hint: ") {
			t.Errorf("%v: status %d, out %q, errors %q; want 2 and %q with a hint", c.args, status, out, errs, c.want)
		}
	}
}

// Standard input is a file like any other.
func TestFlanksFromStandardInput(t *testing.T) {
	b, err := os.ReadFile(sample("bar-a-1")[1])
	if err != nil {
		t.Fatal(err)
	}
	status, out, errs := thrum(string(b), "flanks", "-", "--thread", "M20x2.5")
	if status != 0 || !strings.Contains(out, "per turn") {
		t.Errorf("status %d: %s%s", status, out, errs)
	}
}

// Two samples of one set of photographs: marks before (152.4 drawn), none after.
func TestFlanksBeforeAndAfter(t *testing.T) {
	after := filepath.Join("..", "..", "examples", "photos", "bar-b-1.jpg")
	again := filepath.Join("..", "..", "examples", "photos", "bar-a-2.jpg")
	args := append(sample("bar-a-1"), "--rpm", "200", "--after", after)
	status, text, errs := thrum("", append(args, "--together")...)
	text = strings.Join(strings.Fields(text), " ")
	if status != 0 || !strings.Contains(text, "BEFORE") || !strings.Contains(text, "marks as strong as") || !strings.Contains(text, "That alone does not say that they are gone") {
		t.Fatalf("status %d: %s%s", status, text, errs)
	}
	// What was not declared to be of one go is not taken for it.
	status, text, errs = thrum("", args...)
	if text = strings.Join(strings.Fields(text), " "); status != 0 || strings.Contains(text, "marks as strong as") {
		t.Errorf("status %d: %s%s", status, text, errs)
	}
	// The same bar at another speed: the frequency goes with it, and the index is compared
	// only when it was declared.
	args = append(sample("bar-a-1"), "--rpm", "200", "--after", again, "--after-rpm", "400")
	status, text, errs = thrum("", append(args, "--json", "--together")...)
	var a struct {
		Before, After told
		Comparison    []string
	}
	if err := json.Unmarshal([]byte(text), &a); status != 0 || err != nil {
		t.Fatalf("status %d, %v: %s", status, err, errs)
	}
	if a.Before.Frequency == nil || a.After.Frequency == nil || math.Abs(*a.After.Frequency / *a.Before.Frequency - 2) > 0.03 {
		t.Errorf("frequencies %v and %v at twice the speed", a.Before.Frequency, a.After.Frequency)
	}
	if all := strings.Join(a.Comparison, " "); !strings.Contains(all, "Flank index") {
		t.Errorf("no index: %s", all)
	}
	if _, text, _ = thrum("", args...); !strings.Contains(strings.Join(strings.Fields(text), " "), "How strong the marks are is not compared") {
		t.Errorf("compared without being declared: %s", text)
	}
	for _, odd := range [][]string{{"--together"}, {"--after", after, "--after-rpm", "-4"}, {"--after", "none.jpg"}} {
		if status, _, errs := thrum("", append(sample("bar-a-1"), odd...)...); status != 2 || !strings.Contains(errs, "hint:") {
			t.Errorf("%v: status %d: %s", odd, status, errs)
		}
	}
}
