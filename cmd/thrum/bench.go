package main

import (
	"fmt"
	"log/slog"

	"thrum/app"
)

type benchCmd struct {
	keptFlags
	Address string `help:"Where to listen; this computer alone unless another address is given." default:"127.0.0.1:8470"`
	Lan     bool   `help:"Let paired phones on the same network in: plain on this port, HTTPS one port above."`
}

// Run serves the page until it is interrupted.
func (c *benchCmd) Run(s *session) error {
	a, err := c.open(s)
	if err != nil {
		return err
	}
	return serve(s, a)
}

func (c *benchCmd) open(s *session) (*app.App, error) {
	dir, err := c.folder()
	if err != nil {
		return nil, err
	}
	return app.New(s.ctx, app.Config{
		Data: dir, Database: c.Database, Blobs: c.Blobs, Address: c.Address, Lan: c.Lan, Version: version(),
		Log: slog.New(slog.NewTextHandler(s.err, &slog.HandlerOptions{Level: slog.LevelWarn})),
	})
}

func serve(s *session, a *app.App) error {
	fmt.Fprintln(s.out, a.URL())
	if phones := a.Phones(); len(phones) > 0 {
		fmt.Fprintf(s.out, "phones: pair one at %s/devices\n", a.URL())
		for _, p := range phones {
			fmt.Fprintf(s.out, "  %s\n", p)
		}
	}
	fmt.Fprintln(s.out, "press Ctrl+C to stop")
	return a.Run(s.ctx)
}
