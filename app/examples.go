package app

import (
	"context"
	"errors"

	"thrum/examples"
	"thrum/plan"
	"thrum/store"
	"thrum/unit"
	"thrum/web"
)

// ExamplePlan is the plan of the example part: the sheet that the demonstration prints
// and keeps.
func ExamplePlan() (*plan.Plan, error) {
	text, ok := examples.Lathe("inch-bench")
	if !ok {
		return nil, errors.New("the example lathe is missing")
	}
	return plan.Make(plan.Request{
		Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: text, Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch,
	})
}

// LoadExamples puts the example lathes on the shelf, keeps the example plan as a part,
// and adds an example trial and an example poll. What is there already stays.
func (a *App) LoadExamples(ctx context.Context) error {
	p, err := ExamplePlan()
	if err != nil {
		return err
	}
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
	var planner plan.Planner
	if p, err = planner.MakeWhole(ctx, p.Request); err != nil {
		return err
	}
	_, err = a.keepPlan(ctx, part.ID, p)
	return err
}

// keepPlan adds a plan to a part.
func (a *App) keepPlan(ctx context.Context, partID string, p *plan.Plan) (store.Plan, error) {
	row, err := web.PlanRow(partID, p)
	if err != nil {
		return store.Plan{}, err
	}
	return a.Store.AddPlan(ctx, row)
}
