package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Blobs keeps content under the SHA-256 of its bytes.
type Blobs interface {
	// Put keeps all of r and returns its SHA-256 and size. When it returns
	// without an error the content is durable. Empty content is refused.
	Put(ctx context.Context, r io.Reader) (sha256 string, size int64, err error)
	// Open returns the content; an error with code NotFound when it is not there.
	Open(ctx context.Context, sha256 string) (io.ReadSeekCloser, error)
	// Walk calls fn for everything kept, in the order of the SHA-256.
	Walk(ctx context.Context, fn func(sha256 string, size int64, kept time.Time) error) error
	// Remove forgets content; it is no error if it is not there.
	Remove(ctx context.Context, sha256 string) error
}

// isSHA256 tells whether s is a SHA-256 in lower-case hexadecimal digits. Nothing
// else ever becomes part of a path.
func isSHA256(s string) bool {
	if len(s) != 64 {
		return false
	}
	for _, c := range s {
		if !(c >= '0' && c <= '9' || c >= 'a' && c <= 'f') {
			return false
		}
	}
	return true
}

func emptyContent() error {
	return invalid("content", "", "is empty", "look whether the file arrived whole")
}

func blobMissing(sum string) error { return notFound("content", sum, "") }

// folder keeps blobs in dir/ab/ab12...; what is being written is dir/new-*.
type folder struct{ dir string }

const newPrefix = "new-"

// Folder keeps blobs in a folder of the local disk.
func Folder(dir string) (Blobs, error) {
	if err := makeDir(dir); err != nil {
		return nil, err
	}
	// What a crash left half written, a day ago or more.
	left, err := filepath.Glob(filepath.Join(dir, newPrefix+"*"))
	if err != nil {
		return nil, err
	}
	for _, file := range left {
		if info, err := os.Stat(file); err == nil && time.Since(info.ModTime()) > 24*time.Hour {
			if err := removeIfThere(file); err != nil {
				return nil, err
			}
		}
	}
	return folder{dir}, nil
}

func (b folder) path(sum string) string { return filepath.Join(b.dir, sum[:2], sum) }

// Put writes a temporary file, forces it to the disk, gives it its name and
// forces the name to the disk.
func (b folder) Put(ctx context.Context, r io.Reader) (sum string, size int64, err error) {
	f, err := os.CreateTemp(b.dir, newPrefix+"*")
	if err != nil {
		return "", 0, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, removeIfThere(f.Name()))
		}
	}()
	h := sha256.New()
	size, err = io.Copy(io.MultiWriter(f, h), contextReader{ctx, r})
	if err == nil && size == 0 {
		err = emptyContent()
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return "", 0, err
	}
	sum = hex.EncodeToString(h.Sum(nil))
	file := b.path(sum)
	if err := makeDir(filepath.Dir(file)); err != nil {
		return "", 0, err
	}
	if err := os.Rename(f.Name(), file); err != nil {
		// Windows refuses while someone reads the same content.
		if info, stat := os.Stat(file); stat != nil || info.Size() != size {
			return "", 0, err
		}
		if err := removeIfThere(f.Name()); err != nil {
			return "", 0, err
		}
	}
	return sum, size, syncDir(filepath.Dir(file))
}

// Open implements Blobs.
func (b folder) Open(_ context.Context, sum string) (io.ReadSeekCloser, error) {
	if !isSHA256(sum) {
		return nil, blobMissing(sum)
	}
	f, err := os.Open(b.path(sum))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, blobMissing(sum)
	}
	if err != nil {
		return nil, err
	}
	return f, nil
}

// Walk implements Blobs; os.ReadDir sorts by name.
func (b folder) Walk(ctx context.Context, fn func(string, int64, time.Time) error) error {
	dirs, err := os.ReadDir(b.dir)
	if err != nil {
		return err
	}
	for _, d := range dirs {
		if !d.IsDir() || len(d.Name()) != 2 {
			continue
		}
		files, err := os.ReadDir(filepath.Join(b.dir, d.Name()))
		if err != nil {
			return err
		}
		for _, f := range files {
			if !isSHA256(f.Name()) || !strings.HasPrefix(f.Name(), d.Name()) {
				continue
			}
			info, err := f.Info()
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			if err == nil {
				err = fn(f.Name(), info.Size(), info.ModTime())
			}
			if err = errors.Join(err, ctx.Err()); err != nil {
				return err
			}
		}
	}
	return nil
}

// Remove implements Blobs.
func (b folder) Remove(_ context.Context, sum string) error {
	if !isSHA256(sum) {
		return nil
	}
	return removeIfThere(b.path(sum))
}

// contextReader stops a copy when its context ends.
type contextReader struct {
	ctx context.Context
	r   io.Reader
}

func (c contextReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}
