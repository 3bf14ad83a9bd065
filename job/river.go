package job

import (
	"context"
	"database/sql"
	"log/slog"
	"time"

	"github.com/riverqueue/river"

	"thrum/store"
)

// poke is the river job that says: job Job has been begun Attempts times, begin
// it once more. The first poke to come with the right number begins it; others,
// and pokes whose number is out of date, do nothing. So a poke may be given again
// whenever it could have been lost: a process that dies between taking a poke and
// beginning the job takes it along.
type poke struct {
	Job      string `json:"job"`
	Attempts int    `json:"attempts"`
}

// Kind names the river job.
func (poke) Kind() string { return "thrum" }

// insert pokes, in the transaction that changes the job.
func (q *queue) insert(ctx context.Context, tx *sql.Tx, p poke) error {
	_, err := q.inserter.InsertTx(ctx, tx, p, nil)
	return err
}

// newInserter makes the client for adding to the queue.
func newInserter(st *store.Store) (*river.Client[*sql.Tx], error) {
	return river.NewClient(st.QueueDriver(), &river.Config{Logger: quiet(st.Log())})
}

// newWorker makes the client that works.
func (q *queue) newWorker() (*river.Client[*sql.Tx], error) {
	workers := river.NewWorkers()
	river.AddWorker(workers, river.WorkFunc(func(ctx context.Context, j *river.Job[poke]) error {
		return q.work(ctx, j.Args)
	}))
	return river.NewClient(q.st.QueueDriver(), &river.Config{
		Logger:            quiet(q.st.Log()),
		Workers:           workers,
		Queues:            map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: q.options.Workers}},
		FetchCooldown:     50 * time.Millisecond,
		FetchPollInterval: 200 * time.Millisecond,
		JobTimeout:        -1, // each kind has its own
		SoftStopTimeout:   q.options.Patience,
	})
}

// quiet keeps the library's daily routine out of the log.
func quiet(log *slog.Logger) *slog.Logger { return slog.New(warnings{log.Handler()}) }

type warnings struct{ slog.Handler }

// Enabled implements slog.Handler.
func (w warnings) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= slog.LevelError && w.Handler.Enabled(ctx, l)
}

// WithAttrs implements slog.Handler.
func (w warnings) WithAttrs(a []slog.Attr) slog.Handler { return warnings{w.Handler.WithAttrs(a)} }

// WithGroup implements slog.Handler.
func (w warnings) WithGroup(name string) slog.Handler { return warnings{w.Handler.WithGroup(name)} }
