package app

import (
	"bytes"
	"context"
	"encoding/json"

	"thrum/examples"
	"thrum/plan"
	"thrum/store"
)

// LoadExamples puts the example lathes on the shelf, keeps a plan as an example part,
// and adds an example trial and an example poll. What is there already stays.
func (a *App) LoadExamples(ctx context.Context, p *plan.Plan) error {
	for _, name := range examples.Lathes() {
		text, _ := examples.Lathe(name)
		_, err := a.Store.Lathes().Save(ctx, store.Text{Name: name, TOML: text})
		if err != nil && store.CodeOf(err) != store.Conflict {
			return err
		}
	}
	parts, err := a.Store.Parts(ctx, true)
	if err != nil || len(parts) > 0 {
		return err
	}
	if err := a.loadTrial(ctx, p); err != nil {
		return err
	}
	if err := a.loadPoll(ctx); err != nil {
		return err
	}
	part, err := a.Store.AddPart(ctx, store.Part{Name: "Vice screw", Detail: "example; drawing V-3"})
	if err != nil {
		return err
	}
	_, err = a.keepPlan(ctx, part.ID, p)
	return err
}

// keepPlan adds a plan to a part.
func (a *App) keepPlan(ctx context.Context, partID string, p *plan.Plan) (store.Plan, error) {
	var result bytes.Buffer
	if err := plan.Encode(&result, p); err != nil {
		return store.Plan{}, err
	}
	request, err := json.Marshal(p.Request)
	if err != nil {
		return store.Plan{}, err
	}
	return a.Store.AddPlan(ctx, store.Plan{
		PartID: partID, Title: p.Thread.Designation, Schema: p.Schema, Engine: p.Engine,
		Request: string(request), Lathe: p.Request.Lathe, Material: p.Request.Own, Result: result.String(),
	})
}
