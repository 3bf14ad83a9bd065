package store

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"thrum/unit"
)

const (
	maxLine     = 128 << 20 // a plan with its result, doubled by escapes
	maxManifest = 64 << 20
)

// Import fills an empty store from an archive. Either all of it arrives or
// nothing: a damaged archive, or a store that is not empty, changes nothing.
func (s *Store) Import(ctx context.Context, r io.ReaderAt, size int64) error {
	a, err := openArchive(r, size)
	if err != nil {
		return err
	}
	if err := s.checkArchive(ctx, a); err != nil {
		return err
	}
	if err := s.importBlobs(ctx, a); err != nil {
		return err
	}
	err = s.Update(ctx, func(tx *sql.Tx) error {
		if err := mustBeEmpty(ctx, tx); err != nil {
			return err
		}
		for _, t := range a.Tables {
			if err := importTable(ctx, tx, a, t); err != nil {
				return err
			}
		}
		named, err := blobsNamed(ctx, tx, s.postgres)
		if err != nil {
			return err
		}
		listed := map[string]bool{}
		for _, sum := range slices.Concat(a.Blobs, a.Outside) {
			listed[sum] = true
		}
		for _, sum := range named {
			if !listed[sum] {
				return badArchive(sum, "is named by a row, but is not in the archive")
			}
		}
		return nil
	})
	if CodeOf(err) == NotFound { // found by the database at the end
		return badArchive(err.Error(), "holds a row that belongs to one that it does not hold")
	}
	return err
}

func badArchive(value, reason string) error {
	return invalid("archive", value, reason, "use an archive as it was exported")
}

// archive is an archive whose list of contents has been read and found good.
type archive struct {
	manifest
	files map[string]*zip.File
}

func openArchive(r io.ReaderAt, size int64) (*archive, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, badArchive(err.Error(), "is not a zip file")
	}
	a := &archive{files: map[string]*zip.File{}}
	for _, f := range z.File {
		if a.files[f.Name] != nil {
			return nil, badArchive(f.Name, "is there twice")
		}
		a.files[f.Name] = f
	}
	f := a.files[manifestName]
	if f == nil {
		return nil, badArchive(manifestName, "is missing")
	}
	b, err := readAll(f, maxManifest)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(b, &a.manifest); err != nil || a.Format != archiveFormat {
		return nil, badArchive(manifestName, "does not describe an archive of this program")
	}
	if a.Version != archiveVersion {
		return nil, badArchive(fmt.Sprint(a.Version), fmt.Sprintf("is an unknown version of the format; this program reads %d", archiveVersion))
	}
	return a, a.checkNames()
}

// checkNames wants exactly the files that the manifest lists, each known.
func (a *archive) checkNames() error {
	want := map[string]bool{manifestName: true}
	for _, t := range a.Tables {
		if !slices.Contains(tables, t.Name) {
			return badArchive(t.Name, "is an unknown table")
		}
		want[tablePath+t.Name+tableExt] = true
	}
	for _, sum := range a.Blobs {
		if !isSHA256(sum) {
			return badArchive(sum, "is not a SHA-256")
		}
		want[blobPath+sum] = true
	}
	if len(want) != 1+len(a.Tables)+len(a.Blobs) {
		return badArchive(manifestName, "lists something twice")
	}
	for name := range want {
		if a.files[name] == nil {
			return badArchive(name, "is missing")
		}
	}
	for name := range a.files {
		if !want[name] {
			return badArchive(name, "does not belong to it")
		}
	}
	return nil
}

// checkArchive reads all tables once, before anything is written.
func (s *Store) checkArchive(ctx context.Context, a *archive) error {
	schema, err := schemaOf(ctx, s.read)
	if err != nil {
		return err
	}
	if a.Schema > schema {
		return badArchive(fmt.Sprint(a.Schema), fmt.Sprintf("was written by a newer version of this program (this one knows tables of version %d)", schema))
	}
	columns := map[string]map[string]kind{}
	for _, t := range a.Tables {
		if columns[t.Name], err = columnsOf(ctx, s.read, t.Name); err != nil {
			return err
		}
	}
	return a.check(ctx, columns)
}

// check reads all tables, given their columns.
func (a *archive) check(ctx context.Context, columns map[string]map[string]kind) error {
	for _, t := range a.Tables {
		if err := a.eachRecord(ctx, t, columns[t.Name], func(record) error { return nil }); err != nil {
			return err
		}
	}
	return nil
}

// eachRecord reads the lines of a table, and at the end compares their number
// and their hash with the manifest.
func (a *archive) eachRecord(ctx context.Context, t manifestTable, columns map[string]kind, fn func(record) error) error {
	f, err := a.files[tablePath+t.Name+tableExt].Open()
	if err != nil {
		return badArchive(t.Name, err.Error())
	}
	defer f.Close()
	h := sha256.New()
	lines := bufio.NewScanner(io.TeeReader(contextReader{ctx, f}, h))
	lines.Buffer(nil, maxLine)
	var n int64
	for lines.Scan() {
		n++
		where := fmt.Sprintf("%s, line %d", t.Name, n)
		r, err := parseRecord(lines.Bytes(), columns)
		if err != nil {
			return badArchive(where, err.Error())
		}
		if wrong := r.check(); wrong != "" {
			return badArchive(where, wrong)
		}
		if err := fn(r); err != nil {
			return err
		}
	}
	if err := lines.Err(); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return badArchive(t.Name, err.Error())
	}
	if n != t.Rows || hex.EncodeToString(h.Sum(nil)) != t.SHA256 {
		return badArchive(t.Name, "is damaged: its lines are not those that were exported")
	}
	return nil
}

func importTable(ctx context.Context, tx *sql.Tx, a *archive, t manifestTable) error {
	columns, err := columnsOf(ctx, tx, t.Name)
	if err != nil {
		return err
	}
	return a.eachRecord(ctx, t, columns, func(r record) error {
		if err := r.insert(ctx, tx, t.Name); err != nil {
			id, _ := r["id"].(string)
			return &Error{Invalid, &unit.InputError{Field: "archive", Value: t.Name + " " + id, Reason: "is refused by the database: " + err.Error()}}
		}
		return nil
	})
}

// importBlobs puts the content first, as everywhere: rows that name it come
// after. If the rows then fail, the next Sweep but one day removes it.
func (s *Store) importBlobs(ctx context.Context, a *archive) error {
	for _, sum := range a.Blobs {
		f, err := a.files[blobPath+sum].Open()
		if err != nil {
			return badArchive(sum, err.Error())
		}
		got, _, err := s.blobs.Put(ctx, &limitReader{f, s.maxBlob, s.maxBlob})
		if err = errors.Join(err, f.Close()); err != nil {
			if errors.Is(err, zip.ErrChecksum) || errors.Is(err, zip.ErrFormat) || errors.Is(err, io.ErrUnexpectedEOF) {
				return badArchive(sum, "is damaged")
			}
			return err
		}
		if got != sum {
			return badArchive(sum, "is damaged: the content has another SHA-256")
		}
	}
	return nil
}

func mustBeEmpty(ctx context.Context, tx *sql.Tx) error {
	for _, table := range tables {
		_, ok, err := first(ctx, tx, func(s *string) []any { return []any{s} }, "SELECT id FROM "+table+" LIMIT 1")
		if err != nil {
			return err
		}
		if ok {
			return conflict("store", strings.ReplaceAll(table, "_", " "), "are there already", "import into an empty data folder or database")
		}
	}
	return nil
}

func readAll(f *zip.File, most int64) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, badArchive(f.Name, err.Error())
	}
	defer r.Close()
	b, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		return nil, badArchive(f.Name, err.Error())
	}
	if int64(len(b)) > most {
		return nil, badArchive(f.Name, "is too long")
	}
	return b, nil
}
