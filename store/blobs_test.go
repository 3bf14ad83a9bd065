package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// testBucket gives an empty bucket of an S3 server that other people wrote.
func testBucket(t testing.TB, prefix string) Blobs {
	t.Helper()
	server := httptest.NewServer(gofakes3.New(s3mem.New(), gofakes3.WithAutoBucket(true)).Server())
	t.Cleanup(server.Close)
	return must(Bucket(t.Context(), "s3://shop"+prefix+"?region=eu-central-1&endpoint="+server.URL))(t)
}

func setBucketKeys(t *testing.T) {
	t.Setenv("AWS_ACCESS_KEY_ID", "test")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "secret of the test")
}

func TestBlobs(t *testing.T) {
	setBucketKeys(t)
	t.Run("folder", func(t *testing.T) { testBlobs(t, must(Folder(filepath.Join(t.TempDir(), "a", "b")))(t)) })
	t.Run("bucket", func(t *testing.T) { testBlobs(t, testBucket(t, "")) })
	t.Run("bucket with a prefix", func(t *testing.T) { testBlobs(t, testBucket(t, "/thrum/blobs")) })
}

func testBlobs(t *testing.T, b Blobs) {
	ctx := t.Context()
	contents := []string{"a", "abc", strings.Repeat("long ", 200_000)}
	sums := []string{
		hex.EncodeToString(hashOf(contents[0])),
		"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", // FIPS 180-2, appendix B.1
		hex.EncodeToString(hashOf(contents[2])),
	}
	for range 2 { // the second time it is there already
		for i, content := range contents {
			sum, size, err := b.Put(ctx, strings.NewReader(content))
			if err != nil || sum != sums[i] || size != int64(len(content)) {
				t.Fatalf("put %d bytes: %s, %d, %v", len(content), sum, size, err)
			}
		}
	}
	for i, content := range contents {
		r := must(b.Open(ctx, sums[i]))(t)
		if got := must(io.ReadAll(r))(t); string(got) != content {
			t.Errorf("read %d bytes, want %d", len(got), len(content))
		}
		if _, err := r.Seek(int64(len(content)/2), io.SeekStart); err != nil {
			t.Error(err)
		}
		if got := must(io.ReadAll(r))(t); string(got) != content[len(content)/2:] {
			t.Errorf("after seeking read %d bytes", len(got))
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}
	walk := func() (all []string) {
		err := b.Walk(ctx, func(sum string, size int64, kept time.Time) error {
			if i := slices.Index(sums, sum); size != int64(len(contents[i])) || time.Since(kept).Abs() > time.Hour {
				t.Errorf("%s: size %d, kept %v", sum, size, kept)
			}
			all = append(all, sum)
			return nil
		})
		if err != nil {
			t.Error(err)
		}
		return all
	}
	want := slices.Sorted(slices.Values(sums))
	if got := walk(); !slices.Equal(got, want) {
		t.Errorf("walked %v, want %v", got, want)
	}
	stop := errors.New("enough")
	if err := b.Walk(ctx, func(string, int64, time.Time) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("a walk that is stopped returns %v", err)
	}

	t.Log("what breaks off is not kept")
	for _, r := range []io.Reader{
		strings.NewReader(""),
		io.MultiReader(strings.NewReader("half"), brokenReader{}),
		&limitReader{strings.NewReader("too long"), 4, 4},
	} {
		if _, _, err := b.Put(ctx, r); err == nil {
			t.Error("a broken upload was kept")
		}
	}
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	if _, _, err := b.Put(cancelled, strings.NewReader("late")); !errors.Is(err, context.Canceled) {
		t.Errorf("put after the end: %v", err)
	}
	if got := walk(); !slices.Equal(got, want) {
		t.Errorf("walked %v, want %v", got, want)
	}

	for _, sum := range append(sums, "../../etc/passwd", strings.Repeat("0", 64), "") {
		if err := b.Remove(ctx, sum); err != nil {
			t.Errorf("remove %q: %v", sum, err)
		}
		_, err := b.Open(ctx, sum)
		wantCode(t, err, NotFound)
	}
	if got := walk(); len(got) != 0 {
		t.Errorf("left after removing all: %v", got)
	}
}

func hashOf(s string) []byte { h := sha256.Sum256([]byte(s)); return h[:] }

func TestFolderIsTidy(t *testing.T) {
	dir := t.TempDir()
	b := must(Folder(dir))(t)
	if _, _, err := b.Put(t.Context(), brokenReader{}); err == nil {
		t.Fatal("a broken upload was kept")
	}
	sum, _, err := b.Put(t.Context(), strings.NewReader("abc"))
	if err != nil {
		t.Fatal(err)
	}
	fresh, old := filepath.Join(dir, newPrefix+"1"), filepath.Join(dir, newPrefix+"2")
	for _, f := range []string{fresh, old, filepath.Join(dir, "ba", "notes.txt"), filepath.Join(dir, "README")} {
		if err := os.WriteFile(f, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	yesterday := time.Now().Add(-25 * time.Hour)
	if err := os.Chtimes(old, yesterday, yesterday); err != nil {
		t.Fatal(err)
	}
	b = must(Folder(dir))(t)
	if _, err := os.Stat(fresh); err != nil {
		t.Error("an upload under way was removed:", err)
	}
	if _, err := os.Stat(old); !errors.Is(err, os.ErrNotExist) {
		t.Error("an upload that was broken off long ago is still there")
	}
	err = b.Walk(t.Context(), func(got string, _ int64, _ time.Time) error {
		if got != sum {
			t.Errorf("walked %q", got)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	info := must(os.Stat(filepath.Join(dir, "ba", sum)))(t)
	if info.Mode().Perm() != 0o600 {
		t.Errorf("others may read the content: %v", info.Mode())
	}
}

func TestBucketAddress(t *testing.T) {
	setBucketKeys(t)
	server := httptest.NewServer(gofakes3.New(s3mem.New()).Server())
	defer server.Close()
	for _, address := range []string{
		"", "bucket", "http://host/bucket", "s3://", "s3://shop?endpoint=ftp://x", "s3://shop?endpoint=//",
		"s3://shop?zone=3", "s3://shop?region=r&endpoint=" + server.URL, "s3://s?\x00",
	} {
		_, err := Bucket(t.Context(), address)
		if CodeOf(err) != Invalid {
			t.Errorf("address %q: %v", address, err)
		}
	}
}

func TestFilesComeBackWhole(t *testing.T) {
	setBucketKeys(t)
	for _, engine := range engines {
		for _, where := range []string{"folder", "bucket"} {
			t.Run(engine+", "+where, func(t *testing.T) {
				c := configFor(t, engine)
				c.MaxBlob = 1 << 20
				if where == "bucket" {
					c.Blobs = testBucket(t, "/p")
				}
				testFiles(t, openTest(t, c))
			})
		}
	}
}

func testFiles(t *testing.T, s *Store) {
	ctx := t.Context()
	part := must(s.AddPart(ctx, Part{Name: "p"}))(t)
	content := bytes.Repeat([]byte("flank"), 30_000)
	f := must(s.AddFile(ctx, File{About: About{PartID: part.ID}, Kind: "photo", Name: "a.jpg", Media: "Image/JPEG; q=1"}, bytes.NewReader(content)))(t)
	same := must(s.AddFile(ctx, File{About: About{PartID: part.ID}, Kind: "photo", Name: "b.jpg", Media: "image/jpeg"}, bytes.NewReader(content)))(t)
	if f.SHA256 != same.SHA256 || f.Size != int64(len(content)) || f.Media != "image/jpeg; q=1" {
		t.Fatalf("kept %+v and %+v", f, same)
	}
	if again := must(s.AddFile(ctx, f, bytes.NewReader(content)))(t); again != f {
		t.Errorf("sent twice: %+v, want %+v", again, f)
	}
	_, err := s.AddFile(ctx, f, strings.NewReader("something else"))
	wantCode(t, err, Conflict)
	_, err = s.AddFile(ctx, File{About: About{PartID: part.ID}, Kind: "photo", Name: "c", Media: "image/jpeg"}, bytes.NewReader(make([]byte, 1<<20+1)))
	wantCode(t, err, Invalid)
	got, r, err := s.OpenFile(ctx, f.ID)
	if err != nil {
		t.Fatal(err)
	}
	if b := must(io.ReadAll(r))(t); got != f || !bytes.Equal(b, content) {
		t.Errorf("read %+v with %d bytes", got, len(b))
	}
	if err := r.Close(); err != nil {
		t.Error(err)
	}

	t.Log("content stays until no row names it and a day has gone by")
	sweep := func(after time.Duration, want int) {
		t.Helper()
		s.now = func() time.Time { return time.Now().Add(after) }
		if n := must(s.Sweep(ctx))(t); n != want {
			t.Errorf("swept %d after %v, want %d", n, after, want)
		}
	}
	sweep(0, 0)
	sweep(25*time.Hour, 1) // what the conflict above left behind
	if err := s.RemoveFile(ctx, f.ID); err != nil {
		t.Fatal(err)
	}
	sweep(25*time.Hour, 0)
	if problems := must(s.Check(ctx))(t); len(problems) != 0 {
		t.Error(problems)
	}
	if err := s.RemoveFile(ctx, same.ID); err != nil {
		t.Fatal(err)
	}
	sweep(time.Hour, 0)
	sweep(25*time.Hour, 1)
	wantCode(t, s.HasBlob(ctx, f.SHA256), NotFound)
}
