package sound

import (
	"math"
	"testing"

	"thrum/internal/outside"
)

func TestAverages(t *testing.T) {
	const source = "docs/validation/sound/stats.py (scipy 1.10, statsmodels 0.13)"
	y, se, want := map[string][]float64{}, map[string][]float64{}, map[string]map[string]float64{}
	for _, row := range csvRows(t, "testdata/stats.csv") {
		set, v := row["set"], value(t, row, "value")
		switch row["what"] {
		case "y":
			y[set] = append(y[set], v)
		case "variance":
			se[set] = append(se[set], math.Sqrt(v))
		default:
			if want[set] == nil {
				want[set] = map[string]float64{}
			}
			want[set][row["what"]] = v
		}
	}
	for set := range y {
		m, s, df := combine(y[set], se[set])
		outside.Check(t, outside.Claim{What: "mean of " + set, Source: source, Status: outside.Computed, Published: want[set]["mean"], Ours: m, Tolerance: 1e-6})
		outside.Check(t, outside.Claim{What: "standard error of " + set, Source: source, Status: outside.Computed, Published: want[set]["se"], Ours: s, Tolerance: 1e-5})
		if df != float64(len(y[set])-1) {
			t.Errorf("%s: %g degrees of freedom", set, df)
		}
	}
	for _, row := range csvRows(t, "testdata/stats.csv") {
		if row["set"] == "t" {
			outside.Check(t, outside.Claim{What: "97.5 % point of t, df " + row["what"], Source: source, Status: outside.Computed, Published: value(t, row, "value"), Ours: t975(value(t, row, "what")), Tolerance: 1e-6})
		}
	}
	a, sa := meanSD([]float64{386.9, 387.4, 386.2, 387.9, 386.6})
	b, sb := meanSD([]float64{388.1, 388.3, 388.0, 388.4})
	s, df := welch(sa/math.Sqrt(5), 4, sb/2, 3)
	e := estimate(Factor(b-a), Factor(s), df)
	outside.Check(t, outside.Claim{What: "difference of two samples, low end", Source: source, Status: outside.Computed, Published: want["welch"]["low"], Ours: float64(e.Low), Tolerance: 1e-9})
	outside.Check(t, outside.Claim{What: "difference of two samples, high end", Source: source, Status: outside.Computed, Published: want["welch"]["high"], Ours: float64(e.High), Tolerance: 1e-9})
}
