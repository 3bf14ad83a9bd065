package trial

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"thrum/unit"
)

// Report is everything that a trial says so far.
type Report struct {
	Record
	Finding *Finding   `json:"finding,omitempty"` // nil as long as too little is scored
	Waiting string     `json:"waiting,omitempty"` // why there is no finding yet
	Missing []string   `json:"missing,omitempty"` // samples without the score, or left out
	Shapes  []Shape    `json:"shapes,omitempty"`
	Size    *SizeMoved `json:"size,omitempty"`
	Judged  int        `json:"sizes_judged"` // samples with readings and known limits
	Graders *Graders   `json:"graders,omitempty"`
	Also    []Also     `json:"also,omitempty"` // the other scores
}

// SizeMoved says whether the size over wires went with the factor. Marks that are
// gone together with the size are a loss; so the two stand side by side.
type SizeMoved struct {
	MeanA unit.Length `json:"mean_baseline_mm"`
	MeanB unit.Length `json:"mean_changed_mm"`
	Test  Test        `json:"test"`
	Words string      `json:"words"`
}

// Graders says how far several graders agreed.
type Graders struct {
	Names []string `json:"names"`
	Alpha float64  `json:"krippendorff_alpha,omitempty"` // ordinal
	Words string   `json:"words"`
}

// Also is the outcome of another score, its p adjusted for all that were looked at.
type Also struct {
	Score    string   `json:"score"`
	Effect   float64  `json:"effect"`
	Interval Interval `json:"interval"`
	P        float64  `json:"p"`
	Adjusted float64  `json:"p_adjusted"` // Holm, over all scores
	Words    string   `json:"words"`
}

// Report works out what the trial says. Faults of the record are errors; too few
// scores are not.
func (r Record) Report() (*Report, error) {
	out := &Report{Record: r}
	t, missing := r.Trial(r.Settled.ScoreIs)
	out.Missing = missing
	for i, run := range r.Settled.Runs {
		if s, ok := r.at(i, run).shape(run.Arm); ok {
			out.Shapes = append(out.Shapes, s)
			if r.Evidence[i].Limits != nil {
				out.Judged++
			}
		}
	}
	a, b := t.count()
	if a == 0 || b == 0 {
		out.Waiting = fmt.Sprintf("%s is entered for %d of %d samples; a finding needs at least one of each arm.", r.Settled.ScoreIs, a+b, len(r.Settled.Runs))
		return out, nil
	}
	var err error
	if out.Finding, err = Analyze(t); err != nil {
		return nil, err
	}
	if len(missing) > 0 {
		out.Finding.Notes = append(out.Finding.Notes, fmt.Sprintf("%d of %d samples are not counted (%s); if that has to do with how they came out, the finding does not hold",
			len(missing), len(r.Settled.Runs), missing[0]))
	}
	out.Graders = r.graders()
	out.Size = r.sizeMoved(t)
	if err := out.others(r); err != nil {
		return nil, err
	}
	return out, nil
}

func (t Trial) count() (a, b int) {
	for _, s := range t.Samples {
		if s.Arm == t.Factor.Changed {
			b++
		} else {
			a++
		}
	}
	return a, b
}

// sizeMoved tests the mean reading of each sample as Analyze tests the score.
func (r Record) sizeMoved(t Trial) *SizeMoved {
	mean := map[string]unit.Length{}
	for i, run := range r.Settled.Runs {
		if s, ok := r.at(i, run).shape(run.Arm); ok {
			mean[run.Code] = s.Mean
		}
	}
	sized := t
	sized.Samples = nil
	for _, s := range t.Samples {
		if m, ok := mean[s.Name]; ok {
			s.Score = m.MM()
			sized.Samples = append(sized.Samples, s)
		}
	}
	a, b := sized.count()
	if a == 0 || b == 0 {
		return nil
	}
	var sa, sb float64
	for _, s := range sized.Samples {
		if s.Arm == t.Factor.Changed {
			sb += s.Score
		} else {
			sa += s.Score
		}
	}
	out := &SizeMoved{MeanA: unit.Length(sa / float64(a)), MeanB: unit.Length(sb / float64(b)), Test: Randomise(sized.blocks(), Confidence, t.Random)}
	if out.Test.Counted == 0 {
		return nil
	}
	mm := func(v float64) string { return r.Signed(unit.Length(v)) }
	out.Words = fmt.Sprintf("Mean size over wires: %s %s with %s against %s", mm(out.Test.Effect), r.SmallUnit(), t.Factor.Changed, t.Factor.Baseline)
	if i := out.Test.Interval; i.Bounded {
		out.Words += fmt.Sprintf(", %s to %s %s (%.3g %% interval)", mm(i.Low), mm(i.High), r.SmallUnit(), 100*i.Confidence)
	}
	out.Words += "."
	return out
}

// graders works out the agreement of all who graded the main score.
func (r Record) graders() *Graders {
	var names []string
	for _, e := range r.Evidence {
		for _, g := range e.Grades {
			if g.Of == r.Settled.ScoreIs && !slices.Contains(names, g.By) {
				names = append(names, g.By)
			}
		}
	}
	if len(names) < 2 {
		return nil
	}
	slices.Sort(names)
	ratings := make([][]float64, len(names))
	for k, n := range names {
		ratings[k] = make([]float64, len(r.Evidence))
		for i, e := range r.Evidence {
			ratings[k][i] = math.NaN()
			for _, g := range e.Grades {
				if g.By == n && g.Of == r.Settled.ScoreIs {
					ratings[k][i] = g.Value
				}
			}
		}
	}
	out := &Graders{Names: names}
	alpha, err := Krippendorff(ratings, Ordinal)
	if err != nil {
		out.Words = fmt.Sprintf("%d graders; how far they agree cannot be worked out from these grades.", len(names))
		return out
	}
	out.Alpha = alpha
	out.Words = fmt.Sprintf("%d graders agree with alpha = %.2f (1 is full agreement, 0 that of chance; ordinal)", len(names), alpha)
	if alpha < .667 { // the lower of the two usual lines: Krippendorff, Content Analysis, ch. 11
		out.Words += ". Below 0.67 the grades say more about the graders than about the threads"
	}
	out.Words += "."
	return out
}

// others tests the scores looked at besides; all p values are adjusted together.
func (out *Report) others(r Record) error {
	ps := []float64{out.Finding.Measured.Test.P}
	for _, of := range r.Settled.Others {
		t, _ := r.Trial(of)
		if a, b := t.count(); a == 0 || b == 0 {
			continue
		}
		t.Votes = nil
		f, err := Analyze(t)
		if err != nil {
			return err
		}
		if f.Measured.Test.Counted == 0 {
			continue
		}
		out.Also = append(out.Also, Also{Score: of, Effect: f.Measured.Test.Effect, Interval: f.Measured.Test.Interval, P: f.Measured.Test.P, Words: f.Measured.Words})
		ps = append(ps, f.Measured.Test.P)
	}
	for i, p := range AllP(ps)[1:] {
		out.Also[i].Adjusted = p
	}
	return nil
}

// Progress counts what is there.
func (r Record) Progress() (scored, cut int) {
	for _, e := range r.Evidence {
		if _, ok := e.Score(r.Settled.ScoreIs); ok {
			scored++
		}
		if e.Cut {
			cut++
		}
	}
	return scored, cut
}

// ByCode lists the evidence in the order of the codes, which says nothing about
// arms: for grading blind.
func (r Record) ByCode() []Evidence {
	es := slices.Clone(r.Evidence)
	slices.SortFunc(es, func(a, b Evidence) int { return cmp.Compare(a.Code, b.Code) })
	return es
}
