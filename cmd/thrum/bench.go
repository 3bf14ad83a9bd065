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

	Public     string  `help:"A second address, where anybody may vote on the blind pairs of open polls and sees nothing else." placeholder:"HOST:PORT"`
	PublicURL  string  `name:"public-url" help:"How visitors reach it, when a name or a web server stands before it." placeholder:"URL"`
	PublicRate float64 `name:"public-rate" help:"Requests a second that one address may make there." default:"20" placeholder:"N"`
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
		Data: dir, Database: c.Database, Blobs: c.Blobs, Address: c.Address, Lan: c.Lan,
		Public: c.Public, PublicURL: c.PublicURL, PublicRate: c.PublicRate, Version: version(),
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
	if a.PublicURL() != "" {
		fmt.Fprintf(s.out, "voting, for everybody: %s\n", a.PublicURL())
	}
	fmt.Fprintln(s.out, "press Ctrl+C to stop")
	return a.Run(s.ctx)
}
