package main

import (
	"archive/tar"
	"archive/zip"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// entry is a file of an archive.
type entry struct {
	name string
	mode int64
	data []byte
}

// pack writes the archive of a system and returns its name.
func pack(out string, t target, version, program string, pages map[string][]byte, parts []component) (name string, err error) {
	data, err := os.ReadFile(program)
	if err != nil {
		return "", err
	}
	folder, binary := "thrum-"+version+"-"+t.String()+"/", "thrum"
	if t.os == "windows" {
		binary += ".exe"
	}
	files := []entry{{folder + binary, 0o755, data}, {folder + "licences.txt", 0o644, []byte(licences(parts))}}
	for _, f := range []string{"README.md", "LICENSE"} {
		text, err := os.ReadFile(f)
		if err != nil {
			return "", err
		}
		files = append(files, entry{folder + f, 0o644, text})
	}
	for page, text := range pages {
		files = append(files, entry{folder + page, 0o644, text})
	}
	slices.SortFunc(files, func(a, b entry) int { return strings.Compare(a.name, b.name) })
	name, write := strings.TrimSuffix(folder, "/")+".tar.gz", writeTar
	if t.os == "windows" {
		name, write = strings.TrimSuffix(folder, "/")+".zip", writeZip
	}
	f, err := os.Create(filepath.Join(out, name))
	if err != nil {
		return "", err
	}
	return name, errors.Join(write(f, files), f.Close())
}

// epoch is the time of every file: a zip cannot hold an earlier one.
var epoch = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

func writeTar(w io.Writer, files []entry) error {
	z := gzip.NewWriter(w)
	t := tar.NewWriter(z)
	for _, f := range files {
		if err := t.WriteHeader(&tar.Header{Name: f.name, Mode: f.mode, Size: int64(len(f.data)), ModTime: epoch, Format: tar.FormatUSTAR}); err != nil {
			return err
		}
		if _, err := t.Write(f.data); err != nil {
			return err
		}
	}
	return errors.Join(t.Close(), z.Close())
}

func writeZip(w io.Writer, files []entry) error {
	z := zip.NewWriter(w)
	for _, f := range files {
		h := &zip.FileHeader{Name: f.name, Method: zip.Deflate, Modified: epoch}
		h.SetMode(os.FileMode(f.mode))
		e, err := z.CreateHeader(h)
		if err != nil {
			return err
		}
		if _, err := e.Write(f.data); err != nil {
			return err
		}
	}
	return z.Close()
}

// licences is the text that goes with the program: what is in it and on which terms.
func licences(parts []component) string {
	var b strings.Builder
	b.WriteString("Thrum is built from these modules. The licence of each follows.\n\n")
	for _, p := range parts {
		fmt.Fprintf(&b, "%s %s: %s\n", p.path, p.version, p.licence)
	}
	for _, p := range parts {
		fmt.Fprintf(&b, "\n%s\n%s %s\n\n", strings.Repeat("=", 78), p.path, p.version)
		for _, t := range p.texts {
			b.WriteString(strings.TrimSpace(t) + "\n\n")
		}
	}
	return b.String()
}
