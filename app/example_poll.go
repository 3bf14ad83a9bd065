package app

import (
	"bytes"
	"context"

	"thrum/examples"
	"thrum/store"
	"thrum/web"
)

// loadPoll keeps an open poll about the pictures of two invented bars. Two pictures
// are of one bar: they ought to come out even. It belongs to no trial, since the bars
// of the example trial are of another thread.
func (a *App) loadPoll(ctx context.Context) error {
	p, err := a.Store.AddPoll(ctx, store.Poll{Name: "Example: bars of M20x2.5, centre or none", Asks: "Which thread looks cleaner?", Baseline: "no centre", Changed: "centre"})
	if err != nil {
		return err
	}
	for _, ph := range examples.Photos() {
		kept, err := a.Store.AddPollPhoto(ctx, store.PollPhoto{PollID: p.ID, Name: ph.Name}, bytes.NewReader(ph.Content()))
		if err != nil {
			return err
		}
		arm := p.Baseline
		if ph.Centre {
			arm = p.Changed
		}
		// Where a low lamp grazes the flanks, marks show.
		_, err = a.Store.AddPollItem(ctx, store.PollItem{PollID: p.ID, PhotoID: kept.ID, Sample: ph.Sample, Arm: arm, MiddleX: .5, MiddleY: .55, Side: .4})
		if err != nil {
			return err
		}
	}
	return web.OpenPoll(ctx, a.Store, p, true)
}
