package plan

import (
	"context"
	"fmt"
	"math"
	"slices"

	"thrum/unit"
	"thrum/vibe"
)

// Outlook says how sure the answer about vibration is. What is not well known
// (stiffness of chuck, tailstock and tool side, damping of the work, cutting force,
// wear and sharpness of the edge, its rubbing) is drawn at random within what is
// found in print, many times; each draw is one plausible case. The ranges and their
// sources are those of vibe.PlausibleTable.
//
// It counts what the linear theory makes of these cases. That the theory leaves
// something out is not part of it.
type Outlook struct {
	Cases     int            `json:"cases"`
	Seed      uint64         `json:"seed"`
	CarryOver Quantiles      `json:"carry_over"` // of the worst pass
	Growth    Quantiles      `json:"growth"`     // over the whole schedule
	Marks     vibe.Share     `json:"marks"`      // waves grow tenfold or more
	Quiet     vibe.Share     `json:"quiet"`      // waves hardly grow: less than threefold
	Centre    *CentreOutlook `json:"centre,omitempty"`
	Words     []string       `json:"words"`
}

// CentreOutlook compares each case with the same one held the other way.
type CentreOutlook struct {
	Used    bool       `json:"used"`          // the plan has the centre up
	Helps   vibe.Share `json:"helps"`         // without it waves grow, with it hardly, or they make no marks any more
	Hurts   vibe.Share `json:"hurts"`         // the other way round
	Without vibe.Share `json:"marks_without"` // tenfold growth without it
	With    vibe.Share `json:"marks_with"`
}

// Quantiles are the figures below which 5, 25, 50, 75 and 95 of 100 cases lie.
type Quantiles struct {
	P5     float64 `json:"p5"`
	P25    float64 `json:"p25"`
	Median float64 `json:"median"`
	P75    float64 `json:"p75"`
	P95    float64 `json:"p95"`
}

// quantilesOf interpolates between the sorted figures, the i-th of n standing at
// (i-1)/(n-1).
func quantilesOf(x []float64) Quantiles {
	x = slices.Sorted(slices.Values(x))
	at := func(p float64) float64 {
		pos := p * float64(len(x)-1)
		i := min(int(pos), len(x)-2)
		if i < 0 {
			return x[0]
		}
		return x[i] + (pos-float64(i))*(x[i+1]-x[i])
	}
	return Quantiles{at(0.05), at(0.25), at(0.5), at(0.75), at(0.95)}
}

// Bounds of how many cases an outlook may draw, and how many are usual.
const (
	leastCases = 20
	mostCases  = 20000
	UsualCases = 400
)

// MakeWhole is MakeWithVibration with the outlook and the remedies as well: all that
// a sheet on the page, on paper or in the store says of vibration. It takes about a
// second, and is the same every time.
func (p *Planner) MakeWhole(ctx context.Context, r Request) (*Plan, error) {
	s, err := p.Examine(r)
	if err != nil {
		return nil, err
	}
	return s.Plan, s.Complete(ctx)
}

// Complete adds the outlook from the usual number of cases, and the remedies.
func (s *Study) Complete(ctx context.Context) error {
	const seed = 1 // the same sheet every time
	if s.Plan.Vibration == nil {
		return nil
	}
	if _, err := s.Outlook(ctx, UsualCases, seed); err != nil {
		return err
	}
	_, err := s.Remedies(ctx, UsualCases/2, seed)
	return err
}

// MakeOutlook is Study.Outlook for a plan that is already made: it is planned again
// from its request, and the outlook becomes part of its Vibration.
func MakeOutlook(ctx context.Context, p *Plan, n int, seed uint64) (*Outlook, error) {
	s, err := Examine(p.Request)
	if err != nil {
		return nil, err
	}
	o, err := s.Outlook(ctx, n, seed)
	if err == nil {
		p.Vibration = s.Plan.Vibration
	}
	return o, err
}

// Outlook draws n plausible cases, the same ones for the same seed, and keeps the
// result in the plan. A plan without passes has none.
func (s *Study) Outlook(ctx context.Context, n int, seed uint64) (*Outlook, error) {
	if n < leastCases || n > mostCases {
		return nil, &unit.InputError{
			Field: "cases", Value: fmt.Sprint(n), Reason: fmt.Sprintf("are not between %d and %d", leastCases, mostCases), Hint: fmt.Sprintf("%d take a moment and tell enough", UsualCases),
		}
	}
	if s.a == nil {
		return nil, nil
	}
	cases := vibe.Cases(seed, n)
	here, err := s.draw(ctx, cases)
	if err != nil {
		return nil, err
	}
	o := &Outlook{Cases: n, Seed: seed}
	carry, growth := make([]float64, n), make([]float64, n)
	for i, f := range here {
		carry[i], growth[i] = f.CarryOver, f.Growth
	}
	o.CarryOver, o.Growth = quantilesOf(carry), quantilesOf(growth)
	o.Marks, o.Quiet = share(here, vibe.Figures.Marks), share(here, vibe.Figures.Quiet)
	if !s.b.internal() {
		there, err := s.b.sampled(ctx, s.in.Other, !s.b.req.Centre, cases)
		if err != nil {
			return nil, err
		}
		with, without := here, there
		if !s.b.req.Centre {
			with, without = there, here
		}
		o.Centre = &CentreOutlook{
			Used: s.b.req.Centre, Helps: both(without, with, vibe.Figures.Helped), Hurts: both(with, without, vibe.Figures.Helped),
			With: share(with, vibe.Figures.Marks), Without: share(without, vibe.Figures.Marks),
		}
	}
	o.Words = o.words()
	s.Plan.Vibration.Outlook = o
	return o, nil
}

// draw returns the figures of the set-up as planned.
func (s *Study) draw(ctx context.Context, cases []vibe.Case) ([]vibe.Figures, error) {
	return s.b.sampled(ctx, s.in.Holding, s.b.req.Centre, cases)
}

// sampled returns the figures of the planned passes in every case, the work held
// with or without the centre.
func (b *builder) sampled(ctx context.Context, h *vibe.Holding, centre bool, cases []vibe.Case) ([]vibe.Figures, error) {
	in := b.passInput()
	in.Holding, in.HasCentre = h, centre
	st := b.la.Stiffness
	heard := b.req.KnockFree
	if centre {
		heard = b.req.KnockCentre
	}
	known := vibe.Known{Chuck: st.Chuck > 0 || len(heard) > 0, Tailstock: st.Tailstock > 0, Tool: st.Tool > 0}
	s, err := vibe.NewSampler(in, func(chuck, tail float64, at unit.Length) (*vibe.Holding, error) {
		return b.held(centre, joints{chuck, tail}, []unit.Length{at}, vibe.PrepareSparse)
	}, known)
	if err != nil {
		return nil, err
	}
	return s.All(ctx, cases)
}

func share(all []vibe.Figures, holds func(vibe.Figures) bool) vibe.Share {
	n := 0
	for _, f := range all {
		if holds(f) {
			n++
		}
	}
	return vibe.ShareOf(n, len(all))
}

func both(before, after []vibe.Figures, holds func(before, after vibe.Figures) bool) vibe.Share {
	n := 0
	for i := range before {
		if holds(before[i], after[i]) {
			n++
		}
	}
	return vibe.ShareOf(n, len(before))
}

// InHundred prints a share: "8 of 100 plausible cases (6 to 12)".
func InHundred(s vibe.Share) string {
	return fmt.Sprintf("%.0f of 100 plausible cases (%.0f to %.0f)", 100*s.Share, math.Floor(100*s.Low), math.Ceil(100*s.High))
}

// TimesOf prints a factor with its range: "0.6 times (0.5 to 0.7)".
func TimesOf(d Doubtful) string {
	return fmt.Sprintf("%s times (%s to %s)", vibe.Times(d.Likely), vibe.Times(d.Low), vibe.Times(d.High))
}

func (o *Outlook) words() []string {
	out := []string{fmt.Sprintf("Waves grow enough to be seen in %s; in %s they hardly grow.", InHundred(o.Marks), InHundred(o.Quiet))}
	out = append(out, fmt.Sprintf("In nine of ten cases the liveliest pass leaves %s to %s times the waves of the last, in half of them less than %s times.",
		vibe.Times(o.CarryOver.P5), vibe.Times(o.CarryOver.P95), vibe.Times(o.CarryOver.Median)))
	if c := o.Centre; c != nil {
		text := fmt.Sprintf("The centre helps against vibration in %s", InHundred(c.Helps))
		if c.Hurts.Count > 0 {
			text += fmt.Sprintf(" and makes it worse in %s", InHundred(c.Hurts))
		}
		out = append(out, text+".")
	}
	return append(out, fmt.Sprintf("Drawn: %d cases, within what is found in print for joints, damping, cutting force, edge and rubbing. What the theory leaves out is not counted.", o.Cases))
}
