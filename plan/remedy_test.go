package plan

import (
	"bytes"
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/unit"
	"thrum/vibe"
)

// stories are set-ups of which the trade has something to say.
func stories(tb testing.TB) map[string]Request {
	tb.Helper()
	inch, metric := exampleLathe(tb, "inch-bench"), exampleLathe(tb, "metric-geared")
	return map[string]Request{
		"slow low-carbon steel, short and stiff": {
			Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: inch, Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch,
		},
		"fast with carbide, standing far out": {
			Callout: "M10x1.5-6g", Lathe: metric, Material: "304", Length: 30, Stickout: 100, ToolMaterial: "carbide", OpenEnd: true,
		},
		"slender, straight in, with the centre": {
			Callout: "M12x1.75-6g", Lathe: metric, Material: "4140 annealed", Length: 40, Stickout: 150, Centre: true, Infeed: "straight", ToolMaterial: "carbide", OpenEnd: true,
		},
	}
}

// rerun plans the changed request afresh and compares with what was predicted.
func rerun(t interface {
	Helper()
	Errorf(string, ...any)
}, name string, r Remedy,
) {
	t.Helper()
	p, err := MakeWithVibration(r.Request)
	if err != nil || p.Vibration == nil {
		t.Errorf("%s: %s cannot be planned: %v", name, r.Name, err)
		return
	}
	v := p.Vibration
	for _, c := range []struct {
		what            string
		predicted, here float64
	}{
		{"carry-over", r.CarryOver.Likely, v.CarryOver.Likely},
		{"growth", r.Growth.Likely, v.Growth.Likely},
		{"growth at the lively end", r.Growth.High, v.Growth.High},
		{"passes", float64(r.Passes), float64(len(p.Passes))},
	} {
		if math.Abs(c.here/c.predicted-1) > 0.01 {
			t.Errorf("%s: %s: %s predicted %.5g, the sheet says %.5g", name, r.Do, c.what, c.predicted, c.here)
		}
	}
	if r.Verdict != v.Verdict {
		t.Errorf("%s: %s: predicted %s, the sheet says %s", name, r.Do, r.Verdict, v.Verdict)
	}
	if m := r.Mesh; m != nil {
		o := worstMesh(v.Assessment)
		if o == nil || o.Name != m.Name || math.Abs(o.Growth/m.Growth-1) > 0.01 {
			t.Errorf("%s: %s: mesh predicted %+v, the sheet says %+v", name, r.Do, *m, o)
		}
	}
}

// What a remedy is predicted to do is what the sheet says once the request is changed.
func TestRemediesOfTheStories(t *testing.T) {
	for name, req := range stories(t) {
		s, err := Examine(req)
		if err != nil {
			t.Fatal(err)
		}
		all, err := s.Remedies(context.Background(), 60, 1)
		if err != nil {
			t.Fatal(err)
		}
		order := []string{RemedySpeed, remedyLast, remedyCentre, remedyStickout, RemedyInfeed, remedyEdge, RemedyOil, remedyTrain, remedyLighter, remedySpring}
		if name == "fast with carbide, standing far out" && !slices.ContainsFunc(all, func(r Remedy) bool { return r.Name == remedyTrain }) {
			t.Errorf("%s: no other wheels are proposed, though %+v", name, worstMesh(s.a))
		}
		last := -1
		for _, r := range all {
			rerun(t, name, r)
			at := slices.Index(order, r.Name)
			if at <= last || r.Do == "" || r.Tearing == "" {
				t.Errorf("%s: %+v is out of order or says nothing", name, r)
			}
			last = at
			if costs := r.Name == remedyLast || r.Name == remedyLighter || r.Name == remedySpring; costs != (r.Size != "") {
				t.Errorf("%s: %s says about size: %q", name, r.Name, r.Size)
			}
			if r.Helps && r.Name == remedySpring {
				t.Errorf("%s: spring passes are said to help", name)
			}
			if strings.Contains(r.Words(), "%!") {
				t.Errorf("%s: %s", name, r.Words())
			}
		}
	}
}

// The same of random set-ups, each time for two of the remedies.
func TestRemediesOfRandomSetups(t *testing.T) {
	lathes := []string{exampleLathe(t, "inch-bench"), exampleLathe(t, "metric-geared")}
	seen := 0
	rapid.Check(t, func(t *rapid.T) {
		if seen >= 30 {
			return
		}
		req := Request{
			Callout: rapid.SampledFrom([]string{"1/2-13 UNC-2A", "3/8-16 UNC-2A", "M10x1.5-6g", "M12x1.75-6g", "M16x2-6g", "5/8-11 UNC-2A", "M20x1.5-6H"}).Draw(t, "callout"),
			Lathe:   rapid.SampledFrom(lathes).Draw(t, "lathe"), Material: rapid.SampledFrom([]string{"1018", "12L14", "304", "6061", "4140 annealed"}).Draw(t, "material"),
			Length: 25, Stickout: unit.Length(rapid.IntRange(50, 160).Draw(t, "stickout")), Centre: rapid.Bool().Draw(t, "centre"), OpenEnd: true,
			ToolMaterial: rapid.SampledFrom([]string{"hss", "carbide"}).Draw(t, "tool"),
			Infeed:       rapid.SampledFrom([]string{"", "straight", "flank"}).Draw(t, "infeed"),
		}
		s, err := Examine(req)
		var in *unit.InputError
		if errors.As(err, &in) || err == nil && s.a == nil {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		seen++
		all, err := s.Remedies(context.Background(), 0, 0)
		if err != nil || len(all) == 0 {
			t.Fatalf("%d remedies, %v", len(all), err)
		}
		for range 2 {
			rerun(t, req.Callout, rapid.SampledFrom(all).Draw(t, "remedy"))
		}
	})
	if seen < 30 {
		t.Errorf("only %d set-ups", seen)
	}
}

// A change of speed beyond the take-off of the feed is proposed only with the warning
// that the thread has to be picked up again.
func TestRemedyWarnsOfPhase(t *testing.T) {
	warned := 0
	for _, lathe := range []string{"inch-bench", "metric-geared"} {
		req := stories(t)["fast with carbide, standing far out"]
		req.Lathe = strings.ReplaceAll(exampleLathe(t, lathe), "upstream_of_feed = true", "upstream_of_feed = false")
		s, err := Examine(req)
		if err != nil {
			t.Fatal(err)
		}
		all, err := s.Remedies(context.Background(), 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range all {
			if r.Name == RemedySpeed || r.Name == remedyLast {
				warned++
				if !strings.Contains(r.Warning, "pick the thread up again") {
					t.Errorf("%s: %s: %q", lathe, r.Do, r.Warning)
				}
			}
		}
	}
	if warned < 2 {
		t.Errorf("only %d changes of speed", warned)
	}
}

// An outlook is the same for the same seed, narrows with the number of cases, is
// written and read with the plan, and knows what everybody knows: a short stiff part cut
// slowly is quiet; the further a part stands out the more often a centre helps.
func TestOutlook(t *testing.T) {
	ctx := context.Background()
	p := mustMake(t, stories(t)["slow low-carbon steel, short and stiff"])
	o, err := MakeOutlook(ctx, p, 200, 1)
	if err != nil || o.Quiet.Share < 0.95 || o.Centre == nil || o.Centre.Helps.Share > 0.05 {
		t.Errorf("short and stiff: %+v, %v", o, err)
	}
	var once, twice bytes.Buffer
	if err := Encode(&once, p); err != nil {
		t.Fatal(err)
	}
	back, err := Decode(bytes.NewReader(once.Bytes()))
	if err != nil || back.Vibration == nil || back.Vibration.Outlook == nil || back.Vibration.Outlook.Marks != o.Marks {
		t.Fatalf("reading back: %v", err)
	}
	if err := Encode(&twice, back); err != nil || !bytes.Equal(once.Bytes(), twice.Bytes()) {
		t.Errorf("writing, reading and writing again changes the outlook (%v)", err)
	}
	helps := -1.0
	for _, out := range []unit.Length{40, 70, 110} {
		r := stories(t)["fast with carbide, standing far out"]
		r.Stickout = out
		s, err := Examine(r)
		if err != nil {
			t.Fatal(err)
		}
		few, err1 := s.Outlook(ctx, 100, 5)
		many, err2 := s.Outlook(ctx, 400, 5)
		again, err3 := s.Outlook(ctx, 100, 5)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		if few.Marks != again.Marks || few.Growth != again.Growth {
			t.Errorf("%v: the same seed gives another outlook", out)
		}
		if few.Marks.High-few.Marks.Low <= many.Marks.High-many.Marks.Low {
			t.Errorf("%v: the interval does not narrow: %+v, %+v", out, few.Marks, many.Marks)
		}
		if many.Centre.Helps.Share <= helps {
			t.Errorf("standing out %v the centre helps in %.2f of the cases, less far in %.2f", out, many.Centre.Helps.Share, helps)
		}
		helps = many.Centre.Helps.Share
	}
}

func TestOutlookStops(t *testing.T) {
	s, err := Examine(exampleRequest(t))
	if err != nil {
		t.Fatal(err)
	}
	done, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.Outlook(done, 100, 1); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled outlook gives %v", err)
	}
	if _, err := s.Remedies(done, 100, 1); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled remedies give %v", err)
	}
	var in *unit.InputError
	if _, err := s.Outlook(context.Background(), 3, 1); !errors.As(err, &in) {
		t.Errorf("three cases give %v", err)
	}
}

// Asking for another way to gear a thread gives that way, first in the list.
func TestTrain(t *testing.T) {
	r := exampleRequest(t)
	first := mustMake(t, r)
	if len(first.Gears) < 2 {
		t.Fatal("only one way to gear it")
	}
	r.Train = 2
	second := mustMake(t, r)
	if !slices.Equal(second.Gears[0].Words, first.Gears[1].Words) || !slices.Equal(second.Gears[1].Words, first.Gears[0].Words) {
		t.Errorf("asked for %v, got %v", first.Gears[1].Words, second.Gears[0].Words)
	}
	r.Train = 9
	var in *unit.InputError
	if _, err := Make(r); !errors.As(err, &in) || in.Field != "train" {
		t.Errorf("train 9: %v", err)
	}
}

func BenchmarkOutlook(b *testing.B) {
	s, err := Examine(stories(b)["fast with carbide, standing far out"])
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() { // 100 cases, with the centre and without
		if _, err := s.Outlook(context.Background(), 100, 1); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRemedies(b *testing.B) {
	s, err := Examine(stories(b)["fast with carbide, standing far out"])
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := s.Remedies(context.Background(), 100, 1); err != nil {
			b.Fatal(err)
		}
	}
}

// The figures of plausible cases are those that the table names, each with its source.
func TestPlausibleSources(t *testing.T) {
	for _, p := range vibe.PlausibleTable() {
		if !strings.Contains(p.Source, "from memory") && !strings.Contains(p.Source, "no source") {
			t.Errorf("%s: %q says neither where it is from nor that it is recalled", p.Quantity, p.Source)
		}
	}
}
