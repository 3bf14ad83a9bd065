package trial

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"thrum/internal/outside"
)

func claim(t *testing.T, what, source string, st outside.Status, published, ours, tol float64) {
	t.Helper()
	outside.Check(t, outside.Claim{What: what, Source: source, Status: st, Published: published, Ours: ours, Unit: "1", Tolerance: tol})
}

// reference reads figures by name from a table that a script made.
func reference(t *testing.T, file string) map[string]float64 {
	t.Helper()
	m := map[string]float64{}
	for _, row := range outside.Table(t, "../docs/validation/"+file)[1:] {
		v, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		m[row[0]] = v
	}
	return m
}

const script = "docs/validation/trial.py, scipy 1.10.1"

var (
	tomatoA = []float64{29.9, 11.4, 25.3, 16.5, 21.1}
	tomatoB = []float64{26.6, 23.7, 28.5, 14.2, 17.9, 24.3}
	shoesA  = []float64{13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3}
	shoesB  = []float64{14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6}
	zea     = []float64{49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48}
)

func pairsOf(a, b []float64) (bs []Block) {
	for i := range b {
		x := 0.0
		if a != nil {
			x = a[i]
		}
		bs = append(bs, Block{A: []float64{x}, B: []float64{b[i]}})
	}
	return bs
}

func TestRandomisationPublished(t *testing.T) {
	ref := reference(t, "trial.csv")
	bhh := "Box, Hunter and Hunter, Statistics for Experimenters, tomatoes"
	x := Randomise([]Block{{A: tomatoA, B: tomatoB}}, .95, nil)
	claim(t, "tomatoes: ways", bhh, outside.Memory, 462, x.Ways, 0)
	claim(t, "tomatoes: at least as high", bhh, outside.Memory, 154, float64(x.AtLeast), 0)
	claim(t, "tomatoes: difference", bhh, outside.Memory, 1.693, x.Effect, .0005)
	claim(t, "tomatoes: one-sided p", script, outside.Computed, ref["tomato_p_greater"], float64(x.AtLeast)/x.Ways, 1e-9)
	claim(t, "tomatoes: lower limit", script, outside.Computed, ref["tomato_low"], x.Interval.Low, 1e-6)
	claim(t, "tomatoes: upper limit", script, outside.Computed, ref["tomato_high"], x.Interval.High, 1e-6)

	x = Randomise(pairsOf(shoesA, shoesB), .95, nil)
	shoes := "Box, Hunter and Hunter, boys' shoes; data as MASS::shoes"
	claim(t, "shoes: difference", shoes, outside.Read, .41, x.Effect, 1e-9)
	claim(t, "shoes: ways as extreme", shoes, outside.Memory, 14, float64(x.Extreme), 0)
	claim(t, "shoes: lower limit", script, outside.Computed, ref["shoes_low"], x.Interval.Low, 1e-6)
	claim(t, "shoes: upper limit", script, outside.Computed, ref["shoes_high"], x.Interval.High, 1e-6)
	claim(t, "shoes: Hodges-Lehmann", script, outside.Computed, ref["shoes_hl"], x.Shift, 1e-9)

	x = Randomise(pairsOf(nil, zea), .95, nil)
	fisher := "Fisher, The Design of Experiments, 1935, Darwin's maize"
	claim(t, "maize: at least as high", fisher, outside.Memory, 863, float64(x.AtLeast), 0)
	claim(t, "maize: two-sided p", fisher, outside.Memory, .0526733, x.P, 1e-6)
	claim(t, "maize: lower limit", script, outside.Computed, ref["zea_low"], x.Interval.Low, 1e-6)
	claim(t, "maize: upper limit", script, outside.Computed, ref["zea_high"], x.Interval.High, 1e-6)
}

func TestBellCurvePublished(t *testing.T) {
	ref := reference(t, "trial.csv")
	var d []float64
	for i := range shoesA {
		d = append(d, shoesB[i]-shoesA[i])
	}
	p, _ := PairedT(d, .95)
	claim(t, "shoes: t", script, outside.Computed, ref["shoes_t"], p.T, 1e-8)
	claim(t, "shoes: p", script, outside.Computed, ref["shoes_t_p"], p.P, 1e-9)
	claim(t, "shoes: t interval low", "R t.test on MASS::shoes", outside.Computed, .1330461, p.Interval.Low, 1e-7)
	claim(t, "shoes: t interval high", "R t.test on MASS::shoes", outside.Computed, .6869539, p.Interval.High, 1e-7)
	w, _ := Welch(tomatoA, tomatoB, .95)
	claim(t, "tomatoes: Welch t", script, outside.Computed, ref["tomato_welch_t"], w.T, 1e-8)
	claim(t, "tomatoes: Welch p", script, outside.Computed, ref["tomato_welch_p"], w.P, 1e-8)
	z, _ := PairedT(zea, .95)
	claim(t, "maize: t", "Fisher 1935, ch. III", outside.Memory, 2.148, z.T, .0005)
	for _, c := range [][2]int{{7, 10}, {15, 20}, {60, 100}} {
		s, _ := ShareOf(c[0], c[1])
		id := "_" + strconv.Itoa(c[0]) + "_" + strconv.Itoa(c[1])
		claim(t, "Wilson low"+id, script, outside.Computed, ref["wilson_low"+id], s.Wilson.Low, 1e-8)
		claim(t, "Wilson high"+id, script, outside.Computed, ref["wilson_high"+id], s.Wilson.High, 1e-8)
		claim(t, "exact low"+id, script, outside.Computed, ref["cp_low"+id], s.Exactly.Low, 1e-8)
		claim(t, "exact high"+id, script, outside.Computed, ref["cp_high"+id], s.Exactly.High, 1e-8)
		claim(t, "binomial p"+id, script, outside.Computed, ref["binom_p"+id], s.P, 1e-8)
	}
}

func TestReachAndSizes(t *testing.T) {
	src := "counting: 2 of C(n1+n2, n1) ways, 2 of 2^n"
	for _, c := range []struct {
		p    Plan
		best float64
		can  bool
	}{
		{TwoGroups(1, 1), 1, false},
		{TwoGroups(2, 2), 1. / 3, false},
		{TwoGroups(3, 3), .1, false},
		{TwoGroups(4, 4), 2. / 70, true},
		{TwoGroups(5, 5), 2. / 252, true},
		{Pairs(5), .0625, false},
		{Pairs(6), .03125, true},
		{Pairs(8), .0078125, true},
	} {
		r, err := c.p.Reach()
		if err != nil || r.Can != c.can {
			t.Errorf("%+v: %+v %v", c.p, r, err)
		}
		claim(t, "best p", src, outside.Memory, c.best, r.BestP, 1e-12)
	}
	for p, want := range map[float64][2]int{.55: {783, 1047}, .6: {194, 259}, .65: {85, 113}, .7: {47, 62}, .75: {29, 38}, .8: {20, 25}, .9: {10, 12}} {
		for i, power := range []Power{.8, .9} {
			n, _ := VotesNeeded(p, power)
			claim(t, "votes needed", "normal approximation, computed in Python apart from this program", outside.Computed, float64(want[i]), float64(n), 1)
		}
	}
	var shares []float64
	for i, c := range []float64{.2, .5, .2, .1} {
		shares = append(shares, (c+[]float64{.37771, .47225, .10628, .04376}[i])/2)
	}
	n, _ := RatedPerTrial(.887, shares, .9)
	claim(t, "patients for ordered grades", "Whitehead, Statistics in Medicine 12 (1993) 2257, example", outside.Memory, 187, math.Ceil(n), 0)
	for df, k := range map[int]float64{2: 6.085, 4: 3.926, 9: 3.199, 29: 2.892} {
		claim(t, "smallest difference of one bar and one", "t table, t sqrt 2", outside.Memory, k, Spread{1, df}.Smallest(), .001)
	}
}

func TestFactorialPublished(t *testing.T) {
	e, err := yates([]float64{60, 72, 54, 68, 52, 83, 45, 80})
	if err != nil {
		t.Fatal(err)
	}
	for w, want := range map[Word]float64{1: 23, 2: -5, 4: 1.5, 3: 1.5, 5: 10, 6: 0, 7: .5} {
		claim(t, "pilot plant "+w.String(), "Box, Hunter and Hunter, pilot plant", outside.Memory, want, e[w], 1e-9)
	}
	e, err = yates([]float64{45, 71, 48, 65, 68, 60, 80, 65, 43, 100, 45, 104, 75, 86, 70, 96})
	if err != nil {
		t.Fatal(err)
	}
	mont := "Montgomery, Design and Analysis of Experiments, filtration rate"
	for name, want := range map[string]float64{"A": 21.625, "B": 3.125, "C": 9.875, "D": 14.625, "AB": .125, "AC": -18.125, "AD": 16.625, "BC": 2.375, "BD": -.375, "CD": -1.125, "ABC": 1.875, "ABD": 4.125, "ACD": -1.625, "BCD": -2.625, "ABCD": 1.375} {
		w, err := ParseWord(name)
		if err != nil {
			t.Fatal(err)
		}
		claim(t, "filtration "+name, mont, outside.Memory, want, e[w], 1e-9)
	}
	l, _ := LenthOf(e[1:])
	claim(t, "Lenth s0", mont, outside.Memory, 3.9375, l.S0, 1e-9)
	claim(t, "Lenth PSE", mont, outside.Memory, 2.625, l.PSE, 1e-9)
	claim(t, "Lenth ME", mont, outside.Memory, 6.748, l.ME, .001)
	claim(t, "Lenth SME", mont, outside.Memory, 13.699, l.SME, .001)
	g, err := DefiningGroup(1|2|8, 1|4|16) // D = AB, E = AC
	if err != nil || Resolution(g) != 3 || len(g) != 4 || g[3].String() != "BCDE" {
		t.Errorf("group %v, %v", g, err)
	}
	half, _ := DefiningGroup(15)
	if Resolution(half) != 4 || Aliases(3, half)[0].String() != "CD" {
		t.Errorf("half fraction: %v", half)
	}
}

func ratings(s string) (rows [][]float64) {
	for _, line := range strings.Split(s, "/") {
		var r []float64
		for _, f := range strings.Fields(line) {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				v = math.NaN()
			}
			r = append(r, v)
		}
		rows = append(rows, r)
	}
	return rows
}

func TestAgreementPublished(t *testing.T) {
	for _, c := range []struct {
		tab  [][]float64
		want float64
	}{{[][]float64{{20, 5}, {10, 15}}, .4}, {[][]float64{{45, 15}, {25, 15}}, .130435}, {[][]float64{{25, 35}, {5, 35}}, .259259}} {
		k, _ := Cohen(c.tab)
		claim(t, "Cohen's kappa", "worked examples of encyclopedias", outside.Memory, c.want, k, 1e-6)
	}
	var table [][]int
	for _, r := range ratings("0 0 0 0 14/0 2 6 4 2/0 0 3 5 6/0 3 9 2 0/2 2 8 1 1/7 7 0 0 0/3 2 6 3 0/2 5 3 2 2/6 5 2 1 0/0 2 2 3 7") {
		var row []int
		for _, v := range r {
			row = append(row, int(v))
		}
		table = append(table, row)
	}
	k, _ := Fleiss(table)
	claim(t, "Fleiss' kappa", "worked example, 14 raters, 10 subjects", outside.Memory, .210, k, .0005)
	data := ratings("1 2 3 3 2 1 4 1 2 . . ./1 2 3 3 2 2 4 1 2 5 . 3/. 3 3 3 2 3 4 2 2 5 1 ./1 2 3 3 2 4 4 1 2 5 1 .")
	for s, want := range []float64{.743, .815, .849, .797} {
		a, err := Krippendorff(data, Scale(s))
		if err != nil {
			t.Fatal(err)
		}
		claim(t, "Krippendorff's alpha", "Krippendorff, 4 x 12 data as in R irr", outside.Read, want, a, .0005)
	}
}

// aiag holds three people, three times, ten parts.
const aiag = `.29 -.56 1.34 .47 -.80 .02 .59 -.31 2.26 -1.36/.41 -.68 1.17 .50 -.92 -.11 .75 -.20 1.99 -1.25/.64 -.58 1.27 .64 -.84 -.21 .66 -.17 2.01 -1.31/
.08 -.47 1.19 .01 -.56 -.20 .47 -.63 1.80 -1.68/.25 -1.22 .94 1.03 -1.20 .22 .55 .08 2.12 -1.62/.07 -.68 1.34 .20 -1.28 .06 .83 -.34 2.19 -1.50/
.04 -1.38 .88 .14 -1.46 -.29 .02 -.46 1.77 -1.49/-.11 -1.13 1.09 .20 -1.07 -.67 .01 -.56 1.45 -1.77/-.15 -.96 .67 .11 -1.45 -.49 .21 -.49 1.87 -2.16`

func TestGaugePublished(t *testing.T) {
	rows := ratings(aiag)
	var r [][][]float64
	for p := range 3 {
		var parts [][]float64
		for j := range 10 {
			parts = append(parts, []float64{rows[3*p][j], rows[3*p+1][j], rows[3*p+2][j]})
		}
		r = append(r, parts)
	}
	src := "AIAG, Measurement Systems Analysis, worked example"
	s, err := AverageRange(r)
	if err != nil {
		t.Fatal(err)
	}
	claim(t, "EV", src, outside.Memory, .20188, s.Repeatability, .0005)
	claim(t, "AV", src, outside.Memory, .22963, s.Appraiser, .0005)
	claim(t, "GRR", src, outside.Memory, .30575, s.Gauge, .0005)
	claim(t, "PV", src, outside.Memory, 1.10456, s.Part, .0005)
	claim(t, "% GRR", src, outside.Memory, 26.68, s.Percent, .05)
	claim(t, "ndc", src, outside.Memory, 5, float64(s.Categories), 0)
	if s, err = Variances(r); err != nil || !s.Pooled {
		t.Fatal(s, err)
	}
	src += ", analysis of variance by another program"
	claim(t, "repeatability", src, outside.Computed, .199933, s.Repeatability, 1e-6)
	claim(t, "appraiser", src, outside.Computed, .226838, s.Appraiser, 1e-6)
	claim(t, "part", src, outside.Computed, 1.042327, s.Part, 1e-6)
	claim(t, "ndc", src, outside.Computed, 4, float64(s.Categories), 0)
}

// baseball, 1987: home team, away team, home wins, away wins; teams Bal Bos Cle Det Mil NY Tor.
const baseball = `4 3 4 3/4 6 4 2/4 5 4 3/4 1 6 1/4 2 4 2/4 0 6 0/3 4 3 3/3 6 4 2/3 5 4 3/3 1 6 0/3 2 6 1/3 0 4 3/
6 4 2 5/6 3 4 3/6 5 2 4/6 1 4 3/6 2 4 2/6 0 6 0/5 4 3 3/5 3 5 1/5 6 2 5/5 1 4 3/5 2 4 2/5 0 6 1/
1 4 5 1/1 3 2 5/1 6 3 3/1 5 4 2/1 2 5 2/1 0 6 0/2 4 2 5/2 3 3 3/2 6 3 4/2 5 4 3/2 1 4 2/2 0 2 4/
0 4 2 5/0 3 1 5/0 6 1 6/0 5 2 4/0 1 1 6/0 2 3 4`

func TestAbilitiesPublished(t *testing.T) {
	var ts []Tally
	for _, r := range ratings(baseball) {
		ts = append(ts, Tally{Left: int(r[0]), Right: int(r[1]), LeftWins: r[2], RightWins: r[3]})
	}
	src := "Agresti, Categorical Data Analysis, 2002, sec. 10.6; R BradleyTerry2 1.1-2"
	a, err := Fit(7, ts, Model{})
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range [][2]float64{{}, {1.1076977, .3338779}, {.6838528, .3318764}, {1.4364084, .3395682}, {1.5813559, .3432557}, {1.2476178, .3358606}, {1.2944851, .3366691}} {
		claim(t, "baseball ability", src, outside.Computed, w[0], a.Log[i], 1e-6)
		claim(t, "baseball error", src, outside.Computed, w[1], a.SE[i], 1e-6)
	}
	d, se := a.Contrast(4, 3)
	claim(t, "Milwaukee over Detroit", src, outside.Computed, .1449474, d, 1e-6)
	claim(t, "its error", src, outside.Computed, .3111348, se, 1e-6)
	if a, err = Fit(7, ts, Model{Side: true}); err != nil {
		t.Fatal(err)
	}
	claim(t, "at home", src, outside.Computed, .3022607, a.Side, 1e-6)
	claim(t, "its error", src, outside.Computed, .1309436, a.SideSE, 1e-6)
	for i, w := range []float64{0, 1.1438027, .7046945, 1.4753572, 1.6195550, 1.2813404, 1.3271104} {
		claim(t, "ability, home model", src, outside.Computed, w, a.Log[i], 1e-6)
	}
	stigler := []Tally{{0, 1, 730, 33, 0}, {0, 2, 498, 320, 0}, {0, 3, 221, 284, 0}, {1, 2, 68, 813, 0}, {1, 3, 17, 276, 0}, {2, 3, 142, 325, 0}}
	if a, err = Fit(4, stigler, Model{}); err != nil {
		t.Fatal(err)
	}
	for i, w := range [][2]float64{{}, {-2.9490725, .10254534}, {-.4795698, .06058873}, {.2689541, .07082997}} {
		claim(t, "citations", "Stigler 1994; R BradleyTerry2 1.1-2", outside.Computed, w[0], a.Log[i], 1e-6)
		claim(t, "citations, error", "Stigler 1994; R BradleyTerry2 1.1-2", outside.Computed, w[1], a.SE[i], 1e-6)
	}
}

func TestTiesPublished(t *testing.T) {
	// Sto Bar Lon Mil Par StG
	var ts []Tally
	for _, r := range ratings("2 1 217 67 19/3 1 104 132 67/4 1 157 109 37/5 1 144 134 25/2 3 221 56 26/4 3 121 59 32/2 4 186 91 26/2 5 208 73 22/3 5 135 140 28/4 5 165 119 19/1 0 172 90 41/2 0 250 34 19/3 0 157 100 46/4 0 203 70 30/5 0 155 98 50") {
		ts = append(ts, Tally{int(r[0]), int(r[1]), r[2], r[3], r[4]})
	}
	src := "CEMS data, R BradleyTerry2; Davidson's model by two programs"
	a, err := Fit(6, ts, Model{Ties: true})
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range [][2]float64{{}, {.6129325, .07516763}, {1.822802, .08314489}, {.4419721, .07601893}, {1.032534, .07757105}, {.5983221, .07514849}} {
		claim(t, "schools, ability", src, outside.Computed, w[0], a.Log[i], 1e-5)
		claim(t, "schools, error", src, outside.Computed, w[1], a.SE[i], 1e-6)
	}
	claim(t, "schools, nu", src, outside.Computed, .2678898, a.Nu, 1e-6)
	claim(t, "schools, error of log nu", src, outside.Computed, .04850828, a.LogNuSE, 1e-6)
	claim(t, "schools, log likelihood", src, outside.Computed, -3964.378, a.LogLik, .001)
	ref := reference(t, "trial.csv")
	if a, err = Fit(6, ts, Model{Ties: true, Side: true}); err != nil {
		t.Fatal(err)
	}
	for i, n := range []string{"Bar", "Lon", "Mil", "Par", "StG"} {
		claim(t, "schools with a side, "+n, script, outside.Computed, ref["cems_side_"+n], a.Log[i+1], 1e-5)
	}
	claim(t, "schools, side", script, outside.Computed, ref["cems_side_side"], a.Side, 1e-5)
	claim(t, "schools, nu with a side", script, outside.Computed, ref["cems_side_lognu"], math.Log(a.Nu), 1e-5)
}
