package store

import (
	"context"
	"errors"
	"io"
	"time"
)

var errSoon = errors.New("not built yet")

// Blobs keeps content under the SHA-256 of its bytes.
type Blobs interface {
	// Put keeps all of r and returns its SHA-256 and size. When it returns
	// without an error the content is durable.
	Put(ctx context.Context, r io.Reader) (sha256 string, size int64, err error)
	// Open returns the content; an error with code NotFound when it is not there.
	Open(ctx context.Context, sha256 string) (io.ReadSeekCloser, error)
	// Walk calls fn for everything kept, in the order of the SHA-256.
	Walk(ctx context.Context, fn func(sha256 string, size int64, kept time.Time) error) error
	// Remove forgets content; it is no error if it is not there.
	Remove(ctx context.Context, sha256 string) error
}

// Folder keeps blobs in a folder of the local disk.
func Folder(dir string) (Blobs, error) { return nil, errSoon }

// Bucket keeps blobs in a bucket that speaks the S3 protocol, by an address like
// s3://bucket/prefix?endpoint=https://host:9000&region=r. The keys are taken
// from AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY.
func Bucket(address string) (Blobs, error) { return nil, errSoon }
