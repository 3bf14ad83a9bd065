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

func rowsOf(t *testing.T, quantity, designation string) []outside.Row {
	t.Helper()
	q, d := regexp.MustCompile(quantity), regexp.MustCompile(designation)
	rows := outside.Rows(t, func(r outside.Row) bool { return q.MatchString(r.Quantity) && d.MatchString(r.Designation) })
	if len(rows) == 0 {
		t.Fatalf("no published row for %s, %s", quantity, designation)
	}
	return rows
}

// claimValue compares a published number that is not a limit.
func claimValue(t *testing.T, r outside.Row, ours, tolerance float64, decision string) {
	t.Helper()
	v, err := strconv.ParseFloat(strings.TrimSuffix(r.Value, "P"), 64)
	if err != nil {
		t.Errorf("%s: value %q is no number", r.ID, r.Value)
		return
	}
	outside.Check(t, outside.Claim{
		What: r.Designation + " " + r.Symbol, Source: r.Source, Status: r.Status(), Published: v, Ours: ours, Unit: r.Unit,
		Tolerance: tolerance, Decision: decision,
	})
}

const tableGoverns = "the published table governs and is shipped; the formula of the standard, rounded, gives this"

// claimTable checks a tabulated figure. Where the collection says that table and
// formula disagree, the claim is made for the formula and carries the decision,
// and the figure shipped must be the table's.
func claimTable(t *testing.T, r outside.Row, shipped, formula float64) {
	t.Helper()
	tol := 0.98 * lastDigit(r.Value)
	if !strings.HasPrefix(r.Check, "DISAGREES") {
		claimValue(t, r, shipped, tol, "")
		return
	}
	if v, err := strconv.ParseFloat(r.Value, 64); err != nil || math.Abs(v-shipped) > tol {
		t.Errorf("%s: %s is published, %g shipped", r.ID, r.Value, shipped)
	}
	if v, _ := strconv.ParseFloat(r.Value, 64); math.Abs(v-formula) <= tol {
		claimValue(t, r, shipped, tol, "") // the formula is a tie between two preferred numbers; the larger is the table's
		return
	}
	claimValue(t, r, formula, tol, tableGoverns)
}

func pitchOf(r outside.Row) unit.Ratio {
	m := regexp.MustCompile(`P ([0-9.]+)`).FindStringSubmatch(r.Designation)
	return number(m[1])
}

func TestPublishedUnifiedFactors(t *testing.T) {
	for _, r := range rowsOf(t, `^Class factor`, `^[123][AB]$`) {
		u := unifiedThread{grade: r.Designation[0]}
		if r.Designation[1] == 'B' {
			u.side = Internal
		}
		claimValue(t, r, u.classFactor(), 1e-9, "")
	}
	for _, r := range rowsOf(t, `^PD tolerance worked value`, `1/2-28 UNEF`) {
		u := unifiedThread{size: number("1/2"), tpi: number("28"), series: "UNEF", grade: '2'}
		td2, _ := u.tolerance2A()
		claimValue(t, r, td2, 0.49e-6, "")
	}
	for _, r := range rowsOf(t, `^Heading v. content`, `19/64 UNS`) {
		th := mustParse(t, "19/64-28 UNS-2B", Internal)
		claimValue(t, r, th.Limits.Pitch.Min.Inches(), lastDigit(r.Value),
			"the page is headed -28 but works its example for 36 threads per inch; at 28 this is the figure")
	}
}

func TestPublishedMetricTables(t *testing.T) {
	var row outside.Row
	at := func(quantity string, f func() (shipped, formula float64)) {
		for _, row = range rowsOf(t, quantity, `P [0-9.]+$`) {
			shipped, formula := f()
			claimTable(t, row, shipped, formula)
		}
	}
	plain := func(p float64) unit.Ratio { return number(strconv.FormatFloat(p, 'f', 6, 64)) }
	at(`^External PD tolerance grade 6`, func() (float64, float64) {
		m := regexp.MustCompile(`to ([0-9.]+) mm`).FindStringSubmatch(row.Designation)
		th := metricThread{d: number(m[1]), p: pitchOf(row), pitchGrade: 6}
		_, mean, _ := metricRange(th.d, th.p)
		return th.pitchTolerance() / 1000, r40(r40Index(90*math.Pow(th.p.Float(), 0.4)*math.Pow(mean, 0.1))) / 1000
	})
	at(`^Internal PD tolerance grade 6`, func() (float64, float64) {
		m := regexp.MustCompile(`to ([0-9.]+) mm`).FindStringSubmatch(row.Designation)
		th := metricThread{d: number(m[1]), p: pitchOf(row), side: Internal, pitchGrade: 6}
		return th.pitchTolerance() / 1000, 0
	})
	at(`^Internal minor tolerance grade 6$`, func() (float64, float64) {
		th := metricThread{p: pitchOf(row), side: Internal, crestGrade: 6}
		off := metricThread{p: plain(pitchOf(row).Float() + 1e-6), side: Internal, crestGrade: 6}
		return th.crestTolerance() / 1000, off.crestTolerance() / 1000
	})
	at(`^External major tolerance grade 6$`, func() (float64, float64) {
		th := metricThread{p: pitchOf(row), crestGrade: 6}
		off := metricThread{p: plain(pitchOf(row).Float() + 1e-6), crestGrade: 6}
		return th.crestTolerance() / 1000, off.crestTolerance() / 1000
	})
	at(`^Fundamental deviation (g|e)`, func() (float64, float64) {
		th := metricThread{p: pitchOf(row)}
		off := metricThread{p: plain(pitchOf(row).Float() + 1e-6)}
		pos := strings.TrimSuffix(strings.TrimPrefix(row.Symbol, "es("), ")")[0]
		return th.deviation(pos), off.deviation(pos)
	})
}

// TestPublishedGradeRatios checks the tables against the published ratios of
// grades; a tabulated value is rounded to a preferred number, up to 3 % away.
func TestPublishedGradeRatios(t *testing.T) {
	ratio := regexp.MustCompile(`^(T[dD][12]?)\((\d)\)/(T[dD][12]?)\(6\)$`)
	for _, r := range rowsOf(t, `^Ratio of `, `ISO M`) {
		m := ratio.FindStringSubmatch(r.Symbol)
		if m == nil {
			t.Errorf("%s: symbol %q", r.ID, r.Symbol)
			continue
		}
		grade := int(m[2][0] - '0')
		tol := func(what string, grade int) float64 {
			th := metricThread{d: number("12"), p: number("1.75"), pitchGrade: grade, crestGrade: grade}
			if what[1] == 'D' {
				th.side = Internal
			}
			if strings.HasSuffix(what, "2") {
				return th.pitchTolerance()
			}
			return th.crestTolerance()
		}
		v, _ := strconv.ParseFloat(r.Value, 64)
		claimValue(t, r, tol(m[1], grade)/tol(m[3], 6), 0.03*v, "")
	}
}

func TestPublishedProfile(t *testing.T) {
	screw := mustParse(t, "M10-6h", External)
	nut := mustParse(t, "M10-6H", Internal)
	p, tan30 := screw.Pitch.Float(), unit.Angle(30*unit.Degree).Tan()
	ours := map[string]float64{
		"H":         screw.Form.H,
		"H/8":       nut.Form.RootFlat / 2 / tan30,
		"H/4":       nut.Form.CrestFlat / 2 / tan30,
		"H/2":       0.5 / 2 / tan30,
		"3H/8":      float64(screw.Basic.Major-screw.Basic.Pitch) / 2 / p,
		"5H/8":      nut.Form.Depth,
		"3H/4":      float64(screw.Basic.Major-screw.Basic.Pitch) / p,
		"5H/4":      float64(screw.Basic.Major-screw.Basic.Minor) / p,
		"11H/12":    3*screw.Form.H/4 + screw.Form.RootRadius, // 3H/4 + H/6, from the pitch line
		"0.711325H": isoLow,
	}
	for _, r := range rowsOf(t, `^Profile coefficient`, `ISO 68-1`) {
		v, ok := ours[r.Symbol]
		if !ok {
			t.Errorf("%s: coefficient %s is not compared", r.ID, r.Symbol)
			continue
		}
		claimValue(t, r, v, 0.6e-6, "")
	}
	misprints := map[string]string{
		"F1143": "misprint of the catalogue: it prints the radius of pitch 1.25; 0.125 P is 0.125",
		"F1145": "misprint of the catalogue: it prints the radius of pitch 1.25; 0.125 P is 0.188, as the same page has for M14x1.5",
		"F1147": "misprint of the catalogue: it prints the radius of pitch 1.5; 0.125 P is 0.25",
	}
	for _, r := range rowsOf(t, `^Root radius minimum`, `^M`) {
		th := mustParse(t, r.Designation, External)
		claimValue(t, r, th.Form.RootRadiusLo*th.Pitch.Float(), 0.00051, misprints[r.ID])
	}
	for _, r := range rowsOf(t, `^Length of engagement N range`, `^M`) {
		m := regexp.MustCompile(`^M([0-9.]+)x([0-9.]+)$`).FindStringSubmatch(r.Designation)
		from, to := metricEngagement(number(m[1]), number(m[2]))
		if r.Symbol == "lN max" {
			from = to
		}
		claimValue(t, r, from, 1e-9, "")
	}
}

// TestControlledRoot checks the UNJ and MJ constants against the root radius
// that the abstract of ASME B1.15 states. A circle tangent to both flanks ends
// its radius above the sharp root, which lies 7H/8 below the basic major diameter.
func TestControlledRoot(t *testing.T) {
	const source = "abstract of ASME B1.15-1995 (standards catalogue page)"
	h := math.Sqrt(3) / 2
	for _, c := range []struct {
		what      string
		published float64
		ours      float64
	}{
		{"UNJ largest root radius / P", 0.18042, 7*h/8 - unjRoot/2},
		{"UNJ smallest root radius / P", 0.15011, h/2 - unjLow/2},
		{"MJ largest root radius / P, as UNJ", 0.18042, 7*h/8 - mjRoot/2},
		{"MJ smallest root radius / P, as UNJ", 0.15011, h/2 - mjLow/2},
	} {
		outside.Check(t, outside.Claim{What: c.what, Source: source, Status: outside.Read, Published: c.published, Ours: c.ours, Unit: "P", Tolerance: 0.5e-5})
	}
}

// TestHandbookMetricExample is the special thread that Machinery's Handbook, 27th
// ed., p. 1804, gives with its limits.
func TestHandbookMetricExample(t *testing.T) {
	const source = "Machinery's Handbook, 27th ed., p. 1804, M6.5 x 1 - 4h6h - SPL (22)"
	th := mustParse(t, "M6.5 × 1 − 4h6h − SPL (22)", External)
	for _, c := range []struct {
		symbol, printed, decision string
	}{
		{"d min", "6.320", ""},
		{"d max", "6.500", ""},
		{"d2 min", "5.779", ""},
		{"d2 max", "5.850", ""},
		{"d3 min", "5.163", ""},
		{"d3 max", "5.386", "ASME B1.13M takes the largest minor diameter from a root of greatest truncation; ours is that of the ISO 965-2 tables, " +
			"with root radius H/6, which the published d3 max of four fasteners confirm. It is a reference dimension."},
	} {
		ours, _ := figure(th, c.symbol)
		v, _ := strconv.ParseFloat(c.printed, 64)
		outside.Check(t, outside.Claim{
			What: "M6.5x1-4h6h " + c.symbol, Source: source, Status: outside.Read, Published: v, Ours: ours.MM(), Unit: "mm",
			Tolerance: 0.00049, Decision: c.decision,
		})
	}
	if th.Engagement != 22 {
		t.Errorf("length of engagement %v, want 22 mm", th.Engagement)
	}
}
