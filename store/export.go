package store

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/pressly/goose/v3"
)

// The parts of an archive; docs/storage.md describes it.
const (
	archiveFormat  = "thrum archive"
	archiveVersion = 1
	manifestName   = "manifest.json"
	tablePath      = "tables/"
	blobPath       = "blobs/"
	tableExt       = ".jsonl"
)

// manifest says what an archive holds.
type manifest struct {
	Format  string          `json:"format"`
	Version int             `json:"version"`
	Schema  int64           `json:"schema"` // version of the tables
	Tables  []manifestTable `json:"tables"`
	Blobs   []string        `json:"blobs"`   // SHA-256 of the content inside
	Outside []string        `json:"outside"` // named by rows, but left out or missing
}

type manifestTable struct {
	Name   string `json:"name"`
	Rows   int64  `json:"rows"`
	SHA256 string `json:"sha256"` // of the lines
}

// Export writes everything that is kept, of all shops, into one archive. Two
// stores with the same content write the same bytes. Content that a row names
// but that has been lost is listed in the archive and told to the log; it does
// not keep the rest from being saved.
func (s *Store) Export(ctx context.Context, w io.Writer) error {
	return s.export(ctx, w, true)
}

func (s *Store) export(ctx context.Context, w io.Writer, withBlobs bool) error {
	tx, err := s.snapshot(ctx)
	if err != nil {
		return err
	}
	defer tx.Rollback() // it only reads
	m := manifest{Format: archiveFormat, Version: archiveVersion, Tables: []manifestTable{}, Blobs: []string{}, Outside: []string{}}
	if m.Schema, err = schemaOf(ctx, tx); err != nil {
		return err
	}
	z := zip.NewWriter(w)
	for _, table := range tables {
		there, err := hasTable(ctx, tx, s.postgres, table)
		if err != nil {
			return err
		}
		if !there { // a backup before an upgrade that adds it
			continue
		}
		t, err := exportTable(ctx, tx, z, table)
		if err != nil {
			return fmt.Errorf("exporting %s: %w", table, err)
		}
		m.Tables = append(m.Tables, t)
	}
	sums, err := blobsNamed(ctx, tx, s.postgres)
	if err != nil {
		return err
	}
	for _, sum := range sums {
		inside := false
		if withBlobs {
			if inside, err = s.exportBlob(ctx, z, sum); err != nil {
				return fmt.Errorf("exporting content %s: %w", sum, err)
			}
		}
		if inside {
			m.Blobs = append(m.Blobs, sum)
		} else {
			m.Outside = append(m.Outside, sum)
		}
	}
	if err := exportManifest(z, m); err != nil {
		return err
	}
	return z.Close()
}

func exportTable(ctx context.Context, tx *sql.Tx, z *zip.Writer, table string) (manifestTable, error) {
	t := manifestTable{Name: table}
	f, err := z.CreateHeader(&zip.FileHeader{Name: tablePath + table + tableExt, Method: zip.Deflate})
	if err != nil {
		return t, err
	}
	h := sha256.New()
	out := io.MultiWriter(f, h)
	err = eachRecord(ctx, tx, table, func(r record) error {
		line, err := r.line()
		if err != nil {
			return err
		}
		t.Rows++
		_, err = out.Write(line)
		return err
	})
	t.SHA256 = hex.EncodeToString(h.Sum(nil))
	return t, err
}

// exportBlob copies content as it is: photographs and recordings are compressed
// already. It returns false when the content is missing or no longer itself.
func (s *Store) exportBlob(ctx context.Context, z *zip.Writer, sum string) (bool, error) {
	r, err := s.sound(ctx, sum)
	if CodeOf(err) == NotFound {
		s.log.ErrorContext(ctx, "content that a row names is lost; the archive lacks it", "sha256", sum, "error", err)
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer r.Close()
	f, err := z.CreateHeader(&zip.FileHeader{Name: blobPath + sum, Method: zip.Store})
	if err != nil {
		return false, err
	}
	_, err = io.Copy(f, contextReader{ctx, r})
	return true, err
}

// sound opens content after having read it once to see that it is whole; content
// that is not what its name says counts as missing.
func (s *Store) sound(ctx context.Context, sum string) (io.ReadSeekCloser, error) {
	r, err := s.blobs.Open(ctx, sum)
	if err != nil {
		return nil, err
	}
	h := sha256.New()
	_, err = io.Copy(h, contextReader{ctx, r})
	if err == nil && hex.EncodeToString(h.Sum(nil)) != sum {
		err = &Error{NotFound, fmt.Errorf("content %s is damaged", sum)}
	}
	if err == nil {
		_, err = r.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, errors.Join(err, r.Close())
	}
	return r, nil
}

func exportManifest(z *zip.Writer, m manifest) error {
	f, err := z.CreateHeader(&zip.FileHeader{Name: manifestName, Method: zip.Deflate})
	if err != nil {
		return err
	}
	b, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	_, err = f.Write(append(b, '\n'))
	return err
}

// blobsNamed gives the SHA-256 of all content that rows name, sorted.
func blobsNamed(ctx context.Context, q querier, postgres bool) ([]string, error) {
	var sums []string
	for _, table := range blobTables {
		there, err := hasTable(ctx, q, postgres, table)
		if err != nil {
			return nil, err
		}
		if !there { // a backup before an upgrade that adds it
			continue
		}
		some, err := list(ctx, q, func(s *string) []any { return []any{s} }, "SELECT DISTINCT sha256 FROM "+table+" WHERE sha256 <> ''")
		if err != nil {
			return nil, err
		}
		sums = append(sums, some...)
	}
	slices.Sort(sums)
	return slices.Compact(sums), nil
}

// schemaOf is the version of the tables.
func schemaOf(ctx context.Context, q querier) (int64, error) {
	v, _, err := first(ctx, q, func(v *int64) []any { return []any{v} }, "SELECT MAX(version_id) FROM "+goose.DefaultTablename)
	return v, err
}

func hasTable(ctx context.Context, q querier, postgres bool, table string) (bool, error) {
	query := "SELECT name FROM sqlite_master WHERE type = 'table' AND name = $1"
	if postgres {
		query = "SELECT table_name FROM information_schema.tables WHERE table_schema = current_schema() AND table_name = $1"
	}
	_, ok, err := first(ctx, q, func(s *string) []any { return []any{s} }, query, table)
	return ok, err
}
