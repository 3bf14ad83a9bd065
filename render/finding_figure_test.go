package render

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/draw"
	"thrum/trial"
	"thrum/unit"
)

// reported settles a trial, scores every run and reports it.
func reported(t testing.TB, d trial.Design, better trial.Direction, score func(i int, r trial.Run) float64) *trial.Report {
	t.Helper()
	s, err := trial.Settle(trial.Settled{
		Question: "Does a tailstock centre reduce the marks on a slender screw?", Factor: trial.Factor{Name: "support", Baseline: "no centre", Changed: "centre"},
		ScoreIs: "marks per turn", Better: better, Design: d, Watch: "drill the hole in both arms",
	}, 7)
	if err != nil {
		t.Fatal(err)
	}
	r := trial.Record{Settled: *s}
	for i, run := range s.Runs {
		e := trial.Evidence{Code: run.Code, Cut: true, Grades: []trial.Grade{{By: "ann", Of: s.ScoreIs, Value: score(i, run)}}, Conditions: map[string]string{"oil": "sulphur", "edge": fmt.Sprint(1 + i/4)}}
		e.Limits = &trial.SizeLimits{Min: 13.10, Max: 13.20}
		for place := 1; place <= 3; place++ {
			v := unit.Length(13.15)
			if run.Arm == "centre" && i < 3 {
				v -= .06
			}
			e.Sizes = append(e.Sizes, trial.Size{Place: place, Value: v}, trial.Size{Place: place, Angle: 90 * unit.Degree, Value: v + .002})
		}
		r.Evidence = append(r.Evidence, e)
	}
	rep, err := r.Report()
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

func eightPairs(t testing.TB) *trial.Report {
	return reported(t, trial.Design{Kind: trial.KindPairs, Blocks: 8}, trial.Lower, func(i int, r trial.Run) float64 {
		if r.Arm == "centre" {
			return float64(3 + i%3)
		}
		return float64(9 + i%4)
	})
}

// The picture holds every sample as a dot, nothing overlaps and nothing is too
// small for a video frame; it is 1920 by 1080 pixels with a ground one can see through.
func TestFindingFigure(t *testing.T) {
	rep := eightPairs(t)
	l := FindingFigure(rep.Finding)
	for _, f := range l.Faults(0, 4) {
		t.Error(f)
	}
	for _, f := range FindingDots(rep.Finding, draw.Size{W: 110, H: 100}).Faults(0, 4-.01) {
		t.Error("narrow:", f)
	}
	var b bytes.Buffer
	if err := l.SVG(&b, 0, draw.SVGOptions{Transparent: true}); err != nil {
		t.Fatal(err)
	}
	kept(t, "finding.svg", b.Bytes(), bytes.Equal)
	b.Reset()
	if err := l.PNG(&b, 0, draw.PNGOptions{Transparent: true}); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if s := img.Bounds().Size(); s.X != 1920 || s.Y != 1080 {
		t.Errorf("%v pixels", s)
	}
	if _, _, _, a := img.At(2, 2).RGBA(); a != 0 {
		t.Errorf("the ground hides what lies below: %d", a)
	}
}

// Whatever the scores, each sample has a place of its own within the strip, and its
// height on the axis is its score.
func TestEverySampleIsADot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scores := rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 16, 16).Draw(t, "scores")
		if rapid.Bool().Draw(t, "graded") {
			for i := range scores {
				scores[i] = math.Round(math.Mod(scores[i], 3))
			}
		}
		f := &trial.Finding{Factor: trial.Factor{Name: "x", Baseline: "a", Changed: "b"}, ScoreIs: "s"}
		for i, v := range scores {
			f.Samples = append(f.Samples, trial.Sample{Name: fmt.Sprint(i), Arm: []string{"a", "b"}[i%2], Score: v})
		}
		g := &dotFigure{List: draw.New(draw.Wide, "x"), f: f}
		g.scale(50, 300)
		a, b := g.place("a", 60, 20), g.place("b", 110, 20)
		if len(a)+len(b) != len(scores) {
			t.Fatalf("%d and %d dots of %d samples", len(a), len(b), len(scores))
		}
		for i, p := range a {
			if back := g.lo + float64((p.X-50)/250)*(g.hi-g.lo); math.Abs(back-scores[i]) > 1e-6*(1+g.hi-g.lo) || p.X < 50-1e-9 || p.X > 300+1e-9 {
				t.Fatalf("score %g is drawn at %g", scores[i], back)
			}
			for j, q := range a {
				if i != j && p.Dist(q) < dotRadius {
					t.Fatalf("samples %d and %d lie on each other", i, j)
				}
			}
		}
	})
}

// The paper keeps the answers apart and lists every sample; a report without
// scores says what is missing.
func TestFindingPage(t *testing.T) {
	rep := eightPairs(t)
	l := FindingPage(rep, draw.A4)
	for page := range l.Pages() {
		for _, f := range l.Faults(page, draw.SmallText-.01) {
			t.Errorf("page %d: %s", page, f)
		}
	}
	var b bytes.Buffer
	if err := l.PDF(&b); err != nil || !bytes.HasPrefix(b.Bytes(), []byte("%PDF")) {
		t.Fatal(err)
	}
	size := func() string {
		for _, a := range Answers(rep) {
			if a.Name == "size" {
				return a.Words
			}
		}
		return ""
	}
	if got := size(); !strings.Contains(got, "Size was lost") {
		t.Errorf("lost: %q", got)
	}
	rep.Finding.Measured.Undersize, rep.Judged = trial.Loss{}, 0
	if got := size(); !strings.Contains(got, "is not known") {
		t.Errorf("without limits: %q", got)
	}
	rep.Finding, rep.Waiting = nil, "nothing is scored"
	if l := FindingPage(rep, draw.Size{}); l.Pages() < 1 {
		t.Error("no page")
	}
}

func TestFindingSummary(t *testing.T) {
	var b bytes.Buffer
	if err := FindingSummary(&b, eightPairs(t)); err != nil {
		t.Fatal(err)
	}
	kept(t, "finding.txt", b.Bytes(), bytes.Equal)
	for _, want := range []string{"Seen: ", "Measured: ", "Size: Size was lost", "Caused: ", "drawn by lot", "held: oil", "T0001", "µm beyond its limit"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing from\n%s", want, b.String())
		}
	}
}
