package lathe

import (
	"fmt"
	"math/big"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

func tpi(t testing.TB, s string) unit.Ratio {
	t.Helper()
	n, err := unit.ParseRatio(s)
	if err != nil {
		t.Fatal(err)
	}
	l, err := unit.MustRatio(127, 5).Quo(n)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func screwTPI(n int64) Leadscrew { return Leadscrew{Lead: unit.MustRatio(127, 5*n), Starts: 1} }

func screwMM(lead unit.Ratio) Leadscrew { return Leadscrew{Lead: lead, Starts: 1} }

// eight lines, every second one numbered, as both dials of the published charts.
var eightLines = []string{"1", "", "2", "", "3", "", "4", ""}

// Threading-dial charts of three lathe makers and a text, row by row. What cannot
// be right is decided here:
//
//   - One maker prints that 4 threads per inch may be picked up at random with a
//     screw of 8 and a 16-tooth wheel. Half nuts that close on every thread of the
//     screw close every 1/8 in, and 1/8 in is half a turn of a thread of 1/4 in lead: half
//     of all random closings cut a second groove. Every line (1/4 in) is right.
//   - The same maker prints half a turn for 6 threads per inch. That is safe but
//     needlessly narrow: a quarter turn is 1/2 in, three whole threads.
//   - One text allows "any numbered line" for half threads in one place and "odd
//     numbered" in another. Only the second is right with a 32-tooth wheel: half
//     threads need 2 in, half a turn.
func TestPublishedDialCharts(t *testing.T) {
	rows := outside.Rows(t, func(r outside.Row) bool {
		return strings.HasPrefix(r.Quantity, "Threading dial") || r.Quantity == "Contradiction inside one text" || strings.HasPrefix(r.Quantity, "Quarter threads")
	})
	numbers := regexp.MustCompile(`\d+(\.\d+)?`)
	eachOf := func(r outside.Row) []string {
		list, _, _ := strings.Cut(r.Designation, "(")
		return numbers.FindAllString(list, -1)
	}
	check := func(r outside.Row, screw int64, teeth int, thread string, want int, decision string) {
		t.Helper()
		w := DialWheel{Teeth: teeth, Marks: eightLines}
		rule, err := w.Rule(screwTPI(screw), tpi(t, thread))
		if err != nil {
			t.Fatal(err)
		}
		outside.Check(t, outside.Claim{
			What:   fmt.Sprintf("threading dial, screw %d tpi, %d teeth: lines apart for %s tpi", screw, teeth, thread),
			Source: r.ID + " " + r.Source, Status: r.Status(), Published: float64(want), Ours: float64(rule.Step), Unit: "lines", Decision: decision,
		})
	}
	steps := map[string]int{ // printed words: lines apart of eight; 0 anywhere
		"any point, dial not needed": 0, "any of the 8 lines": 1, "lines at right angles to the first": 2,
		"same or opposite line": 4, "same line only": 8, "any numbered line": 2, "odd-numbered lines only, i.e. half turn apart": 4,
	}
	seen := 0
	for _, r := range rows {
		switch r.ID {
		case "F1842":
			check(r, 8, 16, "4", 0, "closing at random every 1/8 in is half a turn of a 1/4 in lead: wrong half of the time; every line is right")
		case "F1843":
			check(r, 8, 16, "6", 4, "safe but needlessly narrow: a quarter turn is 1/2 in, three whole threads of 6 tpi")
		case "F1844":
			for _, n := range []string{"6", "10", "14", "18", "20", "22", "28"} {
				check(r, 8, 32, n, 1, "")
			}
		case "F1845":
			for _, n := range []string{"5", "7", "9", "11", "13", "27"} {
				check(r, 8, 32, n, 2, "")
			}
		case "F1846":
			for _, n := range []string{"11.5", "4.5", "5.5"} {
				check(r, 8, 32, n, 4, "")
			}
		case "F1847":
			for _, n := range []string{"2.75", "3.25", "4.75"} {
				check(r, 8, 32, n, 8, "")
			}
		case "F1848":
			check(r, 8, 32, "11.5", 2, "the text contradicts itself; 2 in are needed, half a turn of a dial of 4 in")
		case "F1849": // 16 threads per inch, dial turn 1 in: half turn, quarter turn, any line, one line
			for n, want := range map[string]int{
				"18": 4, "22": 4, "26": 4, "38": 4, "20": 2, "28": 2, "36": 2, "44": 2, "52": 2, "24": 1, "40": 1, "19": 8,
			} {
				check(r, 16, 16, n, want, "")
			}
			for _, n := range []string{"32", "48"} { // the row groups 32 and 48 with 24 under "any": they are anywhere, which includes any line
				if rule, _ := (DialWheel{16, eightLines}).Rule(screwTPI(16), tpi(t, n)); rule.Kind != DialAnywhere {
					t.Errorf("%s tpi on a screw of 16: %v", n, rule.Kind)
				}
			}
		case "F1850":
			rule, err := DialWheel{16, eightLines}.Rule(screwTPI(8), tpi(t, "2.75"))
			if err != nil || rule.Kind != DialNone || rule.Turns != 2 {
				t.Errorf("quarter threads with 16 teeth: %+v, %v; want no line, right once in 2 turns", rule, err)
			}
		default:
			want, known := steps[r.Value]
			if !known || !strings.Contains(r.Quantity, "8 tpi screw, 16T") {
				t.Errorf("row %s is not understood: %q %q", r.ID, r.Quantity, r.Value)
				continue
			}
			for _, n := range eachOf(r) {
				check(r, 8, 16, n, want, "")
			}
		}
		seen++
	}
	if seen != 14 {
		t.Errorf("%d rows were looked at, want 14", seen)
	}
}

func TestDialWords(t *testing.T) {
	all := []string{"1", "2", "3", "4"}
	for _, tt := range []struct {
		screw  Leadscrew
		wheel  DialWheel
		lead   unit.Ratio
		kind   DialKind
		text   string
		period int
	}{
		{screwTPI(8), DialWheel{16, eightLines}, tpi(t, "16"), DialAnywhere, "Close the half nuts anywhere; the dial is not needed.", 1},
		{screwTPI(8), DialWheel{16, eightLines}, tpi(t, "12"), DialAnyLine, "Any line, numbered or plain.", 2},
		{screwTPI(8), DialWheel{16, eightLines}, tpi(t, "14"), DialLines, "Any numbered line.", 4},
		{screwTPI(8), DialWheel{16, eightLines}, tpi(t, "13"), DialLines, "Lines 1 and 3; or lines 2 and 4; or plain lines opposite each other. Keep to the lines that go with the one you closed on for the first pass.", 8},
		{screwTPI(8), DialWheel{16, all}, tpi(t, "13"), DialLines, "Lines 1 and 3; or lines 2 and 4. Keep to the lines that go with the one you closed on for the first pass.", 8},
		{screwTPI(8), DialWheel{16, eightLines}, tpi(t, "11.5"), DialSameLine, "The same line only: the one you closed on for the first pass.", 16},
		{screwTPI(8), DialWheel{16, eightLines}, unit.MustRatio(3, 2), DialNone, "", 60},
		{screwMM(unit.Whole(6)), DialWheel{14, []string{"1", "2"}}, unit.MustRatio(7, 4), DialAnyLine, "Any line.", 7},
		{screwMM(unit.Whole(6)), DialWheel{15, []string{"1", "2", "3"}}, unit.MustRatio(5, 4), DialAnyLine, "Any line.", 5},
		{screwMM(unit.Whole(4)), DialWheel{16, []string{"1", "", "2", ""}}, unit.Whole(3), DialNone, "", 3},
		{screwMM(unit.Whole(3)), DialWheel{15, []string{"A"}}, unit.MustRatio(5, 4), DialSameLine, "The same line only: the one you closed on for the first pass.", 5},
	} {
		r, err := tt.wheel.Rule(tt.screw, tt.lead)
		if err != nil || r.Kind != tt.kind || r.Text != tt.text || r.Period != tt.period {
			t.Errorf("screw %v mm, wheel %v, lead %v:\n got %s, %q, period %d, %v\nwant %s, %q, %d", tt.screw.Lead, tt.wheel, tt.lead, r.Kind, r.Text, r.Period, err, tt.kind, tt.text, tt.period)
		}
	}
	for _, bad := range []unit.Ratio{{}, unit.Whole(-1)} {
		if _, err := (DialWheel{16, eightLines}).Rule(screwTPI(8), bad); err == nil {
			t.Errorf("lead %v is accepted", bad)
		}
	}
}

// Where no line is right the words depend on whether the lathe may be reversed.
func TestNoLineWords(t *testing.T) {
	inch, metric := example(t, "inch-bench.toml"), example(t, "metric-geared.toml")
	rules, err := inch.Rules(unit.MustRatio(3, 2))
	if err != nil || len(rules) != 2 {
		t.Fatalf("%v, %v", rules, err)
	}
	for _, r := range rules {
		if r.Kind != DialNone || !strings.Contains(r.Text, "Keep the half nuts closed") || !strings.Contains(r.Text, "unscrew") || strings.Contains(r.Text, "SAME line") {
			t.Errorf("1.5 mm on the inch lathe with its screwed chuck: %+v", r)
		}
	}
	rules, err = metric.Rules(unit.MustRatio(127, 65))
	if err != nil || len(rules) != 3 {
		t.Fatalf("%v, %v", rules, err)
	}
	for _, r := range rules {
		if r.Kind != DialNone || !strings.Contains(r.Text, "close on the SAME line as it first comes round") {
			t.Errorf("13 tpi on the metric lathe: %+v", r)
		}
	}
	// The wheel that gives the most chances comes first.
	rules, _ = metric.Rules(unit.MustRatio(7, 4))
	if rules[0].Wheel.Teeth != 14 || rules[0].Kind != DialAnyLine || rules[1].Kind != DialNone {
		t.Errorf("1.75 mm on 6 mm: %+v", rules)
	}
	// With a train that stands in for 127 the rule follows the lead really cut.
	exact, near := unit.MustRatio(3, 2), unit.MustRatio(3, 2)
	near, _ = near.Mul(unit.MustRatio(127*63, 80*100)) // 80/63 for 127/100
	w := DialWheel{16, eightLines}
	a, _ := w.Rule(screwTPI(8), exact)
	b, _ := w.Rule(screwTPI(8), near)
	if a.Period == b.Period {
		t.Errorf("the rule takes no notice of the lead really cut: period %d", a.Period)
	}
}

// simulate runs the lathe in time, with big fractions and no formula for the rule:
// the spindle turns, screw and dial follow, the carriage is wound back by hand to some
// place, and the half nuts fall in when the screw's thread lets them. A line is
// "safe" after another if every closing on it puts the tool into the old groove.
//
// It knows only: the tool is in the groove if its place along the bed, less the
// advance of the thread by the turning of the work, is a whole number of leads; the
// nuts close if the carriage stands at a whole number of screw pitches from the screw's
// thread; the dial has turned by the screw's travel past the carriage over its
// circumference.
func simulate(screwPitch, lead *big.Rat, teeth, lines int) (safe []bool, met []bool) {
	safe, met = make([]bool, lines), make([]bool, lines)
	for i := range safe {
		safe[i] = true
	}
	around := new(big.Rat).Mul(screwPitch, big.NewRat(int64(teeth), 1))
	isWhole := func(a, b *big.Rat) bool { return new(big.Rat).Quo(a, b).IsInt() }
	// The spindle turns on while the nuts are open; all that the carriage can feel of
	// it is the screw's travel. Start: nuts closed, line 0 at the mark, tool in groove.
	// Threads of the screw that pass while the nuts are open: up to four dial turns.
	for passed := range teeth * 4 {
		screwTravel := new(big.Rat).Mul(screwPitch, big.NewRat(int64(passed), 1)) // net travel past the carriage when the nuts fall in
		// The carriage was wound back by w, the screw advanced by s, s + w = screwTravel:
		// take a winding that is no multiple of anything, the tool's place follows from it.
		wound := big.NewRat(int64(passed)*377+12345, 6789)
		advanced := new(big.Rat).Sub(screwTravel, wound)
		turnsOfSpindle := new(big.Rat).Quo(advanced, lead) // the train ties screw to spindle: one lead of travel a turn
		toolMoved := new(big.Rat).Neg(wound)
		groove := new(big.Rat).Mul(turnsOfSpindle, lead)
		inGroove := isWhole(new(big.Rat).Sub(groove, toolMoved), lead)
		dial := new(big.Rat).Quo(screwTravel, around)
		line := new(big.Rat).Mul(dial, big.NewRat(int64(lines), 1))
		if !line.IsInt() {
			continue // no line at the mark
		}
		j := int(new(big.Int).Mod(line.Num(), big.NewInt(int64(lines))).Int64())
		met[j] = true
		if !inGroove {
			safe[j] = false
		}
	}
	return safe, met
}

func TestDialAgainstSimulation(t *testing.T) {
	screws := []unit.Ratio{
		unit.MustRatio(127, 20), unit.MustRatio(127, 30), unit.MustRatio(127, 40), unit.MustRatio(127, 60), unit.MustRatio(127, 80),
		unit.Whole(2), unit.MustRatio(5, 2), unit.Whole(3), unit.Whole(4), unit.Whole(6), unit.Whole(12),
	}
	leads := []unit.Ratio{}
	for _, n := range []string{"2.75", "3", "4", "4.5", "5", "6", "7", "8", "9", "10", "11", "11.5", "12", "13", "14", "16", "18", "19", "20", "24", "27", "28", "32", "40", "56", "80"} {
		l := tpi(t, n)
		leads = append(leads, l)
		for starts := int64(2); starts <= 4; starts++ {
			m, _ := l.Mul(unit.Whole(starts))
			leads = append(leads, m)
		}
	}
	for _, f := range usualPitch {
		r, _ := unit.ParseRatio(f)
		near, _ := r.Mul(unit.MustRatio(127*63, 80*100)) // cut with 63 and 80 in place of 127
		leads = append(leads, r, near)
	}
	wheels := [][2]int{{16, 8}, {32, 8}, {16, 4}, {14, 2}, {15, 3}, {15, 5}, {20, 4}, {21, 7}, {24, 12}, {28, 4}, {30, 12}, {16, 8}, {18, 1}}
	tried, kinds := 0, map[DialKind]int{}
	for _, s := range screws {
		for _, lead := range leads {
			for range 3 { // wheels by turns
				w := wheels[tried%len(wheels)]
				compareDial(t, s, lead, w[0], w[1], kinds)
				tried++
			}
		}
	}
	t.Logf("%d dials tried: %v", tried, kinds)
	for _, k := range dialOrder {
		if kinds[k] < 100 {
			t.Errorf("rule %q was met only %d times", k, kinds[k])
		}
	}
}

func compareDial(t testing.TB, screw, lead unit.Ratio, teeth, lines int, kinds map[DialKind]int) {
	w := DialWheel{Teeth: teeth, Marks: make([]string, lines)}
	r, err := w.Rule(screwMM(screw), lead)
	if err != nil {
		t.Fatal(err)
	}
	kinds[r.Kind]++
	rat := func(r unit.Ratio) *big.Rat { return big.NewRat(r.Num(), r.Den()) }
	safe, met := simulate(rat(screw), rat(lead), teeth, lines)
	for j := range lines {
		var want bool
		switch r.Kind {
		case DialAnywhere:
			want = true
		case DialAnyLine, DialLines, DialSameLine:
			want = slices.ContainsFunc(r.Sets, func(set []int) bool { return set[0] == 0 && slices.Contains(set, j) })
		}
		if met[j] && safe[j] != want {
			t.Fatalf("screw %v mm, lead %v mm, %d teeth, %d lines (%s, step %d): line %d after line 0 is safe %v, rule says %v", screw, lead, teeth, lines, r.Kind, r.Step, j, safe[j], want)
		}
		if !met[j] && want && r.Kind != DialAnywhere {
			t.Fatalf("screw %v mm, lead %v mm, %d teeth, %d lines: rule gives line %d, on which the nuts never close", screw, lead, teeth, lines, j)
		}
	}
	// Every closing is right exactly when the rule says anywhere.
	if any := new(big.Rat).Quo(rat(screw), rat(lead)).IsInt(); any != (r.Kind == DialAnywhere) {
		t.Fatalf("screw %v, lead %v: %s", screw, lead, r.Kind)
	}
}

// The rule holds for any numbers, not only for the usual ones.
func TestDialAgainstSimulationDrawn(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		screw := unit.MustRatio(rapid.Int64Range(1, 40).Draw(rt, "screw"), rapid.Int64Range(1, 12).Draw(rt, "over"))
		// leads that are simple fractions of the screw, so that every kind of rule turns up
		lead, _ := screw.Mul(unit.MustRatio(rapid.Int64Range(1, 24).Draw(rt, "lead"), rapid.Int64Range(1, 24).Draw(rt, "per")))
		compareDial(t, screw, lead, rapid.IntRange(4, 40).Draw(rt, "teeth"), rapid.IntRange(1, 16).Draw(rt, "lines"), map[DialKind]int{})
	})
}

// The half nuts may be opened, the spindle reversed, and closed on the same line as
// it first comes round: then the screw has gone back exactly as far as it had come, for
// any lead whatever.
func TestSameLineInReverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := big.NewRat(rapid.Int64Range(1, 50).Draw(t, "pitch"), rapid.Int64Range(1, 50).Draw(t, "over"))
		teeth := rapid.Int64Range(4, 40).Draw(t, "teeth")
		around := new(big.Rat).Mul(p, big.NewRat(teeth, 1))
		// The screw coasts on by less than one turn of the dial, then comes back.
		coast := new(big.Rat).Mul(around, big.NewRat(rapid.Int64Range(1, 999).Draw(t, "coast"), 1000))
		travel := new(big.Rat).Set(coast)
		step := new(big.Rat).Mul(around, big.NewRat(1, 1000))
		for range 2000 {
			travel.Sub(travel, step)
			if new(big.Rat).Quo(travel, around).IsInt() { // the line is at the mark
				break
			}
		}
		if travel.Sign() != 0 {
			t.Fatalf("the line first comes round with the screw %v from where it was", travel)
		}
	})
}

// Closing on another line picks another start: against counting grooves.
func TestDialStarts(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		screw := unit.MustRatio(rapid.Int64Range(1, 12).Draw(rt, "screw"), rapid.Int64Range(1, 4).Draw(rt, "over"))
		lead, _ := screw.Mul(unit.MustRatio(rapid.Int64Range(1, 16).Draw(rt, "lead"), rapid.Int64Range(1, 16).Draw(rt, "per")))
		starts, teeth, lines := rapid.IntRange(1, 6).Draw(rt, "starts"), rapid.IntRange(4, 32).Draw(rt, "teeth"), rapid.IntRange(1, 12).Draw(rt, "lines")
		got := DialWheel{teeth, make([]string, lines)}.DialStarts(screwMM(screw), lead, starts)
		rat := func(r unit.Ratio) *big.Rat { return big.NewRat(r.Num(), r.Den()) }
		// Grooves lie a pitch = lead/starts apart; follow three turns of the dial.
		pitch := new(big.Rat).Quo(rat(lead), big.NewRat(int64(starts), 1))
		want := make([]int, lines)
		for j := range want {
			want[j] = -2 // not met
		}
		for k := range 3 * teeth {
			if k*lines%teeth != 0 {
				continue
			}
			j := k * lines / teeth % lines
			grooves := new(big.Rat).Quo(new(big.Rat).Mul(rat(screw), big.NewRat(int64(k), 1)), pitch)
			at := -1
			if grooves.IsInt() {
				at = int(new(big.Int).Mod(grooves.Num(), big.NewInt(int64(starts))).Int64())
			}
			if want[j] != -2 && want[j] != at {
				at = -1 // not the same start every time round
			}
			want[j] = at
		}
		full, _ := DialWheel{teeth, make([]string, lines)}.Rule(screwMM(screw), lead)
		for j := range want {
			if want[j] == -2 || full.Kind == DialNone {
				want[j] = -1
			}
		}
		if !slices.Equal(got, want) {
			rt.Fatalf("screw %v, lead %v, %d starts, %d teeth, %d lines: got %v, want %v", screw, lead, starts, teeth, lines, got, want)
		}
	})
}
