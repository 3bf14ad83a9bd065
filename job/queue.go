package job

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/riverqueue/river"

	"thrum/store"
	"thrum/unit"
)

const maxArguments = 1 << 20

// queue implements Queue. The table jobs says how each job stands and
// job_results how it ended; river only says whose turn it is.
type queue struct {
	st       *store.Store
	kinds    map[string]Kind
	options  Options
	inserter *river.Client[*sql.Tx]
}

// New makes a queue on a store.
func New(st *store.Store, kinds map[string]Kind, o Options) (Queue, error) {
	if o.Workers == 0 {
		o.Workers = 2
	}
	if o.Lease == 0 {
		o.Lease = 15 * time.Second
	}
	if o.Patience == 0 {
		o.Patience = 3 * time.Second
	}
	q := &queue{st: st, kinds: map[string]Kind{}, options: o}
	for name, k := range kinds {
		if k.Do == nil {
			return nil, fmt.Errorf("job kind %q has no handler", name)
		}
		if k.Attempts == 0 {
			k.Attempts = 3
		}
		if k.Timeout == 0 {
			k.Timeout = 10 * time.Minute
		}
		q.kinds[name] = k
	}
	var err error
	q.inserter, err = newInserter(st)
	return q, err
}

// Enqueue implements Queue.
func (q *queue) Enqueue(ctx context.Context, r Request) (string, error) {
	if _, ok := q.kinds[r.Kind]; !ok {
		known := strings.Join(slices.Sorted(maps.Keys(q.kinds)), ", ")
		return "", refuse(store.Invalid, "kind of job", r.Kind, "is not one that this program does", "known: "+known)
	}
	if len(r.Arguments) == 0 {
		r.Arguments = json.RawMessage("null")
	}
	if len(r.Arguments) > maxArguments || !json.Valid(r.Arguments) || strings.Contains(string(r.Arguments), "\x00") {
		return "", refuse(store.Invalid, "arguments of the job", string(r.Arguments), fmt.Sprintf("are not JSON of at most %d bytes", maxArguments), "")
	}
	row, err := q.st.Stamp(store.Row{ID: r.ID})
	if err != nil {
		return "", err
	}
	err = q.st.Update(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, "INSERT INTO jobs (id, shop_id, device_id, created_at, kind, arguments, check_at) VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (id) DO NOTHING",
			row.ID, row.Shop, row.Device, store.FormatTime(row.CreatedAt), r.Kind, string(r.Arguments), q.overdue())
		if err != nil {
			return err
		}
		n, err := res.RowsAffected()
		if err != nil {
			return err
		}
		if n == 1 {
			return q.insert(ctx, tx, poke{Job: row.ID})
		}
		var shop, kind, arguments string
		if err := tx.QueryRowContext(ctx, "SELECT shop_id, kind, arguments FROM jobs WHERE id = $1", row.ID).Scan(&shop, &kind, &arguments); err != nil {
			return err
		}
		if shop != row.Shop || kind != r.Kind || arguments != string(r.Arguments) {
			return refuse(store.Conflict, "job", row.ID, "is taken by a different job", "give each job an id of its own")
		}
		return nil
	})
	return row.ID, err
}

// overdue is when a job that waits is poked again, in case its poke was lost.
func (q *queue) overdue() string { return store.FormatTime(q.st.Now().Add(4 * q.options.Lease)) }

// Status implements Queue.
func (q *queue) Status(ctx context.Context, id string) (Status, error) {
	s := Status{ID: id, State: Waiting}
	var created string
	var running bool
	var result, failure, name, media, sum sql.NullString
	var size sql.NullInt64
	err := q.st.Reader().QueryRowContext(ctx, "SELECT j.kind, j.created_at, j.attempts, j.running = 1, j.progress, j.doing, j.last_error, "+
		"r.id, r.error, r.name, r.media, r.sha256, r.size FROM jobs AS j LEFT JOIN job_results AS r ON r.job_id = j.id WHERE j.id = $1 AND j.shop_id = $2", id, q.st.Shop()).
		Scan(&s.Kind, &created, &s.Attempts, &running, &s.Progress, &s.Doing, &s.Error, &result, &failure, &name, &media, &sum, &size)
	if err == sql.ErrNoRows {
		return Status{}, refuse(store.NotFound, "job", id, "is not stored", "")
	}
	if err != nil {
		return Status{}, err
	}
	if s.CreatedAt, err = store.ParseTime(created); err != nil {
		return Status{}, err
	}
	switch {
	case failure.String != "":
		s.State, s.Error = Failed, failure.String
	case result.Valid:
		s.State, s.Error, s.Progress, s.Doing = Done, "", 1, ""
		s.Name, s.Media, s.SHA256, s.Size = name.String, media.String, sum.String, size.Int64
	case running:
		s.State = Running
	}
	return s, nil
}

func refuse(code store.Code, field, value, reason, hint string) error {
	return &store.Error{Code: code, Err: &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint}}
}
