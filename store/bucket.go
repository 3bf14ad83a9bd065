package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path"
	"strings"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"thrum/unit"
)

// bucket keeps blobs in a bucket as prefix/sha256.
type bucket struct {
	client       *minio.Client
	name, prefix string
}

// Bucket keeps blobs in a bucket that speaks the S3 protocol, by an address like
// s3://bucket/prefix?endpoint=https://host:9000&region=r. The keys are taken
// from the environment, AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY. The bucket
// must exist.
func Bucket(ctx context.Context, address string) (Blobs, error) {
	bad := func(reason string) error {
		return invalid("address of the bucket", address, reason, "write s3://bucket/folder?endpoint=https://host:9000&region=r")
	}
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "s3" || u.Host == "" {
		return nil, bad("is not the address of a bucket")
	}
	query := u.Query()
	for name := range query {
		if name != "endpoint" && name != "region" {
			return nil, bad("has the unknown setting " + unit.Quote(name))
		}
	}
	endpoint, err := url.Parse(orDefault(query.Get("endpoint"), "https://s3.amazonaws.com"))
	if err != nil || endpoint.Host == "" || endpoint.Scheme != "https" && endpoint.Scheme != "http" {
		return nil, bad("has an endpoint that is not an http or https address")
	}
	client, err := minio.New(endpoint.Host, &minio.Options{
		Creds: credentials.NewEnvAWS(), Secure: endpoint.Scheme == "https", Region: query.Get("region"),
	})
	if err != nil {
		return nil, bad(err.Error())
	}
	b := bucket{client, u.Host, strings.Trim(u.Path, "/")}
	there, err := client.BucketExists(ctx, b.name)
	if err != nil {
		return nil, fmt.Errorf("bucket %s on %s: %w", b.name, endpoint.Host, err)
	}
	if !there {
		return nil, bad("names a bucket that does not exist")
	}
	return b, nil
}

func (b bucket) key(sum string) string { return path.Join(b.prefix, sum) }

// Put writes the content into a temporary file first, since its name is known
// only at its end.
func (b bucket) Put(ctx context.Context, r io.Reader) (sum string, size int64, err error) {
	f, err := os.CreateTemp("", "thrum-upload-*")
	if err != nil {
		return "", 0, err
	}
	defer func() { err = errors.Join(err, f.Close(), os.Remove(f.Name())) }()
	h := sha256.New()
	if size, err = io.Copy(io.MultiWriter(f, h), contextReader{ctx, r}); err != nil {
		return "", 0, err
	}
	if size == 0 {
		return "", 0, emptyContent()
	}
	if _, err = f.Seek(0, io.SeekStart); err != nil {
		return "", 0, err
	}
	sum = hex.EncodeToString(h.Sum(nil))
	_, err = b.client.PutObject(ctx, b.name, b.key(sum), f, size, minio.PutObjectOptions{ContentType: "application/octet-stream"})
	return sum, size, err
}

// Open implements Blobs.
func (b bucket) Open(ctx context.Context, sum string) (io.ReadSeekCloser, error) {
	if !isSHA256(sum) {
		return nil, blobMissing(sum)
	}
	o, err := b.client.GetObject(ctx, b.name, b.key(sum), minio.GetObjectOptions{})
	if err != nil {
		return nil, err
	}
	if _, err := o.Stat(); err != nil {
		err = errors.Join(err, o.Close())
		if e, ok := errors.AsType[minio.ErrorResponse](err); ok && e.Code == minio.NoSuchKey {
			return nil, blobMissing(sum)
		}
		return nil, err
	}
	return o, nil
}

// Walk implements Blobs; the protocol lists keys in order.
func (b bucket) Walk(ctx context.Context, fn func(string, int64, time.Time) error) error {
	prefix := b.prefix
	if prefix != "" {
		prefix += "/"
	}
	for o := range b.client.ListObjectsIter(ctx, b.name, minio.ListObjectsOptions{Prefix: prefix}) {
		if o.Err != nil {
			return o.Err
		}
		if sum := path.Base(o.Key); isSHA256(sum) && b.key(sum) == o.Key {
			if err := fn(sum, o.Size, o.LastModified); err != nil {
				return err
			}
		}
	}
	return nil
}

// Remove implements Blobs.
func (b bucket) Remove(ctx context.Context, sum string) error {
	if !isSHA256(sum) {
		return nil
	}
	return b.client.RemoveObject(ctx, b.name, b.key(sum), minio.RemoveObjectOptions{})
}
