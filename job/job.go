// Package job runs the work that takes longer than a page should wait: writing
// a PDF, listening to an hour's recording. A job is asked for, waits its turn,
// says how far it is, and ends with a result or with the reason why there is
// none. It survives the program: when a process dies in the middle, another one
// (or the same, started again) takes the job up after a few seconds.
//
// A job may then run twice, but its result is recorded once: the row that holds
// it is unique by the job's id, and whoever comes second finds it there.
//
// Small work does not belong here. A job costs several writes to the disk and
// waits up to a fifth of a second for its turn.
package job

import (
	"context"
	"encoding/json"
	"time"
)

// Queue holds jobs and runs them.
type Queue interface {
	// Enqueue keeps a job; when it returns, the job will be done even if the
	// program stops. Asking twice with the same id asks once.
	Enqueue(ctx context.Context, r Request) (id string, err error)
	// Status tells how far a job is.
	Status(ctx context.Context, id string) (Status, error)
	// Run works until ctx is done, then lets the running jobs end for a
	// moment, stops them and returns nil. Any number of processes may run one queue.
	Run(ctx context.Context) error
}

// Request asks for a job.
type Request struct {
	ID        string          // UUID version 7; made when empty
	Kind      string          // one of the kinds that the queue was made with
	Arguments json.RawMessage // for the kind's handler
}

// Kind is how one kind of job is done.
type Kind struct {
	Do       Handler
	Attempts int           // how often it is tried before it has failed; 0 means 3
	Timeout  time.Duration // for one attempt; 0 means 10 minutes
}

// Handler does a job. An error is tried again, except a *unit.InputError or a
// *store.Error: what was asked for will not get better. A handler may run twice for one job, so it
// changes nothing by itself: its result is what it returns.
type Handler func(ctx context.Context, w Work) (Result, error)

// Work is what a handler is given.
type Work struct {
	ID        string
	Shop      string
	Arguments json.RawMessage
	Attempt   int // from 1
	// Progress tells how far the work is, 0 to 1, and what is being done. It
	// may be called often; it is written down twice a second.
	Progress func(fraction float64, doing string)
}

// Result is what a job is done for: a file.
type Result struct {
	Name  string // file name for the user
	Media string // media type
	Data  []byte
}

// State is how a job stands.
type State string

// A job waits, runs, and is done or has failed.
const (
	Waiting State = "waiting"
	Running State = "running"
	Done    State = "done"
	Failed  State = "failed"
)

// Status is how a job stands, and its result.
type Status struct {
	ID, Kind  string
	State     State
	Attempts  int     // begun so far
	Progress  float64 // 0 to 1
	Doing     string
	Error     string // why it failed, or why the last attempt did
	Name      string // of the result, when done
	Media     string
	SHA256    string // of the result's content in the store's blobs
	Size      int64
	CreatedAt time.Time
}

// Options may be left zero.
type Options struct {
	Workers  int           // jobs at a time in this process; 0 means 2
	Lease    time.Duration // a job whose process has been silent for so long is taken up by another; 0 means 15 s
	Patience time.Duration // at the end of Run, time for the running jobs to end by themselves; 0 means 3 s
}
