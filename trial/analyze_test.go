package trial

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/unit"
)

func read(t testing.TB, table string) *Trial {
	t.Helper()
	x, err := ReadCSV(strings.NewReader(table), "")
	if err != nil {
		t.Fatal(err)
	}
	x.Drawn = true
	return x
}

func find(t testing.TB, x *Trial) *Finding {
	t.Helper()
	f, err := Analyze(*x)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Each rung of the ladder is reached by its design, and by no smaller one.
func TestLadder(t *testing.T) {
	four := "sample,arm,score,edge\n1,a,1,1\n2,a,2,2\n3,a,3,1\n4,a,4,2\n5,b,11,1\n6,b,12,2\n7,b,13,1\n8,b,14,2\n"
	one := "sample,arm,score\n1,a,1\n2,b,2\n"
	for _, c := range []struct {
		name, table string
		change      func(*Trial)
		want        Level
		say         string
	}{
		{"one pair", one, nil, OnePair, "bar-to-bar luck"},
		{"one pair, alike", "sample,arm,score\n1,a,1\n2,b,1\n", nil, NoWay, "Not enough to tell"},
		{"one pair with a spread", one, func(x *Trial) { x.Spread = Spread{.5, 4} }, Hint, "2 times"},
		{"two things changed", "sample,arm,score,edge\n1,a,1,old\n2,b,2,new\n", nil, Mixed, "other things changed"},
		{"three and three", "sample,arm,score\n1,a,1\n2,a,2\n3,a,3\n4,b,11\n5,b,12\n6,b,13\n", nil, NoWay, "can never reach 5 %"},
		{"four and four", four, nil, Good, "on this lathe"},
		{"not drawn", four, func(x *Trial) { x.Drawn = false }, NotDrawn, "not drawn by lot"},
		{"again", four, func(x *Trial) { x.Repeated = true }, Strong, "another day"},
		{"edge with it", strings.NewReplacer("11,1", "11,3", "12,2", "12,4", "13,1", "13,3", "14,2", "14,4").Replace(four), nil, Good, "on this lathe"},
		{"overlapping", "sample,arm,score\n1,a,1\n2,a,9\n3,a,3\n4,a,7\n5,b,2\n6,b,8\n7,b,4\n8,b,7\n", nil, NotShown, "compatible"},
		{"within the margin", "sample,arm,score\n1,a,1\n2,a,1.1\n3,a,1.2\n4,a,1\n5,b,1\n6,b,1.1\n7,b,1.2\n8,b,1.1\n", func(x *Trial) { x.Margin = 1 }, Small, "margin"},
	} {
		x := read(t, c.table)
		if c.change != nil {
			c.change(x)
		}
		f := find(t, x)
		if f.Caused.Level != c.want || !strings.Contains(f.Caused.Words, c.say) || strings.Contains(f.Caused.Words, "{") {
			t.Errorf("%s: %s: %q", c.name, f.Caused.Level, f.Caused.Words)
		}
		if strings.Contains(f.Caused.Words, "no effect") {
			t.Errorf("%s: claims that there is no effect", c.name)
		}
		if (c.want == NoWay || c.want == NotShown || c.want == OnePair) && f.Caused.Settle == "" {
			t.Errorf("%s: does not say what would settle it", c.name)
		}
	}
}

func TestConditions(t *testing.T) {
	f := find(t, read(t, `sample,pair,arm,score,edge,batch,oil,run,lamp
1,p,a,1,1,x,s,1,w
2,p,b,2,2,x,s,2,w
3,q,a,1,1,y,s,4,
4,q,b,2,2,y,s,3,w
5,r,a,1,1,z,s,5,w
6,r,b,2,2,z,s,6,w
`))
	want := map[string]Status{"edge": Together, "batch": Drifted, "oil": Held, "run": Drifted, "lamp": Unknown, "arm": OnPurpose}
	for _, c := range f.Conditions {
		if c.Status != want[c.Name] {
			t.Errorf("%s: %s, not %s", c.Name, c.Status, want[c.Name])
		}
		if c.Name == "run" && math.Abs(c.R-1./3) > .6 {
			t.Errorf("run: r = %g", c.R)
		}
		delete(want, c.Name)
	}
	if len(want) > 0 {
		t.Errorf("not compared: %v", want)
	}
}

// Two conditions may fix the arm together though neither does alone.
func TestJointConfounding(t *testing.T) {
	f := find(t, read(t, "sample,arm,score,u,v\n1,a,1,1,5\n2,a,2,2,6\n3,a,3,3,7\n4,a,1,5,9\n5,b,4,1,6\n6,b,5,2,7\n7,b,6,3,8\n8,b,4,4,9\n"))
	last := f.Conditions[len(f.Conditions)-1]
	if last.Name != "u with v" || last.Status != Together {
		t.Errorf("%+v", f.Conditions)
	}
}

func TestBaselineComesBack(t *testing.T) {
	back := find(t, read(t, "sample,arm,score\n1,a,10\n2,b,5\n3,a,10.2\n"))
	away := find(t, read(t, "sample,arm,score\n1,a,10\n2,b,5\n3,a,2\n"))
	if !strings.Contains(strings.Join(back.Notes, "\n"), "a came back") || !strings.Contains(strings.Join(away.Notes, "\n"), "drift may be the story") {
		t.Errorf("%q %q", back.Notes, away.Notes)
	}
}

// Marks gone but size lost is printed beside the score, whatever the score says.
func TestSizeLost(t *testing.T) {
	f := find(t, read(t, "sample,arm,score,undersize_mm\n1,a,9,0\n2,b,0,0.03\n"))
	if f.Measured.Undersize.B != 1 || !strings.Contains(f.Measured.Undersize.Words, "loss") || f.Measured.Test.Effect != -9 {
		t.Errorf("%+v", f.Measured)
	}
}

func TestVotes(t *testing.T) {
	x := read(t, "sample,arm,score\n1,a,1\n2,b,2\n3,a,1\n")
	for j := range 30 {
		out := LeftBetter
		if j%6 == 0 {
			out = RightBetter
		}
		v := Vote{"judge " + strconv.Itoa(j), "2", "1", out}
		if j%2 == 1 {
			v.Left, v.Right, v.Outcome = "1", "2", 3-out
		}
		x.Votes = append(x.Votes, v, Vote{v.Judge, "1", "3", Tie})
	}
	f := find(t, x)
	if s := f.Seen; s.B != 25 || s.A != 5 || s.Within != 30 || s.Range.Low <= 0 || !strings.Contains(s.Words, "for b") {
		t.Errorf("%+v", s)
	}
	if f.Caused.Level == Good || f.Caused.Level == Strong {
		t.Errorf("votes made a cause out of %s", f.Caused.Level)
	}
	x.Votes[0].Left = "9"
	if _, err := Analyze(*x); err == nil {
		t.Error("a vote on an unknown sample was taken")
	}
}

func TestUndefeatedItem(t *testing.T) {
	a, err := Fit(3, []Tally{{0, 1, 5, 3, 0}, {0, 2, 0, 8, 0}, {1, 2, 0, 8, 0}}, Model{})
	if err != nil || !a.Prior || !(a.Log[2] > a.Log[0]) || math.IsInf(a.Log[2], 0) {
		t.Errorf("%+v %v", a, err)
	}
	if _, err := Fit(4, []Tally{{0, 1, 5, 3, 0}, {2, 3, 4, 4, 0}}, Model{}); err == nil {
		t.Error("items that never met were ranked")
	}
}

func TestDrawRuns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Plan{rapid.IntRange(1, 9).Draw(t, "blocks"), rapid.IntRange(1, 5).Draw(t, "a"), rapid.IntRange(1, 5).Draw(t, "b")}
		runs, err := p.DrawRuns(Factor{"f", "a", "b"}, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		if err != nil {
			t.Fatal(err)
		}
		codes, arms := map[string]bool{}, map[string]int{}
		for i, r := range runs {
			if r.Order != i+1 {
				t.Fatalf("run %d is numbered %d", i+1, r.Order)
			}
			codes[r.Code] = true
			arms[strconv.Itoa(r.Block)+r.Arm]++
		}
		for b := 1; b <= p.Blocks; b++ {
			if k := strconv.Itoa(b); arms[k+"a"] != p.A || arms[k+"b"] != p.B {
				t.Fatalf("block %d: %v", b, arms)
			}
		}
		if len(codes) != len(runs) {
			t.Fatal("codes repeat")
		}
		n := rapid.IntRange(2, 9).Draw(t, "square")
		sq := latin(n, rand.New(rand.NewPCG(1, 1)))
		for i := range n {
			row, col := map[int]bool{}, map[int]bool{}
			for j := range n {
				row[sq[i][j]], col[sq[j][i]] = true, true
			}
			if len(row) != n || len(col) != n {
				t.Fatalf("not a Latin square: %v", sq)
			}
		}
	})
}

// Moving one arm moves the answer by as much and leaves p of a relabelling alike.
func TestShiftMovesInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SliceOfN(rapid.Float64Range(-9, 9), 3, 6).Draw(t, "a")
		b := rapid.SliceOfN(rapid.Float64Range(-9, 9), 3, 6).Draw(t, "b")
		d := rapid.Float64Range(-5, 5).Draw(t, "shift")
		var moved []float64
		for _, y := range b {
			moved = append(moved, y+d)
		}
		x, y, z := Randomise([]Block{{A: a, B: b}}, .9, nil), Randomise([]Block{{A: a, B: moved}}, .9, nil), Randomise([]Block{{A: b, B: a}}, .9, nil)
		if math.Abs(y.Interval.Low-x.Interval.Low-d) > 1e-8 || math.Abs(y.Shift-x.Shift-d) > 1e-8 {
			t.Fatalf("%+v then %+v after %g", x, y, d)
		}
		if math.Abs(z.Interval.Low+x.Interval.High) > 1e-8 || z.Extreme != x.Extreme {
			t.Fatalf("%+v, arms exchanged %+v", x, z)
		}
	})
}

// Sampled ways come near the counted ones.
func TestSampledWays(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var bs []Block
	for range 20 {
		bs = append(bs, Block{A: []float64{r.NormFloat64()}, B: []float64{r.NormFloat64() + .6}})
	}
	x := Randomise(bs, .95, r)
	var d []float64
	for _, b := range bs {
		d = append(d, b.B[0]-b.A[0])
	}
	bell, _ := PairedT(d, .95)
	if x.Exact || x.Error == 0 || math.Abs(x.P-bell.P) > .02 || math.Abs(x.Interval.Low-bell.Interval.Low) > .1 {
		t.Errorf("%+v against %+v", x, bell)
	}
}

// Simulated trials with known truth. A thousand by default bound the coverage to
// about 0.7 points; THRUM_SOAK=1 runs twenty thousand.
func TestCoverage(t *testing.T) {
	n, slack := 1000, .021
	if os.Getenv("THRUM_SOAK") == "1" {
		n, slack = 20000, .005
	}
	r := rand.New(rand.NewPCG(5, 6))
	noises := map[string]func() float64{
		"normal": r.NormFloat64, "skewed": r.ExpFloat64,
		"grades": func() float64 { return float64(1 + r.IntN(5)) },
	}
	const truth = .7
	for name, noise := range noises {
		cover, pairs, false5, asked := 0, 0, 0, 0
		for range n {
			var a, b []float64
			var ps []Block
			for range 5 {
				a, b = append(a, noise()), append(b, noise()+truth)
			}
			for range 7 {
				ps = append(ps, Block{A: []float64{noise()}, B: []float64{noise() + truth}})
			}
			if !Randomise([]Block{{A: a, B: b}}, .95, nil).Interval.Excludes(truth) {
				cover++
			}
			if !Randomise(ps, .95, nil).Interval.Excludes(truth) {
				pairs++
			}
			for i := range b {
				b[i] -= truth
			}
			asked++
			if Randomise([]Block{{A: a, B: b}}, .95, nil).P <= .05 {
				false5++
			}
		}
		share := func(k int) float64 { return float64(k) / float64(n) }
		if share(cover) < .95-slack || share(pairs) < .95-slack {
			t.Errorf("%s: exact intervals cover %.3f and %.3f", name, share(cover), share(pairs))
		}
		if share(false5) > .05+slack {
			t.Errorf("%s: %.3f false positives at 5 %%", name, share(false5))
		}
		t.Logf("%s: groups %.4f, pairs %.4f, false positives %.4f of %d", name, share(cover), share(pairs), share(false5), asked)
	}
	bell := 0
	for range n {
		var a, b []float64
		for range 20 {
			a, b = append(a, r.NormFloat64()), append(b, 2*r.NormFloat64()+truth)
		}
		if x, _ := Welch(a, b, .95); !x.Interval.Excludes(truth) {
			bell++
		}
	}
	if c := float64(bell) / float64(n); c < .93 || c > .97 {
		t.Errorf("Welch at 20 per arm covers %.3f", c)
	} else {
		t.Logf("Welch at 20 per arm: %.4f", c)
	}
}

func TestTables(t *testing.T) {
	for l, w := range ladder() {
		if len(w) < 10 {
			t.Errorf("%s: %q", l, w)
		}
	}
	for _, l := range []Level{Mixed, OnePair, Hint, Good, Strong, NotShown, NoWay, NotDrawn, Small} {
		if ladder()[l] == "" {
			t.Errorf("the ladder lacks %s", l)
		}
	}
	if len(Questions()) < 8 {
		t.Errorf("%d questions", len(Questions()))
	}
	for _, q := range Questions() {
		if q.Asks == "" || q.Watch == "" || q.Factor.Baseline == q.Factor.Changed || len(q.Hold) == 0 {
			t.Errorf("%+v", q)
		}
	}
}

func TestBadTables(t *testing.T) {
	for table, say := range map[string]string{
		"":                                        "is empty",
		"sample,arm\n1,a\n":                       "no column score",
		"sample,arm,score\n1,a,x\n2,b,1\n":        "line 2, column 5: score",
		"sample,arm,score\n1,a,1\n2,b\n":          "line 3",
		"sample,arm,score\n1,a,1\n2,b,2\n3,c,3":   "third arm",
		"sample,arm,score\n1,a,1\n2,a,2\n":        "nothing to be compared",
		"sample,arm,score\n1,a,NaN\n2,b,2\n":      "is not a number",
		"sample,arm,score,score\n":                "that of another column",
		"sample,arm,score,pair,block\n":           "keep one",
		"sample,arm,score\n1,\"a,1\n":             "line",
		"sample,arm,score,undersize_mm\n1,a,1,-2": "loss of size",
	} {
		_, err := ReadCSV(strings.NewReader(table), "")
		var in *unit.InputError
		if !errors.As(err, &in) || !strings.Contains(err.Error(), say) {
			t.Errorf("%q: %v", table, err)
		}
	}
}

func FuzzReadCSV(f *testing.F) {
	f.Add("sample,arm,score\n1,a,1\n2,b,2\n")
	f.Add("sample,pair,arm,score,edge,oil\n1,p,a,1,1,\n2,p,b,2,x,s\n3,q,a,1,1,s\n4,q,b,-1e12,2,s\n")
	f.Add("# x\n\ufeffsample,block,arm,score,undersize_mm\n1,1,a,1,0.1\n2,1,b,1,0\n")
	f.Fuzz(func(t *testing.T, table string) {
		x, err := ReadCSV(strings.NewReader(table), "")
		if err != nil {
			var in *unit.InputError
			if !errors.As(err, &in) {
				t.Fatalf("%v", err)
			}
			return
		}
		if len(x.Samples) > 400 {
			return
		}
		fd, err := Analyze(*x)
		if err != nil {
			t.Fatalf("%q was read but not analysed: %v", table, err)
		}
		if _, err := json.Marshal(fd); err != nil {
			t.Fatal(err)
		}
		if p := fd.Measured.Test.P; !(p > 0 && p <= 1) {
			t.Fatalf("p = %g", p)
		}
	})
}

func BenchmarkRandomise(b *testing.B) {
	bs := pairsOf(nil, zea)
	for b.Loop() {
		Randomise(bs, .95, nil)
	}
}
