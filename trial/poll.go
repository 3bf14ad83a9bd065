package trial

import (
	"fmt"
	"math"

	"thrum/unit"
)

// PollItem is a picture that many eyes compare with others.
type PollItem struct {
	Sample string // two pictures of one sample ought to come out even
	Arm    string // empty when the poll has no arms
}

// Poll is what people who did not know which was which have voted.
type Poll struct {
	Items             []PollItem
	Baseline, Changed string      // the two arms; empty when there are none
	Groups            [][]Tally   // votes by group of judges; every judge is in one group only
	Repeats           [][]float64 // first answer against the answer to the same pair later: left of the first look, right, tie
}

// Look is a comparison of two items, or of a picture with itself.
type Look struct {
	I        int      `json:"i"`
	J        int      `json:"j"`
	ForI     float64  `json:"for_i"`
	ForJ     float64  `json:"for_j"`
	Ties     float64  `json:"ties"`
	LogOdds  float64  `json:"log_odds"` // of i over j
	SE       float64  `json:"standard_error"`
	Interval Interval `json:"interval"`
}

// Even reports whether neither is shown to be preferred.
func (l Look) Even() bool { return !l.Interval.Excludes(0) }

// PollFinding is what a poll shows.
type PollFinding struct {
	Schema   int       `json:"schema"`
	Votes    int       `json:"votes"`  // on two different pictures
	Groups   int       `json:"groups"` // of judges, that hold any votes
	Log      []float64 `json:"log_abilities"`
	Share    []float64 `json:"share"` // how often the item is preferred to the average one, where there is a preference
	Looks    []Look    `json:"looks"` // every pair of different items that was voted on
	Side     float64   `json:"side"`  // advantage of the left, log odds
	SideSE   float64   `json:"side_standard_error"`
	TieShare float64   `json:"tie_share"` // of votes between two equal pictures, by the model
	Prior    bool      `json:"prior"`
	Clusters bool      `json:"clusters"` // errors are over groups of judges; false when these are too few for any
	Arms     *Look     `json:"arms,omitempty"`
	Twins    Look      `json:"twins"` // the same picture twice: ForI counts the left
	Agree    float64   `json:"agreement"`
	Kappa    float64   `json:"kappa"`
	Asked    float64   `json:"asked_again"`
	Words    PollWords `json:"words"`
	poll     Poll      // as given
}

// PollWords are the sentences that say what a poll shows.
type PollWords struct {
	Answer   string   `json:"answer"`
	Means    string   `json:"means"` // what many votes can and cannot make certain
	Errors   string   `json:"errors"`
	Side     string   `json:"side"`
	Controls []string `json:"controls"`
}

// NotTheChange is what has to be said of every poll: votes are about photographs.
const NotTheChange = "Many votes make certain that this photo looks better than that one, not that the change did it: that rests on how many bars were cut, and how."

// AnalyzePoll fits abilities with ties and an advantage of the left (Davidson) to
// all votes, and again without each group of judges in turn, which gives errors that
// hold although one judge's votes are alike (delete-a-group jackknife). Looks at two
// pictures of one sample, at one picture twice, and at a pair a second time are
// controls and are told apart from the answer.
func AnalyzePoll(p Poll) (*PollFinding, error) {
	if len(p.Items) < 2 || len(p.Items) > maxItems {
		return nil, &unit.InputError{Field: "items", Value: itoa(len(p.Items)), Reason: "is not a number of items to compare", Hint: "2 to 200"}
	}
	f := &PollFinding{Schema: 1, poll: p}
	var all []Tally
	var groups [][]Tally
	for _, g := range p.Groups {
		var different []Tally
		for _, t := range g {
			if t.Left != t.Right {
				different = append(different, t)
				f.Votes += int(t.LeftWins + t.RightWins + t.Ties)
				continue
			}
			f.Twins.ForI += t.LeftWins
			f.Twins.ForJ += t.RightWins
			f.Twins.Ties += t.Ties
		}
		if len(different) > 0 {
			groups = append(groups, different)
			all = append(all, different...)
		}
	}
	f.Groups = len(groups)
	if f.Votes == 0 {
		return nil, &unit.InputError{Field: "votes", Value: "0", Reason: "say nothing", Hint: "leave the poll open until people have voted"}
	}
	fit := func(ts []Tally) (*Abilities, error) {
		return Fit(len(p.Items), together(ts), Model{Ties: true, Side: bothWays(ts)})
	}
	whole, err := fit(all)
	if err != nil {
		return nil, err
	}
	f.Log, f.Side, f.Prior = centred(whole.Log), whole.Side, whole.Prior
	f.TieShare = whole.Nu / (2 + whole.Nu)
	for _, l := range f.Log {
		f.Share = append(f.Share, 1/(1+math.Exp(-l)))
	}
	f.looks(all)
	f.arms(p)
	f.jackknife(groups, fit)
	f.repeats(p.Repeats)
	f.say(p)
	return f, nil
}

// together adds tallies of one pair, one way round, up.
func together(ts []Tally) []Tally {
	at := map[[2]int]int{}
	var out []Tally
	for _, t := range ts {
		k := [2]int{t.Left, t.Right}
		i, ok := at[k]
		if !ok {
			i, at[k] = len(out), len(out)
			out = append(out, Tally{Left: t.Left, Right: t.Right})
		}
		out[i].LeftWins += t.LeftWins
		out[i].RightWins += t.RightWins
		out[i].Ties += t.Ties
	}
	return out
}

// bothWays reports whether a pair was shown both ways round; otherwise an advantage
// of one side cannot be told from one of an item.
func bothWays(ts []Tally) bool {
	seen := map[[2]int]bool{}
	for _, t := range ts {
		if t.LeftWins+t.RightWins+t.Ties == 0 {
			continue
		}
		if seen[[2]int{t.Right, t.Left}] {
			return true
		}
		seen[[2]int{t.Left, t.Right}] = true
	}
	return false
}

// centred moves abilities so that their mean is 0.
func centred(log []float64) []float64 {
	m := mean(log)
	out := make([]float64, len(log))
	for i, l := range log {
		out[i] = l - m
	}
	return out
}

func (f *PollFinding) looks(all []Tally) {
	at := map[[2]int]int{}
	for _, t := range all {
		i, j := min(t.Left, t.Right), max(t.Left, t.Right)
		n, ok := at[[2]int{i, j}]
		if !ok {
			n, at[[2]int{i, j}] = len(f.Looks), len(f.Looks)
			f.Looks = append(f.Looks, Look{I: i, J: j, LogOdds: f.Log[i] - f.Log[j]})
		}
		l := &f.Looks[n]
		l.Ties += t.Ties
		if t.Left == i {
			l.ForI += t.LeftWins
			l.ForJ += t.RightWins
		} else {
			l.ForI += t.RightWins
			l.ForJ += t.LeftWins
		}
	}
}

// armsApart is the mean ability of the changed arm above that of the baseline.
func armsApart(p Poll, log []float64) (float64, bool) {
	var a, b []float64
	for i, it := range p.Items {
		switch {
		case p.Changed == "":
		case it.Arm == p.Baseline:
			a = append(a, log[i])
		case it.Arm == p.Changed:
			b = append(b, log[i])
		}
	}
	if len(a) == 0 || len(b) == 0 {
		return 0, false
	}
	return mean(b) - mean(a), true
}

func (f *PollFinding) arms(p Poll) {
	d, ok := armsApart(p, f.Log)
	if !ok {
		return
	}
	f.Arms = &Look{I: 1, J: 0, LogOdds: d}
	for _, l := range f.Looks {
		i, j := p.Items[l.I].Arm, p.Items[l.J].Arm
		if i == "" || j == "" || i == j {
			continue
		}
		forI, forJ := l.ForI, l.ForJ
		if i == p.Baseline {
			forI, forJ = forJ, forI
		}
		f.Arms.ForI += forI
		f.Arms.ForJ += forJ
		f.Arms.Ties += l.Ties
	}
}

// jackknife fits without each group in turn.
//
//	se^2 = (G-1)/G sum (d_g - mean d)^2
//
// Source: Quenouille, Biometrika 43 (1956) 353, with groups.
func (f *PollFinding) jackknife(groups [][]Tally, fit func([]Tally) (*Abilities, error)) {
	if len(groups) < 5 {
		return
	}
	vals := make([][]float64, len(f.Looks))
	var side, arms []float64
	for out := range groups {
		var rest []Tally
		for g, ts := range groups {
			if g != out {
				rest = append(rest, ts...)
			}
		}
		a, err := fit(rest)
		if err != nil {
			return
		}
		for n, l := range f.Looks {
			vals[n] = append(vals[n], a.Log[l.I]-a.Log[l.J])
		}
		side = append(side, a.Side)
		if d, ok := armsApart(f.poll, a.Log); ok {
			arms = append(arms, d)
		}
	}
	f.Clusters = true
	for n := range f.Looks {
		f.Looks[n].spread(vals[n])
	}
	f.SideSE = spreadOf(side)
	if f.Arms != nil {
		f.Arms.spread(arms)
	}
}

func spreadOf(without []float64) float64 {
	g := float64(len(without))
	return math.Sqrt((g - 1) / g * variance(without) * (g - 1))
}

func (l *Look) spread(without []float64) {
	l.SE = spreadOf(without)
	h := tQuantile((1+Confidence)/2, float64(len(without)-1)) * l.SE
	l.Interval = Interval{l.LogOdds - h, l.LogOdds + h, Confidence, true, 0}
}

func (f *PollFinding) repeats(table [][]float64) {
	same := 0.0
	for i, row := range table {
		for j, n := range row {
			f.Asked += n
			if i == j {
				same += n
			}
		}
	}
	if f.Asked > 0 {
		f.Agree = same / f.Asked
		if k, ok := Cohen(table); ok {
			f.Kappa = k
		}
	}
}

func (f *PollFinding) say(p Poll) {
	w := &f.Words
	w.Means = NotTheChange
	w.Answer = f.answer(p)
	w.Errors = fmt.Sprintf("Errors are over %d groups of judges, each left out in turn, since one judge’s votes are alike.", f.Groups)
	if !f.Clusters {
		w.Errors = fmt.Sprintf("The judges fall into %d of %d groups: too few for an error that allows for judges being alike, so none is given. About ten judges are needed.", f.Groups, maxGroups)
	}
	if f.Prior {
		w.Errors += " Some picture won or lost every time, so half a vote each way was added to every pair: its distance from the others is a lower bound."
	}
	w.Side = f.sideWords()
	for _, l := range f.Looks {
		if p.Items[l.I].Sample == p.Items[l.J].Sample {
			w.Controls = append(w.Controls, f.sameWords(l, p.Items[l.I].Sample))
		}
	}
	if t := f.Twins; t.ForI+t.ForJ+t.Ties > 0 {
		n := t.ForI + t.ForJ + t.Ties
		w.Controls = append(w.Controls, fmt.Sprintf("One picture shown twice, %.0f times: %.0f ties, %.0f for the left, %.0f for the right. Whoever saw a difference there was guessing.", n, t.Ties, t.ForI, t.ForJ))
	}
	if f.Asked > 0 {
		w.Controls = append(w.Controls, fmt.Sprintf("Asked again with the sides swapped, %.0f times: the same answer in %.0f %% (kappa %.2f; 0 is what guessing gives).", f.Asked, 100*f.Agree, f.Kappa))
	}
	if len(w.Controls) == 0 {
		w.Controls = []string{"No control was voted on: no second picture of a sample, no picture twice, no pair again."}
	}
}

func (f *PollFinding) answer(p Poll) string {
	if f.Arms == nil {
		best, worst := 0, 0
		for i, l := range f.Log {
			if l > f.Log[best] {
				best = i
			}
			if l < f.Log[worst] {
				worst = i
			}
		}
		for _, l := range f.Looks {
			if l.I == min(best, worst) && l.J == max(best, worst) && f.Clusters && !l.Even() {
				return fmt.Sprintf("Of %d votes: people prefer the picture of %s to that of %s, and would do so in about %s of looks that end in a preference.",
					f.Votes, p.Items[best].Sample, p.Items[worst].Sample, percentRange(math.Abs(l.LogOdds), Interval{min(math.Abs(l.Interval.Low), math.Abs(l.Interval.High)), max(math.Abs(l.Interval.Low), math.Abs(l.Interval.High)), Confidence, true, 0}))
			}
		}
		return fmt.Sprintf("Of %d votes: a preference between the pictures is not shown.", f.Votes)
	}
	a := f.Arms
	count := fmt.Sprintf("Of %.0f votes between the arms %.0f preferred %s, %.0f preferred %s, %.0f saw no difference", a.ForI+a.ForJ+a.Ties, a.ForI, p.Changed, a.ForJ, p.Baseline, a.Ties)
	switch {
	case !f.Clusters:
		return count + "; too few judges to say more."
	case a.Interval.Low > 0:
		return count + fmt.Sprintf(": people prefer the pictures of %s, in about %s of looks that end in a preference.", p.Changed, percentRange(a.LogOdds, a.Interval))
	case a.Interval.High < 0:
		return count + fmt.Sprintf(": people prefer the pictures of %s, in about %s of looks that end in a preference.", p.Baseline, percentRange(-a.LogOdds, Interval{-a.Interval.High, -a.Interval.Low, Confidence, true, 0}))
	}
	return count + ": a preference is not shown either way."
}

// percentRange writes log odds as the share of decided looks, with its interval.
func percentRange(v float64, i Interval) string {
	p := func(x float64) float64 { return 100 / (1 + math.Exp(-x)) }
	return fmt.Sprintf("%.0f %% (%.0f to %.0f %%)", p(v), p(i.Low), p(i.High))
}

func (f *PollFinding) sideWords() string {
	share := 100 / (1 + math.Exp(-f.Side))
	switch {
	case f.Side == 0 && f.SideSE == 0:
		return "Whether the left or the right had an advantage cannot be told: no pair was shown both ways round."
	case f.SideSE == 0:
		return fmt.Sprintf("Between equal pictures the left would win %.0f %% of decided looks; it has been taken off.", share)
	}
	h := tQuantile((1+Confidence)/2, float64(f.Groups-1)) * f.SideSE
	i := Interval{f.Side - h, f.Side + h, Confidence, true, 0}
	if !i.Excludes(0) {
		return fmt.Sprintf("No advantage of a side is shown: between equal pictures the left would win %s of decided looks.", percentRange(f.Side, i))
	}
	return fmt.Sprintf("The side mattered: between equal pictures the left would win %s of decided looks. It has been taken off.", percentRange(f.Side, i))
}

func (f *PollFinding) sameWords(l Look, sample string) string {
	s := fmt.Sprintf("Two pictures of %s, which ought to come out even: %.0f for the one, %.0f for the other, %.0f ties", sample, l.ForI, l.ForJ, l.Ties)
	switch {
	case !f.Clusters:
		return s + "."
	case l.Even():
		return s + ": even within the error."
	}
	return s + ". They did not come out even: light, focus or place on the bar matters here as much as the sample, and differences of this size between samples mean little."
}
