package render

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thrum/draw"
	"thrum/plan"
	"thrum/unit"
	"thrum/vibe"
)

func vibrating(t *testing.T, change func(*plan.Request)) *plan.Plan {
	t.Helper()
	lathe, err := os.ReadFile(filepath.Join("..", "examples", "lathes", "metric-geared.toml"))
	if err != nil {
		t.Fatal(err)
	}
	r := plan.Request{Callout: "M10x1.5-6g", Lathe: string(lathe), Material: "304", Length: 30, Stickout: 100, ToolMaterial: "carbide", OpenEnd: true}
	change(&r)
	s, err := plan.Examine(r)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Outlook(context.Background(), 40, 1); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Remedies(context.Background(), 40, 1); err != nil {
		t.Fatal(err)
	}
	return s.Plan
}

// The part of the sheet about vibration names the mode, the carry-over and whether
// the centre matters; its charts are legible on the screen's paper and on the sheet's.
func TestFinish(t *testing.T) {
	for name, change := range map[string]func(*plan.Request){
		"lively":   func(*plan.Request) {},
		"quiet":    func(r *plan.Request) { r.Stickout, r.Centre, r.Units = 45, true, unit.Inches },
		"internal": func(r *plan.Request) { r.Callout, r.Stickout = "M20x1.5-6H", 60 },
		"relief":   func(r *plan.Request) { r.OpenEnd, r.Relief, r.ToolMaterial = false, 12, "hss" },
	} {
		p := vibrating(t, change)
		sec := Finish(p)
		v := p.Vibration
		var all strings.Builder
		for _, f := range append(sec.Figures, sec.Facts...) {
			all.WriteString(f.Text + " " + f.Note + "\n")
		}
		for _, want := range []string{v.Mode, vibe.Times(v.CarryOver.Likely) + " times the last", v.Centre} {
			if !strings.Contains(all.String(), want) {
				t.Errorf("%s: %q is missing from\n%s", name, want, all.String())
			}
		}
		if sec.ID != "finish" || sec.Table == nil || len(sec.Table.Rows) != len(v.Remedies) {
			t.Errorf("%s: %+v", name, sec)
		}
		least := 3
		if p.Thread.Internal {
			least = 2 // no centre to compare with
		}
		if len(sec.Drawings) < least {
			t.Errorf("%s: %d charts", name, len(sec.Drawings))
		}
		for _, d := range sec.Drawings {
			if d.Desc == "" || strings.Contains(d.Desc, "%!") {
				t.Errorf("%s: %s says %q", name, d.ID, d.Desc)
			}
			for _, paper := range []draw.Size{{W: 92, H: 84}, {W: 100, H: 74}} {
				for _, f := range d.List(paper).Faults(0, 0) {
					t.Errorf("%s: %s on %v: %v", name, d.ID, paper, f)
				}
			}
		}
		var text bytes.Buffer
		if err := Sheet(&text, p, TextOptions{}); err != nil || !strings.Contains(text.String(), "how sure") || !strings.Contains(text.String(), "spring passes at the final reading") {
			t.Errorf("%s: the text lacks the outlook or the remedies (%v)", name, err)
		}
		l, err := Page(p, PageOptions{})
		if err != nil {
			t.Fatal(err)
		}
		plain := *p
		plain.Vibration = nil
		without, err := Page(&plain, PageOptions{})
		if err != nil || l.Pages() < without.Pages() {
			t.Errorf("%s: the paper has %d pages with vibration, %d without (%v)", name, l.Pages(), without.Pages(), err)
		}
		for n := range l.Pages() {
			for _, f := range l.Faults(n, 0) {
				t.Errorf("%s: page %d: %v", name, n+1, f)
			}
		}
	}
}

// A plan that was read back has the words and no charts.
func TestFinishReadBack(t *testing.T) {
	p := vibrating(t, func(*plan.Request) {})
	var b bytes.Buffer
	if err := plan.Encode(&b, p); err != nil {
		t.Fatal(err)
	}
	back, err := plan.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if sec := Finish(back); len(sec.Drawings) != 0 || len(sec.Figures) < 3 || sec.Table == nil {
		t.Errorf("%+v", sec)
	}
	if _, err := Page(back, PageOptions{}); err != nil {
		t.Error(err)
	}
}
