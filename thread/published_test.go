package thread

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// mustParse reads a callout of the tests' own.
func mustParse(t testing.TB, callout string, side Side) Thread {
	t.Helper()
	th, err := Parse(callout, side)
	if err != nil {
		t.Fatal(err)
	}
	return th
}

// figure returns the limit of a thread that a published table calls by symbol:
// small letters for screws, capitals for nuts.
func figure(th Thread, symbol string) (unit.Length, bool) {
	l := th.Limits
	switch strings.Split(symbol, " (")[0] {
	case "es":
		return -th.Deviation, true
	case "d max":
		return l.Major.Max, true
	case "d min":
		return l.Major.Min, true
	case "D min":
		return l.Major.Min, true
	case "d2 max", "D2 max":
		return l.Pitch.Max, true
	case "d2 min", "D2 min":
		return l.Pitch.Min, true
	case "d1 max", "d3 max", "D1 max":
		return l.Minor.Max, true
	case "d3 min", "D1 min":
		return l.Minor.Min, true
	case "Td2(6)", "TD2(6)":
		return l.Pitch.Width(), true
	}
	return 0, false
}

// lastDigit is half a unit of the last printed digit, or the tolerance given:
// limits are rounded as the tables are, so they must agree digit for digit.
func lastDigit(value string) float64 {
	_, decimals, _ := strings.Cut(value, ".")
	return 0.5 * math.Pow(10, -float64(len(decimals)))
}

var limitRow = regexp.MustCompile(`^(External limit|Internal limit|Limit of size|Limit \(second source\)|Worked example limit|Internal PD maximum, mm|UN external minor maximum|PD tolerance (external|internal) grade 6|External PD tolerance grade 6|Internal PD tolerance grade 6)`)

// limitsOf collects the published limits of one family.
func limitsOf(t *testing.T, designation *regexp.Regexp) []outside.Row {
	return outside.Rows(t, func(r outside.Row) bool {
		return limitRow.MatchString(r.Quantity) && designation.MatchString(r.Designation)
	})
}

// claimRow compares one published limit with ours. formula, when it gives a
// figure, is what the standard's formulas alone make of it; where it differs from
// what is shipped, the claim is made for the formula, with the decision that the
// table governs, and what is shipped must be the table's.
func claimRow(t *testing.T, r outside.Row, ours unit.Length, formula *unit.Length, decisions map[string]string) {
	t.Helper()
	value, err := strconv.ParseFloat(r.Value, 64)
	if err != nil {
		t.Errorf("%s: value %q is no number", r.ID, r.Value)
		return
	}
	number := func(l unit.Length) float64 {
		if r.Unit == "in" {
			return l.Inches()
		}
		return l.MM()
	}
	c := outside.Claim{
		What: r.Designation + " " + r.Symbol, Source: r.Source, Status: r.Status(),
		Published: value, Ours: number(ours), Unit: r.Unit, Tolerance: 0.98 * lastDigit(r.Value),
		Decision: decisions[r.ID],
	}
	if given, err := strconv.ParseFloat(r.Tolerance, 64); err == nil && r.Unit == "mm" && given > c.Tolerance {
		c.Tolerance = given
	}
	if tol, _, ok := strings.Cut(r.Tolerance, " ("); ok && r.Unit == "mm" { // an inch value printed in mm
		if v, err := strconv.ParseFloat(tol, 64); err == nil {
			c.Tolerance = v
		}
	}
	if formula != nil && math.Abs(number(*formula)-c.Ours) > 1e-9 {
		if math.Abs(c.Ours-value) > c.Tolerance {
			t.Errorf("%s %s: the table governs, but %.5f is shipped for %.5f", r.ID, c.What, c.Ours, value)
		}
		c.Ours, c.Decision = number(*formula), "the published table governs and is shipped as data (data/unified_exceptions.csv); the formula alone gives this"
	}
	outside.Check(t, c)
}

// unifiedDecisions answers, one by one, for published figures that we do not follow.
var unifiedDecisions = map[string]string{
	"F0834": "misprint: the sheet prints 0.667 for 0.0667 (a minor diameter cannot exceed the major diameter 0.086)",
	"F0859": "misprint: the sheet prints 0.4700 for 0.4170 (it would exceed the maximum 0.434 of the same line)",
	"F0860": "misprint: the sheet prints 0.5125 for 0.5152 (transposed; the tolerance would be half that of its neighbours)",
}

func TestUnifiedPublishedLimits(t *testing.T) {
	rows := limitsOf(t, regexp.MustCompile(` UN[CFERSJ]*(-|$)`))
	if len(rows) < 500 {
		t.Fatalf("only %d rows of Unified limits were found", len(rows))
	}
	for _, r := range rows {
		callout := r.Designation
		side := External
		if r.Symbol[0] == 'D' {
			side = Internal
		}
		if strings.HasPrefix(r.Symbol, "d3") {
			callout = strings.Replace(callout, " UN", " UNR", 1)
		}
		th := mustParse(t, callout, side)
		got, ok := figure(th, r.Symbol)
		if r.Symbol == "d min hot-rolled" { // the major tolerance of class 1A below the maximum of class 2A
			got, ok = th.Limits.Major.Max-mustParse(t, strings.Replace(callout, "-2A", "-1A", 1), side).Limits.Major.Width(), true
		}
		if !ok {
			t.Errorf("%s: symbol %q is not understood", r.ID, r.Symbol)
			continue
		}
		var formula *unit.Length
		if f, ok := figure(byFormula(t, callout, side), r.Symbol); ok {
			formula = &f
		}
		claimRow(t, r, got, formula, unifiedDecisions)
	}
}

// byFormula reckons the limits of a Unified thread from the formulas alone.
func byFormula(t *testing.T, s string, side Side) Thread {
	t.Helper()
	c, err := readCallout(s, side)
	if err != nil {
		t.Fatal(err)
	}
	u, err := readUnified(c)
	if err != nil {
		t.Fatal(err)
	}
	u.formulaOnly = true
	return u.thread(c)
}

// metricDecisions answers for published figures that we do not follow.
var metricDecisions = map[string]string{
	"F1155": "two publications differ by 0.001 mm; ours is that of the ASME B1.13M table (1.408), d2 min - 0.616025 P rounded once",
	"F1167": "two publications differ by 0.001 mm; ours is that of the ASME B1.13M table (2.272), d2 min - 0.616025 P rounded once",
}

func TestMetricPublishedLimits(t *testing.T) {
	rows := limitsOf(t, regexp.MustCompile(`^M[0-9]`))
	if len(rows) < 150 {
		t.Fatalf("only %d rows of metric limits were found", len(rows))
	}
	for _, r := range rows {
		side := External
		if r.Symbol[0] == 'D' || strings.HasPrefix(r.Symbol, "TD") {
			side = Internal
		}
		th := mustParse(t, r.Designation, side)
		got, ok := figure(th, r.Symbol)
		if !ok {
			t.Errorf("%s: symbol %q is not understood", r.ID, r.Symbol)
			continue
		}
		claimRow(t, r, got, nil, metricDecisions)
	}
}
