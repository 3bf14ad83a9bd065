package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"thrum/unit"
)

// Confidence of the intervals, where the samples allow it.
const Confidence = .95

// Seen says whether people who did not know which was which preferred an arm.
type Seen struct {
	Asked  bool     `json:"asked"`
	Words  string   `json:"words"`
	B      int      `json:"for_changed"`
	A      int      `json:"for_baseline"`
	Ties   int      `json:"ties"`
	Within int      `json:"within_one_arm"` // votes between two samples of one arm; not part of the answer
	Judges int      `json:"judges"`
	LogOdd float64  `json:"log_odds"` // changed against baseline, side taken off
	Side   float64  `json:"side"`     // advantage of the left, log odds
	SE     float64  `json:"standard_error"`
	Prior  bool     `json:"prior,omitempty"` // half a vote each way was added, since all went one way
	Range  Interval `json:"interval"`
}

// Measured says whether the score moved.
type Measured struct {
	Words     string   `json:"words"`
	MeanA     float64  `json:"mean_baseline"`
	MeanB     float64  `json:"mean_changed"`
	Test      Test     `json:"test"`
	Undersize Loss     `json:"size_lost"`
	Bell      *TTest   `json:"t_test,omitempty"` // the same under a bell curve, for comparison only
	Smallest  *float64 `json:"smallest_difference,omitempty"`
}

// Loss is how many samples of each arm are beyond their limit of size.
type Loss struct {
	A     int    `json:"baseline"`
	B     int    `json:"changed"`
	Words string `json:"words,omitempty"`
}

// Caused says whether it was the factor, as far as the design allows.
type Caused struct {
	Level  Level  `json:"level"`
	Words  string `json:"words"`
	Settle string `json:"would_settle,omitempty"` // what would settle it
}

// Finding is what a trial shows: three answers that are never merged.
type Finding struct {
	Schema     int         `json:"schema"`
	Question   string      `json:"question,omitempty"`
	Factor     Factor      `json:"factor"`
	ScoreIs    string      `json:"score"`
	Better     Direction   `json:"better,omitempty"`
	NA         int         `json:"samples_baseline"`
	NB         int         `json:"samples_changed"`
	Blocks     int         `json:"blocks"`
	Pairs      bool        `json:"pairs"`
	Reach      Reach       `json:"reach"`
	Samples    []Sample    `json:"samples"`
	Conditions []Condition `json:"conditions"`
	Seen       Seen        `json:"seen"`
	Measured   Measured    `json:"measured"`
	Caused     Caused      `json:"caused"`
	Notes      []string    `json:"notes,omitempty"`
}

// Analyze works out what the trial shows.
func Analyze(t Trial) (*Finding, error) {
	if t.Factor.Name == "" {
		t.Factor.Name = "arm"
	}
	if t.ScoreIs == "" {
		t.ScoreIs = "score"
	}
	if err := t.check(); err != nil {
		return nil, err
	}
	bs := t.blocks()
	f := &Finding{Schema: 1, Question: t.Question, Factor: t.Factor, ScoreIs: t.ScoreIs, Better: t.Better, Samples: t.Samples, Blocks: len(bs), Pairs: paired(bs)}
	for _, b := range bs {
		f.NA += len(b.A)
		f.NB += len(b.B)
		if len(b.A) == 0 || len(b.B) == 0 {
			f.Notes = append(f.Notes, "block "+b.Name+" lacks an arm and says nothing about the difference")
		}
	}
	f.Conditions = t.Compare()
	f.measure(t, bs)
	f.Reach = reachOf(max(1, f.Measured.Test.Ways))
	f.Caused = f.cause(t)
	var err error
	if f.Seen, err = t.seen(); err != nil {
		return nil, err
	}
	f.note(t)
	return f, nil
}

func (f *Finding) measure(t Trial, bs []Block) {
	var a, b, d []float64
	for _, x := range bs {
		a, b = append(a, x.A...), append(b, x.B...)
		if f.Pairs {
			d = append(d, x.B[0]-x.A[0])
		}
	}
	m := &f.Measured
	m.MeanA, m.MeanB = mean(a), mean(b)
	m.Test = Randomise(bs, Confidence, t.Random)
	bell, ok := TTest{}, false
	if f.Pairs {
		bell, ok = PairedT(d, Confidence)
	} else if len(bs) == 1 {
		bell, ok = Welch(a, b, Confidence)
	}
	if ok {
		m.Bell = &bell
	}
	if s := t.Spread.Smallest(); !math.IsInf(s, 1) {
		m.Smallest = &s
	}
	m.Words = f.measuredWords()
	m.Undersize = t.lost()
}

func (f *Finding) measuredWords() string {
	m := f.Measured
	if m.Test.Counted == 0 {
		return "No block holds both arms, so no difference was measured."
	}
	way := "higher"
	if m.Test.Effect < 0 {
		way = "lower"
	}
	if m.Test.Effect == 0 {
		return fmt.Sprintf("Mean of %s: the same with %s and with %s; %s.", f.ScoreIs, f.Factor.Changed, f.Factor.Baseline, f.rangeWords())
	}
	good := ""
	if (f.Better == Higher && m.Test.Effect > 0) || (f.Better == Lower && m.Test.Effect < 0) {
		good = ", which is better"
	} else if f.Better != Unsaid {
		good = ", which is worse"
	}
	return fmt.Sprintf("Mean of %s: %.4g %s with %s than with %s%s; difference %s.", f.ScoreIs, math.Abs(m.Test.Effect), way, f.Factor.Changed, f.Factor.Baseline, good, f.rangeWords())
}

func (f *Finding) rangeWords() string {
	i := f.Measured.Test.Interval
	if !i.Bounded {
		return "these samples set no bounds on it"
	}
	return fmt.Sprintf("%.4g to %.4g (%.3g %% interval)", i.Low, i.High, 100*i.Confidence)
}

func (t Trial) lost() Loss {
	var l Loss
	for _, s := range t.Samples {
		if s.Undersize > 0 && s.Arm == t.Factor.Changed {
			l.B++
		} else if s.Undersize > 0 {
			l.A++
		}
	}
	if l.A+l.B > 0 {
		l.Words = fmt.Sprintf("Size was lost: beyond the limit are %d with %s and %d with %s. A thread without marks that is beyond its limit is a loss; read this beside the %s.",
			l.A, t.Factor.Baseline, l.B, t.Factor.Changed, t.scoreName())
	}
	return l
}

func (t Trial) scoreName() string {
	if t.ScoreIs == "" {
		return "score"
	}
	return t.ScoreIs
}

// cause climbs the ladder as far as the design allows, no matter how small p is.
func (f *Finding) cause(t Trial) Caused {
	test := f.Measured.Test
	say := func(l Level, settle string, more ...string) Caused {
		pairs := append([]string{"{A}", f.Factor.Baseline, "{B}", f.Factor.Changed, "{score}", f.ScoreIs, "{factor}", f.factorWords(), "{interval}", f.rangeWords()}, more...)
		return Caused{Level: l, Words: l.words(pairs...), Settle: settle}
	}
	var mixed []string
	for _, c := range f.Conditions {
		if c.Status == Together {
			mixed = append(mixed, c.Name)
		}
	}
	shown := test.Interval.Confidence >= Confidence-1e-9 && test.Interval.Excludes(0)
	switch {
	case test.Counted == 0:
		return say(NoWay, "cut both arms in each block", "{reason}", "no block holds both arms.")
	case len(mixed) > 0:
		settle := "repeat with " + strings.Join(mixed, ", ") + " the same in both arms"
		if test.Effect == 0 || f.NA+f.NB > 2 && !shown {
			return say(NoWay, settle, "{reason}", "no clear difference, and "+strings.Join(mixed, ", ")+" changed together with it.")
		}
		return say(Mixed, settle)
	case f.NA == 1 && f.NB == 1:
		return f.onePair(t, say)
	case t.Margin > 0 && test.Interval.Bounded && test.Interval.Confidence >= Confidence-1e-9 && test.Interval.Low > -t.Margin && test.Interval.High < t.Margin:
		return say(Small, "")
	case !f.Reach.Can:
		return say(NoWay, "cut at least 4 and 4, or 6 pairs, in an order drawn by lot", "{reason}", f.Reach.Words+".")
	case !shown:
		return say(NotShown, f.settle(t))
	case !t.Drawn:
		return say(NotDrawn, "repeat in an order drawn by lot before cutting")
	case t.Repeated:
		return say(Strong, "")
	}
	return say(Good, "repeating it on another day would make it strong")
}

// factorWords names what was changed; a table of arms without a name has only arms.
func (f *Finding) factorWords() string {
	if f.Factor.Name == "arm" {
		return f.Factor.Baseline + " to " + f.Factor.Changed
	}
	return f.Factor.Name
}

func (f *Finding) onePair(t Trial, say func(Level, string, ...string) Caused) Caused {
	settle := "cut 6 pairs, or first the baseline again after the change: if it does not come back, something drifted"
	if f.Measured.Test.Effect == 0 {
		return say(NoWay, settle, "{reason}", "one bar each, and no difference between them.")
	}
	if f.Measured.Smallest == nil {
		return say(OnePair, settle)
	}
	return say(Hint, settle, "{k}", fmt.Sprintf("%.2g", math.Abs(f.Measured.Test.Effect)/t.Spread.SD))
}

// settle says how many samples would show the difference that was seen, or the
// margin when one was named.
func (f *Finding) settle(t Trial) string {
	s, ok := f.spread(t)
	diff := t.Margin
	what := "a difference of " + ftoa(diff)
	if diff == 0 {
		diff = f.Measured.Test.Effect
		what = "a difference as large as the one here, if it is real,"
	}
	n, can := PerArm(diff, s)
	if !ok || !can {
		return "more samples in each arm; name the smallest difference that matters before cutting"
	}
	each := "samples in each arm"
	if f.Pairs {
		n = max(6, (n+1)/2) // a difference of two has twice the variance of one, and counts once
		each = "pairs"
	}
	return fmt.Sprintf("about %d %s would show %s 4 times in 5", n, each, what)
}

// spread is the bar-to-bar standard deviation within arms and blocks; of pairs,
// that of the differences.
func (f *Finding) spread(t Trial) (Spread, bool) {
	ss, df := 0.0, 0
	if f.Pairs {
		var d []float64
		for _, b := range t.blocks() {
			d = append(d, b.B[0]-b.A[0])
		}
		return Spread{SD: math.Sqrt(variance(d)), DF: len(d) - 1}, len(d) > 1 && variance(d) > 0
	}
	for _, b := range t.blocks() {
		for _, x := range [][]float64{b.A, b.B} {
			if len(x) > 1 {
				ss += variance(x) * float64(len(x)-1)
				df += len(x) - 1
			}
		}
	}
	if df == 0 || ss == 0 {
		return Spread{}, false
	}
	return Spread{SD: math.Sqrt(ss / float64(df)), DF: df}, true
}

// seen counts the blind votes between the arms.
func (t Trial) seen() (Seen, error) {
	s := Seen{Words: "Nobody was asked to compare them blind."}
	if len(t.Votes) == 0 {
		return s, nil
	}
	arm := map[string]int{}
	for _, x := range t.Samples {
		if x.Arm == t.Factor.Changed {
			arm[x.Name] = 1
		} else {
			arm[x.Name] = 0
		}
	}
	var between []Vote
	var judges []string
	for _, v := range t.Votes {
		l, okL := arm[v.Left]
		r, okR := arm[v.Right]
		if !okL || !okR {
			return s, &unit.InputError{Field: "vote", Value: v.Left + " and " + v.Right, Reason: "names a sample that is not in the trial", Hint: "use the names of the samples"}
		}
		if l == r {
			s.Within++
			continue
		}
		between = append(between, v)
		if !slices.Contains(judges, v.Judge) && len(judges) < MaxSamples {
			judges = append(judges, v.Judge)
		}
		switch {
		case v.Outcome == Tie:
			s.Ties++
		case (v.Outcome == LeftBetter) == (l == 1):
			s.B++
		default:
			s.A++
		}
	}
	s.Asked, s.Judges = len(between) > 0, len(judges)
	if !s.Asked {
		s.Words = "Blind votes compare only samples of one arm."
		return s, nil
	}
	s.fit(between, arm)
	s.Words = s.wording(t.Factor)
	return s, nil
}

func (s *Seen) fit(between []Vote, arm map[string]int) {
	logOdds := func(vs []Vote) (*Abilities, bool) {
		ts := []Tally{{Left: 0, Right: 1}, {Left: 1, Right: 0}}
		for _, v := range vs {
			k := &ts[arm[v.Left]]
			switch v.Outcome {
			case LeftBetter:
				k.LeftWins++
			case RightBetter:
				k.RightWins++
			default:
				k.Ties++
			}
		}
		m := Model{Ties: true, Side: true}
		for _, k := range ts { // without both orders the side cannot be told from the arm
			if k.LeftWins+k.RightWins+k.Ties == 0 {
				m.Side = false
			}
		}
		a, err := Fit(2, ts, m)
		return a, err == nil
	}
	a, ok := logOdds(between)
	if !ok {
		return
	}
	s.LogOdd, s.Side, s.Prior = a.Log[1], a.Side, a.Prior
	se, groups, ok := Jackknife(between, func(vs []Vote) (float64, bool) {
		a, ok := logOdds(vs)
		if !ok {
			return 0, false
		}
		return a.Log[1], true
	})
	if !ok {
		return
	}
	s.SE = se
	h := tQuantile((1+Confidence)/2, float64(groups-1)) * se
	s.Range = Interval{s.LogOdd - h, s.LogOdd + h, Confidence, true, 0}
}

func (s *Seen) wording(f Factor) string {
	count := fmt.Sprintf("Of %d blind votes by %d judges %d preferred %s, %d preferred %s, %d were ties", s.A+s.B+s.Ties, s.Judges, s.B, f.Changed, s.A, f.Baseline, s.Ties)
	switch {
	case !s.Range.Bounded:
		return count + ". That is too few judges to say more: at least 5 are needed."
	case s.Range.Low > 0:
		return count + fmt.Sprintf(": people see a difference, for %s.", f.Changed)
	case s.Range.High < 0:
		return count + fmt.Sprintf(": people see a difference, for %s.", f.Baseline)
	}
	return count + ": a preference is not shown either way."
}

// note adds what a reader should know besides.
func (f *Finding) note(t Trial) {
	test := f.Measured.Test
	if !test.Exact && test.Counted > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("p is from %d of %.3g ways, with a standard error of %.2g", test.Counted, test.Ways, test.Error))
	}
	if i := test.Interval; i.Bounded && i.Confidence < Confidence-1e-9 {
		f.Notes = append(f.Notes, fmt.Sprintf("so few samples allow at most a %.3g %% interval", 100*i.Confidence))
	}
	if f.Seen.Prior {
		f.Notes = append(f.Notes, "one order of showing, or one arm, won every vote; half a vote each way was added so that the odds stay finite")
	}
	if f.Seen.Asked {
		f.Notes = append(f.Notes, "more votes make surer what these photographs look like, not that the change did it: that is limited by the number of bars")
	}
	if !t.Drawn {
		f.Notes = append(f.Notes, "it was not said that the run order was drawn by lot, so p has no more weight than that of a yardstick")
	}
	if s := f.aba(t); s != "" {
		f.Notes = append(f.Notes, s)
	}
}

// aba tells whether the baseline came back: samples stand in the order of cutting
// as A, then B, then A again.
func (f *Finding) aba(t Trial) string {
	var runs [][]float64
	last := ""
	for _, s := range t.Samples {
		if s.Block != t.Samples[0].Block {
			return ""
		}
		if s.Arm != last {
			runs = append(runs, nil)
			last = s.Arm
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], s.Score)
	}
	if len(runs) != 3 || t.Samples[0].Arm != t.Factor.Baseline {
		return ""
	}
	drift, change := mean(runs[2])-mean(runs[0]), mean(runs[1])-(mean(runs[0])+mean(runs[2]))/2
	if math.Abs(drift) > math.Abs(change)/2 {
		return fmt.Sprintf("%s did not come back: it moved by %.4g from first to last, against %.4g for the change; drift may be the story", t.Factor.Baseline, drift, change)
	}
	return fmt.Sprintf("%s came back within %.4g after the change of %.4g", t.Factor.Baseline, math.Abs(drift), change)
}

// AllP adjusts p values for looking at several scores, by Holm: the smallest is
// multiplied by their number, the next by one less, never falling.
// Source: Holm, Scand. J. Statist. 6 (1979) 65.
func AllP(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		if p[i] < p[j] {
			return -1
		} else if p[i] > p[j] {
			return 1
		}
		return 0
	})
	out, most := make([]float64, len(p)), 0.0
	for k, i := range order {
		most = max(most, min(1, p[i]*float64(len(p)-k)))
		out[i] = most
	}
	return out
}

// RatedPerTrial is how many samples in all, half in each arm, show on a graded scale
// a shift of the log odds, two-sided at 5 %: 12 (z+z')^2 / (shift^2 (1 - sum p^3)), where
// the shares are those of the grades, averaged over the arms.
// Source: Whitehead, Statistics in Medicine 12 (1993) 2257.
func RatedPerTrial(logOdds float64, shares []float64, power Power) (float64, bool) {
	sum := 0.0
	for _, s := range shares {
		if !(s >= 0 && s <= 1) {
			return 0, false
		}
		sum += s * s * s
	}
	if logOdds == 0 || sum >= 1 || !(power >= .5 && power <= .999) {
		return 0, false
	}
	z := distuv.UnitNormal.Quantile(.975) + distuv.UnitNormal.Quantile(float64(power))
	return 12 * z * z / (logOdds * logOdds * (1 - sum)), true
}
