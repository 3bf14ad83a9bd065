package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"thrum/app"
	"thrum/render"
	"thrum/unit"
)

type demoCmd struct {
	benchCmd
	Once bool `help:"Stop before serving."`
}

// Run prints the example sheet, writes its paper, loads the examples and serves.
func (c *demoCmd) Run(s *session) error {
	if c.Data == "" {
		return &unit.InputError{Field: "data", Reason: "is missing", Hint: "write --data DIR: the demonstration never touches your own folder"}
	}
	p, err := app.ExamplePlan()
	if err != nil {
		return err
	}
	if err := render.Sheet(s.out, p, render.TextOptions{Bold: s.colour}); err != nil {
		return err
	}
	a, err := c.open(s)
	if err != nil {
		return err
	}
	paper := filepath.Join(c.Data, "example-sheet.pdf")
	var b bytes.Buffer
	l, err := render.Page(p, render.PageOptions{})
	if err == nil {
		err = l.PDF(&b)
	}
	if err == nil {
		err = os.WriteFile(paper, b.Bytes(), 0o644)
	}
	if err == nil {
		err = a.LoadExamples(s.ctx)
	}
	if err != nil {
		_ = a.Close()
		return err
	}
	fmt.Fprintf(s.out, "\nthe same on paper: %s\n", paper)
	if c.Once {
		return a.Close()
	}
	return serve(s, a)
}
