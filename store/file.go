package store

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"mime"
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

const (
	fileColumns = rowColumns + ", " + aboutColumns + ", kind, name, media, sha256, size"
	fileQuery   = "SELECT " + fileColumns + " FROM files "
)

func (f *File) dest() []any {
	return f.Row.dest(f.About.dest(&f.Kind, &f.Name, &f.Media, &f.SHA256, &f.Size)...)
}

// AddFile keeps content and the row that describes it. Content longer than the
// store's limit is refused. Sent again under the same id it returns the file that
// is kept.
func (s *Store) AddFile(ctx context.Context, f File, content io.Reader) (kept File, err error) {
	if err := checkKey("kind of file", f.Kind); err != nil {
		return File{}, err
	}
	if err := checkName("file name", f.Name); err != nil {
		return File{}, err
	}
	media, params, err := mime.ParseMediaType(f.Media)
	if err != nil {
		return File{}, invalid("media type", f.Media, "is not a media type", `write one like "image/jpeg"`)
	}
	f.Media = mime.FormatMediaType(media, params)
	if f.Row, err = s.stamp(f.Row); err != nil {
		return File{}, err
	}
	if f.About, err = s.resolve(ctx, s.read, f.About); err != nil {
		return File{}, err
	}
	// The bytes first: a row never names content that is not safe on the disk.
	if f.SHA256, f.Size, err = s.blobs.Put(ctx, &limitReader{content, s.maxBlob, s.maxBlob}); err != nil {
		return File{}, err
	}
	err = s.Update(ctx, func(tx *sql.Tx) (err error) {
		kept, err = insertOnce(ctx, tx, "file", "files ("+fileColumns+") VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)",
			f.Row.args(f.About.args(f.Kind, f.Name, f.Media, f.SHA256, f.Size)...), fileQuery, f)
		if err != nil {
			return err
		}
		return s.HasBlob(ctx, f.SHA256)
	})
	if err != nil {
		return File{}, err
	}
	return kept, nil
}

// HasBlob returns an error when content is not there. Whoever writes a row that
// names content calls it in the same transaction, after the insert: a Sweep may
// have removed the content since it was put, if it was also an old left-over.
func (s *Store) HasBlob(ctx context.Context, sha256 string) error {
	r, err := s.blobs.Open(ctx, sha256)
	if err != nil {
		return err
	}
	return r.Close()
}

// OpenFile returns a file and its content, which the caller closes.
func (s *Store) OpenFile(ctx context.Context, id string) (File, io.ReadSeekCloser, error) {
	f, ok, err := first(ctx, s.read, (*File).dest, fileQuery+"WHERE id = $1 AND shop_id = $2", id, s.shop)
	if err == nil && !ok {
		err = notFound("file", id, "")
	}
	if err != nil {
		return File{}, nil, err
	}
	r, err := s.blobs.Open(ctx, f.SHA256)
	return f, r, err
}

// Files lists files, oldest first.
func (s *Store) Files(ctx context.Context, a About) ([]File, error) {
	where, args := s.where(a)
	return list(ctx, s.read, (*File).dest, fileQuery+where, args...)
}

// RemoveFile forgets a file. Its content goes at the next Sweep, unless another
// row has the same.
func (s *Store) RemoveFile(ctx context.Context, id string) error {
	return s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "DELETE FROM files WHERE id = $1 AND shop_id = $2", id, s.shop)
		if err == nil && n == 0 {
			err = notFound("file", id, "")
		}
		return err
	})
}

// limitReader fails when more than most bytes come.
type limitReader struct {
	r          io.Reader
	left, most int64
}

func (l *limitReader) Read(p []byte) (int, error) {
	n, err := l.r.Read(p)
	if l.left -= int64(n); l.left < 0 {
		return 0, invalid("file", fmt.Sprintf("more than %d bytes", l.most), "is too long", "shorten the recording, or raise the limit")
	}
	return n, err
}
