package vibe

import (
	"errors"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
)

func oscillators(t *rapid.T) Oscillator {
	return Oscillator{
		unit.Frequency(rapid.Float64Range(60, 3000).Draw(t, "hz")),
		unit.Stiffness(rapid.Float64Range(500, 5e5).Draw(t, "k")),
		rapid.Float64Range(0.005, 0.1).Draw(t, "z"),
	}
}

// Below Tlusty's limit no wave grows at any frequency; above it one does.
func TestLimitDividesGrowth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := oscillators(t)
		k := unit.Stress(rapid.Float64Range(200, 4000).Draw(t, "K"))
		b, _ := o.Limit(k)
		q := rapid.Float64Range(0.05, 4).Filter(func(q float64) bool { return math.Abs(q-1) > 1e-3 }).Draw(t, "b/b_lim")
		g := unit.Stiffness(float64(k) * b.MM() * q)
		most := 0.0
		for i := range 2000 {
			f := o.Frequency * unit.Frequency(0.3+3*float64(i)/2000)
			most = max(most, cmplx.Abs(CarryOver(g, o.Receptance(f))))
		}
		if peak, _ := o.Peak(g); peak < most-1e-9 || (peak > 1) != (q > 1) {
			t.Fatalf("b = %g b_lim: peak %g, searched %g", q, peak, most)
		}
		if _, ok := o.Band(g); ok != (q > 1) {
			t.Fatalf("b = %g b_lim: band %v", q, ok)
		}
	})
}

// Where the cut may still stiffen, no wave grows, in any direction and any pass.
func TestMarginAndCarryOverAgree(t *testing.T) {
	h := slant(t)
	rapid.Check(t, func(rt *rapid.T) {
		l := unit.Length(rapid.Float64Range(0.05, 1.5).Draw(rt, "flank"))
		w := unit.Length(rapid.Float64Range(0.01, 0.3).Draw(rt, "nose"))
		lead := unit.Length(rapid.Float64Range(0.03, 0.2).Draw(rt, "leading chip"))
		trail := unit.Length(rapid.Float64Range(0.03, 0.2).Draw(rt, "trailing chip"))
		a := assess(t, input(t, h, 200, vee(l, w, lead, trail)))
		p := a.Passes[0]
		if math.Abs(p.Margin-1) < 0.02 {
			return
		}
		if (p.Margin > 1) != (p.CarryOver.Likely < 1) || (len(p.Grows) > 0) != (p.CarryOver.Likely > 1) {
			rt.Fatalf("margin %g, carry-over %g, bands %v", p.Margin, p.CarryOver.Likely, p.Grows)
		}
	})
}

// Betti and Maxwell: a force here moves there as a force there moves here.
func TestReciprocity(t *testing.T) {
	r := slant(t).places[0].response
	rapid.Check(t, func(t *rapid.T) {
		dir := func(name string) shaft.Direction {
			g := rapid.Float64Range(-1, 1)
			return shaft.Direction{Radial: g.Draw(t, name), Tangential: g.Draw(t, name), Axial: g.Draw(t, name)}
		}
		f, a, b := unit.Frequency(rapid.Float64Range(1, 5000).Draw(t, "f")), dir("a"), dir("b")
		if d := cmplx.Abs(complex128(r.Between(f, a, b) - r.Between(f, b, a))); d > 1e-12 {
			t.Fatalf("differs by %g", d)
		}
	})
}

func TestClosedFormsOfTheVee(t *testing.T) {
	const l, w, h = 0.9, 0.2, 0.05
	f := evenForce(t, tableK, 0.5)
	g, err := NewGain(vee(l, w, h, h), f, cut.EdgeType{})
	if err != nil {
		t.Fatal(err)
	}
	near := func(name string, got, want float64) {
		if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Errorf("%s: %g, want %g", name, got, want)
		}
	}
	kn := float64(tableK)
	near("straight: radial Kn (L/2 + w)", float64(g.Radial), kn*(0.5*l+w))
	near("straight: axial 3/2 Kn L", float64(g.Axial), kn*1.5*l)
	near("straight: cross", float64(g.Cross), 0)
	one, err := NewGain(chipOf(vee(l, w, h, h).Elements[0]), f, cut.EdgeType{})
	if err != nil {
		t.Fatal(err)
	}
	p := compliance{xx: complex(3e-5, -2e-5), zz: complex(-1e-5, -3e-5)}
	want := CarryOver(unit.Stiffness(kn*l), shaft.Receptance(0.25*p.xx+0.75*p.zz))
	near("one flank: T of 1/4 radial and 3/4 axial", cmplx.Abs(one.carryOver(p, 1, 0)-want), 0)
	if thin, _ := NewGain(vee(l, w, h, 0.002), f, cut.EdgeType{MinHi: 0.003}); thin.Rubs != l {
		t.Errorf("a trailing flank of 2 um rubs, got %v", thin.Rubs)
	}
}

// More rubbing, more damping and less stiffness of the cut never raise the peak of
// a single mode.
func TestQuieterThings(t *testing.T) {
	h := single(t, table)
	rapid.Check(t, func(rt *rapid.T) {
		b := unit.Length(rapid.Float64Range(0.05, 0.6).Draw(rt, "b"))
		c := rapid.Float64Range(0, 300).Draw(rt, "C")
		at := func(b unit.Length, c float64) float64 {
			in := input(t, h, 300, wide(b))
			in.Process = Process{unit.Stiffness(c), unit.Stiffness(c), unit.Stiffness(c) + 1e-9}
			return assess(t, in).Passes[0].CarryOver.Likely
		}
		if x, y := at(b, c), at(b, c+20); y > x*(1+1e-6) {
			rt.Fatalf("more rubbing: %g became %g", x, y)
		}
		if x, y := at(b, 0), at(b*1.1, 0); y < x*(1-1e-6) {
			rt.Fatalf("a wider chip: %g became %g", x, y)
		}
	})
}

func TestSpringPassLeavesWaves(t *testing.T) {
	limit, _ := table.Limit(tableK)
	in := input(t, single(t, table), 200, wide(2*limit), chipOf(), chipOf())
	in.Starters = []Starter{{Name: "wheel", Waves: 127, Amplitude: 0.001}}
	a := assess(t, in)
	if !a.Passes[2].Spring || a.Worst != 0 || math.Abs(a.Growth.Factor.Likely-a.Passes[0].CarryOver.Likely) > 1e-3 {
		t.Errorf("worst %d, growth %v, passes %+v", a.Worst, a.Growth, a.Passes)
	}
	in.Passes = in.Passes[1:]
	if a := assess(t, in); a.Verdict != Quiet {
		t.Errorf("nothing but spring passes: %v", a.Verdict)
	}
}

func TestAlternatingFlanksRememberTwoPasses(t *testing.T) {
	in := bench(t, cut.Infeed{Method: cut.Alternating, Angle: thirty}, true)
	a := assess(t, in)
	for i, p := range a.Passes[2:] {
		if p.Memory != 2 {
			t.Errorf("pass %d remembers %d", i+3, p.Memory)
		}
	}
}

// The steps that may not be used are charted and never chosen, and the choice
// leaves no more than the present speed does.
func TestChoice(t *testing.T) {
	limit, _ := table.Limit(tableK)
	in := input(t, single(t, table), 200, wide(limit), wide(1.5*limit), wide(2*limit), wide(2*limit), wide(2*limit), wide(2*limit), wide(2*limit))
	in.Steps = []Step{{120, ""}, {150, ""}, {190, ""}, {200, ""}, {240, ""}, {300, "too little room to stop"}}
	a := assess(t, in)
	if a.Verdict != Lively || a.Choice < 0 || a.Steps[a.Choice].Refuse != "" {
		t.Fatalf("verdict %v, choice %d of %+v", a.Verdict, a.Choice, a.Steps)
	}
	if best := a.Steps[a.Choice]; best.CleanUp > 0.5 || best.Growth > a.Growth.Factor.Likely/4 || best.Product > math.Pow(best.CleanUp, 3)*1.01 {
		t.Errorf("chose %+v of growth %v", best, a.Growth)
	}
	if math.Abs(a.Steps[3].Growth/a.Growth.Factor.Likely-1) > 0.02 {
		t.Errorf("at the present speed: %g, over the schedule %g", a.Steps[3].Growth, a.Growth.Factor.Likely)
	}
}

func TestStarters(t *testing.T) {
	limit, _ := table.Limit(tableK)
	in := input(t, single(t, table), 200, wide(2*limit), wide(2*limit), wide(2*limit), wide(2*limit))
	in.Starters = []Starter{
		{Name: "wheel in the band", Waves: 127, Amplitude: 0.001},
		{Name: "wheel outside", Waves: 40, Amplitude: 0.001},
		Entry(0.001), BuiltUpEdge(0.001), Runout(0.02),
	}
	a := assess(t, in)
	for i, want := range []bool{true, false, true, true, false} {
		if s := a.Starters[i]; s.Amplified != want || want && s.Left < 5*s.Amplitude || !want && s.Left > 1.6*s.Amplitude {
			t.Errorf("%+v, want amplified %v", s, want)
		}
	}
}

func TestCentreAndWords(t *testing.T) {
	with, without := assess(t, bench(t, cut.Infeed{}, true)), assess(t, bench(t, cut.Infeed{}, false))
	c := with.Centre
	if c.Without.Verdict <= c.With.Verdict || !c.Matters || !strings.Contains(c.Why, "the centre matters") {
		t.Errorf("with %+v, without %+v: %s", c.With, c.Without, c.Why)
	}
	if without.Centre.With != c.With || without.Centre.Without != c.Without {
		t.Error("the comparison depends on which side it is asked from")
	}
	text := strings.Join(without.Words(unit.Metric), "\n")
	for _, want := range []string{"Marks may come", "first bending of the work", "The centre matters", "deeper than the marks", "no published trial"} {
		if !strings.Contains(text, want) {
			t.Errorf("missing %q in\n%s", want, text)
		}
	}
	t.Log(text)
	if m := without.SpeedDepthMap([]unit.Rotation{100, 260}); len(m.CarryOver) != 12 || m.CarryOver[11][1] != without.Passes[11].CarryOver.Likely {
		t.Errorf("map %+v", m)
	}
	curve := without.SpeedCurve([]unit.Rotation{0, 100, 260})
	if len(curve) != 2 || math.Abs(curve[1].CarryOver.Likely-without.Passes[without.Worst].CarryOver.Likely) > 1e-9 || curve[1].CarryOver.High < curve[1].CarryOver.Likely {
		t.Errorf("curve %+v", curve)
	}
	if f := without.FrequencyCurve(100, 1000); len(f) < 50 {
		t.Errorf("%d points", len(f))
	}
}

func TestOverlapBringsLobes(t *testing.T) {
	limit, _ := table.Limit(tableK)
	in := input(t, single(t, table), 200, wide(1.5*limit))
	in.Overlap = 1
	tt := assess(t, in).Turns
	if tt == nil || !tt.Grows || math.Abs(tt.Least.MM()/limit.MM()-1) > 1e-3 {
		t.Errorf("%+v, limit %v", tt, limit)
	}
}

func TestBadInput(t *testing.T) {
	_, err := Assess(Input{Steps: []Step{{-3, ""}}, Starters: []Starter{{Name: "x"}}, Overlap: math.NaN(), Damping: DampingRange{-1, 2}, LastPasses: -1})
	var in *unit.InputError
	if !errors.As(err, &in) {
		t.Fatal(err)
	}
	for _, want := range []string{"holding", "force", "passes", "diameter", "spindle speed", "starter 1", "overlap", "damping", "last passes"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("no word of %q in %v", want, err)
		}
	}
	odd := input(t, single(t, table), 200, chipOf(cut.Element{Length: unit.Length(math.NaN()), Thickness: 0.1, Radial: 1}))
	odd.Other = &Holding{}
	if _, err := Assess(odd); err == nil || !strings.Contains(err.Error(), "chip of pass 1") || !strings.Contains(err.Error(), "other holding") {
		t.Errorf("a chip that is no number: %v", err)
	}
	if _, err := Prepare(nil, nil); err == nil {
		t.Error("no bar: no error")
	}
	if _, err := Prepare(slender(t, true, usualTool), []unit.Length{500}); err == nil {
		t.Error("beyond the bar: no error")
	}
}

func TestSideBySide(t *testing.T) {
	h := single(t, table)
	limit, _ := table.Limit(tableK)
	many := func(b unit.Length) *Assessment {
		return assess(t, input(t, h, 200, wide(b), wide(b), wide(b), wide(b), wide(b), wide(b)))
	}
	wideCut, narrow := many(1.8*limit), many(0.3*limit)
	if c := SideBySide(wideCut, narrow, "a wide chip", "a narrow one"); c.Better != 2 || !strings.HasPrefix(c.Why, "a narrow one is quieter") {
		t.Errorf("%+v", c)
	}
	if c := SideBySide(narrow, wideCut, "a", "b"); c.Better != 1 {
		t.Errorf("%+v", c)
	}
	if c := SideBySide(narrow, narrow, "a", "b"); c.Better != 0 {
		t.Errorf("%+v", c)
	}
}
