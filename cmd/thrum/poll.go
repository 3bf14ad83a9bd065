package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"thrum/store"
	"thrum/unit"
	"thrum/web"
)

type pollCmd struct {
	List   pollListCmd   `cmd:"" help:"The polls that are kept."`
	Export pollExportCmd `cmd:"" help:"Write the blind pairs of a poll as pages and pictures for a web host."`
}

type pollListCmd struct{ keptFlags }

// Run prints a line for each poll.
func (c *pollListCmd) Run(s *session) (err error) {
	st, err := c.open(s)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	polls, err := st.Polls(s.ctx)
	if err != nil {
		return err
	}
	if len(polls) == 0 {
		_, err = fmt.Fprintln(s.out, "no polls; the page of the bench makes them, under Polls")
		return err
	}
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "poll\tstate\tvotes\tname")
	for _, p := range polls {
		state := "being prepared"
		if p.Closed() {
			state = "closed"
		} else if p.Open() {
			state = "open"
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%s\n", p.Public, state, p.Votes, p.Name)
	}
	return w.Flush()
}

type pollExportCmd struct {
	keptFlags
	Poll string `arg:"" help:"The poll, as \"thrum poll list\" prints it, or the beginning of that."`
	File string `arg:"" help:"Zip file to write; it must not exist."`
	Vote string `help:"Address of the public listener, to send visitors to." placeholder:"URL"`
}

// Run writes pages that name no sample.
func (c *pollExportCmd) Run(s *session) (err error) {
	if _, err := os.Stat(c.File); err == nil {
		return &unit.InputError{Field: "file", Value: c.File, Reason: "exists already", Hint: "choose another name, or move it away"}
	}
	st, err := c.open(s)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	p, err := pollNamed(s, st, c.Poll)
	if err != nil {
		return err
	}
	vote := ""
	if c.Vote != "" {
		vote = strings.TrimRight(c.Vote, "/") + "/polls/" + p.Public + "/vote"
	}
	tmp, err := os.CreateTemp(filepath.Dir(c.File), ".thrum-*")
	if err != nil {
		return &unit.InputError{Field: "file", Value: c.File, Reason: "cannot be written: " + reasonOf(err), Hint: "check the folder"}
	}
	defer os.Remove(tmp.Name())
	if err := errors.Join(web.Pages(s.ctx, st, p, vote, tmp), tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	if err := os.Rename(tmp.Name(), c.File); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "the blind pairs are in %s\n", c.File)
	return err
}

func pollNamed(s *session, st *store.Store, name string) (store.Poll, error) {
	polls, err := st.Polls(s.ctx)
	if err != nil {
		return store.Poll{}, err
	}
	var found []store.Poll
	for _, p := range polls {
		if name != "" && strings.HasPrefix(p.Public, name) {
			found = append(found, p)
		}
	}
	if len(found) != 1 {
		return store.Poll{}, &unit.InputError{Field: "poll", Value: name, Reason: fmt.Sprintf("begins the names of %d polls", len(found)), Hint: `"thrum poll list" prints them`}
	}
	return found[0], nil
}
