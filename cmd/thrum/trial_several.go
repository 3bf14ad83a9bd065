package main

import (
	"fmt"
	"strings"

	"thrum/trial"
	"thrum/unit"
)

type trialSeveralCmd struct {
	Factors    []string  `help:"Two-level factors cut in combination, such as speed,centre,oil." placeholder:"NAMES" xor:"layout" required:""`
	Words      []string  `help:"With --factors: letters that are set by others, such as D=ABC for a half of four." placeholder:"D=ABC"`
	Treatments []string  `help:"Treatments of a Latin square, such as dry,oil,paste: each once on every bar and once in every place of the run." placeholder:"NAMES" xor:"layout" required:""`
	Seed       uint64    `help:"Draw the order from this number; keep what is printed before the first cut." placeholder:"N"`
	Results    []float64 `help:"Scores in the order of the runs, once they are known: says what they show." placeholder:"N,N,..."`
	JSON       bool      `name:"json" help:"Print as JSON."`
}

// Run lays the cuts out and, given results, says what they show.
func (c *trialSeveralCmd) Run(s *session) error {
	if len(c.Treatments) > 0 {
		if len(c.Words) > 0 {
			return &unit.InputError{Field: "words", Value: strings.Join(c.Words, ", "), Reason: "belong to factors in combination", Hint: "leave them out of a Latin square"}
		}
		return c.square(s)
	}
	return c.combined(s)
}

func (c *trialSeveralCmd) combined(s *session) error {
	f, err := trial.NewFactorial(c.Factors, c.Words)
	if err != nil {
		return err
	}
	runs := f.Draw(c.Seed)
	var found *trial.Effects
	if len(c.Results) > 0 {
		if found, err = f.Read(runs, c.Results); err != nil {
			return err
		}
	}
	if c.JSON {
		return s.json(struct {
			trial.Factorial
			Runs  []trial.Combination `json:"runs"`
			Found *trial.Effects      `json:"found,omitempty"`
		}{f, runs, found})
	}
	fmt.Fprintf(s.out, "%d factors in %d runs", len(f.Names), len(runs))
	if f.Resolution > 0 {
		fmt.Fprintf(s.out, ", resolution %d: I = %s", f.Resolution, strings.Join(f.Group, " = "))
	}
	fmt.Fprintln(s.out)
	for i, n := range f.Names {
		fmt.Fprintf(s.out, "  %c  %s\n", 'A'+i, n)
	}
	for _, a := range f.Aliases {
		fmt.Fprintf(s.out, "  %-6s cannot be told from %s\n", a.Effect, strings.Join(a.From, ", "))
	}
	fmt.Fprintf(s.out, "%4s  %s\n", "run", strings.Join(f.Names, ", "))
	for i, r := range runs {
		var levels []string
		for _, high := range r.High {
			levels = append(levels, map[bool]string{true: "high", false: "low"}[high])
		}
		fmt.Fprintf(s.out, "%4d  %s\n", i+1, strings.Join(levels, ", "))
	}
	if found == nil {
		return nil
	}
	fmt.Fprintf(s.out, "\nmean %.4g\n", found.Mean)
	for _, e := range found.Effects {
		fmt.Fprintf(s.out, "%-6s %+8.3g  %-26s %s", e.Word, e.Size, e.Standing, strings.Join(e.Names, ", "))
		if len(e.From) > 0 {
			fmt.Fprintf(s.out, " (or %s)", strings.Join(e.From, ", "))
		}
		fmt.Fprintln(s.out)
	}
	fmt.Fprintln(s.out, found.Words)
	return nil
}

func (c *trialSeveralCmd) square(s *session) error {
	q, err := trial.DrawSquare(c.Treatments, c.Seed)
	if err != nil {
		return err
	}
	var found *trial.SquareFinding
	if len(c.Results) > 0 {
		if found, err = q.Read(c.Results); err != nil {
			return err
		}
	}
	if c.JSON {
		return s.json(struct {
			trial.Square
			Found *trial.SquareFinding `json:"found,omitempty"`
		}{q, found})
	}
	fmt.Fprintln(s.out, "each treatment once on every bar and once in every place: a bad bar and a wearing edge fall on all alike")
	for i, row := range q.Rows {
		var names []string
		for _, t := range row {
			names = append(names, q.Treatments[t])
		}
		fmt.Fprintf(s.out, "bar %-3d %s\n", i+1, strings.Join(names, ", "))
	}
	if found != nil {
		fmt.Fprintln(s.out)
		for i, m := range found.Means {
			fmt.Fprintf(s.out, "%-16s %.4g\n", q.Treatments[i], m)
		}
		fmt.Fprintln(s.out, found.Words)
	}
	return nil
}
