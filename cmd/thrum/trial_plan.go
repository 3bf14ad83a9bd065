package main

import (
	"fmt"
	"strings"

	"thrum/trial"
	"thrum/unit"
)

type trialQuestionsCmd struct {
	JSON bool `name:"json" help:"Print as JSON."`
}

// Run lists the questions that are ready to be cut for.
func (c *trialQuestionsCmd) Run(s *session) error {
	if c.JSON {
		return s.json(trial.Questions())
	}
	for _, q := range trial.Questions() {
		fmt.Fprintf(s.out, "%-10s %s\n", q.ID, q.Asks)
		fmt.Fprintf(s.out, "%10s %s: %s against %s; hold %s\n", "", q.Factor.Name, q.Factor.Changed, q.Factor.Baseline, strings.Join(q.Hold, ", "))
		if q.Watch != "" {
			fmt.Fprintf(s.out, "%10s easily missed: %s\n", "", q.Watch)
		}
	}
	return nil
}

type trialPlanCmd struct {
	Question string  `arg:"" optional:"" help:"A ready-made question by its name, as thrum trial questions lists them."`
	Design   string  `help:"pairs, groups, bars or return." default:"pairs" placeholder:"KIND"`
	Blocks   int     `help:"Pairs, or bars." placeholder:"N"`
	A        int     `name:"a" help:"Cuts of the baseline: in all, on each bar, or before and again after." placeholder:"N"`
	B        int     `name:"b" help:"Cuts of the changed arm." placeholder:"N"`
	Factor   string  `help:"What is changed on purpose." placeholder:"NAME"`
	Baseline string  `help:"As it is done now." placeholder:"ARM"`
	Changed  string  `help:"As it is to be tried." placeholder:"ARM"`
	Margin   float64 `help:"Smallest difference that matters." placeholder:"N"`
	Spread   float64 `help:"Bar-to-bar standard deviation known from earlier bars." placeholder:"SD"`
	Seed     *uint64 `help:"Draw run order and codes from this number; keep what is printed before the first cut." placeholder:"N"`
	JSON     bool    `name:"json" help:"Print as JSON."`
}

// Run says what a layout can reach and, with a seed, draws it.
func (c *trialPlanCmd) Run(s *session) error {
	set := trial.Settled{Question: "trial", ScoreIs: "score", Margin: c.Margin, Factor: trial.Factor{Name: "factor", Baseline: "baseline", Changed: "changed"}}
	if c.Question != "" {
		found := false
		var names []string
		for _, q := range trial.Questions() {
			names = append(names, q.ID)
			if q.ID == c.Question {
				found = true
				set.Question, set.Factor, set.ScoreIs, set.Better, set.Hold, set.Same, set.Watch = q.Asks, q.Factor, q.Score, q.Better, q.Hold, q.Same, q.Watch
			}
		}
		if !found {
			return &unit.InputError{Field: "question", Value: c.Question, Reason: "is not one of those that are ready", Hint: strings.Join(names, ", ")}
		}
	}
	for _, f := range []struct{ from, to *string }{{&c.Factor, &set.Factor.Name}, {&c.Baseline, &set.Factor.Baseline}, {&c.Changed, &set.Factor.Changed}} {
		if *f.from != "" {
			*f.to = *f.from
		}
	}
	set.Design = c.design()
	reach, err := set.Design.Reach()
	if err != nil {
		return err
	}
	var seed uint64
	if c.Seed != nil {
		seed = *c.Seed
	}
	drawn, err := trial.Settle(set, seed)
	if err != nil {
		return err
	}
	if c.Seed == nil {
		drawn.Runs, drawn.Seed = nil, 0
	}
	if c.JSON {
		return s.json(struct {
			*trial.Settled
			Reach trial.Reach `json:"reach"`
		}{drawn, reach})
	}
	fmt.Fprintf(s.out, "%s\n%s\nat best: %s\n", set.Question, set.Design.Words(set.Factor), reach.Words)
	if n, ok := trial.PerArm(c.Margin, trial.Spread{SD: c.Spread}); ok && c.Spread > 0 {
		fmt.Fprintf(s.out, "about %d samples of each arm show a difference of %.4g four times in five\n", n, c.Margin)
	}
	if set.Watch != "" {
		fmt.Fprintf(s.out, "easily missed: %s\n", set.Watch)
	}
	if c.Seed == nil {
		fmt.Fprintln(s.out, "give --seed and a number, such as that of a coin, to draw run order and codes")
		return nil
	}
	fmt.Fprintf(s.out, "drawn with seed %d; keep this before the first cut\n%4s%8s  %-8s%s\n", drawn.Seed, "run", "code", set.Design.Kind.Block(), "arm")
	for _, r := range drawn.Runs {
		fmt.Fprintf(s.out, "%4d%8s  %-8d%s\n", r.Order, r.Code, r.Block, r.Arm)
	}
	return nil
}

// design fills in what is usual for a kind where no number is given.
func (c *trialPlanCmd) design() trial.Design {
	or := func(v, usual int) int {
		if v == 0 {
			return usual
		}
		return v
	}
	d := trial.Design{Kind: trial.Kind(c.Design), Blocks: 1, A: 1, B: 1}
	switch d.Kind {
	case trial.KindPairs:
		d.Blocks = or(c.Blocks, 6)
	case trial.KindBars:
		d.Blocks, d.A, d.B = or(c.Blocks, 3), or(c.A, 2), or(c.B, 2)
	case trial.KindReturn:
		d.A, d.B = or(c.A, 2), or(c.B, 2)
	default:
		d.A, d.B = or(c.A, 4), or(c.B, 4)
	}
	return d
}
