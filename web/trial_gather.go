package web

import (
	"context"
	"encoding/json"
	"strings"

	"thrum/plan"
	"thrum/store"
	"thrum/trial"
	"thrum/unit"
)

// Kinds of entries in the log of a sample, and of what is measured on one.
const (
	entryCutAs      = "cut-as"     // which plan, which piece
	entryConditions = "conditions" // {"edge": "3"}
	entryLeftOut    = "left-out"   // {"why": "the bar slipped"}; empty takes it in again

	quantityScore = "score"      // detail {"of": "marks per turn", "by": "ann"}
	quantityWires = "over-wires" // detail {"place": 1, "angle_deg": 90}
)

type scoreDetail struct {
	Of string `json:"of"`
	By string `json:"by"`
}

type wiresDetail struct {
	Place int     `json:"place"`
	Angle float64 `json:"angle_deg"`
}

// gathered is a trial with all that is kept about it.
type gathered struct {
	Trial   store.Trial
	Samples []store.Sample
	Record  trial.Record
	About   map[string]*aboutSample // by code
}

// aboutSample is what the pages show of a sample beside the record.
type aboutSample struct {
	Sample store.Sample
	PlanID string
	Piece  string
	Plan   *plan.Plan
	Own    map[string]string // conditions that were written down by hand
	Notes  []store.Note
	Files  []store.File
}

// gather puts a trial together from what is kept.
func (l library) gather(ctx context.Context, id string) (*gathered, error) {
	g := &gathered{About: map[string]*aboutSample{}}
	var err error
	if g.Trial, err = l.store.Trial(ctx, id); err != nil {
		return nil, err
	}
	settled, err := trial.ReadSettled(strings.NewReader(g.Trial.Design))
	if err != nil {
		return nil, err
	}
	g.Record.Settled = *settled
	if g.Samples, err = l.store.Samples(ctx, id); err != nil {
		return nil, err
	}
	kept, err := l.store.TrialEvidence(ctx, id)
	if err != nil {
		return nil, err
	}
	byID := map[string]*aboutSample{}
	for _, s := range g.Samples {
		a := &aboutSample{Sample: s, Own: map[string]string{}}
		g.About[s.Code], byID[s.ID] = a, a
	}
	why := map[string]string{}
	for _, e := range kept.Entries {
		a := byID[e.SampleID]
		switch e.Kind {
		case entryCutAs:
			a.PlanID, a.Piece = e.PlanID, e.PieceID
		case entryConditions:
			for name, v := range wordsIn(e.Facts) {
				if a.Own[name] = v; v == "" {
					delete(a.Own, name)
				}
			}
		case entryLeftOut:
			why[e.SampleID] = wordsIn(e.Facts)["why"]
		}
	}
	for _, n := range kept.Notes {
		byID[n.SampleID].Notes = append(byID[n.SampleID].Notes, n)
	}
	for _, f := range kept.Files {
		byID[f.SampleID].Files = append(byID[f.SampleID].Files, f)
	}
	plans := map[string]*plan.Plan{}
	for _, s := range g.Samples {
		a := byID[s.ID]
		if a.Plan, err = l.planOnce(ctx, plans, a.PlanID); err != nil {
			return nil, err
		}
		if a.Plan != nil {
			g.Record.Units = a.Plan.Request.Units
		}
		e := trial.Evidence{Code: s.Code, LeftOut: why[s.ID], Conditions: map[string]string{}}
		if e.Passes, err = l.passesCut(ctx, a.Piece); err != nil {
			return nil, err
		}
		g.Record.Evidence = append(g.Record.Evidence, a.evidence(e, kept.Measurements))
	}
	g.Record.Votes, err = l.votes(ctx, id)
	return g, err
}

// wordsIn reads the facts of an entry; what is no word is passed over.
func wordsIn(facts string) map[string]string {
	var m map[string]any
	out := map[string]string{}
	if json.Unmarshal([]byte(facts), &m) == nil {
		for k, v := range m {
			if s, ok := v.(string); ok {
				out[k] = s
			}
		}
	}
	return out
}

// planOnce reads each plan once, however many samples were cut by it.
func (l library) planOnce(ctx context.Context, known map[string]*plan.Plan, id string) (*plan.Plan, error) {
	if id == "" || known[id] != nil {
		return known[id], nil
	}
	full, err := l.store.Plan(ctx, id)
	if err != nil {
		return nil, err
	}
	known[id], err = plan.Decode(strings.NewReader(full.Result))
	return known[id], err
}

// passesCut counts the passes in the log of a piece that were not undone.
func (l library) passesCut(ctx context.Context, piece string) (int, error) {
	if piece == "" {
		return 0, nil
	}
	events, err := l.store.Events(ctx, piece, 0)
	passes := map[string]bool{}
	for _, e := range events {
		if e.Kind == "pass" {
			passes[e.ID] = true
		}
		delete(passes, e.Undoes)
	}
	return len(passes), err
}

// evidence adds what is known about the sample; a later reading of the same thing
// takes the place of an earlier one.
func (a *aboutSample) evidence(e trial.Evidence, ms []store.Measurement) trial.Evidence {
	if a.Plan != nil {
		for _, c := range a.Plan.Conditions() {
			e.Conditions[c.Name] = c.Text()
		}
		if w := a.Plan.Wires; w != nil && w.Over.Max > 0 {
			e.Limits = &trial.SizeLimits{Min: w.Over.Min, Max: w.Over.Max}
		}
	}
	for name, v := range a.Own {
		e.Conditions[name] = v
	}
	grades, sizes := map[scoreDetail]int{}, map[wiresDetail]int{}
	for _, m := range ms {
		if m.SampleID != a.Sample.ID {
			continue
		}
		switch m.Quantity {
		case quantityScore:
			var d scoreDetail
			if json.Unmarshal([]byte(m.Detail), &d) == nil {
				put(&e.Grades, grades, d, trial.Grade{By: d.By, Of: d.Of, Value: m.Value})
			}
		case quantityWires:
			var d wiresDetail
			if json.Unmarshal([]byte(m.Detail), &d) == nil && m.Unit == "mm" {
				put(&e.Sizes, sizes, d, trial.Size{Place: d.Place, Angle: unit.Angle(d.Angle) * unit.Degree, Value: unit.Length(m.Value)})
			}
		}
	}
	for _, n := range a.Notes {
		e.Notes = append(e.Notes, n.Text)
	}
	for _, f := range a.Files {
		if f.Kind == "photo" {
			e.Photos++
		} else {
			e.Recordings++
		}
	}
	e.Cut = len(e.Grades)+len(e.Sizes)+len(a.Files)+len(a.Notes)+e.Passes > 0
	return e
}

// put adds v to list, or in the place of an earlier one with the same key.
func put[K comparable, V any](list *[]V, at map[K]int, key K, v V) {
	if i, ok := at[key]; ok {
		(*list)[i] = v
		return
	}
	at[key] = len(*list)
	*list = append(*list, v)
}

// keepTrial keeps a drawn trial and its samples in one step.
func (l library) keepTrial(ctx context.Context, set *trial.Settled, question string) (string, error) {
	design, err := json.Marshal(set)
	if err != nil {
		return "", err
	}
	var samples []store.Sample
	for _, r := range set.Runs {
		samples = append(samples, store.Sample{Block: r.Block, Arm: r.Arm, Code: r.Code})
	}
	t, _, err := l.store.AddTrial(ctx, store.Trial{Name: set.Question, QuestionID: question, Design: string(design)}, samples)
	return t.ID, err
}
