package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"log/slog"
	"path/filepath"
	"time"

	"github.com/google/uuid"

	"thrum/unit"
)

// Config says where the store is. Only Dir is needed.
type Config struct {
	// Dir is the data folder: the SQLite file, blobs, backups. It is made when
	// it does not exist.
	Dir string
	// URL is the address of a PostgreSQL database (postgres://...). Empty means
	// SQLite in Dir.
	URL string
	// Blobs is where content is kept; nil means the folder Dir/blobs.
	Blobs Blobs
	// MaxBlob is the longest content that is accepted; 0 means 2 GiB.
	MaxBlob int64
	// Shop and Device are written into the rows that are made; both "local"
	// when empty.
	Shop, Device string
	// Now is the clock; nil means time.Now.
	Now func() time.Time
	// NewID makes ids; nil means random UUIDs of version 7.
	NewID func() string
	// Log is told about migrations and backups; nil means slog.Default.
	Log *slog.Logger
}

// Store is an open store. It may be used by many goroutines at once.
type Store struct {
	write, read  *sql.DB
	blobs        Blobs
	maxBlob      int64
	shop, device string
	now          func() time.Time
	newID        func() string
	log          *slog.Logger
	dir, address string
	postgres     bool
	ballots      *ballots
}

// Open opens the store and makes or upgrades its tables. Before an upgrade it
// writes a backup into Dir/backups.
func Open(ctx context.Context, c Config) (*Store, error) {
	return open(ctx, c, migrations())
}

func open(ctx context.Context, c Config, steps fs.FS) (*Store, error) {
	if c.Dir == "" {
		return nil, invalid("data folder", c.Dir, "is empty", "name a folder")
	}
	dir, err := filepath.Abs(c.Dir)
	if err != nil {
		return nil, err
	}
	if err := makeDir(dir); err != nil {
		return nil, &Error{Invalid, &unit.InputError{Field: "data folder", Value: c.Dir, Reason: "cannot be made: " + err.Error(), Hint: "name a folder that you may write to"}}
	}
	s := &Store{
		blobs: c.Blobs, maxBlob: c.MaxBlob, shop: orDefault(c.Shop, "local"), device: orDefault(c.Device, "local"),
		now: c.Now, newID: c.NewID, log: c.Log, dir: dir, address: c.URL, postgres: c.URL != "",
		ballots: &ballots{},
	}
	if err := errors.Join(checkKey("shop", s.shop), checkKey("device", s.device)); err != nil {
		return nil, err
	}
	if s.maxBlob == 0 {
		s.maxBlob = 2 << 30
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.newID == nil {
		s.newID = func() string { return uuid.Must(uuid.NewV7()).String() }
	}
	if s.log == nil {
		s.log = slog.Default()
	}
	if s.blobs == nil {
		if s.blobs, err = Folder(filepath.Join(dir, "blobs")); err != nil {
			return nil, err
		}
	}
	if err := s.connect(ctx, steps); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// connect opens both handles and brings the tables up to date, one process at
// a time.
func (s *Store) connect(ctx context.Context, steps fs.FS) error {
	if s.postgres {
		if err := s.openPostgres(ctx); err != nil {
			return err
		}
		return s.lockedPostgres(ctx, func() error { return s.migrate(ctx, steps) })
	}
	return lockedSQLite(ctx, filepath.Join(s.dir, "thrum.lock"), func() error {
		if err := s.openSQLite(ctx, filepath.Join(s.dir, "thrum.db")); err != nil {
			return err
		}
		return s.migrate(ctx, steps)
	})
}

// Close closes the store. Calls that are under way end first.
func (s *Store) Close() error {
	s.ballots.close()
	var errs []error
	if s.read != nil && s.read != s.write {
		errs = append(errs, s.read.Close())
	}
	if s.write != nil { // last: it writes SQLite's log back into the file
		errs = append(errs, s.write.Close())
	}
	return errors.Join(errs...)
}

// As returns the same store for another shop and device. Each sees only its own
// shop's rows; closing one closes both.
func (s *Store) As(shop, device string) (*Store, error) {
	if err := errors.Join(checkKey("shop", shop), checkKey("device", device)); err != nil {
		return nil, err
	}
	as := *s
	as.shop, as.device = shop, device
	return &as, nil
}

// Blobs is where the store keeps content.
func (s *Store) Blobs() Blobs { return s.blobs }

// Dir is the data folder.
func (s *Store) Dir() string { return s.dir }

// Postgres tells whether the database is PostgreSQL; otherwise it is SQLite.
func (s *Store) Postgres() bool { return s.postgres }

// Shop is the shop that the store was opened for.
func (s *Store) Shop() string { return s.shop }

// Now is the time of the store's clock.
func (s *Store) Now() time.Time { return s.now() }

// Log is where the store reports what nobody waits for.
func (s *Store) Log() *slog.Logger { return s.log }

// Writer is the handle for writing. With SQLite it has a single connection:
// inside a transaction use nothing but the transaction, or wait for ever.
func (s *Store) Writer() *sql.DB { return s.write }

// Reader is the handle for reading, many at a time.
func (s *Store) Reader() *sql.DB { return s.read }

// Stamp fills the empty fields of a row: id, shop, device, time.
func (s *Store) Stamp(r Row) (Row, error) { return s.stamp(r) }

func orDefault(v, otherwise string) string {
	if v == "" {
		return otherwise
	}
	return v
}
