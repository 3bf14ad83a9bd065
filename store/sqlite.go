package store

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"path/filepath"
	"runtime"
	"strings"

	"modernc.org/sqlite"
)

// Settings of every SQLite connection; they stand in the address because each
// connection of a pool needs them. synchronous=2 (FULL) forces the log to the
// disk at every commit; the default of WAL mode in many programs, 1, does not.
// secure_delete overwrites what is deleted, such as the key of a closed poll.
const sqliteSettings = "_pragma=busy_timeout(10000)&_pragma=journal_mode(WAL)&_pragma=synchronous(2)&_pragma=foreign_keys(1)&_pragma=secure_delete(1)"

const (
	sqliteWrite = "?mode=rwc&_txlock=immediate&" + sqliteSettings
	sqliteRead  = "?mode=ro&" + sqliteSettings + "&_pragma=query_only(1)"
)

// openSQLite opens a handle of one connection for writing (SQLite lets one write
// at a time; waiting in line here is cheaper and fairer than inside it) and one
// of several for reading.
func (s *Store) openSQLite(ctx context.Context, file string) error {
	var err error
	if s.write, err = sql.Open("sqlite", sqliteAddress(file)+sqliteWrite); err != nil {
		return err
	}
	s.write.SetMaxOpenConns(1)
	s.write.SetMaxIdleConns(1)
	if err := s.write.PingContext(ctx); err != nil {
		return fmt.Errorf("opening %s: %w", file, err)
	}
	if err := syncDir(filepath.Dir(file)); err != nil {
		return err
	}
	if s.read, err = sql.Open("sqlite", sqliteAddress(file)+sqliteRead); err != nil {
		return err
	}
	s.read.SetMaxOpenConns(2 + runtime.NumCPU())
	s.read.SetMaxIdleConns(2 + runtime.NumCPU())
	if err := s.read.PingContext(ctx); err != nil {
		return fmt.Errorf("opening %s to read: %w", file, err)
	}
	return nil
}

// sqliteAddress writes an absolute path as SQLite's URI, so that a folder called
// "50% done?" is no trouble.
func sqliteAddress(file string) string {
	p := filepath.ToSlash(file)
	if !strings.HasPrefix(p, "/") { // C:/Users/...
		p = "/" + p
	}
	return (&url.URL{Scheme: "file", Path: p}).String()
}

// lockedSQLite runs fn while no other process does so on the same lock file.
// SQLite itself is the lock: it works on every system and lets go when the
// process dies.
func lockedSQLite(ctx context.Context, file string, fn func() error) error {
	db, err := sql.Open("sqlite", sqliteAddress(file)+"?mode=rwc&_txlock=exclusive&_pragma=busy_timeout(60000)")
	if err != nil {
		return err
	}
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("waiting for another process to open %s: %w", filepath.Dir(file), err)
	}
	defer tx.Rollback() // nothing was written
	return fn()
}

// backupSQLite copies the database, as of now, into a file.
func (s *Store) backupSQLite(ctx context.Context, file string) error {
	if _, err := s.write.ExecContext(ctx, "VACUUM INTO $1", file); err != nil {
		return err
	}
	return syncFile(file)
}

// SQLite's extended result codes for what a statement may violate.
const (
	sqliteUnique     = 2067
	sqlitePrimaryKey = 1555
	sqliteForeignKey = 787
)

func sqliteViolation(e *sqlite.Error) violation {
	switch e.Code() {
	case sqliteUnique, sqlitePrimaryKey:
		return duplicate
	case sqliteForeignKey:
		return dangling
	}
	return noViolation
}
