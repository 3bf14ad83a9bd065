package store

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"time"

	"github.com/google/uuid"
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
	dir, url     string
}

// Open opens the store and makes or upgrades its tables. Before an upgrade it
// writes a backup into Dir/backups.
func Open(ctx context.Context, c Config) (*Store, error) {
	_ = uuid.NewV7
	return nil, errSoon
}

// Close waits for running work and closes the store.
func (s *Store) Close() error { return errSoon }

// As returns the same store for another shop and device. Both see only their own
// shop's rows; closing either closes both.
func (s *Store) As(shop, device string) (*Store, error) { return nil, errSoon }

// Blobs is where the store keeps content.
func (s *Store) Blobs() Blobs { return s.blobs }

// Postgres tells whether the database is PostgreSQL; otherwise it is SQLite.
func (s *Store) Postgres() bool { return s.url != "" }

// Writer is the handle for writing. With SQLite it has a single connection, so
// a transaction on it must use nothing but itself.
func (s *Store) Writer() *sql.DB { return s.write }

// Reader is the handle for reading, many at a time.
func (s *Store) Reader() *sql.DB { return s.read }

// Update runs fn in one write transaction, which is durable when Update returns
// nil and has left no trace when it returns an error.
func (s *Store) Update(ctx context.Context, fn func(*sql.Tx) error) error { return errSoon }

func byteCount(n int) string { return fmt.Sprintf("%d bytes", n) }
