package store

import (
	"context"
	"io"
)

// File is a photograph, a recording or a document. Its content is a blob, found
// by its SHA-256.
type File struct {
	Row
	About
	Kind   string // a short word, such as "photo", "recording", "sheet"
	Name   string // as the user knows it; never used as a path
	Media  string // media type, such as "image/jpeg"
	SHA256 string // of the content, 64 hexadecimal digits
	Size   int64  // bytes
}

// AddFile keeps content and the row that describes it. Content longer than the
// store's limit is refused before it is kept.
func (s *Store) AddFile(ctx context.Context, f File, content io.Reader) (File, error) {
	return File{}, errSoon
}

// OpenFile returns a file and its content, which the caller closes.
func (s *Store) OpenFile(ctx context.Context, id string) (File, io.ReadSeekCloser, error) {
	return File{}, nil, errSoon
}

// Files lists files, oldest first.
func (s *Store) Files(ctx context.Context, a About) ([]File, error) { return nil, errSoon }

// RemoveFile forgets a file. Its content goes at the next Sweep, unless another
// row has the same.
func (s *Store) RemoveFile(ctx context.Context, id string) error { return errSoon }
