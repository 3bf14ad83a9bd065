package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"

	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

func migrations() fs.FS {
	sub, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		panic(err) // the folder is embedded above
	}
	return sub
}

// QueueDriver is the job queue's way to the database.
func (s *Store) QueueDriver() riverdriver.Driver[*sql.Tx] {
	if s.postgres {
		return riverdatabasesql.New(s.write)
	}
	return riversqlite.New(s.write)
}

// migrate brings our tables and those of the job queue up to date. Before it
// touches a database that holds something, it backs it up.
func (s *Store) migrate(ctx context.Context, steps fs.FS) error {
	dialect := goose.DialectSQLite3
	if s.postgres {
		dialect = goose.DialectPostgres
	}
	ours, err := goose.NewProvider(dialect, s.write, steps, goose.WithLogger(goose.NopLogger()), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	from, to, err := ours.GetVersions(ctx)
	if err != nil {
		return err
	}
	if from > to {
		return invalid("data folder", s.dir, fmt.Sprintf("was written by a newer version of this program (tables of version %d, this one knows %d)", from, to),
			"use the newer version, or restore a backup from the folder backups")
	}
	queue, err := rivermigrate.New(s.QueueDriver(), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	queueState, err := queue.Validate(ctx, nil)
	if err != nil {
		return err
	}
	if from == to && queueState.OK {
		return nil
	}
	if from > 0 {
		file, err := s.backup(ctx, from)
		if err != nil {
			return fmt.Errorf("backing up before the upgrade, which was not begun: %w", err)
		}
		s.log.InfoContext(ctx, "backed up the database before upgrading it", "file", file, "from", from, "to", to)
	}
	if _, err := ours.Up(ctx); err != nil {
		return fmt.Errorf("upgrading the tables from version %d to %d: %w", from, to, err)
	}
	if _, err := queue.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("upgrading the tables of the job queue: %w", err)
	}
	return nil
}

// backup writes the database, without the blobs, which no upgrade touches, into
// the folder backups: SQLite as a copy of its file, PostgreSQL as an archive.
func (s *Store) backup(ctx context.Context, version int64) (file string, err error) {
	dir := filepath.Join(s.dir, "backups")
	if err := makeDir(dir); err != nil {
		return "", err
	}
	ext := ".db"
	if s.postgres {
		ext = ".zip"
	}
	file = filepath.Join(dir, fmt.Sprintf("before-upgrade-v%d-%s%s", version, s.now().UTC().Format("20060102T150405.000000Z"), ext))
	if !s.postgres {
		err = s.backupSQLite(ctx, file)
	} else {
		err = writeFile(file, func(f *os.File) error { return s.export(ctx, f, false) })
	}
	if err != nil {
		return "", errors.Join(err, removeIfThere(file))
	}
	return file, syncDir(dir)
}
