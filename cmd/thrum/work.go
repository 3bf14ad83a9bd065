package main

import (
	"fmt"
	"log/slog"

	"thrum/app"
	"thrum/unit"
)

type workCmd struct {
	keptFlags
	AtATime int `name:"at-a-time" default:"2" help:"Jobs done at the same time." placeholder:"N"`
}

// Run does background jobs until it is interrupted.
func (c *workCmd) Run(s *session) error {
	if c.AtATime < 1 || c.AtATime > 64 {
		return &unit.InputError{Field: "at-a-time", Value: fmt.Sprint(c.AtATime), Reason: "is not between 1 and 64", Hint: "one for each processor is enough"}
	}
	dir, err := c.folder()
	if err != nil {
		return err
	}
	fmt.Fprintln(s.out, "working; press Ctrl+C to stop")
	return app.Work(s.ctx, app.Config{
		Data: dir, Database: c.Database, Blobs: c.Blobs, Version: version(),
		Log: slog.New(slog.NewTextHandler(s.err, &slog.HandlerOptions{Level: slog.LevelWarn})),
	}, c.AtATime)
}
