package app

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"strconv"

	"thrum/examples"
	"thrum/plan"
	"thrum/store"
	"thrum/trial"
)

// exampleSeed draws the example trial the same way every time.
const exampleSeed = 1847

// loadTrial keeps an invented trial: four questions, of which the first was cut for
// on eight bars, with plans, conditions, sizes, grades and notes.
func (a *App) loadTrial(ctx context.Context, p *plan.Plan) error {
	var first store.Question
	for i, q := range examples.Questions() {
		kept, err := a.Store.AddQuestion(ctx, store.Question{Asks: q.Asks, Detail: q.Detail, Closed: i == 0})
		if err != nil {
			return err
		}
		if i == 0 {
			first = kept
		}
	}
	planID, over, err := a.trialPlan(ctx, p)
	if err != nil {
		return err
	}
	ready := trial.Questions()[0]
	set, err := trial.Settle(trial.Settled{
		Question: first.Asks, Factor: ready.Factor, ScoreIs: ready.Score, Better: ready.Better, Margin: 3, Others: []string{"finish 1 to 5"},
		Hold: ready.Hold, Same: ready.Same, Watch: ready.Watch, Design: trial.Design{Kind: trial.KindGroups, Blocks: 1, A: 4, B: 4},
	}, exampleSeed)
	if err != nil {
		return err
	}
	design, err := json.Marshal(set)
	if err != nil {
		return err
	}
	var samples []store.Sample
	for _, r := range set.Runs {
		samples = append(samples, store.Sample{Block: r.Block, Arm: r.Arm, Code: r.Code})
	}
	_, samples, err = a.Store.AddTrial(ctx, store.Trial{QuestionID: first.ID, Name: first.Asks, Design: string(design)}, samples)
	if err != nil {
		return err
	}
	rows, err := trialRows()
	if err != nil {
		return err
	}
	for _, s := range samples {
		if len(rows[s.Arm]) == 0 {
			return fmt.Errorf("example trial: no row is left for %s", s.Arm)
		}
		row := rows[s.Arm][0]
		rows[s.Arm] = rows[s.Arm][1:]
		if err := a.trialEvidence(ctx, s, row, planID, over); err != nil {
			return err
		}
		if err := a.trialTake(ctx, s, row["row"]); err != nil {
			return err
		}
	}
	return nil
}

// trialPlan keeps the plan by which all eight bars were cut, and gives the reading
// over wires to aim at. A plan made with the centre would have fewer passes, and then
// two things would change; so the bars with the centre were cut by the same passes,
// and the centre is written down by hand.
func (a *App) trialPlan(ctx context.Context, p *plan.Plan) (id string, over float64, err error) {
	if p.Wires == nil {
		return "", 0, fmt.Errorf("example trial: %s has no wires", p.Thread.Designation)
	}
	part, err := a.Store.AddPart(ctx, store.Part{Name: "Trial bar", Detail: "example; bars for the trial of the centre"})
	if err != nil {
		return "", 0, err
	}
	kept, err := a.keepPlan(ctx, part.ID, p)
	return kept.ID, (p.Wires.Over.Min.MM() + p.Wires.Over.Max.MM()) / 2, err
}

// trialRows reads the table of the example by arm.
func trialRows() (map[string][]map[string]string, error) {
	r := csv.NewReader(bytes.NewReader(examples.TrialTable()))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	out := map[string][]map[string]string{}
	for n, rec := range all[1:] {
		row := map[string]string{"row": strconv.Itoa(n + 1)}
		for i, h := range all[0] {
			row[h] = rec[i]
		}
		out[row["arm"]] = append(out[row["arm"]], row)
	}
	return out, nil
}

// trialEvidence writes down what the table says of one sample.
func (a *App) trialEvidence(ctx context.Context, s store.Sample, row map[string]string, planID string, over float64) error {
	facts, err := json.Marshal(map[string]string{"centre": map[bool]string{true: "yes", false: "no"}[s.Arm == "centre"], "edge": row["edge"], "bar": row["bar"], "lamp": "left, low"})
	if err != nil {
		return err
	}
	for _, e := range []store.SampleEntry{{SampleID: s.ID, Kind: "cut-as", PlanID: planID}, {SampleID: s.ID, Kind: "conditions", Facts: string(facts)}} {
		if _, err := a.Store.AddSampleEntry(ctx, e); err != nil {
			return err
		}
	}
	measure := func(quantity, of, unit string, add, scale float64, detail any) error {
		v, err := strconv.ParseFloat(row[of], 64)
		if err != nil {
			return err
		}
		d, err := json.Marshal(detail)
		if err != nil {
			return err
		}
		_, err = a.Store.AddMeasurement(ctx, store.Measurement{About: store.About{SampleID: s.ID}, Quantity: quantity, Value: add + scale*v, Unit: unit, Detail: string(d)})
		return err
	}
	for _, g := range [][3]string{{"ann", "marks per turn", "ann"}, {"bob", "marks per turn", "bob"}, {"finish", "finish 1 to 5", "ann"}} {
		if err := measure("score", g[0], "points", 0, 1, map[string]string{"of": g[1], "by": g[2]}); err != nil {
			return err
		}
	}
	for i, place := range []string{"f", "m", "s"} {
		for _, angle := range []int{0, 90} {
			if err := measure("over-wires", place+strconv.Itoa(angle), "mm", over, 1e-3, map[string]int{"place": i + 1, "angle_deg": angle}); err != nil {
				return err
			}
		}
	}
	if row["note"] == "" {
		return nil
	}
	_, err = a.Store.AddNote(ctx, store.Note{About: store.About{SampleID: s.ID}, Text: row["note"]})
	return err
}

// takeNote says of every sample what its recording and photograph are worth.
const takeNote = "Recording and photograph are simulated from the plan, which finds neither song nor marks on such a bar; grades, sizes and the other notes are invented."

// trialTake keeps a sample's recording and photograph. They are named by the code,
// which tells nothing of the arm.
func (a *App) trialTake(ctx context.Context, s store.Sample, row string) error {
	n, err := strconv.Atoi(row)
	if err != nil {
		return err
	}
	sound, photograph, err := examples.TrialTake(n)
	if err != nil {
		return err
	}
	about := store.About{SampleID: s.ID}
	for _, f := range []struct {
		kind, end, media string
		content          []byte
	}{{"photo", ".jpg", "image/jpeg", photograph}, {"recording", ".opus", "audio/ogg", sound}} {
		kept := store.File{About: about, Kind: f.kind, Name: s.Code + " simulated" + f.end, Media: f.media}
		if _, err := a.Store.AddFile(ctx, kept, bytes.NewReader(f.content)); err != nil {
			return err
		}
	}
	_, err = a.Store.AddNote(ctx, store.Note{About: about, Text: takeNote})
	return err
}
