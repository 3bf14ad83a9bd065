package cut

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

// TestToolMakersRule compares with the printed schedule of an M16x2 in eight
// passes, increments and cumulative depths.
func TestToolMakersRule(t *testing.T) {
	rows := outside.Rows(t, func(r outside.Row) bool { return r.Quantity == "Pass depth example" })
	if len(rows) != 8 {
		t.Fatalf("%d published passes", len(rows))
	}
	ours := ToolMakersRule(1.227, 8)
	before := 0.0
	for i, r := range rows {
		step, total, ok := strings.Cut(r.Value, " / ")
		a, err1 := strconv.ParseFloat(step, 64)
		b, err2 := strconv.ParseFloat(total, 64)
		if !ok || err1 != nil || err2 != nil {
			t.Fatalf("row %s: %q", r.ID, r.Value)
		}
		outside.Check(t, outside.Claim{What: r.Designation + ", " + r.Symbol + ": infeed", Source: r.Source, Status: r.Status(), Published: a, Ours: ours[i].MM() - before, Unit: "mm", Tolerance: 0.0011})
		outside.Check(t, outside.Claim{What: r.Designation + ", " + r.Symbol + ": depth", Source: r.Source, Status: r.Status(), Published: b, Ours: ours[i].MM(), Unit: "mm", Tolerance: 0.00051})
		before = ours[i].MM()
	}
}

// TestUsualPasses holds the table of the number of passes against the published
// ranges, which were taken down separately.
func TestUsualPasses(t *testing.T) {
	rows := outside.Rows(t, func(r outside.Row) bool { return strings.HasPrefix(r.Quantity, "Number of passes") })
	if len(rows) < 12 {
		t.Fatalf("%d published ranges", len(rows))
	}
	for _, r := range rows {
		lo, hi, ok := strings.Cut(r.Value, "-")
		a, err1 := strconv.Atoi(lo)
		b, err2 := strconv.Atoi(hi)
		_, metric, _ := strings.Cut(r.Designation, " / ")
		if !ok || err1 != nil || err2 != nil {
			t.Fatalf("row %s: %q", r.ID, r.Value)
		}
		for _, pitch := range strings.Split(strings.TrimSuffix(metric, " mm"), "-") {
			p, err := strconv.ParseFloat(pitch, 64)
			if err != nil {
				t.Fatalf("row %s: %q", r.ID, r.Designation)
			}
			got, ok := UsualPasses(unit.Length(p), strings.Contains(r.Quantity, "Acme"))
			if !ok {
				t.Errorf("row %s: pitch %g is not in the table", r.ID, p)
			}
			for _, c := range []struct {
				what      string
				published int
				ours      int
			}{{"least", a, got.Lo}, {"most", b, got.Hi}} {
				outside.Check(t, outside.Claim{What: r.Quantity + ", pitch " + pitch + " mm, " + c.what, Source: r.Source, Status: r.Status(), Published: float64(c.published), Ours: float64(c.ours), Unit: "passes"})
			}
		}
	}
	if _, ok := UsualPasses(12, false); ok {
		t.Error("a pitch of 12 mm is outside the table")
	}
}

// TestEqualAreaTable compares with the depths of ten equal areas of a sharp V.
func TestEqualAreaTable(t *testing.T) {
	want := []float64{.3162, .4472, .5477, .6325, .7071, .7746, .8367, .8944, .9487, 1}
	for i, d := range EqualArea(1, 10, thirty, thirty, 0) {
		outside.Check(t, outside.Claim{
			What: fmt.Sprintf("equal areas of a sharp V, depth after pass %d of 10", i+1), Source: "geometry: a sqrt(k/n), printed to four places",
			Status: outside.Computed, Published: want[i], Ours: d.MM(), Unit: "of the depth", Tolerance: 5.1e-5,
		})
	}
}

// TestEqualAreaIsEqual: cut in a groove with a flat, each pass takes the same.
func TestEqualAreaIsEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.Float64Range(0.1, 5).Draw(t, "depth")
		w := rapid.Float64Range(0, 1).Draw(t, "flat")
		l := unit.Angle(rapid.Float64Range(1, 45).Draw(t, "leading")) * unit.Degree
		r := unit.Angle(rapid.Float64Range(1, 45).Draw(t, "trailing")) * unit.Degree
		n := rapid.IntRange(1, 30).Draw(t, "passes")
		c, err := NewCutter(vee(d, w, l, r))
		if err != nil {
			t.Fatal(err)
		}
		at, err := c.Positions(EqualArea(unit.Length(d), n, l, r, unit.Length(w)), Infeed{})
		if err != nil {
			t.Fatal(err)
		}
		chips, _, err := c.Cut(at)
		if err != nil {
			t.Fatal(err)
		}
		for i, ch := range chips {
			if want := float64(c.Area()) / float64(n); math.Abs(float64(ch.Area)-want) > 1e-9*float64(c.Area()) {
				t.Fatalf("pass %d takes %.12g of %.12g mm2", i+1, ch.Area, want)
			}
		}
	})
}

// TestSeriesLaws: depths rise to the last, which is exact; caps hold; depths stand
// on the dial.
func TestSeriesLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Series{
			Depth: unit.Length(rapid.Float64Range(0.2, 4).Draw(t, "depth")), Passes: rapid.IntRange(0, 30).Draw(t, "passes"),
			Leading: thirty, Trailing: thirty, NoseWidth: unit.Length(rapid.Float64Range(0, 0.4).Draw(t, "flat")),
			FirstMost: unit.Length(rapid.SampledFrom([]float64{0, 0.1, 0.25}).Draw(t, "first")),
			StepMost:  unit.Length(rapid.SampledFrom([]float64{0.06, 0.15, 0.3}).Draw(t, "step")),
			Least:     unit.Length(rapid.SampledFrom([]float64{0, 0.01, 0.03}).Draw(t, "least")),
			Dial:      unit.Length(rapid.SampledFrom([]float64{0, 0.01, 0.02, 0.0127}).Draw(t, "dial")),
		}
		steps, err := s.Steps()
		if err != nil {
			t.Fatal(err)
		}
		before := unit.Length(0)
		for i, st := range steps {
			step := st.Depth - before
			final := i == len(steps)-1
			switch {
			case step <= 0:
				t.Fatalf("pass %d goes from %v to %v", i+1, before, st.Depth)
			case step > s.StepMost*(1+1e-9):
				t.Fatalf("pass %d takes %v, the cap is %v", i+1, step, s.StepMost)
			case i == 0 && s.FirstMost > 0 && step > s.FirstMost*(1+1e-9):
				t.Fatalf("the first pass takes %v, the cap is %v", step, s.FirstMost)
			case final && st.Depth != s.Depth:
				t.Fatalf("ends at %v, not %v", st.Depth, s.Depth)
			case s.Dial > 0 && !final:
				if on := math.Remainder(st.Depth.MM(), s.Dial.MM()); math.Abs(on) > 1e-9 {
					t.Fatalf("pass %d stands at %v, off the dial by %g", i+1, st.Depth, on)
				}
			}
			before = st.Depth
		}
	})
}

func TestSeriesFaults(t *testing.T) {
	for _, s := range []Series{
		{},
		{Depth: 1, Leading: thirty, Trailing: thirty},
		{Depth: 1, Passes: 5},
		{Depth: unit.Length(math.NaN()), Passes: 5, Leading: thirty},
		{Depth: 1, Passes: 1000, Leading: thirty},
		{Depth: 100, StepMost: 0.1, Leading: thirty},
		{Depth: 1, Passes: 3, Leading: thirty, Dial: -1},
	} {
		if steps, err := s.Steps(); err == nil {
			t.Errorf("%+v: no error, %d passes", s, len(steps))
		}
	}
}
