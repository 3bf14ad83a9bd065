package render

import (
	"bytes"
	"errors"
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"thrum/draw"
	"thrum/examples"
	"thrum/plan"
	"thrum/unit"
)

// sheetPlans are set-ups of every kind, by the names of the example lathes.
func sheetPlans(t testing.TB, names ...string) map[string]*plan.Plan {
	t.Helper()
	inch, metric := "inch-bench", "metric-geared"
	all := map[string]struct {
		lathe string
		r     plan.Request
	}{
		"unified":       {inch, plan.Request{Callout: "1/2-13 UNC-2A", Units: unit.Inches, Length: 25.4, Stickout: 50.8, Centre: true}},
		"metric":        {metric, plan.Request{Callout: "M20x2.5-6g", Length: 40, Stickout: 60}},
		"left hand":     {inch, plan.Request{Callout: "1-5 ACME-2G LH", Units: unit.Inches, Length: 50, Stickout: 80, Centre: true}},
		"internal":      {metric, plan.Request{Callout: "M30x2-6H", Internal: true, Length: 25, Stickout: 40}},
		"buttress":      {inch, plan.Request{Callout: "1-8 BUTT-2A", Units: unit.Inches, Length: 25, Stickout: 60, Centre: true}},
		"taper":         {inch, plan.Request{Callout: "1/2-14 NPT", Units: unit.Inches, Length: 20, Stickout: 50}},
		"two starts":    {metric, plan.Request{Callout: "Tr40x14(P7)-7e", Length: 60, Stickout: 100, Centre: true}},
		"many passes":   {metric, plan.Request{Callout: "Tr40x7-7e", Length: 60, Stickout: 100, Centre: true, MaxDepth: 0.05, ToolMaterial: "carbide"}},
		"straight":      {metric, plan.Request{Callout: "M10x1.5-6g", Length: 20, Stickout: 40, Infeed: "straight"}},
		"long words":    {inch, plan.Request{Callout: "M12x1.75-6g", Length: 20, Stickout: 40, FinalStraight: 3}},
		"pipe":          {metric, plan.Request{Callout: "G 1/2 A", Length: 15, Stickout: 40}},
		"blocked":       {inch, plan.Request{Callout: "1/2-13 UNC-2A LH", Units: unit.Inches, Length: 25.4, Stickout: 50.8, Away: true, Relief: 1}},
		"before a coat": {metric, plan.Request{Callout: "M20x2.5-6g", Length: 40, Stickout: 60, Plating: 0.008}},
		"in inches":     {metric, plan.Request{Callout: "M20x2.5-6g", Units: unit.Inches, Length: 40, Stickout: 60}},
	}
	if len(names) == 0 {
		for name := range all {
			names = append(names, name)
		}
	}
	out := map[string]*plan.Plan{}
	for _, name := range names {
		c := all[name]
		text, ok := examples.Lathe(c.lathe)
		if !ok {
			t.Fatalf("no example lathe %q", c.lathe)
		}
		c.r.Lathe, c.r.Material = text, "1018"
		p, err := plan.Make(c.r)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = p
	}
	return out
}

func mustPage(t testing.TB, p *plan.Plan, paper draw.Size) *draw.List {
	t.Helper()
	l, err := Page(p, PageOptions{Paper: paper})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// svgOf returns one page of a list as SVG, which keeps text as text.
func svgOf(t testing.TB, l *draw.List, page int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := l.SVG(&b, page, draw.SVGOptions{}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// On no page of any sheet do words overlap, leave the paper, get crossed, or fall
// below the smallest lettering.
func TestSheetsAreLegible(t *testing.T) {
	for name, p := range sheetPlans(t) {
		for where, paper := range map[string]draw.Size{"A4": draw.A4, "Letter": draw.Letter} {
			l := mustPage(t, p, paper)
			for i := range l.Pages() {
				for _, f := range l.Faults(i, draw.SmallText) {
					t.Errorf("%s on %s, page %d: %s", name, where, i+1, f)
				}
			}
		}
	}
}

// Page one holds what the hands need: the key figures, every warning, every
// caution, and the passes from the first on.
func TestPageOneHoldsWhatHurts(t *testing.T) {
	flat := func(s string) string { return strings.Join(strings.Fields(s), "") }
	for name, p := range sheetPlans(t) {
		l := mustPage(t, p, draw.A4)
		page := flat(wordsOf(t, l, 0))
		want := []string{p.Thread.Designation}
		for _, h := range p.Hazards {
			if h.Level != plan.Forbidden {
				want = append(want, h.Text)
			}
		}
		if w := p.Wires; w != nil {
			want = append(want, number(w.Over.Min, p.Request.Units), number(w.Over.Max, p.Request.Units))
		}
		if len(p.Blocked()) > 0 {
			want = append(want, "BLOCKED", "none: this set-up is blocked")
		} else {
			want = append(want, fmt.Sprintf("%.4g rpm", p.Speed.RPM.RPM()), fmt.Sprintf("%.2f", p.Stopping.Seconds.S()))
		}
		if p.Stopping.Assumed {
			want = append(want, "ASSUMED timing")
		}
		if p.Thread.LeftHand {
			want = append(want, "LEFT HAND")
		}
		for _, w := range want {
			if !strings.Contains(page, flat(w)) {
				t.Errorf("%s: page one does not say %q", name, w)
			}
		}
	}
}

// Every pass stands on the sheet once, in order, wherever it stands.
func TestEveryPassIsThere(t *testing.T) {
	for name, p := range sheetPlans(t, "many passes", "left hand", "two starts", "long words") {
		pg := newPage(p, draw.Letter, bestFront(p, draw.Letter))
		shown := pg.one().shown
		if shown < fewest && shown < len(p.Passes) {
			t.Errorf("%s: only %d of %d passes on page one", name, shown, len(p.Passes))
		}
		n := 0
		for _, r := range pg.s.upTo(0, len(p.Passes)) {
			if r.dial != "" {
				if r.pass.N != p.Passes[n].N {
					t.Errorf("%s: pass %d stands where %d belongs", name, r.pass.N, p.Passes[n].N)
				}
				n++
			}
		}
		if n != len(p.Passes) {
			t.Errorf("%s: %d of %d passes", name, n, len(p.Passes))
		}
		l, all := mustPage(t, p, draw.Letter), ""
		for i := range l.Pages() {
			all += wordsOf(t, l, i)
		}
		for _, ps := range p.Passes {
			if !strings.Contains(all, number(ps.Depth, p.Request.Units)) {
				t.Errorf("%s: the depth of pass %d is missing", name, ps.N)
			}
		}
	}
}

// What can hurt is told by a word and by a sign, and stands before the rest.
func TestAssumptionsThatHurtAreMarked(t *testing.T) {
	for name, p := range sheetPlans(t, "unified", "metric") {
		l, all := mustPage(t, p, draw.A4), ""
		for i := 1; i < l.Pages(); i++ {
			all += wordsOf(t, l, i)
		}
		harm := 0
		for _, a := range p.Assumptions {
			if a.Harm {
				harm++
			}
		}
		if harm == 0 {
			t.Fatalf("%s: no assumption of this plan can hurt", name)
		}
		if got := strings.Count(all, "CAN HURT"); got != harm {
			t.Errorf("%s: %d marks for %d assumptions that can hurt", name, got, harm)
		}
	}
}

// wordsOf returns the words of a page, read from its SVG.
func wordsOf(t testing.TB, l *draw.List, page int) string {
	t.Helper()
	var words []string
	s := string(svgOf(t, l, page))
	for {
		i := strings.Index(s, "<text")
		if i < 0 {
			break
		}
		s = s[i:]
		open, end := strings.Index(s, ">"), strings.Index(s, "</text>")
		words = append(words, s[open+1:end])
		s = s[end:]
	}
	return strings.NewReplacer("&lt;", "<", "&gt;", ">", "&amp;", "&", "&#34;", `"`, "&quot;", `"`, "&#39;", "'", "&apos;", "'").Replace(strings.Join(words, " "))
}

func TestPaperOfTheSheet(t *testing.T) {
	for name, want := range map[string]draw.Size{"unified": draw.Letter, "metric": draw.A4, "in inches": draw.Letter} {
		p := sheetPlans(t, name)[name]
		if got := mustPage(t, p, draw.Size{}).Size(0); got != want {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
		var in *unit.InputError
		if _, err := Page(p, PageOptions{Paper: draw.Size{W: 105, H: 148}}); !errors.As(err, &in) {
			t.Errorf("%s: a paper too small gives %v", name, err)
		}
	}
}

func TestSheetsAreKept(t *testing.T) {
	plans := sheetPlans(t, "unified", "metric")
	for name, p := range plans {
		kept(t, "sheet-"+name+".svg", svgOf(t, mustPage(t, p, draw.Size{}), 0), bytes.Equal)
	}
	var b bytes.Buffer
	if err := mustPage(t, plans["metric"], draw.A4).PNG(&b, 0, draw.PNGOptions{Width: 720}); err != nil {
		t.Fatal(err)
	}
	kept(t, "sheet-metric.png", b.Bytes(), func(got, want []byte) bool { return differing(t, got, want) < 0.001 })
}

// The same plan always gives the same file, and a reader of PDF finds its words.
func TestSheetPDF(t *testing.T) {
	p := sheetPlans(t, "unified")["unified"]
	var files [2]bytes.Buffer
	for i := range files {
		if err := mustPage(t, p, draw.Letter).PDF(&files[i]); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(files[0].Bytes(), files[1].Bytes()) {
		t.Error("two prints of one plan differ")
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext is not installed")
	}
	cmd := exec.Command(tool, "-layout", "-", "-")
	cmd.Stdin = &files[0]
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range []string{"1/2-13 UNC-2A", "RIGHT HAND", "0.5102 – 0.5152", "200 rpm", "STOP AND MEASURE", "your scale reads 29°", "Reasons and assumptions", "CAN HURT", "Other ways to end a pass"} {
		if !strings.Contains(strings.ToLower(string(out)), strings.ToLower(w)) {
			t.Errorf("the PDF does not contain %q", w)
		}
	}
}

func TestProfiles(t *testing.T) {
	for _, callout := range formCallouts {
		th := mustThread(t, callout)
		all := []Profile{ThreadProfile(th), TipProfile(th)}
		l, err := Profiles(draw.A4, all, 0)
		if err != nil {
			t.Fatal(err)
		}
		for i := range l.Pages() {
			for _, f := range l.Faults(i, draw.SmallText) {
				t.Errorf("%s, page %d: %s", callout, i+1, f)
			}
		}
		for _, scale := range []float64{10, 20} {
			l, err := Profiles(draw.A4, all, scale)
			var in *unit.InputError
			if err != nil {
				if !errors.As(err, &in) || th.Pitch.Length() < 2 {
					t.Errorf("%s at %g:1: %v", callout, scale, err)
				}
				continue
			}
			for _, f := range l.Faults(0, draw.SmallText) {
				t.Errorf("%s at %g:1: %s", callout, scale, f)
			}
			if bars := strings.Count(wordsOf(t, l, 0), "10 mm on paper · "+scaleWords(scale)); bars != 2 {
				t.Errorf("%s at %g:1: %d bars to check the print by", callout, scale, bars)
			}
		}
		if _, err := Profiles(draw.A4, all, -1); err == nil {
			t.Errorf("%s: a scale of -1 is accepted", callout)
		}
	}
}

func BenchmarkPage(b *testing.B) {
	p := sheetPlans(b, "unified")["unified"]
	for b.Loop() {
		mustPage(b, p, draw.Letter)
	}
}
