package thread

import (
	"errors"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/unit"
)

func TestParseSpellings(t *testing.T) {
	for _, c := range []struct {
		callout, designation string
		prefer               Side
	}{
		{"1/2-13 UNC-2A", "1/2-13 UNC-2A", External},
		{"1/2-13UNC-2A-LH", "1/2-13 UNC-2A-LH", External},
		{"1/2-13 UNC-LH-2A", "1/2-13 UNC-2A-LH", External},
		{"1/2-13 unc 2a (LEFT HAND)", "1/2-13 UNC-2A-LH", External},
		{".500-13 UNC 2A", "1/2-13 UNC-2A", External},
		{"0.5-13UNC2A", "1/2-13 UNC-2A", External},
		{"½–13 UNC–2A", "1/2-13 UNC-2A", External},
		{`1/2"-13 UNC 2A`, "1/2-13 UNC-2A", External},
		{"1/2 x 13 UNC 2A", "1/2-13 UNC-2A", External},
		{"1/2-13 UNC THREAD", "1/2-13 UNC-2A", External},
		{"1/2-13 UNC-2A/2B", "1/2-13 UNC-2A", External},
		{"1/2-13 UNC-2A/2B", "1/2-13 UNC-2B", Internal},
		{"1/2-13 UNC INTERNAL", "1/2-13 UNC-2B", External},
		{"1/2-13 UNC-3", "1/2-13 UNC-3B", Internal},
		{"1/2 UNC", "1/2-13 UNC-2A", External},
		{"1/2 UNC-3A-LH", "1/2-13 UNC-3A-LH", External},
		{"#10 UNF 2B", "#10-32 UNF-2B", External},
		{"1-1/2 UNRF", "1-1/2-12 UNRF-2A", External},
		{"10 UNF", "#10-32 UNF-2A", External},
		{"#10-32 UNF-2B", "#10-32 UNF-2B", External},
		{"No. 10-32 UNF-2B", "#10-32 UNF-2B", External},
		{"10-32", "#10-32 UNF-2A", External},
		{".190-32 UNF-2A", "#10-32 UNF-2A", External},
		{"1-8", "1-8 UNC-2A", External},
		{"2-56", "#2-56 UNC-2A", External},
		{"2-4½ UNC-2B", "2-4.5 UNC-2B", External},
		{"1-1/2-6 UNC-2A", "1-1/2-6 UNC-2A", External},
		{"1 1/2 - 6 UNC - 2A", "1-1/2-6 UNC-2A", External},
		{"1.125-16 UN-2A SPECIAL, LE .75", "1-1/8-16 UN-2A SPECIAL, LE .75", External},
		{"1.125-16 UN-2A SPECIAL LENGTH OF ENGAGEMENT 0.75 IN", "1-1/8-16 UN-2A SPECIAL, LE .75", External},
		{".750-16UN-2A (2 START)", "3/4-16 UNF-2A (2 STARTS)", External},
		{".750-.0625P-.1875L UNF-2A", "3/4-16 UNF-2A (3 STARTS)", External},
		{"3/4-16 UNF-2A DOUBLE START LH", "3/4-16 UNF-2A-LH (2 STARTS)", External},
		{".300-32 UNS-3A", ".300-32 UNS-3A", External},
		{"1/2-14 special", "1/2-14 UNS-2A", External},
		{"10-28 UNS-2A", "#10-28 UNS-2A", External},
		{"1/4-28 UNJF-3A", "1/4-28 UNJF-3A", External},
		{"1/4-28 UNJF", "1/4-28 UNJF-3B", Internal},
		{"M10", "M10x1.5-6g", External},
		{"M10", "M10x1.5-6H", Internal},
		{"m10", "M10x1.5-6g", External},
		{"M10x1.5-6g", "M10x1.5-6g", External},
		{"M10X1.5 6g", "M10x1.5-6g", External},
		{"M10 × 1,25 LH - 4g6g", "M10x1.25-4g6g-LH", External},
		{"M 10*1.25", "M10x1.25-6g", External},
		{"M10-1.5-6g", "M10x1.5-6g", External},
		{"M10x1.5LH", "M10x1.5-6g-LH", External},
		{"M10\u00a0x\u00a01.5", "M10x1.5-6g", External},
		{"M10x1.5-6H/6g", "M10x1.5-6H", Internal},
		{"M10x1.5-6H/6g", "M10x1.5-6g", External},
		{"M20xPh3P1.5-6H", "M20xPh3P1.5-6H", External},
		{"M20xPh3P1.5(two starts)-7g", "M20xPh3P1.5-7g6g", External},
		{"M16 × L4 − P2 − 4h6h (TWO STARTS)", "M16xPh4P2-4h6h", External},
		{"M8x1-6H-LH", "M8x1-6H-LH", External},
		{"M12x1.75-5g6g-S", "M12x1.75-5g6g-S", External},
		{"M6.5 × 1 − 4h6h − SPL (22)", "M6.5x1-4h6h SPECIAL, LE 22", External},
		{"M10x1.6-6g special", "M10x1.6-6g SPECIAL", External},
		{"MJ6x1-4h6h", "MJ6x1-4h6h", External},
	} {
		got, err := Parse(c.callout, c.prefer)
		if err != nil {
			t.Errorf("%q: %v", c.callout, err)
			continue
		}
		if got.Designation != c.designation {
			t.Errorf("%q: %s, want %s", c.callout, got.Designation, c.designation)
		}
		if got.Callout != c.callout {
			t.Errorf("%q: callout kept as %q", c.callout, got.Callout)
		}
	}
}

// TestExamples: what a help page shows is read, by the family that shows it.
func TestExamples(t *testing.T) {
	for _, f := range Families() {
		if f.What == "" || f.Standard == "" || len(f.Examples) == 0 {
			t.Errorf("family %s is not described: %+v", f.Name, f)
		}
		for _, e := range f.Examples {
			for _, side := range []Side{External, Internal} {
				th, err := Parse(e, side)
				if err != nil {
					t.Errorf("%s: %v", e, err)
				} else if th.Family != f.Name {
					t.Errorf("%s is shown by family %s and read by %s", e, f.Name, th.Family)
				}
			}
		}
	}
}

// TestCapitalClass: on a drawing lettered in capitals 6G may mean 6g; it is read
// as it stands, and the doubt is said.
func TestCapitalClass(t *testing.T) {
	th := mustParse(t, "M10X1.5-6G", External)
	if th.Side != Internal || !assumed(th, "write 6g") {
		t.Errorf("side %v, notes %v", th.Side, th.Notes)
	}
	if th := mustParse(t, "M10x1.5-6G", External); assumed(th, "write 6g") {
		t.Errorf("no doubt about a callout in both cases: %v", th.Notes)
	}
}

func TestParseRefusals(t *testing.T) {
	for _, c := range []struct{ callout, reason, hint string }{
		{"", "is empty", ""},
		{"   ", "is empty", ""},
		{"LH", "names no thread", ""},
		{"1/2-13\x00UNC", "control character", ""},
		{"1/2-13\nUNC", "control character", ""},
		{"M10\xff", "not text", ""},
		{"M１０", "sign", ""},
		{strings.Repeat("M", 201), "longer than the 200 bytes", ""},
		{"spaghetti", "not a thread designation", "nearest forms: "},
		{"M10x1.6-6g", "no standard pitch 1.6 for M10 (coarse 1.5; fine 1.25, 1, 0.75)", `write "M10x1.6-6g special" to use it anyway`},
		{"M10.5x1", "M10.5 is no standard diameter", "nearest standard M10 and M11"},
		{"M15", "no coarse pitch", "M15x1.5"},
		{"M10.5", "no pitch is given", "M10 and M11"},
		{"M10x1.5-6G EXTERNAL", "a class for nuts", "small letter: 6g"},
		{"M10x1.5-6d", "positions of screws", ""},
		{"M10x1.5-2g", "grades", ""},
		{"M10x1.5-9H", "grades of nuts", ""},
		{"M10x1.5-6g4H", "mixes", ""},
		{"M10x1.5-6g/4g", "a fit names", ""},
		{"M10x1.5-6g-S, LE 10", "is group N", ""},
		{"M20xPh3P1.4-6H", "not 1 to 20 times", ""},
		{"M20xPh3P1.5(3 starts)", "make 2 starts, not 3", ""},
		{"M10x9 special", "too coarse", ""},
		{"M10x0 special", "not between", ""},
		{"M99999999999999999999", "not between", ""},
		{"1/2-14", "no standard combination", "1/2 has 13 UNC, 16 UN, 20 UNF, 28 UNEF, 32 UN; write 1/2-14 UNS"},
		{"1/2-13 UNF", "no standard size of that series", "13 UNC"},
		{"11/32-20 UNF", "no standard size", "nearest sizes 5/16 and 3/8"},
		{"1 UNC", "may be number 1 or 1 inches", "write #1-64 or 1-8"},
		{"11/32 UNC", "has no size 11/32", "threads per inch"},
		{"1/2-13 UNC-2C", "cannot be read as a Unified thread", ""},
		{"1/2-13 UNC-4A", "no class 4", "1A, 2A or 3A"},
		{"1/2-13 UNC-2A INTERNAL", "says internal", ""},
		{"1/2-13 UNJC-2A", "only the classes 3A and 3B", ""},
		{"M0.35x0.2-9g8g special", "leaves no thread", "finer class"},
		{"1/2-0 UNS", "threads per inch", ""},
		{"1/0-13 UNC", "size", ""},
		{"6-36 UNS", "may be number 6 or 6 inches", "#6"},
		{"1/2-1 UNS", "too coarse", ""},
		{"1/2-13 UNC 99 STARTS", "1 to 20", ""},
		{"1/2-13 UNC LE 0", "length of engagement", ""},
		{"1/2-" + strings.Repeat("9", 150) + " UNC", "threads per inch", ""},
	} {
		_, err := Parse(c.callout, External)
		var in *unit.InputError
		if !errors.As(err, &in) {
			t.Errorf("%q: error %v is no InputError", c.callout, err)
			continue
		}
		if in.Field != "thread" || in.Value != c.callout {
			t.Errorf("%q: field %q, value %q", c.callout, in.Field, in.Value)
		}
		if !strings.Contains(in.Reason, c.reason) {
			t.Errorf("%q: reason %q, want %q", c.callout, in.Reason, c.reason)
		}
		if !strings.Contains(in.Hint, c.hint) {
			t.Errorf("%q: hint %q, want %q", c.callout, in.Hint, c.hint)
		}
	}
}

// laws holds for every thread that Parse returns, whatever its family.
func laws(t interface {
	Helper()
	Fatalf(string, ...any)
}, th Thread,
) {
	t.Helper()
	name := th.Callout + " = " + th.Designation
	for what, b := range map[string]Band{"major": th.Limits.Major, "pitch": th.Limits.Pitch, "minor": th.Limits.Minor} {
		if b.Min < 0 || b.Max < 0 || math.IsNaN(float64(b.Min+b.Max)) || b.Min > 0 && b.Max > 0 && b.Min > b.Max {
			t.Fatalf("%s: %s limits %v to %v", name, what, b.Min, b.Max)
		}
	}
	if th.Starts < 1 || th.Starts > MaxStarts || th.Pitch.Sign() <= 0 || th.Lead().Cmp(th.Pitch) < 0 {
		t.Fatalf("%s: %d starts, pitch %v, lead %v", name, th.Starts, th.Pitch, th.Lead())
	}
	if th.Designation == "" || th.Family == "" || th.Nominal <= 0 {
		t.Fatalf("%s: incomplete: %+v", name, th)
	}
}

// orderedSixty holds for the 60 degree families: screws lie inside the basic
// profile, nuts outside.
func orderedSixty(t *rapid.T, th Thread) {
	const slack = 0.00051 * unit.Inch // figures are rounded
	l, b := th.Limits, th.Basic
	if th.Side == External {
		if l.Major.Max > b.Major+slack || l.Pitch.Max > b.Pitch+slack || l.Major.Min <= l.Pitch.Max ||
			l.Pitch.Width() < 0.2*th.Pitch.Length() && l.Pitch.Min <= l.Minor.Max {
			t.Fatalf("%s: screw limits %+v against basic %+v", th.Designation, l, b)
		}
		return
	}
	if l.Major.Min < b.Major-slack || l.Pitch.Min < b.Pitch-slack || l.Minor.Min < b.Minor-slack || l.Minor.Max >= l.Pitch.Min+slack && l.Minor.Max >= l.Major.Min {
		t.Fatalf("%s: nut limits %+v against basic %+v", th.Designation, l, b)
	}
}

// fixedPoint: what Parse writes, Parse reads, and it means the same.
func fixedPoint(t interface {
	Helper()
	Fatalf(string, ...any)
}, th Thread,
) {
	t.Helper()
	again, err := Parse(th.Designation, 1-th.Side) // the class in it tells the side
	if err != nil {
		t.Fatalf("%s: its designation is refused: %v", th.Callout, err)
	}
	if again.Designation != th.Designation || again.Limits != th.Limits || again.Hand != th.Hand || again.Starts != th.Starts ||
		again.Pitch != th.Pitch || again.Side != th.Side || again.Class != th.Class || again.Family != th.Family || again.Basic != th.Basic {
		t.Fatalf("%q reads as %+v; its designation %q reads as %+v", th.Callout, th, th.Designation, again)
	}
}

// TestEverySeriesRow parses every standard size of the Unified and metric series
// in every class.
func TestEverySeriesRow(t *testing.T) {
	classes := map[Family][]string{
		UnifiedFamily: {"-1A", "-2A", "-3A", "-1B", "-2B", "-3B"},
		MetricFamily:  {"-3g4g", "-4g6g", "-6g", "-6h", "-6f", "-6e", "-8g", "-9g8g", "-4H", "-4H5H", "-6H", "-6G", "-8H"},
	}
	n := 0
	for _, row := range Series() {
		for _, class := range classes[row.Family] {
			th := mustParse(t, row.Designation+class, External)
			if th.Series != row.Series || th.Pitch != row.Pitch || math.Abs(float64(th.Nominal-row.Nominal)) > 1e-9 {
				t.Errorf("%s: read as %s, %s, pitch %v, nominal %v", row.Designation, th.Designation, th.Series, th.Pitch, th.Nominal)
			}
			laws(t, th)
			fixedPoint(t, th)
			if th.Depth() <= 0 || th.Targets().Pitch.Size <= 0 {
				t.Errorf("%s: depth %v", th.Designation, th.Depth())
			}
			n++
		}
	}
	if n < 400*6 {
		t.Errorf("only %d standard threads were tried", n)
	}
}

func TestAnyUnifiedThread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tpi := rapid.IntRange(2, 100).Draw(t, "tpi")
		least := int(math.Ceil(1.6 * 10000 / float64(tpi)))
		d := rapid.IntRange(max(least+1, 400), min(120000, 2000000/tpi)).Draw(t, "ten-thousandths")
		form := rapid.SampledFrom([]string{"UNS", "UNRS", "UNJS"}).Draw(t, "form")
		class := rapid.SampledFrom([]string{"1A", "2A", "3A", "1B", "2B", "3B"}).Draw(t, "class")
		if form == "UNJS" {
			class = "3" + class[1:]
		}
		callout := decimalInches(unit.MustRatio(int64(d), 10000)) + "-" + numberText(unit.Whole(int64(tpi))) + " " + form + "-" + class
		if rapid.Bool().Draw(t, "left") {
			callout += "-LH"
		}
		if n := rapid.IntRange(1, 6).Draw(t, "starts"); n > 1 {
			callout += " (" + numberText(unit.Whole(int64(n))) + " STARTS)"
		}
		if rapid.Bool().Draw(t, "special length") {
			callout += " SPECIAL, LE " + inchText(rapid.Float64Range(0.1, 2).Draw(t, "le / diameter")*float64(d)/10000)
		}
		th, err := Parse(callout, External)
		if err != nil {
			if strings.Contains(err.Error(), "leaves no thread") {
				t.Skip()
			}
			t.Fatalf("%s: %v", callout, err)
		}
		laws(t, th)
		orderedSixty(t, th)
		fixedPoint(t, th)
	})
}

func TestAnyMetricThread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.IntRange(20, 800).Draw(t, "pitch / 0.01 mm")
		d := rapid.IntRange(p*16/10/5+1, 8000).Draw(t, "diameter / 0.05 mm")
		class := rapid.SampledFrom([]string{"3h4h", "4g6g", "6g", "6e", "6f", "9g8g", "4H", "4H5H", "6H", "6G", "8G"}).Draw(t, "class")
		j := rapid.SampledFrom([]string{"", "J"}).Draw(t, "form")
		callout := "M" + j + numberText(unit.MustRatio(int64(d), 20)) + "x"
		pitch := unit.MustRatio(int64(p), 100)
		if n := rapid.IntRange(1, 6).Draw(t, "starts"); n > 1 {
			callout += "Ph" + numberText(exactly(pitch, unit.Whole(int64(n)))) + "P"
		}
		callout += numberText(pitch) + "-" + class
		if rapid.Bool().Draw(t, "left") {
			callout += "-LH"
		}
		callout += " SPECIAL"
		if d < 5 || float64(d)/20 < 1.6*pitch.Float() {
			t.Skip()
		}
		th, err := Parse(callout, External)
		if err != nil {
			if strings.Contains(err.Error(), "leaves no thread") {
				t.Skip()
			}
			t.Fatalf("%s: %v", callout, err)
		}
		laws(t, th)
		fixedPoint(t, th)
		if th.Side == External && (th.Limits.Major.Max > th.Basic.Major || th.Limits.Pitch.Max > th.Basic.Pitch+0.00051) {
			t.Fatalf("%s: %+v against basic %+v", callout, th.Limits, th.Basic)
		}
		if th.Side == Internal && (th.Limits.Major.Min < th.Basic.Major || th.Limits.Pitch.Min < th.Basic.Pitch-0.00051) {
			t.Fatalf("%s: %+v against basic %+v", callout, th.Limits, th.Basic)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, family := range Families() {
		for _, example := range family.Examples {
			f.Add(example, false)
			f.Add(strings.ToLower(example)+" LH (2 STARTS), LE 1", true)
		}
	}
	for _, s := range []string{"", "1/2-13\x00", "M1e9x1", "½½-13", "----", "#-#", "M20xPh3P0", "1/2-13 UNC LE -1", "1/0-1/0 UN", "99999999999999999999-1 UNS"} {
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, s string, internal bool) {
		side := External
		if internal {
			side = Internal
		}
		th, err := Parse(s, side)
		if err != nil {
			var in *unit.InputError
			if !errors.As(err, &in) {
				t.Fatalf("%q: error of type %T: %v", s, err, err)
			}
			return
		}
		laws(t, th)
		switch th.Family {
		case UnifiedFamily, UnifiedJFamily, MetricFamily, MetricJFamily:
			fixedPoint(t, th)
		}
		for _, seg := range th.Groove() {
			if math.IsNaN(float64(seg.From.Z + seg.From.X + seg.To.Z + seg.To.X)) {
				t.Fatalf("%q: groove %+v", s, th.Groove())
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for _, s := range []string{"1/2-13 UNC-2A", "M10x1.5-6g"} {
		b.Run(s, func(b *testing.B) {
			for b.Loop() {
				if _, err := Parse(s, External); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestDocumentedCallouts: every callout that docs/threads.md shows is read.
func TestDocumentedCallouts(t *testing.T) {
	page, err := os.ReadFile("../docs/threads.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, ok := strings.Cut(string(page), "| Unified | metric |")
	table, _, ok2 := strings.Cut(table, "\n\n")
	callouts := regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(table, -1)
	if !ok || !ok2 || len(callouts) < 25 {
		t.Fatalf("the table of callouts holds %d", len(callouts))
	}
	for _, c := range callouts {
		if _, err := Parse(c[1], External); err != nil {
			t.Error(err)
		}
	}
}
