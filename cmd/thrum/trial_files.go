package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"thrum/draw"
	"thrum/render"
	"thrum/trial"
	"thrum/unit"
)

// figureFlags say into which files a finding is written.
type figureFlags struct {
	Figure string `help:"Write a picture of every sample, 1920 by 1080 with a ground one can see through: a file ending in .png or .svg." placeholder:"FILE"`
	PDF    string `name:"pdf" help:"Write the finding on paper; - is standard output." placeholder:"FILE"`
	CSV    string `name:"csv" help:"Write the samples as a table; - is standard output." placeholder:"FILE"`
	Text   string `help:"Write a text for the description of a video; - is standard output." placeholder:"FILE"`
}

func (f figureFlags) write(s *session, t *trial.Trial, found *trial.Finding) error {
	rep := reportOf(t, found)
	if f.Figure != "" {
		l := render.FindingFigure(found)
		light := draw.Light()
		set := func(w io.Writer) error { return l.PNG(w, 0, draw.PNGOptions{Transparent: true}) }
		switch strings.ToLower(filepath.Ext(f.Figure)) {
		case ".png":
		case ".svg":
			set = func(w io.Writer) error { return l.SVG(w, 0, draw.SVGOptions{Theme: &light, Transparent: true}) }
		default:
			return &unit.InputError{Field: "figure", Value: f.Figure, Reason: "does not say what kind of picture it is to be", Hint: "let the name end in .png or .svg"}
		}
		if err := s.write(f.Figure, set); err != nil {
			return err
		}
	}
	for _, out := range []struct {
		name string
		set  func(io.Writer) error
	}{
		{f.PDF, func(w io.Writer) error { return render.FindingPage(rep, draw.A4).PDF(w) }},
		{f.CSV, func(w io.Writer) error { return trial.WriteCSV(w, found.Samples) }},
		{f.Text, func(w io.Writer) error { return render.FindingSummary(w, rep) }},
	} {
		if out.name == "" {
			continue
		}
		if err := s.write(out.name, out.set); err != nil {
			return err
		}
	}
	return nil
}

// reportOf gives a table's finding the form of a report. What a table does not tell,
// such as the draw, is left empty.
func reportOf(t *trial.Trial, found *trial.Finding) *trial.Report {
	rep := &trial.Report{Finding: found}
	rep.Settled = trial.Settled{Question: found.Question, Factor: found.Factor, ScoreIs: found.ScoreIs, Better: found.Better, Margin: t.Margin}
	rep.Settled.Design = trial.Design{Kind: trial.KindTable, Blocks: found.Blocks, A: found.NA, B: found.NB}
	if rep.Settled.Question == "" {
		rep.Settled.Question = found.Factor.Changed + " against " + found.Factor.Baseline
	}
	for i, x := range found.Samples {
		rep.Settled.Runs = append(rep.Settled.Runs, trial.Run{Order: i + 1, Arm: x.Arm, Code: x.Name})
		rep.Evidence = append(rep.Evidence, trial.Evidence{Code: x.Name, Cut: true, Grades: []trial.Grade{{Of: found.ScoreIs, Value: x.Score}}})
	}
	return rep
}

type trialGaugeCmd struct {
	File string `arg:"" help:"Table with columns part, reading and, with several people, person, one line a reading; - reads standard input."`
	JSON bool   `name:"json" help:"Print as JSON."`
}

// Run studies a way of measuring: the same parts measured again and again.
func (c *trialGaugeCmd) Run(s *session) error {
	in, err := s.opened(c.File)
	if err != nil {
		return err
	}
	defer in.Close()
	r, err := trial.ReadReadings(in)
	if err != nil {
		return err
	}
	f, err := r.Judge()
	if err != nil {
		return err
	}
	if c.JSON {
		return s.json(f)
	}
	return render.Gauge(s.out, f)
}

// tableRow is one line of a table by the names of its columns.
type tableRow struct {
	line  int
	cells map[string]string
}

// mostRows bounds a table.
const mostRows = 20000

// table reads a table that needs certain columns.
func (s *session) table(file string, need ...string) ([]tableRow, error) {
	in, err := s.opened(file)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	r := csv.NewReader(io.LimitReader(in, trial.MaxTable))
	r.Comment, r.TrimLeadingSpace = '#', true
	head, err := r.Read()
	if err != nil {
		return nil, &unit.InputError{Field: "table", Value: file, Reason: "has no first line with the names of columns", Hint: strings.Join(need, ",")}
	}
	at := map[string]int{}
	for i, h := range head {
		at[strings.ToLower(strings.TrimSpace(h))] = i
	}
	for _, n := range need {
		if _, ok := at[n]; !ok {
			return nil, &unit.InputError{Field: "line 1", Value: strings.Join(head, ","), Reason: "has no column " + n, Hint: "columns " + strings.Join(need, ", ") + " are needed"}
		}
	}
	var out []tableRow
	for {
		rec, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil || len(out) >= mostRows {
			return nil, &unit.InputError{Field: "table", Value: file, Reason: "cannot be read beyond line " + strconv.Itoa(len(out)+1), Hint: fmt.Sprintf("commas between columns, the same number in each line, at most %d lines", mostRows)}
		}
		line, _ := r.FieldPos(0)
		row := tableRow{line, map[string]string{}}
		for _, n := range need {
			row.cells[n] = strings.TrimSpace(rec[at[n]])
		}
		out = append(out, row)
	}
	return out, nil
}

type trialVotesCmd struct {
	File string `arg:"" help:"Table with columns left, right, choice (left, right or tie), judge; - reads standard input."`
	JSON bool   `name:"json" help:"Print as JSON."`
}

// rated is one item of a poll.
type rated struct {
	Item    string  `json:"item"`
	Ability float64 `json:"ability"` // log odds above the first of the table
	SE      float64 `json:"standard_error"`
}

// Run finds from side-by-side votes how far the items lie apart.
func (c *trialVotesCmd) Run(s *session) error {
	rows, err := s.table(c.File, "left", "right", "choice", "judge")
	if err != nil {
		return err
	}
	votes, names, err := votesOf(rows)
	if err != nil {
		return err
	}
	fit := func(vs []trial.Vote) (*trial.Abilities, error) {
		var ts []trial.Tally
		for _, v := range vs {
			t := trial.Tally{Left: indexOf(names, v.Left), Right: indexOf(names, v.Right)}
			switch v.Outcome {
			case trial.LeftBetter:
				t.LeftWins = 1
			case trial.RightBetter:
				t.RightWins = 1
			default:
				t.Ties = 1
			}
			ts = append(ts, t)
		}
		return trial.Fit(len(names), ts, trial.Model{Ties: true, Side: true})
	}
	a, err := fit(votes)
	if err != nil {
		return err
	}
	out := make([]rated, len(names))
	over := true
	for i, n := range names {
		out[i] = rated{n, a.Log[i], a.SE[i]}
		if i == 0 {
			continue
		}
		se, _, ok := trial.Jackknife(votes, func(vs []trial.Vote) (float64, bool) {
			b, err := fit(vs)
			if err != nil {
				return 0, false
			}
			return b.Log[i], true
		})
		if over = over && ok; ok {
			out[i].SE = se
		}
	}
	if c.JSON {
		return s.json(struct {
			Items  []rated `json:"items"`
			Side   float64 `json:"side"`
			Prior  bool    `json:"prior"`
			Judges bool    `json:"errors_over_judges"`
		}{out, a.Side, a.Prior, over})
	}
	fmt.Fprintf(s.out, "%d votes on %d items; log odds against %s\n", len(votes), len(names), names[0])
	for _, r := range out {
		fmt.Fprintf(s.out, "%-20s %+7.3f ± %.3f\n", r.Item, r.Ability, r.SE)
	}
	fmt.Fprintf(s.out, "advantage of the left side %+.3f\n", a.Side)
	if !over {
		fmt.Fprintln(s.out, "fewer than 5 groups of judges: the errors take every vote for independent, and are too small")
	}
	if a.Prior {
		fmt.Fprintln(s.out, "half a vote each way was added to every pair, since something went all one way")
	}
	fmt.Fprintln(s.out, "more votes make surer what these pictures look like, not that a change did it: bars limit that")
	return nil
}

func indexOf(names []string, name string) int {
	for i, n := range names {
		if n == name {
			return i
		}
	}
	return -1
}

func votesOf(rows []tableRow) (votes []trial.Vote, names []string, err error) {
	for _, row := range rows {
		v := trial.Vote{Judge: row.cells["judge"], Left: row.cells["left"], Right: row.cells["right"]}
		switch row.cells["choice"] {
		case "left":
			v.Outcome = trial.LeftBetter
		case "right":
			v.Outcome = trial.RightBetter
		case "tie":
		default:
			return nil, nil, &unit.InputError{Field: fmt.Sprintf("line %d: choice", row.line), Value: row.cells["choice"], Reason: "is not a vote", Hint: "left, right or tie"}
		}
		for _, n := range []string{v.Left, v.Right} {
			if indexOf(names, n) < 0 {
				names = append(names, n)
			}
		}
		votes = append(votes, v)
	}
	return votes, names, nil
}
