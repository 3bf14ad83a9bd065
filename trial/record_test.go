package trial

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

func centreTrial(d Design) Settled {
	return Settled{Question: "Does a centre reduce the marks?", Factor: Factor{"support", "no centre", "centre"}, ScoreIs: "marks", Better: Lower, Design: d}
}

// recordOf settles a trial and scores every run.
func recordOf(t testing.TB, d Design, score func(i int, run Run) float64) Record {
	t.Helper()
	s, err := Settle(centreTrial(d), 42)
	if err != nil {
		t.Fatal(err)
	}
	r := Record{Settled: *s}
	for i, run := range s.Runs {
		r.Evidence = append(r.Evidence, Evidence{
			Code: run.Code, Cut: true, Grades: []Grade{{"ann", "marks", score(i, run)}}, Conditions: map[string]string{"oil": "sulphur"},
		})
	}
	return r
}

// What a plan can reach at best, against the number of ways of choosing r of n:
// Fisher, The Design of Experiments (tea, 4 and 4: 70), and binomials.
func TestOffersSayWhatCanBeReached(t *testing.T) {
	want := map[string]struct {
		ways float64
		can  bool
	}{
		"1 with a and 1 with b, 2 cuts": {2, false}, "2 with a and 2 with b, 4 cuts": {6, false}, "3 with a and 3 with b, 6 cuts": {20, false},
		"4 with a and 4 with b, 8 cuts": {70, true}, "5 pairs, 10 cuts": {32, false}, "6 pairs, 12 cuts": {64, true},
		"2 bars, on each 2 with a and 2 with b, 8 cuts": {36, false}, "3 bars, on each 2 with a and 2 with b, 12 cuts": {216, true},
	}
	seen := 0
	for _, o := range Offers() {
		w, ok := want[o.Design.Words(Factor{"x", "a", "b"})]
		if !ok {
			continue
		}
		seen++
		outside.Check(t, outside.Claim{What: "ways of dealing out: " + o.Design.Words(Factor{"x", "a", "b"}), Source: "Fisher, The Design of Experiments, 1935, sec. 5-7 (choosing r of n; within each block the product)", Status: outside.Memory, Published: w.ways, Ours: o.Reach.Ways})
		if o.Reach.Can != w.can {
			t.Errorf("%+v: can %v", o.Design, o.Reach.Can)
		}
		if !w.can && !strings.Contains(o.Reach.Words, "never reach 5 %") {
			t.Errorf("%+v says %q", o.Design, o.Reach.Words)
		}
	}
	if seen < 6 {
		t.Errorf("only %d designs compared", seen)
	}
}

// Each draw holds each arm as often as the design says, within each block; each
// code once; and the same seed draws the same.
func TestDraw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Design{Kind: rapid.SampledFrom(Kinds()).Draw(t, "kind"), Blocks: rapid.IntRange(1, 8).Draw(t, "blocks"), A: rapid.IntRange(1, 5).Draw(t, "a"), B: rapid.IntRange(1, 5).Draw(t, "b")}
		f := Factor{"speed", "slow", "fast"}
		seed := rapid.Uint64().Draw(t, "seed")
		runs, err := d.Draw(f, seed)
		if err != nil {
			t.Fatal(err)
		}
		again, _ := d.Draw(f, seed)
		p := d.Plan()
		if len(runs) != d.Cuts() || len(again) != len(runs) {
			t.Fatalf("%d runs, want %d", len(runs), d.Cuts())
		}
		codes, in := map[string]bool{}, map[int][2]int{}
		for i, r := range runs {
			if r != again[i] || r.Order != i+1 || codes[r.Code] {
				t.Fatalf("run %d: %+v against %+v", i, r, again[i])
			}
			codes[r.Code] = true
			n := in[r.Block]
			if r.Arm == "fast" {
				n[1]++
			} else {
				n[0]++
			}
			in[r.Block] = n
		}
		for b, n := range in {
			if n != [2]int{p.A, p.B} {
				t.Fatalf("block %d holds %v, want %d and %d", b, n, p.A, p.B)
			}
		}
	})
}

// Over many seeds each order of a pair comes up about as often: 1000 tosses of a
// fair coin lie within 50 of 500 but for 16 in 10000.
func TestDrawIsFair(t *testing.T) {
	first := 0
	for seed := range uint64(1000) {
		runs, err := Design{Kind: KindPairs, Blocks: 1}.Draw(Factor{"x", "a", "b"}, seed)
		if err != nil {
			t.Fatal(err)
		}
		if runs[0].Arm == "b" {
			first++
		}
	}
	if first < 450 || first > 550 {
		t.Errorf("the changed arm comes first %d times in 1000", first)
	}
}

func TestSettledSurvivesAndCannotBeMended(t *testing.T) {
	s, err := Settle(centreTrial(Design{Kind: KindPairs, Blocks: 6}), math.MaxUint64)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadSettled(bytes.NewReader(b))
	if err != nil || back.Seed != math.MaxUint64 || len(back.Runs) != 12 {
		t.Fatalf("%v %+v", err, back)
	}
	back.Runs[0].Arm, back.Runs[1].Arm = back.Runs[1].Arm, back.Runs[0].Arm
	if b, err = json.Marshal(back); err != nil {
		t.Fatal(err)
	}
	var in *unit.InputError
	if _, err := ReadSettled(bytes.NewReader(b)); !errors.As(err, &in) || !strings.Contains(in.Reason, "another run order") {
		t.Errorf("a mended draw was taken: %v", err)
	}
	for name, s := range map[string]Settled{
		"no question": {Factor: Factor{"a", "b", "c"}, ScoreIs: "x", Design: Design{Kind: KindPairs, Blocks: 2}},
		"no score":    {Question: "?", Factor: Factor{"a", "b", "c"}, Design: Design{Kind: KindPairs, Blocks: 2}},
		"one arm":     {Question: "?", Factor: Factor{"a", "b", "B"}, ScoreIs: "x", Design: Design{Kind: KindPairs, Blocks: 2}},
		"no pairs":    {Question: "?", Factor: Factor{"a", "b", "c"}, ScoreIs: "x", Design: Design{Kind: KindPairs}},
		"no kind":     {Question: "?", Factor: Factor{"a", "b", "c"}, ScoreIs: "x", Design: Design{Kind: "cube", Blocks: 3}},
		"too many":    {Question: "?", Factor: Factor{"a", "b", "c"}, ScoreIs: "x", Design: Design{Kind: KindBars, Blocks: 100, A: 100, B: 100}},
		"margin":      {Question: "?", Factor: Factor{"a", "b", "c"}, ScoreIs: "x", Margin: math.NaN(), Design: Design{Kind: KindPairs, Blocks: 2}},
	} {
		if _, err := Settle(s, 1); !errors.As(err, &in) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Marks gone but size lost: both are said, whatever the marks.
func TestSizeLostIsSaid(t *testing.T) {
	r := recordOf(t, Design{Kind: KindGroups, A: 4, B: 4}, func(i int, run Run) float64 {
		if run.Arm == "centre" {
			return float64(i % 2)
		}
		return float64(8 + i%3)
	})
	for i, run := range r.Settled.Runs {
		e := &r.Evidence[i]
		e.Limits = &SizeLimits{Min: 13.10, Max: 13.20}
		for place := 1; place <= 3; place++ {
			for _, a := range []unit.Angle{0, 90 * unit.Degree} {
				v := unit.Length(13.15 + 0.001*float64(place))
				if a > 0 {
					v += .004
				}
				if run.Arm == "centre" {
					v -= .08
				}
				e.Sizes = append(e.Sizes, Size{place, a, v})
			}
		}
	}
	rep, err := r.Report()
	if err != nil {
		t.Fatal(err)
	}
	f := rep.Finding
	if f.Caused.Level != Good || f.Measured.Undersize.B != 4 || f.Measured.Undersize.A != 0 {
		t.Errorf("level %q, lost %+v", f.Caused.Level, f.Measured.Undersize)
	}
	if !strings.Contains(f.Measured.Undersize.Words, "loss") {
		t.Errorf("%q", f.Measured.Undersize.Words)
	}
	if rep.Size == nil || math.Abs(rep.Size.Test.Effect+.08) > 1e-9 {
		t.Errorf("size %+v", rep.Size)
	}
	s := rep.Shapes[0]
	if s.N != 6 || math.Abs(s.Taper.MM()-.002) > 1e-9 || math.Abs(s.Round.MM()-.004) > 1e-9 {
		t.Errorf("shape %+v", s)
	}
	if (s.Beyond > 0) != (s.Arm == "centre") {
		t.Errorf("shape %+v", s)
	}
}

func TestReportWaitsAndTellsWhatIsMissing(t *testing.T) {
	r := recordOf(t, Design{Kind: KindPairs, Blocks: 6}, func(_ int, run Run) float64 { return float64(len(run.Arm)) })
	full := r.Evidence
	r.Evidence = nil
	rep, err := r.Report()
	if err != nil || rep.Finding != nil || !strings.Contains(rep.Waiting, "0 of 12") || len(rep.Missing) != 12 {
		t.Errorf("empty: %v %+v", err, rep)
	}
	r.Evidence = full
	r.Evidence[2].LeftOut = "the bar slipped"
	r.Evidence[7].Grades = nil
	rep, err = r.Report()
	if err != nil || rep.Finding == nil || len(rep.Missing) != 2 || !strings.Contains(strings.Join(rep.Finding.Notes, " "), "2 of 12 samples are not counted") {
		t.Errorf("two missing: %v %+v", err, rep)
	}
	if len(rep.Finding.Samples) != 10 {
		t.Errorf("%d samples", len(rep.Finding.Samples))
	}
}

// A score looked at besides has its p raised: Holm's example is the smaller times
// two, never below the other.
func TestOtherScoresAreAdjusted(t *testing.T) {
	r := recordOf(t, Design{Kind: KindGroups, A: 4, B: 4}, func(i int, run Run) float64 { return float64(i) + 20*float64(len(run.Arm)-6) })
	r.Settled.Others = []string{"finish"}
	for i, run := range r.Settled.Runs {
		r.Evidence[i].Grades = append(r.Evidence[i].Grades, Grade{"ann", "finish", float64(len(run.Arm)*10 + i%2)})
	}
	rep, err := r.Report()
	if err != nil || len(rep.Also) != 1 {
		t.Fatalf("%v %+v", err, rep)
	}
	if p := rep.Also[0]; math.Abs(p.P-2./70) > 1e-12 || math.Abs(p.Adjusted-4./70) > 1e-12 {
		t.Errorf("%+v", p)
	}
}

// The example of Krippendorff again, entered as grades of samples: alpha ordinal.
func TestGradersAgree(t *testing.T) {
	data := []string{"1 2 3 3 2 1 4 1 2 . . .", "1 2 3 3 2 2 4 1 2 5 . 3", ". 3 3 3 2 3 4 2 2 5 1 .", "1 2 3 3 2 4 4 1 2 5 1 ."}
	r := recordOf(t, Design{Kind: KindPairs, Blocks: 6}, func(int, Run) float64 { return 0 })
	for i := range r.Evidence {
		r.Evidence[i].Grades = nil
		for k, line := range data {
			if c := strings.Fields(line)[i]; c != "." {
				r.Evidence[i].Grades = append(r.Evidence[i].Grades, Grade{string(rune('a' + k)), "marks", float64(c[0] - '0')})
			}
		}
	}
	rep, err := r.Report()
	if err != nil || rep.Graders == nil {
		t.Fatalf("%v %+v", err, rep)
	}
	outside.Check(t, outside.Claim{What: "ordinal alpha of four graders, through the record of a trial", Source: "help page of the reliability function of R's irr, data set C; Krippendorff 2004", Status: outside.Read, Published: .815388, Ours: rep.Graders.Alpha, Tolerance: 1e-6})
}

func TestReturnTellsWhetherTheBaselineCameBack(t *testing.T) {
	r := recordOf(t, Design{Kind: KindReturn, A: 2, B: 2}, func(i int, _ Run) float64 { return float64(i) })
	rep, err := r.Report()
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(rep.Finding.Notes, " "); !strings.Contains(all, "did not come back") {
		t.Errorf("steady drift: %q", all)
	}
	if rep.Finding.Caused.Level == Good {
		t.Error("a fixed order counts as drawn")
	}
}

// A table that is written is read back as it was.
func TestWriteCSVReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[a-z=+@µ"',]{1,6}[a-z0-9 -]{0,4}[a-z]`)
		n := rapid.IntRange(2, 8).Draw(t, "n")
		blocks := rapid.Bool().Draw(t, "blocks")
		var in []Sample
		for i := range n {
			s := Sample{
				Name: itoa(i), Arm: []string{"a", "b"}[i%2], Score: rapid.Float64Range(-1e12, 1e12).Draw(t, "score"),
				Undersize: unit.Length(rapid.Float64Range(0, 999).Draw(t, "undersize")), Conditions: map[string]string{"oil": word.Draw(t, "oil"), "edge": itoa(i / 2)},
			}
			if blocks {
				s.Block = "pair " + itoa(i/2)
			}
			in = append(in, s)
		}
		var b bytes.Buffer
		if err := WriteCSV(&b, in); err != nil {
			t.Fatal(err)
		}
		back, err := ReadCSV(&b, "a")
		if err != nil {
			t.Fatal(err)
		}
		if len(back.Samples) != len(in) {
			t.Fatalf("%d of %d samples", len(back.Samples), len(in))
		}
		for i, s := range back.Samples {
			want := in[i]
			if s.Name != want.Name || s.Arm != want.Arm || s.Score != want.Score || s.Undersize != want.Undersize || s.Block != want.Block || s.Conditions["oil"] != want.Conditions["oil"] {
				t.Fatalf("%+v came back as %+v", want, s)
			}
		}
	})
}

// A condition that is the factor under another name is changed on purpose; a second
// one that changes with it still confounds.
func TestTheFactorUnderAnotherName(t *testing.T) {
	r := recordOf(t, Design{Kind: KindGroups, A: 4, B: 4}, func(i int, run Run) float64 { return float64(i%2) + 10*float64(len(run.Arm)) })
	for i, run := range r.Settled.Runs {
		r.Evidence[i].Conditions["centre"] = map[bool]string{true: "yes", false: "no"}[run.Arm == "centre"]
	}
	level := func(same ...string) Level {
		r.Settled.Same = same
		rep, err := r.Report()
		if err != nil {
			t.Fatal(err)
		}
		return rep.Finding.Caused.Level
	}
	if got := level(); got != Mixed {
		t.Errorf("not named: %q", got)
	}
	if got := level("Centre"); got != Good {
		t.Errorf("named: %q", got)
	}
	for i, run := range r.Settled.Runs {
		r.Evidence[i].Conditions["edge"] = map[bool]string{true: "2", false: "1"}[run.Arm == "centre"]
	}
	if got := level("centre"); got != Mixed {
		t.Errorf("with another edge in each arm: %q", got)
	}
}

// Every ready-made question can be settled as it stands.
func TestReadyQuestionsCanBeSettled(t *testing.T) {
	for _, q := range Questions() {
		if _, err := Settle(Settled{Question: q.Asks, Factor: q.Factor, ScoreIs: q.Score, Better: q.Better, Hold: q.Hold, Same: q.Same, Watch: q.Watch, Design: Design{Kind: KindPairs, Blocks: 6}}, 1); err != nil {
			t.Errorf("%s: %v", q.ID, err)
		}
	}
}

// The same arm first in every pair would let drift pass for the change; of 3000
// draws of three pairs, a quarter of which would be so, none is.
func TestNoDrawIsLopsided(t *testing.T) {
	for seed := range uint64(3000) {
		s, err := Settle(centreTrial(Design{Kind: KindPairs, Blocks: 3}), seed)
		if err != nil {
			t.Fatal(err)
		}
		if s.Runs[0].Arm == s.Runs[2].Arm && s.Runs[2].Arm == s.Runs[4].Arm {
			t.Fatalf("seed %d: %+v", s.Seed, s.Runs)
		}
	}
}
