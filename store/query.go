package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
)

// Update runs fn in one write transaction. When Update returns nil, what fn wrote
// is on the disk; when it returns an error, nothing of it is there. fn may be run
// more than once and uses nothing but its transaction.
func (s *Store) Update(ctx context.Context, fn func(*sql.Tx) error) error {
	for try := 1; ; try++ {
		err := s.update(ctx, fn)
		if violationOf(err) != again || try == 10 {
			return explain(err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Duration(try) * 5 * time.Millisecond):
		}
	}
}

func (s *Store) update(ctx context.Context, fn func(*sql.Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after a commit this does nothing
	if err := fn(tx); err != nil {
		return err
	}
	return tx.Commit()
}

func violationOf(err error) violation {
	if e, ok := errors.AsType[*pgconn.PgError](err); ok {
		return postgresViolation(e)
	}
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		return sqliteViolation(e)
	}
	return noViolation
}

// explain gives the database's refusals a code. Most are found out beforehand
// with better words; these remain for two that write at the same moment.
func explain(err error) error {
	switch violationOf(err) {
	case duplicate:
		return &Error{Conflict, fmt.Errorf("somebody else saved the same thing at the same time; read it again: %w", err)}
	case dangling:
		return &Error{NotFound, fmt.Errorf("something this belongs to is not stored: %w", err)}
	}
	return err
}

// querier is a *sql.DB or a *sql.Tx.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// list runs a query and reads each row into a T, through the places that dest
// names for one.
func list[T any](ctx context.Context, q querier, dest func(*T) []any, query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		var v T
		if err := rows.Scan(dest(&v)...); err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	return all, rows.Err()
}

// first is list for the first row; ok is false when there is none.
func first[T any](ctx context.Context, q querier, dest func(*T) []any, query string, args ...any) (v T, ok bool, err error) {
	all, err := list(ctx, q, dest, query, args...)
	if err != nil || len(all) == 0 {
		return v, false, err
	}
	return all[0], true, nil
}

// changed runs a statement and tells how many rows it touched.
func changed(ctx context.Context, q querier, query string, args ...any) (int64, error) {
	res, err := q.ExecContext(ctx, query, args...)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// rowColumns are the columns of Row, in the order of its dest and args.
const rowColumns = "id, shop_id, device_id, created_at"

func (r *Row) dest(more ...any) []any {
	return append([]any{&r.ID, &r.Shop, &r.Device, (*dbTime)(&r.CreatedAt)}, more...)
}

func (r *Row) args(more ...any) []any {
	return append([]any{r.ID, r.Shop, r.Device, FormatTime(r.CreatedAt)}, more...)
}

// stored is a pointer to something that begins with a Row.
type stored[T any] interface {
	*T
	row() *Row
	dest() []any
}

func (r *Row) row() *Row { return r }

// insertOnce inserts v (insert is all of the statement after INSERT INTO) and
// returns it. When the id is taken nothing is inserted: then what is kept must
// equal v but for the time of making, and is returned.
func insertOnce[T comparable, P stored[T]](ctx context.Context, tx *sql.Tx, what, insert string, args []any, query string, v T) (T, error) {
	n, err := changed(ctx, tx, "INSERT INTO "+insert+" ON CONFLICT (id) DO NOTHING", args...)
	if err != nil || n == 1 {
		return v, err
	}
	row := P(&v).row()
	kept, _, err := first(ctx, tx, func(t *T) []any { return P(t).dest() }, query+"WHERE id = $1", row.ID)
	if err != nil {
		return v, err
	}
	row.CreatedAt = P(&kept).row().CreatedAt
	if v != kept {
		return v, taken(what, row.ID)
	}
	return kept, nil
}

// dbTime reads a time that is kept as text.
type dbTime time.Time

// Scan implements sql.Scanner.
func (t *dbTime) Scan(v any) error {
	s, ok := v.(string)
	if !ok {
		return fmt.Errorf("a time is kept as %T, not as text", v)
	}
	u, err := ParseTime(s)
	*t = dbTime(u)
	return err
}

// dbText reads a text that may be NULL; that reads as empty.
type dbText string

// Scan implements sql.Scanner.
func (t *dbText) Scan(v any) error {
	var n sql.NullString
	err := n.Scan(v)
	*t = dbText(n.String)
	return err
}

// dbBool reads yes and no, kept as 1 and 0.
type dbBool bool

// Scan implements sql.Scanner.
func (b *dbBool) Scan(v any) error {
	n, ok := v.(int64)
	if !ok {
		return fmt.Errorf("yes or no is kept as %T, not as a whole number", v)
	}
	*b = n != 0
	return nil
}

// null makes an empty text NULL, for columns that name another row.
func null(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func oneIf(b bool) int64 {
	if b {
		return 1
	}
	return 0
}
