package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

// simulate counts parts in which at least one of n passes ends late, drawing the
// operator's mean and spread anew for every part when they come from a sample.
func simulate(t Timing, room float64, n, parts int, r *rand.Rand) float64 {
	m := float64(t.stops())
	late := 0
	for range parts {
		mu, sigma := float64(t.Mean), float64(t.Spread)
		if m >= 3 {
			var chi float64
			for range int(m) - 1 {
				z := r.NormFloat64()
				chi += z * z
			}
			sigma *= math.Sqrt((m - 1) / chi)
			mu += r.NormFloat64() * sigma / math.Sqrt(m)
		}
		for range n {
			if mu+sigma*r.NormFloat64() > room {
				late++
				break
			}
		}
	}
	return float64(late) / float64(parts)
}

// Twenty cases down to a risk of 1e-4: the closed form agrees with a million
// simulated parts within three standard errors, the uncertainty of a ten-pass
// sample carried through.
func TestLateRiskAgainstMonteCarlo(t *testing.T) {
	const parts = 1_000_000
	r := rand.New(rand.NewPCG(20, 26))
	cases := 0
	for _, sample := range []int{0, 10} {
		for _, n := range []int{1, 12} {
			for _, risk := range []float64{0.3, 0.03, 3e-3, 5e-4, 1e-4} {
				tm := Timing{Mean: 0.28, Spread: 0.09, Passes: sample}
				room := tm.RoomFor(risk, n)
				exact := tm.LateRisk(room, n)
				if math.Abs(exact-risk) > 0.002*risk {
					t.Errorf("sample %d, %d passes: the room for %g gives %g", sample, n, risk, exact)
				}
				got := simulate(tm, float64(room), n, parts, r)
				se := math.Sqrt(exact * (1 - exact) / parts)
				if math.Abs(got-exact) > 3*se {
					t.Errorf("sample %d, %d passes: closed form %.3g, simulated %.3g, three standard errors are %.2g", sample, n, exact, got, 3*se)
				}
				cases++
			}
		}
	}
	if cases != 20 {
		t.Fatalf("%d cases", cases)
	}
}

// One pass after a sample of m is Student's t with m-1 degrees of freedom, scaled
// by s sqrt(1 + 1/m).
func TestLateRiskAgainstStudent(t *testing.T) {
	for _, c := range []struct {
		m    int
		t    float64
		tail float64
	}{{10, 1.833, 0.05}, {10, 2.821, 0.01}, {10, 4.297, 0.001}, {5, 2.132, 0.05}, {5, 3.747, 0.01}, {20, 1.729, 0.05}} {
		tm := Timing{Mean: 0.3, Spread: 0.1, Passes: c.m}
		room := 0.3 + c.t*0.1*math.Sqrt(1+1/float64(c.m))
		outside.Check(t, outside.Claim{
			What: "upper tail of Student's t", Source: "table of critical values of t, NIST/SEMATECH e-Handbook 1.3.6.7.2 (from memory)", Status: outside.Memory,
			Published: c.tail, Ours: tm.LateRisk(unit.Time(room), 1), Unit: "", Tolerance: 0.003 * c.tail,
		})
	}
}

// No miss in ten passes leaves up to 26 in 100 open.
func TestFloor(t *testing.T) {
	for _, c := range []struct {
		n, lapses int
		want      float64
	}{{10, 0, 0.2589}, {20, 0, 0.1391}, {10, 1, 0.3942}, {30, 0, 0.0950}} {
		outside.Check(t, outside.Claim{
			What: "one-sided 95 % upper limit of a proportion", Source: "Clopper and Pearson 1934, exact limits (from memory)", Status: outside.Memory,
			Published: c.want, Ours: Timing{Passes: c.n, Lapses: c.lapses}.Floor(), Tolerance: 0.0001,
		})
	}
	if f := (Timing{}).Floor(); f != 1 {
		t.Errorf("without a sample the floor is %g, want 1", f)
	}
}

func TestRiskLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tm := Timing{
			Mean:   unit.Time(rapid.Float64Range(-0.2, 0.8).Draw(t, "mean")),
			Spread: unit.Time(rapid.Float64Range(0.01, 0.4).Draw(t, "spread")), Passes: rapid.SampledFrom([]int{0, 5, 10, 30}).Draw(t, "passes"),
		}
		room := unit.Time(rapid.Float64Range(-1, 3).Draw(t, "room"))
		n := rapid.IntRange(1, 30).Draw(t, "n")
		p := tm.LateRisk(room, n)
		if !(p >= 0 && p <= 1+1e-9) {
			t.Fatalf("risk %g", p)
		}
		if q := tm.LateRisk(room+0.05, n); q > p+1e-9 {
			t.Fatalf("more room, more risk: %g to %g", p, q)
		}
		if q := tm.LateRisk(room, n+1); q < p-1e-9 {
			t.Fatalf("more passes, less risk: %g to %g", p, q)
		}
		known := tm
		known.Passes = 0
		if tail := tm.Mean + 2*tm.Spread; known.LateRisk(tail, 1) > tm.LateRisk(tail, 1)+1e-9 {
			t.Fatalf("a small sample gives a smaller tail than certainty")
		}
	})
}

func TestAirPasses(t *testing.T) {
	tm, err := TimingFromAirPasses([]unit.Time{0.2, 0.3, 0.4, Missed, 0.3})
	if err != nil || tm.Passes != 5 || tm.Lapses != 1 || math.Abs(float64(tm.Mean)-0.3) > 1e-12 {
		t.Errorf("got %+v, %v", tm, err)
	}
	if tm, err := TimingFromAirPasses([]unit.Time{0.2, 0.2, 0.2}); err != nil || tm.RoomFor(1e-3, 15) < 0.3 {
		t.Errorf("three equal delays leave no margin: %+v, %v", tm, err)
	}
	for _, bad := range [][]unit.Time{nil, {0.2, 0.3}, {0.2, unit.Time(math.NaN()), 0.3, 0.3}, {Missed, Missed, Missed, 0.2}} {
		if _, err := TimingFromAirPasses(bad); err == nil {
			t.Errorf("%v was accepted", bad)
		}
	}
}

// The interval for a spread, against the quantiles of chi-squared: with nine degrees
// of freedom 2.700 and 19.023, with four 0.484 and 11.143.
func TestSpreadRangeAgainstChiSquared(t *testing.T) {
	for _, c := range []struct {
		m         int
		low, high float64
	}{{10, 19.023, 2.700}, {5, 11.143, 0.484}, {20, 32.852, 8.907}} {
		lo, hi := Timing{Spread: 1, Passes: c.m}.SpreadRange()
		for ours, q := range map[float64]float64{float64(lo): c.low, float64(hi): c.high} {
			outside.Check(t, outside.Claim{
				What: "95 % bound of a standard deviation", Source: "table of critical values of chi-squared, NIST/SEMATECH e-Handbook 1.3.6.7.4 (from memory)", Status: outside.Memory,
				Published: math.Sqrt(float64(c.m-1) / q), Ours: ours, Unit: "s", Tolerance: 0.002,
			})
		}
	}
	if lo, hi := AssumedTiming().SpreadRange(); lo != hi {
		t.Errorf("an assumed spread lies between %v and %v", lo, hi)
	}
}
