package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// makeDir makes a folder and the folders above it, and forces each new entry to
// the disk.
func makeDir(dir string) error {
	if info, err := os.Stat(dir); err == nil {
		if !info.IsDir() {
			return &fs.PathError{Op: "mkdir", Path: dir, Err: errors.New("is a file, not a folder")}
		}
		return nil
	}
	above := filepath.Dir(dir)
	if above != dir {
		if err := makeDir(above); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return syncDir(above)
}

// syncDir forces the names in a folder to the disk. Windows has no such call:
// there, the file system's own journal keeps names in order.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// syncFile forces the content of a file to the disk.
func syncFile(file string) error {
	f, err := os.OpenFile(file, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// writeFile makes a file, lets fn write it, and forces it to the disk.
func writeFile(file string, fn func(*os.File) error) error {
	f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	err = fn(f)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

func removeIfThere(file string) error {
	if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}
