package app

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"

	"thrum/job"
	"thrum/plan"
	"thrum/render"
	"thrum/unit"
)

// paper is the job that writes a set-up sheet as PDF.
func paper(ctx context.Context, w job.Work) (job.Result, error) {
	var r plan.Request
	if err := json.Unmarshal(w.Arguments, &r); err != nil {
		return job.Result{}, &unit.InputError{Field: "request", Value: string(w.Arguments), Reason: "is not a request for a plan: " + err.Error()}
	}
	w.Progress(0.1, "planning")
	var planner plan.Planner
	p, err := planner.MakeWhole(ctx, r)
	if err != nil {
		return job.Result{}, err
	}
	w.Progress(0.4, "drawing")
	l, err := render.Page(p, render.PageOptions{})
	if err != nil {
		return job.Result{}, err
	}
	w.Progress(0.7, "writing")
	var b bytes.Buffer
	if err := l.PDF(&b); err != nil {
		return job.Result{}, err
	}
	return job.Result{Name: fileName(p.Thread.Designation) + ".pdf", Media: "application/pdf", Data: b.Bytes()}, nil
}

// fileName keeps letters, digits and dashes of a designation.
func fileName(s string) string {
	return strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '.':
			return r
		}
		return '-'
	}, s), "-")
}
