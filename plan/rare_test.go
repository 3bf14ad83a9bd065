package plan

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

func texts(p *Plan) string {
	var all []string
	for _, h := range p.Hazards {
		all = append(all, h.Text)
	}
	return strings.Join(append(all, p.Work.Holding...), "\n")
}

// A left-hand thread between chuck and centre runs towards the centre: no line of
// the sheet may say that nothing is there.
func TestAwayTowardsTheCentre(t *testing.T) {
	r := exampleRequest(t)
	r.Callout, r.Centre = "1/2-13 UNC-2A-LH", true
	p := mustMake(t, r)
	if p.Stopping.Method != EndAway {
		t.Fatalf("ends by %q", p.Stopping.Method)
	}
	if w := p.Stopping.Words; strings.Contains(w, "nothing to run into") || !strings.Contains(w, "centre") {
		t.Errorf("ending: %s", w)
	}
	if c := p.Routine.Air[1].Check; strings.Contains(c, "relief") || !strings.Contains(c, "centre") {
		t.Errorf("air pass: %s", c)
	}
	r.Centre = false
	if w := mustMake(t, r).Stopping.Words; !strings.Contains(w, "nothing to run into") {
		t.Errorf("without the centre: %s", w)
	}
}

// The compound's lost motion must be out on the side on which it feeds: back, for
// an internal thread.
func TestCompoundLostMotion(t *testing.T) {
	r := exampleRequest(t)
	for callout, want := range map[string]string{"1/2-13 UNC-2A": "wind forward", "1/2-13 UNC-2B": "wind back"} {
		r.Callout = callout
		if do := mustMake(t, r).Routine.Zero[0].Do; !strings.Contains(do, want) {
			t.Errorf("%s: %s", callout, do)
		}
	}
}

// A taper of 1 in 16 on the diameter: over the distance L1 from the small end to
// the gauge plane of 1/2-14 NPT the blank grows by L1/16.
func TestTaperBlank(t *testing.T) {
	r := exampleRequest(t)
	r.Callout, r.Length = "1/2-14 NPT", 0.78*unit.Inch
	p := mustMake(t, r)
	outside.Check(t, outside.Claim{
		What: "gauge plane L1 of 1/2-14 NPT on the sheet", Source: "ASME B1.20.1 table 2", Status: outside.Memory,
		Published: 0.3200, Ours: float64(p.Spec.Gauge.Plane / unit.Inch), Unit: "in", Tolerance: 0.00005,
	})
	target := p.Work.Blank.Target
	for _, x := range []unit.Length{0, r.Length} {
		want := target + unit.Length(x/unit.Inch-0.32)*unit.Inch/16
		if text := want.Format(unit.Inches, 4); !strings.Contains(texts(p), text) {
			t.Errorf("%v from the small end: no %q in\n%s", x, text, texts(p))
		}
	}
	// The chamfer at the small end starts below the root there.
	root := target - 2*p.Passes[len(p.Passes)-1].Depth - 0.32*unit.Inch/16
	if p.Work.ChamferTo >= root {
		t.Errorf("chamfer to %v, root at the small end %v", p.Work.ChamferTo, root)
	}
	// A bore has its gauge plane in the face (ASME B1.20.1) and grows narrower from there.
	bore := exampleRequest(t)
	bore.Callout, bore.Internal, bore.Length, bore.OpenEnd = "1/2-14 NPT", true, 0.7*unit.Inch, true
	in := mustMake(t, bore)
	wide := in.Work.Blank.Target
	for _, want := range []string{"gauge plane, in the face", wide.Format(unit.Inches, 4) + " at the face", (wide-0.7*unit.Inch/16).Format(unit.Inches, 4) + " after 0.7000 in"} {
		if !strings.Contains(texts(in), want) {
			t.Errorf("no %q in the sheet of a taper bore:\n%s", want, texts(in))
		}
	}
	for _, a := range in.Assumptions {
		if strings.Contains(a.Text, "internal is assumed") {
			t.Errorf("what was said is assumed: %s", a.Text)
		}
	}
	r.Callout = "Rc 1/2"
	if text := texts(mustMake(t, r)); strings.Contains(text, "tailstock over") || strings.Contains(text, "turn the blank") {
		t.Errorf("a bore between centres:\n%s", text)
	}
}

// Until the groove is deeper than the rounding of the tip no flank is in the cut,
// and none can rub.
func TestNoRubbingBelowTheTip(t *testing.T) {
	r := Request{Callout: "M100x6-6g", Lathe: exampleLathe(t, "metric-geared"), Material: "1045", Length: 40, OpenEnd: true, Stickout: 60, Infeed: "straight"}
	if text := texts(mustMake(t, r)); strings.Contains(text, "down to 0.0 um") {
		t.Error(text)
	}
}

// A bound named for a pass is one that could end it: what holds the first pass
// holds no other.
func TestFirstPassBoundNamesOnlyTheFirst(t *testing.T) {
	for _, callout := range []string{"M30xPh6P2-6g", "M20x2.5-6g", "Tr20x4-7e"} {
		r := Request{Callout: callout, Lathe: exampleLathe(t, "metric-geared"), Material: "1045", Length: 30, Stickout: 60, Centre: true, Relief: 8}
		for _, pass := range mustMake(t, r).Passes[1:] {
			if strings.HasPrefix(pass.GovernedBy, "first pass") {
				t.Errorf("%s: pass %d governed by %q", callout, pass.N, pass.GovernedBy)
			}
		}
	}
}

// A reading below the least size is called so, and one that no groove of this
// thread gives is not believed.
func TestReplanBelowLimits(t *testing.T) {
	r := exampleRequest(t)
	p := mustMake(t, r)
	least := p.Limits.Member().Pitch.Min
	last := len(p.Passes)
	rapid.Check(t, func(t *rapid.T) {
		under := unit.Length(rapid.Float64Range(0.001, 3).Draw(t, "under"))
		q, err := Replan(r, State{After: last, Pitch: least - under})
		switch {
		case err != nil:
			if under < 0.1 {
				t.Fatalf("%v under: %v", under, err)
			}
		case !strings.Contains(texts(q), "below its least"):
			t.Fatalf("%v under the least size and not a word", under)
		case under > 1.5:
			t.Fatalf("%v under the least size was believed", under)
		}
	})
	if _, err := Replan(r, State{After: last, Pitch: least - 5}); err == nil {
		t.Error("a groove deeper than the bar was believed")
	}
}

func TestAngleBelowZero(t *testing.T) {
	r := exampleRequest(t)
	for _, a := range []float64{-5, math.NaN(), 95} {
		r.Angle = unit.Angle(a) * unit.Degree
		if _, err := Make(r); err == nil {
			t.Errorf("%v degrees accepted", a)
		}
	}
}

// Where a taper thread is gauged is part of its limits.
func TestTaperPlanes(t *testing.T) {
	s, err := LimitsOf("1/2-14 NPT", 0, false, unit.Inches)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, r := range s.Reasons {
		all = append(all, r.Text)
	}
	text := strings.Join(all, "\n")
	// ASME B1.20.1 table 2, from memory: E0, E1, L1, L2, L3, L4 of 1/2-14 NPT.
	for _, want := range []string{"0.7584 in", "0.7784 in at 0.3200 in", "useful thread 0.5337 in", "hand tightness 0.2143 in", "vanishing thread 0.7815 in"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

// What the dials are set to gives the depth that is printed beside it: the travel of the
// compound times the cosine of its angle (trigonometry). Passes end on a line of the
// dial; the last is set on a line or midway, so it lies a quarter of a division off at most.
func TestReadingsGiveTheDepth(t *testing.T) {
	r := exampleRequest(t)
	for _, callout := range []string{"1/2-13 UNC-2A", "3/8-16 UNC-2A", "1/2-20 UNF-2A", "M12x1.75-6g", "M16x1.5-6g", "5/8-11 BSW"} {
		for _, method := range []string{"flank", "straight"} {
			r.Callout, r.Infeed = callout, method
			p := mustMake(t, r)
			if len(p.Passes) == 0 {
				t.Errorf("%s, %s: no passes: %v", callout, method, p.Blocked())
				continue
			}
			for i, ps := range p.Passes {
				gives := ps.Compound.Slide * unit.Length(p.Swing.Angle.Cos())
				if method == "straight" {
					gives = ps.Cross.Slide
				}
				within := unit.Length(1e-6)
				if i+1 == len(p.Passes) {
					within = unit.Thou/4 + 1e-6 // both slides of this lathe have .001 in divisions, direct reading
				}
				if off := (gives - ps.Depth).Abs(); off > within {
					t.Errorf("%s, %s, pass %d: the reading %s gives %.4f mm, printed %.4f mm", callout, method, ps.N, ps.Compound.Text+ps.Cross.Text, gives.MM(), ps.Depth.MM())
				}
			}
		}
	}
}

// The compound of a thread of two starts is what goes from start to start, so it cannot
// stand as it likes; a scale that stops short is said once.
func TestCompoundWords(t *testing.T) {
	r := Request{Callout: "Tr40x14P7-7e", Lathe: exampleLathe(t, "metric-geared"), Material: "1045", Length: 80, Stickout: 120, Centre: true, Relief: 20}
	if d := mustMake(t, r).Swing.Direction; !strings.Contains(d, "parallel to the bed: it can then go on") || strings.Contains(d, "as it stands") {
		t.Errorf("two starts: %s", d)
	}
	r.Callout = "Tr40x7-7e"
	s := mustMake(t, r).Swing
	if all := s.ScaleReads + s.Direction; strings.Count(all, "sine bar") != 1 || strings.Count(all, "stops") != 1 {
		t.Errorf("a scale that stops short: %s", all)
	}
}

// A tube counts as thin when its mean radius is more than ten walls: then the jaws are
// warned of, and not before.
func TestThinTube(t *testing.T) {
	const jaws = "press such a tube out of round"
	r := Request{Callout: "M40x1-6g special", Lathe: exampleLathe(t, "metric-geared"), Material: "1045", Length: 12, Stickout: 20, OpenEnd: true}
	root := mustMake(t, r).Limits.Member().Minor.Target
	limit := root * 19 / 21 // of the hole: mean radius (root + hole)/4, wall (root - hole)/2
	outside.Check(t, outside.Claim{
		What: "mean radius over wall from which a tube is thin", Source: "Timoshenko, Strength of Materials: thin tubes", Status: outside.Memory,
		Published: 10, Ours: float64((root + limit) / 4 / ((root - limit) / 2)), Unit: "-", Tolerance: 1e-9,
	})
	for hole, warned := range map[unit.Length]bool{limit - 0.1: false, limit + 0.1: true, 38: false, 20: false} {
		r.Bore = hole
		if got := strings.Contains(texts(mustMake(t, r)), jaws); got != warned {
			t.Errorf("a hole of %v: warned of the jaws %v, want %v", hole, got, warned)
		}
	}
}
