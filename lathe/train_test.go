package lathe

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

// Trains that cannot be set up are refused with the reason that a machinist would find.
func TestImpossibleTrains(t *testing.T) {
	inch, metric := example(t, "inch-bench.toml"), example(t, "metric-geared.toml")
	change := func(l *Lathe, f func(l *Lathe)) *Lathe {
		c := *l
		if l.Banjo != nil {
			b := *l.Banjo
			c.Banjo = &b
		}
		if l.Gears != nil {
			g := *l.Gears
			c.Gears = &g
		}
		f(&c)
		return &c
	}
	bare := change(inch, func(l *Lathe) { l.Gears, l.Banjo = nil, nil })
	wide := change(inch, func(l *Lathe) { l.Banjo.BushDia = 40; l.Banjo.SlotMin = 5 })
	onePlane := change(inch, func(l *Lathe) { l.Banjo.Planes = 1 })
	oneBush := change(inch, func(l *Lathe) { l.Banjo.Bushes = 1 })
	oneStud := change(inch, func(l *Lathe) { l.Banjo.Studs = 1 })
	stiff := change(inch, func(l *Lathe) { l.Banjo.SwingMin, l.Banjo.SwingMax = 100*unit.Degree, 120*unit.Degree })
	direct := change(inch, func(l *Lathe) { l.Banjo.Centres = 55 * unit.Millimetre })
	tests := []struct {
		name   string
		l      *Lathe
		levers string
		wheels []int
		want   Reason
	}{
		{"three wheels", inch, "A", []int{32, 80, 64}, WrongCount},
		{"no wheels", inch, "A", nil, WrongCount},
		{"wheel not owned", inch, "A", []int{33, 80, 80, 64}, NoSuchWheel},
		{"63 not owned", inch, "A", []int{63, 72, 72, 80}, NoSuchWheel},
		{"not a wheel", inch, "A", []int{-3, 72, 72, 80}, NoSuchWheel},
		{"two of 80 needed", inch, "A", []int{80, 72, 72, 80}, WheelUsedTwice},
		{"idler also on the screw", inch, "A", []int{40, 72, 72, 72}, WheelUsedTwice},
		{"no change gears", bare, "A", []int{32, 80, 80, 64}, NoChangeGears},
		{"no such levers", inch, "D", []int{32, 80, 80, 64}, NoSuchLever},
		{"levers left out", metric, "", []int{32, 80, 80, 96}, NoSuchLever},
		{"three idlers on two studs", inch, "A", []int{32, 20, 20, 24, 24, 28, 28, 64}, TooFewStuds},
		{"six meshes", inch, "A", []int{20, 24, 28, 32, 32, 36, 40, 44, 46, 48, 52, 54}, TooFewStuds},
		{"two pairs on one stud", oneStud, "A", []int{40, 80, 32, 64, 36, 72}, TooFewStuds},
		{"two pairs, one bush", oneBush, "A", []int{40, 80, 32, 64, 36, 72}, TooFewBushes},
		{"pair in one plane", onePlane, "A", []int{40, 80, 32, 64}, TooFewPlanes},
		{"100 on the stud", inch, "A", []int{100, 32, 32, 80}, TooLargeForStud},
		{"127 beyond the limit", change(inch, func(l *Lathe) { l.Banjo.ScrewMost = 100 }), "A", []int{60, 72, 72, 127}, TooLargeForScrew},
		{"slot ends", inch, "A", []int{32, 127, 100, 127}, WheelUsedTwice},
		{"slot ends, 3 stages", inch, "A", []int{32, 72, 80, 100, 64, 127}, SlotTooShort},
		{"slot begins", inch, "A", []int{20, 100, 24, 32}, SlotTooFar},
		{"small idler does not reach", inch, "A", []int{32, 32, 32, 40}, NoReach},
		{"first mesh does not reach", inch, "A", []int{20, 24, 48, 52}, NoReach},
		{"first mesh too large", change(inch, func(l *Lathe) { l.Banjo.Centres = 30; l.Banjo.StudMost = 0 }), "A", []int{127, 100, 36, 40}, NoReach},
		{"banjo stops", stiff, "A", []int{32, 80, 80, 64}, SwingStops},
		{"wheels too far apart to mesh directly", inch, "A", []int{40, 60}, NoReach},
		{"direct mesh a hair too tight", direct, "A", []int{46, 60}, NoReach},
		{"small wheel on a thick bush", wide, "A", []int{60, 20, 100, 64}, WheelHitsShaft},
		{"big driven wheel on the screw's shaft", inch, "A", []int{32, 127, 20, 60}, WheelHitsShaft},
		{"stud wheel overlaps screw wheel", change(inch, func(l *Lathe) { l.Banjo.Centres = 111 }), "A", []int{80, 24, 24, 127}, WheelHitsWheel},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tr, err := CheckTrain(tt.l, tt.levers, tt.wheels...)
			var no *NoTrain
			if !errors.As(err, &no) {
				t.Fatalf("got %v, %v; want %q", tr, err, tt.want)
			}
			if no.Reason != tt.want {
				t.Errorf("got %v, want %q", no, tt.want)
			}
			if no.Detail == "" {
				t.Error("no figures are given")
			}
		})
	}
}

// Refusals of a whole search.
func TestNoTrain(t *testing.T) {
	l := example(t, "inch-bench.toml")
	noTumbler := *l
	noTumbler.Drive.Tumbler, noTumbler.Drive.Cuts = nil, Right
	oneStud := *noTumbler.Banjo
	oneStud.Studs = 1
	noTumbler.Banjo = &oneStud
	noTumbler.Gears = &Gears{Module: l.Gears.Module, Owned: []int{32, 80, 64}}
	noTumbler.Present = nil
	cramped := *l
	banjo := *l.Banjo
	banjo.SlotMin, banjo.SlotMax = 140, 141
	cramped.Banjo, cramped.Present = &banjo, nil
	tests := []struct {
		name string
		l    *Lathe
		lead unit.Ratio
		opt  Options
		want Reason
	}{
		{"left hand without tumbler, one stud", &noTumbler, unit.MustRatio(127, 80), Options{Hand: Left}, WrongHand},
		{"nothing mounts", &cramped, unit.MustRatio(127, 80), Options{}, SlotTooFar},
		{"nearer than any train", l, unit.MustRatio(355, 113), Options{MaxPPM: 0.001}, NoRatio},
		{"gearbox only", func() *Lathe { c := *l; c.Gears, c.Banjo, c.Present = nil, nil, nil; return &c }(), unit.Whole(3), Options{}, NoRatio},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			ts, err := Trains(tt.l, tt.lead, tt.opt)
			var no *NoTrain
			if !errors.As(err, &no) || no.Reason != tt.want {
				t.Errorf("got %v, %v; want %q", ts, err, tt.want)
			}
		})
	}
	for _, lead := range []unit.Ratio{{}, unit.Whole(-1), unit.Whole(1000), unit.MustRatio(math.MaxInt64, 3)} {
		var in *unit.InputError
		if ts, err := Trains(l, lead, Options{}); !errors.As(err, &in) {
			t.Errorf("lead %v: got %v, %v; want an input error", lead, ts, err)
		}
	}
}

// Ratios that stand in for 127:100, and their errors, against the published list.
func TestTranslatingGears(t *testing.T) {
	rows := outside.Rows(t, func(r outside.Row) bool { return strings.HasPrefix(r.Quantity, "Approximation of 1.27") })
	if len(rows) < 12 {
		t.Fatalf("only %d rows found", len(rows))
	}
	trains := map[string][]int{ // drivers and driven of the row's designation
		"47/37": {47, 37}, "80/63": {80, 63}, "22/31 x 34/19": {22, 31, 34, 19}, "30/23 x 37/38": {30, 23, 37, 38},
		"127/100": {127, 100}, "33/26": {33, 26}, "52/41": {52, 41}, "61/48": {61, 48},
		"108/85": {108, 85}, "14/11": {14, 11}, "63/50 (63 used as if it were 63.5)": {63, 50},
		"80/(3x21) i.e. a 21-tooth set": {80, 63}, "160/126": {160, 126},
	}
	for _, r := range rows {
		ws, ok := trains[r.Designation]
		if r.Designation == "120/127 pair (x 1.2)" {
			ws, ok = []int{127, 120, 120, 100}, true // 1.27 = 127/120 x 1.2
		}
		if !ok {
			t.Errorf("row %s %q is not understood", r.ID, r.Designation)
			continue
		}
		// A screw of 100/127 mm makes the lead equal to the ratio over 1.27.
		l := anyBanjo(unit.MustRatio(100, 127), ws...)
		c, err := chainOf(ws)
		if err != nil {
			t.Fatal(err)
		}
		tr, err := l.train(c, nil, Right)
		if err != nil {
			t.Fatal(err)
		}
		tr.measure(unit.Whole(1))
		want, tol, _ := r.Float()
		outside.Check(t, outside.Claim{
			What: "stand-in for 1.27 by " + r.Designation, Source: r.ID + " " + r.Source, Status: r.Status(),
			Published: want, Ours: tr.LeadErrorPPM, Unit: "ppm", Tolerance: tol,
		})
	}
}

// anyBanjo is a lathe that owns the given wheels on a banjo without limits.
func anyBanjo(screw unit.Ratio, owned ...int) *Lathe {
	return &Lathe{
		Leadscrew: Leadscrew{Lead: screw, Starts: 1},
		Drive:     Drive{StudRatio: unit.Whole(1), Tumbler: &Tumbler{"in", "out"}},
		Gears:     &Gears{Module: 1, Owned: owned},
		Banjo: &Banjo{
			Centres: 150, SlotMin: 1, SlotMax: 400, SwingMax: 180 * unit.Degree,
			Studs: 2, Bushes: 2, Planes: 3, StudDia: 5, ScrewDia: 5, BushDia: 5,
		},
	}
}

// The rule for cutting metric leads on an inch screw: drivers : driven is
// 5 x threads per inch x lead : 127.
func TestRuleForMetricLeads(t *testing.T) {
	rows := outside.Rows(t, func(r outside.Row) bool { return r.Quantity == "Rule" && strings.Contains(r.Value, "127") })
	if len(rows) != 1 {
		t.Fatalf("%d rows, want the one rule", len(rows))
	}
	// The worked example of the row: 6 threads per inch, 3 mm, 90 : 127.
	l := anyBanjo(unit.MustRatio(127, 30), 90, 127, 60, 70)
	ts, err := Trains(l, unit.Whole(3), Options{MaxStages: 1})
	if err != nil {
		t.Fatal(err)
	}
	up, down := drivers(ts[0].Teeth())
	for _, c := range []struct {
		what            string
		published, ours int
	}{{"driver", 90, up[0]}, {"driven", 127, down[0]}} {
		outside.Check(t, outside.Claim{
			What: "change gears for 3 mm on a screw of 6 threads per inch, " + c.what, Source: rows[0].ID + " " + rows[0].Source, Status: rows[0].Status(),
			Published: float64(c.published), Ours: float64(c.ours), Unit: "teeth",
		})
	}
	inch := outside.Rows(t, func(r outside.Row) bool { return r.Quantity == "Inch to metric" })
	if len(inch) != 1 || inch[0].Value != "127/5" {
		t.Fatalf("row of the inch: %v", inch)
	}
	outside.Check(t, outside.Claim{
		What: "one thread per inch, in millimetres x 5", Source: inch[0].ID + " " + inch[0].Source, Status: inch[0].Status(),
		Published: 127, Ours: 5 * Leadscrew{Lead: unit.MustRatio(127, 5), Starts: 1}.Lead.Float(), Unit: "mm",
	})
	rapid.Check(t, func(t *rapid.T) {
		tpi, fifths := rapid.IntRange(4, 16).Draw(t, "tpi"), rapid.Int64Range(1, 30).Draw(t, "lead/0.2mm")
		lead := unit.MustRatio(fifths, 5)
		want, _ := unit.MustRatio(5*int64(tpi), 127).Mul(lead)
		screw, _ := unit.MustRatio(127, 5).Quo(unit.Whole(int64(tpi)))
		got, _ := lead.Quo(screw)
		if got != want {
			t.Fatalf("%d tpi, %v mm: %v, rule says %v", tpi, lead, got, want)
		}
	})
}

// The effect of a lead error on the functional pitch diameter.
func TestPitchDiameterEffect(t *testing.T) {
	rows := outside.Rows(t, func(r outside.Row) bool { return r.Quantity == "PD equivalent of lead error over the engagement" })
	if len(rows) < 5 {
		t.Fatalf("only %d rows found", len(rows))
	}
	for _, r := range rows {
		deg, err := strconv.ParseFloat(strings.TrimSuffix(r.Designation, " deg"), 64)
		if err != nil {
			t.Fatal(err)
		}
		want, tol, _ := r.Float()
		tr := Train{LeadErrorPPM: -100} // over 10 mm: one micrometre
		got := tr.PitchDiameterEffect(10, unit.Angle(deg/2)*unit.Degree)
		outside.Check(t, outside.Claim{
			What: "pitch diameter per lead error, " + r.Designation, Source: r.ID + " " + r.Source, Status: r.Status(),
			Published: want, Ours: got.MM() / 0.001, Unit: "mm/mm", Tolerance: tol,
		})
	}
}

// What an example lathe's plate and table would give by hand.
func TestKnownTrains(t *testing.T) {
	inch, metric := example(t, "inch-bench.toml"), example(t, "metric-geared.toml")
	for _, tt := range []struct {
		l      *Lathe
		levers string
		wheels []int
		lead   unit.Ratio // worked by hand
	}{
		{inch, "A", []int{32, 80, 80, 64}, unit.MustRatio(127, 80)},       // 16 tpi
		{inch, "A", []int{32, 80, 80, 52}, unit.MustRatio(127, 65)},       // 13 tpi
		{inch, "B", []int{60, 72, 72, 127}, unit.MustRatio(3, 4)},         // 0.75 mm
		{metric, "C 1", []int{32, 80, 80, 96}, unit.Whole(2)},             // as the plate says
		{metric, "C 3", []int{32, 80, 80, 96}, unit.MustRatio(5, 2)},      // 2.5 mm
		{metric, "B 5", []int{32, 80, 80, 96}, unit.MustRatio(3, 2)},      // 1.5 mm
		{metric, "B 1", []int{32, 120, 127, 52}, unit.MustRatio(127, 65)}, // 13 tpi: 6 mm x 32/120 x 127/52 x 1/2
		{metric, "E", []int{48, 120, 127, 96}, unit.MustRatio(127, 40)},   // 8 tpi: 6 mm x 48/120 x 127/96
	} {
		tr, err := CheckTrain(tt.l, tt.levers, tt.wheels...)
		if err != nil {
			t.Errorf("%v %s: %v", tt.wheels, tt.levers, err)
			continue
		}
		if tr.Lead != tt.lead {
			t.Errorf("%v %s cuts %v mm, want %v", tt.wheels, tt.levers, tr.Lead, tt.lead)
		}
		if !slices.Equal(tr.Teeth(), tt.wheels) {
			t.Errorf("teeth %v, want %v", tr.Teeth(), tt.wheels)
		}
		redraw(t, tt.l, *tr)
	}
}

// Each train that the search returns, checked alone, is the same train, and its
// lead is the product of its teeth as big fractions would have it.
func TestTrainsAgreeWithCheckTrain(t *testing.T) {
	l := example(t, "inch-bench.toml")
	rapid.Check(t, func(t *rapid.T) {
		lead := unit.MustRatio(rapid.Int64Range(20, 400).Draw(t, "lead/0.01mm"), 100)
		ts, err := Trains(l, lead, Options{Keep: 5, MaxStages: 2})
		if err != nil {
			var no *NoTrain
			if !errors.As(err, &no) {
				t.Fatal(err)
			}
			return
		}
		worst := -1.0
		for _, tr := range ts {
			same, err := CheckTrain(l, tr.Position.Levers, tr.Teeth()...)
			if err != nil {
				t.Fatalf("%v: %v", tr, err)
			}
			if same.Lead != tr.Lead || same.Swing != tr.Swing || fmt.Sprint(same.Wheels) != fmt.Sprint(tr.Wheels) {
				t.Fatalf("%v is not the train that was checked: %v", tr, same)
			}
			if e := math.Abs(tr.LeadErrorPPM); e < worst || tr.Exact != (e == 0) {
				t.Fatalf("%v: error %v after %v", tr, e, worst)
			} else {
				worst = e
			}
		}
	})
}

// The tumbler and the number of meshes decide the hand.
func TestHand(t *testing.T) {
	l := example(t, "inch-bench.toml")
	for _, hand := range []Hand{Right, Left} {
		ts, err := Trains(l, unit.MustRatio(127, 65), Options{Hand: hand, Keep: 20})
		if err != nil {
			t.Fatal(err)
		}
		for _, tr := range ts {
			odd := (tr.Stages+tr.Idlers)%2 != 0
			want := "lever up"
			if odd != (hand == Left) {
				want = "lever down"
			}
			if tr.Tumbler != want {
				t.Errorf("%v hand, %d meshes: tumbler %q, want %q", hand, tr.Stages+tr.Idlers, tr.Tumbler, want)
			}
		}
	}
	plain := *l
	plain.Drive.Tumbler, plain.Drive.Cuts = nil, Right
	ts, err := Trains(&plain, unit.MustRatio(127, 65), Options{Hand: Left})
	if err != nil {
		t.Fatal(err)
	}
	for _, tr := range ts {
		if (tr.Stages+tr.Idlers)%2 == 0 || tr.Tumbler != "" {
			t.Errorf("%v cannot cut left hand without a tumbler", tr)
		}
	}
}

// Of two equal trains the one that leaves more of the present wheels in place comes first.
func TestPresentSetUpIsPreferred(t *testing.T) {
	l := example(t, "inch-bench.toml")
	ts, err := Trains(l, unit.MustRatio(127, 80), Options{}) // 16 tpi: what is mounted
	if err != nil {
		t.Fatal(err)
	}
	if ts[0].Moved != 0 || !slices.Equal(ts[0].Teeth(), l.Present.Wheels) || ts[0].Position.Levers != "A" {
		t.Errorf("first train is %v (%d moved), want what is mounted", ts[0], ts[0].Moved)
	}
	if ts, err = Trains(l, unit.MustRatio(127, 65), Options{}); err != nil || ts[0].Moved != 1 {
		t.Errorf("13 tpi: %v moves %d wheels, want 1 (%v)", ts[0], ts[0].Moved, err)
	}
}

// A lathe without change gears, and one with an electronic leadscrew.
func TestFixedTrains(t *testing.T) {
	l := *example(t, "metric-geared.toml")
	l.Gears, l.Banjo, l.Present = nil, nil, nil
	l.Drive.StudRatio = unit.MustRatio(1, 3) // as if the train of the plate were built in
	ts, err := Trains(&l, unit.MustRatio(3, 2), Options{})
	if err != nil || len(ts) != 1 || ts[0].Position.Levers != "B 5" || !ts[0].Exact || ts[0].Tumbler != "R" {
		t.Errorf("got %v, %v; want levers B 5", ts, err)
	}
	l.Leadscrew.Electronic = true
	ts, err = Trains(&l, unit.MustRatio(355, 113), Options{Hand: Left})
	if err != nil || len(ts) != 1 || !ts[0].Exact || ts[0].Lead != unit.MustRatio(355, 113) || ts[0].Hand != Left {
		t.Errorf("electronic: got %v, %v", ts, err)
	}
}
