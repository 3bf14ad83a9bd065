package main

import (
	"io"
	"os"

	"thrum/render"
	"thrum/trial"
	"thrum/unit"
)

type trialCmd struct {
	Questions trialQuestionsCmd `cmd:"" help:"Questions that are ready to be cut for."`
	Plan      trialPlanCmd      `cmd:"" help:"What a layout of cuts can reach at best; run order and codes, drawn by lot."`
	Several   trialSeveralCmd   `cmd:"" help:"Several changes at once: factors in combination, or treatments in a Latin square; run order by lot, and what the results show."`
	Analyze   trialAnalyzeCmd   `cmd:"" help:"What a table of samples shows: seen, measured, caused."`
	Votes     trialVotesCmd     `cmd:"" help:"How far things lie apart by side-by-side votes."`
	Gauge     trialGaugeCmd     `cmd:"" help:"How far a way of measuring can be trusted: the same parts, several people, again and again."`
}

type trialAnalyzeCmd struct {
	File     string  `arg:"" help:"Table with columns sample, arm, score, pair or block if any, others as conditions; - reads standard input."`
	Question string  `help:"What was asked." placeholder:"TEXT"`
	Factor   string  `help:"What was changed on purpose." placeholder:"NAME" default:"arm"`
	Baseline string  `help:"Arm to compare with; the first in the table if not given." placeholder:"ARM"`
	Score    string  `help:"What the score is." placeholder:"NAME" default:"score"`
	Better   string  `help:"Which way is better: higher or lower." placeholder:"WAY"`
	Drawn    bool    `help:"The run order was drawn by lot before cutting."`
	Repeated bool    `help:"An earlier trial on another day or lathe found the same."`
	Margin   float64 `help:"Smallest difference that matters, named before cutting." placeholder:"N"`
	Spread   float64 `help:"Bar-to-bar standard deviation known from earlier bars. With --spread-df." placeholder:"SD"`
	SpreadDF int     `name:"spread-df" help:"Degrees of freedom of --spread." placeholder:"N"`
	JSON     bool    `name:"json" help:"Print as JSON."`

	figureFlags `embed:""`
}

// Run analyses the table.
func (c *trialAnalyzeCmd) Run(s *session) error {
	r, err := s.opened(c.File)
	if err != nil {
		return err
	}
	defer r.Close()
	if (c.Spread != 0) != (c.SpreadDF != 0) || !(c.Spread >= 0 && c.Spread < 1e12) || c.SpreadDF < 0 {
		return &unit.InputError{Field: "spread", Value: "", Reason: "needs a standard deviation and its degrees of freedom", Hint: "--spread 0.4 --spread-df 5"}
	}
	t, err := trial.ReadCSV(r, c.Baseline)
	if err != nil {
		return err
	}
	switch d := trial.Direction(c.Better); d {
	case trial.Unsaid, trial.Higher, trial.Lower:
		t.Better = d
	default:
		return &unit.InputError{Field: "better", Value: c.Better, Reason: "is neither way", Hint: "higher or lower"}
	}
	t.Question, t.Factor.Name, t.ScoreIs = c.Question, c.Factor, c.Score
	t.Drawn, t.Repeated, t.Margin = c.Drawn, c.Repeated, c.Margin
	t.Spread = trial.Spread{SD: c.Spread, DF: c.SpreadDF}
	f, err := trial.Analyze(*t)
	if err != nil {
		return err
	}
	if err := c.figureFlags.write(s, t, f); err != nil {
		return err
	}
	switch {
	case c.PDF == "-" || c.CSV == "-" || c.Text == "-":
		return nil
	case c.JSON:
		return s.json(f)
	}
	return render.Finding(s.out, f, render.TextOptions{Bold: s.colour})
}

// opened opens a table; - is standard input.
func (s *session) opened(file string) (io.ReadCloser, error) {
	if file == "-" {
		return io.NopCloser(s.in), nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, &unit.InputError{Field: "table", Value: file, Reason: "cannot be read: " + reasonOf(err), Hint: "check the path"}
	}
	return f, nil
}
