package lathe

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

var (
	inchDirect   = Dial{Reads: Direct, Units: unit.Inches, Division: unit.MustRatio(127, 5000), Divisions: 100}
	inchDiameter = Dial{Reads: Diameter, Units: unit.Inches, Division: unit.MustRatio(127, 5000), Divisions: 200}
	metricDia    = Dial{Reads: Diameter, Units: unit.Metric, Division: unit.MustRatio(1, 50), Divisions: 200}
	metricDirect = Dial{Reads: Direct, Units: unit.Metric, Division: unit.MustRatio(1, 20), Divisions: 60}
)

func TestDialReading(t *testing.T) {
	for _, tt := range []struct {
		d      Dial
		travel unit.Length
		turns  int
		shows  unit.Length
		text   string
	}{
		{inchDirect, 0.031 * unit.Inch, 0, 0.031 * unit.Inch, ".031 in (direct dial)"},
		{inchDirect, 0.131 * unit.Inch, 1, 0.031 * unit.Inch, "1 turn + .031 in (direct dial)"},
		{inchDirect, 0.3 * unit.Inch, 3, 0, "3 turns + .000 in (direct dial)"},
		{inchDirect, 0.0314 * unit.Inch, 0, 0.0314 * unit.Inch, ".0314 in (direct dial)"},
		{inchDirect, 0, 0, 0, ".000 in (direct dial)"},
		{inchDirect, -0.031 * unit.Inch, 0, 0.069 * unit.Inch, ".031 in back, the dial then shows .069 in (direct dial)"},
		{inchDirect, -0.131 * unit.Inch, 1, 0.069 * unit.Inch, "1 turn + .031 in back, the dial then shows .069 in (direct dial)"},
		{inchDirect, -0.2 * unit.Inch, 2, 0, "2 turns + .000 in back (direct dial)"},
		{inchDiameter, 0.031 * unit.Inch, 0, 0.062 * unit.Inch, ".062 in (diameter dial)"},
		{inchDiameter, 0.131 * unit.Inch, 1, 0.062 * unit.Inch, "1 turn + .062 in (diameter dial)"},
		{metricDia, 1.23, 0, 2.46, "2.46 mm (diameter dial)"},
		{metricDia, 2.5, 1, 1, "1 turn + 1.00 mm (diameter dial)"},
		{metricDirect, 0.65, 0, 0.65, "0.65 mm (direct dial)"},
		{metricDirect, 0.66, 0, 0.66, "0.660 mm (direct dial)"},
	} {
		r := tt.d.Reading(tt.travel)
		if r.Turns != tt.turns || math.Abs(float64(r.Shows-tt.shows)) > 1e-9 || r.Text != tt.text {
			t.Errorf("%v of travel: got %d turns, shows %v, %q; want %d, %v, %q", tt.travel, r.Turns, r.Shows, r.Text, tt.turns, tt.shows, tt.text)
		}
	}
	if inchDirect.Turn() != 2.54 || inchDiameter.Turn() != 2.54 || metricDia.Turn() != 2 || metricDirect.Turn() != 3 {
		t.Error("travel for one turn")
	}
}

// A reading, taken back to a travel, is the travel; and rounding is to the nearest division.
func TestDialLaws(t *testing.T) {
	dials := []Dial{inchDirect, inchDiameter, metricDia, metricDirect}
	rapid.Check(t, func(t *rapid.T) {
		d := dials[rapid.IntRange(0, 3).Draw(t, "dial")]
		travel := unit.Length(rapid.Float64Range(-30, 30).Draw(t, "travel"))
		r := d.Reading(travel)
		counts := unit.Length(d.counts())
		moved := r.Shows
		full := d.Division.Length() * unit.Length(d.Divisions)
		if r.Back && moved > 0 {
			moved = full - moved
		}
		back := (unit.Length(r.Turns)*full + moved) / counts
		if r.Back {
			back = -back
		}
		if (back-travel).Abs() > 1e-6 || (r.Total/counts-travel.Abs()).Abs() > 1e-6 {
			t.Fatalf("%v reads %+v, which is %v", travel, r, back)
		}
		if r.Shows < 0 || r.Shows >= full+1e-9 {
			t.Fatalf("%v shows %v on a dial of %v", travel, r.Shows, full)
		}
		n := d.Round(travel)
		if (n - travel).Abs() > d.Step()/2+1e-12 {
			t.Fatalf("%v rounds to %v", travel, n)
		}
		if q := float64(n / d.Step()); math.Abs(q-math.Round(q)) > 1e-9 {
			t.Fatalf("%v rounds to %v, which is between divisions", travel, n)
		}
		if e := d.Reading(n); !e.Exact {
			t.Fatalf("%v does not stand on a division: %+v", n, e)
		}
	})
}

func TestProtractor(t *testing.T) {
	cross := Protractor{Zero: ZeroCross, End: 45 * unit.Degree, Printed: BothWays}
	bed := Protractor{Zero: ZeroBed, End: 65 * unit.Degree, Printed: BothWays}
	short := Protractor{Zero: ZeroBed, End: 50 * unit.Degree}
	oneWay := Protractor{Zero: ZeroCross, End: 90 * unit.Degree, Printed: ClockwiseOnly}
	for _, tt := range []struct {
		p      Protractor
		asked  float64
		reads  float64
		beyond bool
		text   string
	}{
		{cross, 29.5, 29.5, false, "29.5° from the cross-slide line = your scale reads 29.5°"},
		{bed, 29.5, 60.5, false, "29.5° from the cross-slide line = your scale reads 60.5°"},
		{bed, 29, 61, false, "29° from the cross-slide line = your scale reads 61°"},
		{short, 29.5, 60.5, true, "29.5° from the cross-slide line would be 60.5° on your scale, which stops at 50°: set it with a protractor or a sine bar against the chuck face"},
		{cross, 90, 90, true, "90° from the cross-slide line would be 90° on your scale, which stops at 45°: set it with a protractor or a sine bar against the chuck face"},
		{bed, 90, 0, false, "90° from the cross-slide line = your scale reads 0°"},
		{cross, 0, 0, false, "0° from the cross-slide line = your scale reads 0°"},
		{cross, 45, 45, false, "45° from the cross-slide line = your scale reads 45°"},
		{oneWay, 14.5, 14.5, false, "14.5° from the cross-slide line = your scale reads 14.5° (the scale is printed clockwise of its zero only; when swung the other way, use a protractor)"},
	} {
		r := tt.p.Reading(unit.Angle(tt.asked) * unit.Degree)
		if math.Abs(r.Reads.Degrees()-tt.reads) > 1e-9 || r.Beyond != tt.beyond || r.Text != tt.text || !r.Known {
			t.Errorf("%v°: got %v°, beyond %v, %q", tt.asked, r.Reads.Degrees(), r.Beyond, r.Text)
		}
	}
	if r := (Protractor{}).Reading(29.5 * unit.Degree); r.Known || !strings.Contains(r.Text, "not known") {
		t.Errorf("a protractor that the file does not tell of: %+v", r)
	}
	rows := outside.Rows(t, func(r outside.Row) bool { return r.Quantity == "Compound setting" && strings.Contains(r.Value, "61") })
	if len(rows) != 1 {
		t.Fatalf("%d rows of compound settings", len(rows))
	}
	outside.Check(t, outside.Claim{
		What: "29 degrees on a protractor with the other zero", Source: rows[0].ID + " " + rows[0].Source, Status: rows[0].Status(),
		Published: 61, Ours: bed.Reading(29 * unit.Degree).Reads.Degrees(), Unit: "deg", Tolerance: 1e-9,
	})
}

func TestSafety(t *testing.T) {
	inch, metric := example(t, "inch-bench.toml"), example(t, "metric-geared.toml")
	with := func(l *Lathe, f func(*Lathe)) *Lathe { c := *l; f(&c); return &c }
	for _, tt := range []struct {
		name  string
		l     *Lathe
		ok    bool
		says  string
		kinds []HazardKind
	}{
		{"screwed chuck", inch, false, "unscrew", []HazardKind{ReverseScrewedChuck, ReverseBeforeStop}},
		{"screwed chuck with a lock", with(inch, func(l *Lathe) { l.Spindle.ChuckLock = true }), true, "single-phase", []HazardKind{ReverseBeforeStop}},
		{"screwed chuck, no reversing switch", with(inch, func(l *Lathe) { l.Motor.Reverses = false }), false, "unscrew", []HazardKind{ReverseScrewedChuck}},
		{"cam-lock, three-phase", metric, true, "", nil},
		{"cam-lock, single-phase", with(metric, func(l *Lathe) { l.Motor.Kind = SinglePhase }), true, "runs on forward", []HazardKind{ReverseBeforeStop}},
		{"no switch", with(metric, func(l *Lathe) { l.Motor.Reverses = false }), false, "no reversing switch", nil},
		{"slow chuck", with(metric, func(l *Lathe) { l.Chuck.MaxSpeed = 1200 }), true, "", []HazardKind{ChuckOverspeed}},
		{"solid nut", with(metric, func(l *Lathe) { l.Carriage.HalfNuts = HalfNutsFixed }), true, "", []HazardKind{NutsStayClosed}},
	} {
		ok, why := tt.l.CanReverse()
		if ok != tt.ok || !strings.Contains(why, tt.says) {
			t.Errorf("%s: %v, %q", tt.name, ok, why)
		}
		var kinds []HazardKind
		for _, h := range tt.l.Hazards() {
			kinds = append(kinds, h.Kind)
			if h.Text == "" || h.Do == "" {
				t.Errorf("%s: hazard %q without words", tt.name, h.Kind)
			}
		}
		if !slices.Equal(kinds, tt.kinds) {
			t.Errorf("%s: hazards %v, want %v", tt.name, kinds, tt.kinds)
		}
	}
	a, b := Speed{Label: "a", Upstream: true}, Speed{Label: "b", Upstream: true}
	c := Speed{Label: "c"}
	if !KeepsPhase(a, b) || KeepsPhase(a, c) || KeepsPhase(c, a) || !KeepsPhase(c, c) {
		t.Error("KeepsPhase")
	}
}
