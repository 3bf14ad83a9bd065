package main

import (
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"

	"thrum/store"
	"thrum/unit"
)

// keptFlags say where what is kept lies.
type keptFlags struct {
	Data     string `help:"Folder for what is kept." placeholder:"DIR" type:"path"`
	Database string `help:"PostgreSQL database instead of a file in the folder." placeholder:"URL" env:"THRUM_DATABASE"`
	Blobs    string `help:"Bucket for photographs and recordings instead of the folder: s3://bucket/folder?endpoint=https://host." placeholder:"URL" env:"THRUM_BLOBS"`
}

// folder returns the data folder: as given, else the user's own.
func (f keptFlags) folder() (string, error) {
	if f.Data != "" {
		return f.Data, nil
	}
	base, err := os.UserConfigDir()
	if err != nil {
		return "", fmt.Errorf("no folder for what is kept: %w; give one with --data", err)
	}
	return filepath.Join(base, "thrum"), nil
}

func (f keptFlags) open(s *session) (*store.Store, error) {
	dir, err := f.folder()
	if err != nil {
		return nil, err
	}
	log := slog.New(slog.NewTextHandler(s.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	settings := store.Config{Dir: dir, URL: f.Database, Log: log}
	if f.Blobs != "" {
		if settings.Blobs, err = store.Bucket(s.ctx, f.Blobs); err != nil {
			return nil, err
		}
	}
	st, err := store.Open(s.ctx, settings)
	if err != nil {
		return nil, fmt.Errorf("data folder %s: %w", dir, err)
	}
	return st, nil
}

type storeCmd struct {
	Export exportCmd `cmd:"" help:"Write everything that is kept into one archive."`
	Import importCmd `cmd:"" help:"Fill an empty data folder from an archive."`
	Check  checkCmd  `cmd:"" help:"Read everything that is kept and say what does not fit together."`
}

type exportCmd struct {
	keptFlags
	File string `arg:"" help:"Archive to write; it must not exist."`
}

// Run writes the archive beside its name first, so that a name never holds half of one.
func (c *exportCmd) Run(s *session) (err error) {
	if _, err := os.Stat(c.File); err == nil {
		return &unit.InputError{Field: "archive", Value: c.File, Reason: "exists already", Hint: "choose another name, or move it away"}
	}
	st, err := c.open(s)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	tmp, err := os.CreateTemp(filepath.Dir(c.File), ".thrum-*")
	if err != nil {
		return &unit.InputError{Field: "archive", Value: c.File, Reason: "cannot be written: " + reasonOf(err), Hint: "check the folder"}
	}
	defer os.Remove(tmp.Name())
	if err := errors.Join(st.Export(s.ctx, tmp), tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	if err := os.Rename(tmp.Name(), c.File); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "everything that is kept is in %s\n", c.File)
	return err
}

type importCmd struct {
	keptFlags
	File string `arg:"" help:"Archive to read."`
}

// Run fills an empty store; a damaged archive changes nothing.
func (c *importCmd) Run(s *session) (err error) {
	f, err := os.Open(c.File)
	if err != nil {
		return &unit.InputError{Field: "archive", Value: c.File, Reason: "cannot be read: " + reasonOf(err), Hint: "check the path"}
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	st, err := c.open(s)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	if err := st.Import(s.ctx, f, info.Size()); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "%s is read in\n", c.File)
	return err
}

type checkCmd struct{ keptFlags }

// errUnsound ends a check that found something.
var errUnsound = errors.New("what is kept is not sound; the lines above say where")

// Run reads everything.
func (c *checkCmd) Run(s *session) (err error) {
	st, err := c.open(s)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	problems, err := st.Check(s.ctx)
	if err != nil {
		return err
	}
	for _, p := range problems {
		fmt.Fprintln(s.out, p)
	}
	if len(problems) > 0 {
		return errUnsound
	}
	_, err = fmt.Fprintln(s.out, "everything that is kept fits together")
	return err
}
