package store

import (
	"context"
	"io"
)

// Export writes everything that is kept, of all shops, into one archive. Two
// stores with the same content write the same bytes.
func (s *Store) Export(ctx context.Context, w io.Writer) error { return errSoon }

// Import fills an empty store from an archive. Either all of it arrives or
// nothing: a damaged archive, or a store that is not empty, changes nothing.
func (s *Store) Import(ctx context.Context, r io.ReaderAt, size int64) error { return errSoon }

// Problem is something that Check found wrong.
type Problem struct{ Table, ID, Reason string }

// Check reads every row and every blob and returns what does not fit together.
func (s *Store) Check(ctx context.Context) ([]Problem, error) { return nil, errSoon }

// Sweep removes blobs that no row names and that are older than a day: left
// over from a crash, or from files that were removed.
func (s *Store) Sweep(ctx context.Context) (removed int, err error) { return 0, errSoon }
