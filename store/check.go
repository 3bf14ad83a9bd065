package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Problem is something that Check found wrong.
type Problem struct{ Table, ID, Reason string }

// String prints a problem on one line.
func (p Problem) String() string { return p.Table + " " + p.ID + ": " + p.Reason }

// Check reads every row and every blob of all shops and returns what does not
// fit together. A sound store gives none.
func (s *Store) Check(ctx context.Context) ([]Problem, error) {
	tx, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback() // it only reads
	var found []Problem
	for _, table := range tables {
		err := eachRecord(ctx, tx, table, func(r record) error {
			if wrong := r.check(); wrong != "" {
				found = append(found, Problem{table, fmt.Sprint(r["id"]), wrong})
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	for _, c := range continuity {
		ids, err := list(ctx, tx, func(s *string) []any { return []any{s} }, c.query)
		if err != nil {
			return nil, err
		}
		for _, id := range ids {
			found = append(found, Problem{c.table, id, c.reason})
		}
	}
	sums, err := blobsNamed(ctx, tx, s.postgres)
	if err != nil {
		return nil, err
	}
	for _, sum := range sums {
		r, err := s.sound(ctx, sum)
		if CodeOf(err) == NotFound {
			found = append(found, Problem{"blobs", sum, "the content is missing or damaged"})
			continue
		}
		if err = errors.Join(err, closeIf(r)); err != nil {
			return nil, err
		}
	}
	return found, nil
}

// continuity asks for what no constraint of the tables forbids: a gap in
// numbers that count from 1.
var continuity = []struct{ table, reason, query string }{
	{"pieces", "its count of entries is not the number in its log", "SELECT id FROM pieces AS p WHERE events <> (SELECT COUNT(*) FROM events WHERE piece_id = p.id) ORDER BY id"},
	{"pieces", "its log has a gap", "SELECT piece_id FROM events GROUP BY piece_id HAVING MAX(seq) <> COUNT(*) ORDER BY piece_id"},
	{"samples", "its count of entries is not the number in its log", "SELECT id FROM samples AS s WHERE entries <> (SELECT COUNT(*) FROM sample_entries WHERE sample_id = s.id) ORDER BY id"},
	{"samples", "its log has a gap", "SELECT sample_id FROM sample_entries GROUP BY sample_id HAVING MAX(seq) <> COUNT(*) ORDER BY sample_id"},
	{"trials", "its run order has a gap", "SELECT trial_id FROM samples GROUP BY trial_id HAVING MAX(run) <> COUNT(*) ORDER BY trial_id"},
	{"parts", "its plans have a gap", "SELECT part_id FROM plans GROUP BY part_id HAVING MAX(revision) <> COUNT(*) ORDER BY part_id"},
	{"polls", "its count of votes is not the number in its log", "SELECT id FROM polls AS p WHERE votes <> (SELECT COUNT(*) FROM votes WHERE poll_id = p.id) ORDER BY id"},
	{"polls", "its tallies are not those of its log", "SELECT id FROM polls AS p WHERE (SELECT COALESCE(SUM(left_wins + right_wins + ties), 0) FROM poll_tallies WHERE poll_id = p.id) <> (SELECT COUNT(*) FROM votes WHERE poll_id = p.id AND again = 0) ORDER BY id"},
	{"lathes", "its revisions have a gap", "SELECT MAX(id) FROM lathes GROUP BY shop_id, name HAVING MAX(revision) <> COUNT(*)"},
	{"materials", "its revisions have a gap", "SELECT MAX(id) FROM materials GROUP BY shop_id, name HAVING MAX(revision) <> COUNT(*)"},
}

// Sweep removes blobs that no row names and that are older than a day: left
// over from a crash, or from files that were removed.
func (s *Store) Sweep(ctx context.Context) (removed int, err error) {
	named, err := blobsNamed(ctx, s.read, s.postgres)
	if err != nil {
		return 0, err
	}
	var old []string
	err = s.blobs.Walk(ctx, func(sum string, _ int64, kept time.Time) error {
		if _, ok := slices.BinarySearch(named, sum); !ok && s.now().Sub(kept) > 24*time.Hour {
			old = append(old, sum)
		}
		return nil
	})
	if err != nil || len(old) == 0 {
		return 0, err
	}
	// While this transaction lasts no row can be committed that names one of
	// them: SQLite has one writer, PostgreSQL is told so.
	err = s.Update(ctx, func(tx *sql.Tx) error {
		removed = 0
		for _, table := range blobTables {
			if s.postgres {
				if _, err := tx.ExecContext(ctx, "LOCK TABLE "+table+" IN SHARE ROW EXCLUSIVE MODE"); err != nil {
					return err
				}
			}
		}
		named, err := blobsNamed(ctx, tx, s.postgres)
		if err != nil {
			return err
		}
		for _, sum := range old {
			if _, ok := slices.BinarySearch(named, sum); ok {
				continue
			}
			if err := s.blobs.Remove(ctx, sum); err != nil {
				return err
			}
			removed++
		}
		return nil
	})
	return removed, err
}

func closeIf(c interface{ Close() error }) error {
	if c == nil {
		return nil
	}
	return c.Close()
}
