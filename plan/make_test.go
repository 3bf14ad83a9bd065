package plan

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/cut"
	"thrum/internal/outside"
	"thrum/thread"
	"thrum/unit"
)

func exampleRequest(tb testing.TB) Request {
	tb.Helper()
	return Request{
		Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: exampleLathe(tb, "inch-bench"), Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch,
	}
}

func mustMake(t *testing.T, r Request) *Plan {
	t.Helper()
	p, err := Make(r)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Depth of the usual tips, in pitches, from basic major diameter to root at basic
// pitch diameter.
func TestTipDepths(t *testing.T) {
	th, err := thread.Parse("1-10 UNS-2A special", thread.External)
	if err != nil {
		t.Fatal(err)
	}
	p := th.Pitch.Length()
	above := (th.Basic.Major - th.Basic.Pitch) / 2
	for _, c := range []struct {
		what   string
		tool   cut.Tool
		want   float64
		source string
		status outside.Status
	}{
		{"60 degree depth with a flat of P/8 at both ends", cut.Tool{NoseFlat: p / 8}, 0.64952, "shop rule of a machine-shop text: .750 in / tpi on a compound at 30 degrees, whose radial depth is .64952 P", outside.Read},
		{"60 degree depth to a root flat of P/4", cut.Tool{NoseFlat: p / 4}, 0.541266, "Machinery's Handbook 27th ed. p. 1786: d1 = d - 1.082532 P", outside.Read},
		{"60 degree depth with a root radius of H/6", cut.Tool{NoseRadius: p * unit.Length(math.Sqrt(3)/2/6)}, 0.61343, "Machinery's Handbook 27th ed. p. 1786, d3 = d - 1.226869 P", outside.Read},
		{"60 degree depth of a sharp tip", cut.Tool{}, 0.32476 + 0.4330127, "geometry: H/2 below the pitch line (common practice, no source)", outside.Memory},
	} {
		c.tool.Leading, c.tool.Trailing = th.Form.Leading, th.Form.Trailing
		below, err := c.tool.BelowPitchLine(p)
		if err != nil {
			t.Fatal(err)
		}
		ours := float64((above + below) / p)
		outside.Check(t, outside.Claim{What: c.what, Source: c.source, Status: c.status, Published: c.want, Ours: ours, Unit: "P", Tolerance: 0.00001})
	}
}

// A carriage advances by the lead each turn.
func TestCarriageTravel(t *testing.T) {
	for _, r := range outside.Rows(t, func(r outside.Row) bool { return r.Quantity == "Carriage travel during 0.19 s" }) {
		v, tol, ok := r.Float()
		if !ok {
			continue
		}
		var rpm, lead float64
		if _, err := fmt.Sscanf(r.Designation, "%f rpm, lead %f mm", &rpm, &lead); err != nil {
			t.Errorf("%s: cannot read %q: %v", r.ID, r.Designation, err)
			continue
		}
		if math.IsNaN(tol) {
			tol = 0.0051 // printed to two places
		}
		outside.Check(t, outside.Claim{
			What: r.Quantity + ", " + r.Designation, Source: r.Source, Status: r.Status(), Published: v,
			Ours: 0.19 * unit.Rotation(rpm).Feed(unit.Length(lead)).MMPerS(), Unit: r.Unit, Tolerance: tol,
		})
	}
}

// laws that every plan keeps.
func checkPlan(t interface{ Fatalf(string, ...any) }, p *Plan) {
	if len(p.Blocked()) > 0 {
		if len(p.Passes) > 0 {
			t.Fatalf("a blocked plan has passes")
		}
		return
	}
	if len(p.Passes) == 0 {
		t.Fatalf("no passes")
	}
	sum, last := unit.Length(0), unit.Length(0)
	for _, s := range p.Passes {
		if s.Depth <= last || s.GovernedBy == "" {
			t.Fatalf("pass %d: depth %v after %v, governed by %q", s.N, s.Depth, last, s.GovernedBy)
		}
		sum, last = sum+s.Infeed, s.Depth
	}
	if math.Abs(float64(sum-last)) > 1e-9 {
		t.Fatalf("infeeds add up to %v, depth is %v", sum, last)
	}
	if !p.Passes[len(p.Passes)-1].Measure {
		t.Fatalf("the last pass does not ask for a measurement")
	}
	m := p.Limits.Member()
	if m.Pitch.Target < m.Pitch.Min || m.Pitch.Target > m.Pitch.Max {
		t.Fatalf("pitch diameter aimed at %v outside %v to %v", m.Pitch.Target, m.Pitch.Min, m.Pitch.Max)
	}
	if p.Stopping.Available > 0 && p.Stopping.Room > p.Stopping.Available {
		t.Fatalf("needs room %v, has %v, and is not blocked", p.Stopping.Room, p.Stopping.Available)
	}
}

// Any sensible request gives a plan that keeps the laws, or an error of input; the
// plan survives being written and read.
func TestPlanLaws(t *testing.T) {
	series := thread.Series()
	lathes := []string{exampleLathe(t, "inch-bench"), exampleLathe(t, "metric-geared")}
	rapid.Check(t, func(t *rapid.T) {
		row := rapid.SampledFrom(series).Draw(t, "row")
		r := Request{
			Callout: row.Designation, Internal: rapid.Bool().Draw(t, "internal"), Units: rapid.SampledFrom([]unit.System{unit.Metric, unit.Inches}).Draw(t, "units"),
			Lathe: rapid.SampledFrom(lathes).Draw(t, "lathe"), Material: rapid.SampledFrom([]string{"1018", "12L14", "304", "6061", "360", "4140 annealed"}).Draw(t, "material"),
			Length: unit.Length(rapid.Float64Range(2, 120).Draw(t, "length")), Centre: rapid.Bool().Draw(t, "centre"),
			Infeed:       rapid.SampledFrom([]string{"", "straight", "flank", "modified", "alternating"}).Draw(t, "infeed"),
			ToolMaterial: rapid.SampledFrom([]string{"", "carbide"}).Draw(t, "tool"), ToolProfile: rapid.SampledFrom([]string{"", "full"}).Draw(t, "profile"),
			Relief: rapid.SampledFrom([]unit.Length{0, 0, 2, 6, 15}).Draw(t, "relief"), Away: rapid.Bool().Draw(t, "away"),
		}
		p, err := Make(r)
		var in *unit.InputError
		switch {
		case errors.As(err, &in):
			return
		case err != nil:
			t.Fatalf("%s: %v", r.Callout, err)
		}
		checkPlan(t, p)
		var once, twice bytes.Buffer
		if err := Encode(&once, p); err != nil {
			t.Fatal(err)
		}
		back, err := Decode(bytes.NewReader(once.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		if err := Encode(&twice, back); err != nil || !bytes.Equal(once.Bytes(), twice.Bytes()) {
			t.Fatalf("writing, reading and writing again changes the plan (%v)", err)
		}
	})
}

// The same request always gives the same bytes.
func TestDeterministic(t *testing.T) {
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		if err := Encode(w, mustMake(t, exampleRequest(t))); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two plans of one request differ")
	}
}

// The longer a part stands out, the more each pass leaves of the last one's waves;
// a centre takes most of it away (Tlusty: the limit width of cut is proportional
// to stiffness). The assessment changes nothing else of the plan.
func TestVibration(t *testing.T) {
	carry := func(stickout unit.Length, centre bool) float64 {
		r := exampleRequest(t)
		r.Stickout, r.Centre = stickout, centre
		p, err := MakeWithVibration(r)
		if err != nil || p.Vibration == nil || len(p.CarryOver) != len(p.Passes) {
			t.Fatalf("%v: %v", stickout, err)
		}
		v := p.Vibration.CarryOver
		if !(v.Low <= v.Likely && v.Likely <= v.High) {
			t.Errorf("carry-over %+v is not in order", v)
		}
		p.Vibration, p.CarryOver = nil, nil
		p.Reasons = slices.DeleteFunc(p.Reasons, func(r Reason) bool { return r.About == "vibration" })
		var with, plain bytes.Buffer
		if err := errors.Join(Encode(&with, p), Encode(&plain, mustMake(t, r))); err != nil {
			t.Fatal(err)
		}
		// A holding that is only compared may add an assumption of its own.
		if a, b := with.Len(), plain.Len(); a < b || a > b+400 {
			t.Errorf("assessing vibration changed the plan from %d to %d bytes", b, a)
		}
		return v.Likely
	}
	short, long, held := carry(40, false), carry(90, false), carry(90, true)
	if !(short < long && held < long) {
		t.Errorf("carry-over: short %.2f, long %.2f, long with a centre %.2f", short, long, held)
	}
}

// A Planner gives the same plans as Make, also to many at once.
func TestPlanner(t *testing.T) {
	var p Planner
	var want bytes.Buffer
	if err := Encode(&want, mustMake(t, exampleRequest(t))); err != nil {
		t.Fatal(err)
	}
	r := exampleRequest(t)
	errs := make(chan error)
	for range 8 {
		go func() {
			var got bytes.Buffer
			made, err := p.Make(r)
			if err == nil {
				err = Encode(&got, made)
			}
			if err == nil && !bytes.Equal(got.Bytes(), want.Bytes()) {
				err = errors.New("the planner's plan differs")
			}
			errs <- err
		}()
	}
	for range 8 {
		if err := <-errs; err != nil {
			t.Error(err)
		}
	}
}

// What is dangerous is blocked with the reason.
func TestBlocked(t *testing.T) {
	base := exampleRequest(t)
	for _, c := range []struct {
		name   string
		change func(*Request)
		want   string // in the reason; empty when the plan must not be blocked
	}{
		{"as it stands", func(*Request) {}, ""},
		{"away from a screwed-on chuck", func(r *Request) { r.Away = true }, "screwed on"},
		{"too little room for a hand", func(r *Request) { r.Relief, r.RPM, r.Ending = 2.5, 200, EndOpen }, "needs"},
		{"relief reaches into the jaws", func(r *Request) { r.Stickout = unit.Inch }, "chuck"},
		{"coast never measured at this speed", func(r *Request) { r.RPM, r.Ending, r.OpenEnd = 500, EndStop, true }, "measure it"},
		{"half nuts that must stay closed", func(r *Request) { r.Callout, r.Ending = "M10x1.5-6g", EndOpen }, "half nuts must stay closed"},
		{"no brake", func(r *Request) { r.Ending = EndBrake }, "no brake"},
		{"left hand, spindle forward", func(r *Request) { r.Callout = "1/2-13 UNC-2A-LH" }, ""},
		{"left hand, relief too narrow to start in", func(r *Request) { r.Callout, r.Relief = "1/2-13 UNC-2A-LH", 0.5 }, "starts in the relief"},
		{"a needle without a centre", func(r *Request) { r.Callout = "M1.6" }, "bends away"},
		{"too fast for any hand", func(r *Request) { r.RPM = 1080 }, "needs"},
		{"a blank larger than clears the cross slide", func(r *Request) { r.Callout, r.OpenEnd = "M150x6", true }, "cross slide"},
		{"longer than the bed", func(r *Request) { r.Stickout = 600 }, "between centres"},
		{"a bar as thick as the bore", func(r *Request) { r.Callout, r.BarDiameter = "1/2-13 UNC-2B", 10.5 }, "leaves no room"},
		{"a bar of two thirds of the bore", func(r *Request) { r.Callout, r.BarDiameter = "1/2-13 UNC-2B", 7 }, ""},
		{"a bore that runs on between the jaws", func(r *Request) { r.Callout, r.Stickout = "1/2-13 UNC-2B", 26 }, ""},
		{"a hole that the relief opens", func(r *Request) { r.Bore, r.ReliefDiameter = 9.5, 9.4 }, "cuts through"},
		{"a wall like foil", func(r *Request) { r.Callout, r.Bore, r.ReliefDiameter = "M30x1-6g", 28.4, 28.5 }, "comes apart"},
		{"chuck too fast", func(r *Request) {
			r.Lathe = strings.Replace(r.Lathe, "max_rpm = 1500", "max_rpm = 150", 1)
			r.RPM = 200
		}, "chuck's limit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := base
			c.change(&r)
			p := mustMake(t, r)
			checkPlan(t, p)
			var texts []string
			for _, h := range p.Blocked() {
				texts = append(texts, h.Text)
			}
			all := strings.Join(texts, "\n")
			if c.want == "" && all != "" || c.want != "" && !strings.Contains(all, c.want) {
				t.Errorf("blocked by %q, want %q", all, c.want)
			}
		})
	}
}

// A measurement in mid job moves the remaining readings by what has yielded.
func TestReplan(t *testing.T) {
	r := exampleRequest(t)
	first := mustMake(t, r)
	after := 9
	dialled := first.Passes[after-1]
	full := first.Passes[len(first.Passes)-1].Depth
	target := first.Limits.Member().Pitch.Target
	const yielded = 0.02
	pitch := target + 2*(full-dialled.Depth+yielded)
	p, err := Replan(r, State{After: after, Pitch: pitch})
	if err != nil {
		t.Fatal(err)
	}
	last := p.Passes[len(p.Passes)-1]
	if got := last.Compound.Slide - first.Passes[len(first.Passes)-1].Compound.Slide; math.Abs(float64(got)-yielded/math.Cos(29*math.Pi/180)) > 0.0254 {
		t.Errorf("the last reading moved by %v for a yield of %v mm", got, yielded)
	}
	if p.Passes[0].N != after+1 {
		t.Errorf("the next pass is number %d", p.Passes[0].N)
	}
	fresh, err := Replan(r, State{After: after, FreshZero: true})
	if err != nil {
		t.Fatal(err)
	}
	left := fresh.Passes[len(fresh.Passes)-1].Compound.Slide
	if want := float64(full-dialled.Depth) / math.Cos(29*math.Pi/180); math.Abs(float64(left)-want) > 0.0254 {
		t.Errorf("after a fresh zero the last reading is %v, want %.4f mm", left, want)
	}
	if done, err := Replan(r, State{After: len(first.Passes), Pitch: target}); err != nil || len(done.Passes) != 0 {
		t.Errorf("a thread at size has %v left to cut, %v", done, err)
	}
	for _, bad := range []State{{}, {After: 99, Pitch: target}, {After: 3}, {After: 3, Pitch: 40}} {
		if _, err := Replan(r, bad); err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
}

// Last passes straight in leave the compound where it stands and move the cross
// slide from its zero.
func TestFinalStraight(t *testing.T) {
	r := exampleRequest(t)
	r.FinalStraight, r.Centre = 2, true
	p := mustMake(t, r)
	n := len(p.Passes)
	stays := p.Passes[n-3].Compound.Text
	for i, s := range p.Passes {
		straight := i >= n-2
		if straight != (s.Cross.Slide > 0) || straight && s.Compound.Text != stays {
			t.Errorf("pass %d of %d: cross %s, compound %s", s.N, n, s.Cross.Text, s.Compound.Text)
		}
		if straight && s.Trailing < s.Chip/2 {
			t.Errorf("pass %d straight in: trailing chip %v, leading %v", s.N, s.Trailing, s.Chip)
		}
	}
	depth := p.Passes[n-1].Depth - p.Passes[n-3].Depth
	if got := p.Passes[n-1].Cross.Slide; math.Abs(float64(got-depth)) > 0.0128 {
		t.Errorf("the cross slide goes in %v for %v", got, depth)
	}
}

// Every infeed method reaches the same depth; straight infeed has no axial force,
// flank infeed no chip on the trailing edge.
func TestInfeedMethods(t *testing.T) {
	r := exampleRequest(t)
	r.Centre = true
	all, err := InfeedMethods(r)
	if err != nil || len(all) != 4 {
		t.Fatalf("%d methods, %v", len(all), err)
	}
	for _, m := range all {
		switch m.Method {
		case "straight":
			if m.Axial > 1 || m.Trailing <= 0 {
				t.Errorf("straight infeed: axial force %v, trailing chip %v", m.Axial, m.Trailing)
			}
		case "flank":
			if m.Axial < 50 || m.Trailing > 1e-9 {
				t.Errorf("flank infeed: axial force %v, trailing chip %v", m.Axial, m.Trailing)
			}
		}
	}
}

func FuzzDecode(f *testing.F) {
	var b bytes.Buffer
	p, err := Make(exampleRequest(f))
	if err != nil {
		f.Fatal(err)
	}
	if err := Encode(&b, p); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte(`{"schema":1,"request":{"callout":"M10"}}`))
	f.Add([]byte(`{"schema":99}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if p, err := Decode(bytes.NewReader(data)); err == nil && p.Schema != Schema {
			t.Errorf("schema %d came through", p.Schema)
		}
	})
}

func BenchmarkMake(b *testing.B) {
	r := exampleRequest(b)
	for b.Loop() {
		if _, err := Make(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPlanner(b *testing.B) {
	r := exampleRequest(b)
	var p Planner
	for b.Loop() {
		if _, err := p.Make(r); err != nil {
			b.Fatal(err)
		}
	}
}
