package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"thrum/job"
	"thrum/store"
	"thrum/web"
)

// kinds are the jobs that are done in the background.
func kinds(st *store.Store) map[string]job.Kind {
	return map[string]job.Kind{web.PaperJob: {Do: paper}, web.ListenJob: {Do: listening(st), Timeout: 30 * time.Minute}}
}

// listening is the job that listens to recordings.
func listening(st *store.Store) job.Handler {
	convert := convert()
	return func(ctx context.Context, w job.Work) (job.Result, error) {
		data, err := web.DoListen(ctx, w.Arguments, web.Recordings(ctx, st.Blobs(), convert), w.Progress)
		if err != nil {
			return job.Result{}, err
		}
		return job.Result{Name: "heard.json", Media: "application/json", Data: data}, nil
	}
}

// openStore opens what is kept, and where its content lies.
func openStore(ctx context.Context, c Config, log *slog.Logger) (*store.Store, error) {
	settings := store.Config{Dir: c.Data, URL: c.Database, Now: c.Now, NewID: c.NewID, Log: log}
	if c.Blobs != "" {
		var err error
		if settings.Blobs, err = store.Bucket(ctx, c.Blobs); err != nil {
			return nil, err
		}
	}
	st, err := store.Open(ctx, settings)
	if err != nil {
		return nil, fmt.Errorf("data folder %s: %w", c.Data, err)
	}
	return st, nil
}

// Work does background jobs, and nothing else, until ctx is done. Any number of
// such processes may share one PostgreSQL database with any number of benches; on
// one computer they may share a data folder.
func Work(ctx context.Context, c Config, atATime int) error {
	log := c.Log
	if log == nil {
		log = slog.Default()
	}
	st, err := openStore(ctx, c, log)
	if err != nil {
		return err
	}
	queue, err := job.New(st, kinds(st), job.Options{Workers: atATime})
	if err == nil {
		sweeping, done := context.WithCancel(ctx)
		swept := make(chan struct{})
		go func() { defer close(swept); sweep(sweeping, st, log) }()
		err = queue.Run(ctx)
		done()
		<-swept
	}
	return errors.Join(err, st.Close())
}

// Times of the sweep: soon after the start, then daily.
const (
	sweepFirst = 10 * time.Minute
	sweepEvery = 24 * time.Hour
)

// sweep clears away content that nothing names any more, now and then.
func sweep(ctx context.Context, st *store.Store, log *slog.Logger) {
	for wait := sweepFirst; ; wait = sweepEvery {
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		n, err := st.Sweep(ctx)
		switch {
		case err != nil && ctx.Err() == nil:
			log.Warn("content that nothing names was not cleared away", "error", err)
		case n > 0:
			log.Info("cleared away content that nothing names", "files", n)
		}
	}
}
