package job

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"mime"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"thrum/store"
	"thrum/unit"
)

// Run implements Queue.
func (q *queue) Run(ctx context.Context) error {
	client, err := q.newWorker()
	if err != nil {
		return err
	}
	if err := client.Start(ctx); err != nil {
		if ctx.Err() != nil {
			return nil
		}
		return err
	}
	every := time.NewTicker(min(time.Second, q.options.Lease/3))
	defer every.Stop()
	for {
		if err := q.takeUp(ctx); err != nil && ctx.Err() == nil {
			q.st.Log().ErrorContext(ctx, "looking for jobs that were left behind", "error", err)
		}
		select {
		case <-ctx.Done():
			<-client.Stopped()
			return nil
		case <-every.C:
		}
	}
}

// takeUp pokes every job whose time to be looked at has come: it has failed and is
// to be tried again, its process has died, or it was brought by an archive.
func (q *queue) takeUp(ctx context.Context) error {
	now := q.st.Now()
	rows, err := q.st.Reader().QueryContext(ctx, "SELECT id FROM jobs WHERE check_at < $1 ORDER BY check_at LIMIT 100", store.FormatTime(now))
	if err != nil {
		return err
	}
	defer rows.Close()
	var left []string
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return err
		}
		left = append(left, id)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	for _, id := range left {
		err := q.st.Update(ctx, func(tx *sql.Tx) error {
			p := poke{Job: id}
			// The condition is repeated: another process may be here too.
			err := tx.QueryRowContext(ctx, "UPDATE jobs SET check_at = $1 WHERE id = $2 AND check_at < $3 RETURNING attempts",
				q.overdue(), id, store.FormatTime(now)).Scan(&p.Attempts)
			if err == sql.ErrNoRows {
				return nil
			}
			if err != nil {
				return err
			}
			return q.insert(ctx, tx, p)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// never is the time at which a job with a result is looked at again.
const never = "9999-12-31T23:59:59.000000Z"

// attempt is a job that this process has begun.
type attempt struct {
	id, shop, kind  string
	arguments       json.RawMessage
	number, excused int
}

// work makes one attempt at a job. The errors that it returns are those of the
// database; river brings the poke back after a while.
func (q *queue) work(ctx context.Context, p poke) error {
	a, ok, err := q.begin(ctx, p)
	if err != nil || !ok {
		return err
	}
	kind, known := q.kinds[a.kind]
	counted := a.number - a.excused
	var result Result
	var sum string
	switch {
	case !known:
		err = refuse(store.Invalid, "kind of job", a.kind, "is not one that this program does", "")
	case counted > kind.Attempts:
		err = refuse(store.Invalid, "job", a.id, fmt.Sprintf("was begun %d times, and each time the program ended before it", counted-1), "")
	default:
		if result, err = q.do(ctx, kind, a); err == nil {
			sum, err = q.keep(ctx, result)
		}
	}
	stopping := ctx.Err() != nil
	ctx = context.WithoutCancel(ctx) // how it went is written down even when the program is to stop
	switch {
	case err == nil:
		return q.end(ctx, a, result, sum, "")
	case stopping:
		return q.again(ctx, a, "", 1, 0)
	case final(err) || counted >= kind.Attempts:
		return q.end(ctx, a, Result{}, "", err.Error())
	}
	return q.again(ctx, a, err.Error(), 0, backoff(counted))
}

// final tells whether trying again is of no use.
func final(err error) bool {
	_, input := errors.AsType[*unit.InputError](err)
	return input || store.CodeOf(err) != ""
}

// backoff doubles from one second to one minute.
func backoff(failures int) time.Duration {
	return min(time.Minute, time.Second<<min(failures-1, 6))
}

// begin claims the attempt that p asks for. It returns false when somebody else
// had it, or when the job has its result.
func (q *queue) begin(ctx context.Context, p poke) (a attempt, ok bool, err error) {
	err = q.st.Update(ctx, func(tx *sql.Tx) error {
		var arguments string
		err := tx.QueryRowContext(ctx, "UPDATE jobs SET attempts = attempts + 1, running = 1, progress = 0, doing = '', check_at = $1 "+
			"WHERE id = $2 AND attempts = $3 AND NOT EXISTS (SELECT 1 FROM job_results WHERE job_id = $2) RETURNING shop_id, kind, arguments, attempts, excused",
			q.deadline(), p.Job, p.Attempts).Scan(&a.shop, &a.kind, &arguments, &a.number, &a.excused)
		if err == sql.ErrNoRows {
			ok = false
			return nil
		}
		a.id, a.arguments, ok = p.Job, json.RawMessage(arguments), true
		return err
	})
	return a, ok, err
}

// deadline is the time by which a running job must have given a sign of life.
func (q *queue) deadline() string { return store.FormatTime(q.st.Now().Add(q.options.Lease)) }

// do runs the handler and gives signs of life for it.
func (q *queue) do(ctx context.Context, kind Kind, a attempt) (Result, error) {
	ctx, cancel := context.WithTimeout(ctx, kind.Timeout)
	defer cancel()
	var p progress
	stop := make(chan struct{})
	var beating sync.WaitGroup
	beating.Go(func() { q.beat(ctx, a, &p, stop) })
	result, err := handle(ctx, kind.Do, Work{ID: a.id, Shop: a.shop, Arguments: a.arguments, Attempt: a.number, Progress: p.set})
	close(stop)
	beating.Wait()
	if err != nil && errors.Is(ctx.Err(), context.DeadlineExceeded) {
		err = fmt.Errorf("took longer than %v: %w", kind.Timeout, err)
	}
	return result, err
}

// handle calls a handler; a panic becomes an error.
func handle(ctx context.Context, do Handler, w Work) (r Result, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("a fault of the program: %v\n%s", p, debug.Stack())
		}
	}()
	return do(ctx, w)
}

// progress is what a handler last told.
type progress struct {
	mu       sync.Mutex
	fraction float64
	doing    string
	fresh    bool
}

func (p *progress) set(fraction float64, doing string) {
	if math.IsNaN(fraction) {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.fraction, p.doing, p.fresh = min(1, max(0, fraction)), doing, true
}

func (p *progress) take() (fraction float64, doing string, fresh bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	fresh, p.fresh = p.fresh, false
	return p.fraction, p.doing, fresh
}

// beat writes progress down when there is some, and a sign of life in any case,
// until stop.
func (q *queue) beat(ctx context.Context, a attempt, p *progress, stop <-chan struct{}) {
	life := q.options.Lease / 3
	every := time.NewTicker(min(500*time.Millisecond, life))
	defer every.Stop()
	last := time.Now()
	for {
		select {
		case <-stop:
			return
		case <-every.C:
		}
		fraction, doing, fresh := p.take()
		if !fresh && time.Since(last) < life {
			continue
		}
		last = time.Now()
		_, err := q.st.Writer().ExecContext(ctx, "UPDATE jobs SET check_at = $1, progress = $2, doing = $3 WHERE id = $4 AND attempts = $5",
			q.deadline(), fraction, clean(doing), a.id, a.number)
		if err != nil && ctx.Err() == nil {
			q.st.Log().ErrorContext(ctx, "a job's sign of life", "job", a.id, "error", err)
		}
	}
}

// keep puts the content of a result where content is kept.
func (q *queue) keep(ctx context.Context, r Result) (sum string, err error) {
	if _, _, err := mime.ParseMediaType(r.Media); err != nil || len(r.Data) == 0 || r.Name == "" {
		return "", refuse(store.Invalid, "result of the job", r.Name, fmt.Sprintf("has the media type %q and %d bytes, which is a fault of the program", r.Media, len(r.Data)), "")
	}
	sum, _, err = q.st.Blobs().Put(ctx, bytes.NewReader(r.Data))
	return sum, err
}

// end records how a job ended, unless that has been recorded before.
func (q *queue) end(ctx context.Context, a attempt, r Result, sum, failure string) error {
	st, err := q.st.As(a.shop, "worker")
	if err != nil {
		return err
	}
	row, err := st.Stamp(store.Row{})
	if err != nil {
		return err
	}
	return st.Update(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO job_results (id, shop_id, device_id, created_at, job_id, error, name, media, sha256, size) "+
			"VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (job_id) DO NOTHING",
			row.ID, row.Shop, row.Device, store.FormatTime(row.CreatedAt), a.id, clean(failure), clean(r.Name), r.Media, sum, len(r.Data))
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE jobs SET running = 0, check_at = $1 WHERE id = $2", never, a.id); err != nil || sum == "" {
			return err
		}
		return st.HasBlob(ctx, sum)
	})
}

// again has the job tried once more after a while. An attempt that was cut short
// by the program's orderly end is excused: it does not count.
func (q *queue) again(ctx context.Context, a attempt, failure string, excused int, after time.Duration) error {
	_, err := q.st.Writer().ExecContext(ctx, "UPDATE jobs SET running = 0, progress = 0, doing = '', last_error = $1, excused = excused + $2, check_at = $3 WHERE id = $4 AND attempts = $5",
		clean(failure), excused, store.FormatTime(q.st.Now().Add(after)), a.id, a.number)
	return err
}

// clean makes a text fit for the database, whatever an error said.
func clean(s string) string {
	const most = 10_000
	if len(s) > most {
		s = s[:most]
	}
	return strings.ReplaceAll(strings.ToValidUTF8(s, "?"), "\x00", "?")
}
