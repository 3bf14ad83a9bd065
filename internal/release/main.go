// Command release builds what is given to strangers: for each system one archive
// with the program, its manual pages and the licences of everything in it; beside
// them a bill of materials and the checksums. Nothing in it depends on when, where
// or by whom it was built, so anybody can build it again and compare.
//
//	go run ./internal/release --version 1.0 --out dist
package main

import (
	"bytes"
	"crypto/sha256"
	"debug/buildinfo"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// target is a system that a release is built for.
type target struct{ os, arch string }

func (t target) String() string { return t.os + "-" + t.arch }

var targets = []target{{"linux", "amd64"}, {"linux", "arm64"}, {"darwin", "amd64"}, {"darwin", "arm64"}, {"windows", "amd64"}, {"windows", "arm64"}}

// mostBytes is the largest program that a release may hold.
const mostBytes = 45_000_000

func main() {
	version := flag.String("version", "development", "what the program calls itself")
	out := flag.String("out", "dist", "folder to write to")
	only := flag.String("only", "", "one system, such as linux-amd64")
	flag.Parse()
	if err := release(*version, *out, *only); err != nil {
		fmt.Fprintln(os.Stderr, "error:", err)
		os.Exit(1)
	}
}

func release(version, out, only string) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "thrum-release-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	pages, err := manual(work)
	if err != nil {
		return fmt.Errorf("manual pages: %w", err)
	}
	var archives []string
	var bill *bytes.Buffer
	for _, t := range targets {
		if only != "" && t.String() != only {
			continue
		}
		program, err := build(work, t, version)
		if err != nil {
			return fmt.Errorf("%s: %w", t, err)
		}
		info, err := buildinfo.ReadFile(program)
		if err != nil {
			return err
		}
		parts, err := componentsOf(info)
		if err != nil {
			return err
		}
		if bill == nil {
			bill = &bytes.Buffer{}
			if err := writeBill(bill, version, parts); err != nil {
				return err
			}
		}
		name, err := pack(out, t, version, program, pages, parts)
		if err != nil {
			return fmt.Errorf("%s: %w", t, err)
		}
		archives = append(archives, name)
	}
	if len(archives) == 0 {
		return fmt.Errorf("%q is none of %v", only, targets)
	}
	name := "thrum-" + version + ".cdx.json"
	if err := os.WriteFile(filepath.Join(out, name), bill.Bytes(), 0o644); err != nil {
		return err
	}
	return checksums(out, append(archives, name))
}

// build compiles the program for a system, without anything that differs from one
// computer to the next.
func build(work string, t target, version string) (string, error) {
	path := filepath.Join(work, "thrum-"+t.String())
	c := exec.Command("go", "build", "-trimpath", "-buildvcs=false", "-tags", "nodynamic",
		"-ldflags", "-s -w -buildid= -X main.release="+version, "-o", path, "./cmd/thrum")
	c.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+t.os, "GOARCH="+t.arch, "GOFLAGS=", "GOAMD64=v1", "GOARM64=v8.0")
	if out, err := c.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w\n%s", err, out)
	}
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	fmt.Printf("%-14s %5.1f MB\n", t, float64(info.Size())/1e6)
	if info.Size() > mostBytes {
		return "", fmt.Errorf("the program has %d bytes, more than %d", info.Size(), mostBytes)
	}
	return path, nil
}

// manual lets the program write its own pages.
func manual(work string) (map[string][]byte, error) {
	own, err := build(work, target{runtime.GOOS, runtime.GOARCH}, "manual")
	if err != nil {
		return nil, err
	}
	pages := map[string][]byte{}
	for file, args := range map[string][]string{"thrum.1": {"manual"}} {
		out, err := exec.Command(own, args...).Output()
		if err != nil {
			return nil, fmt.Errorf("thrum %s: %w", strings.Join(args, " "), err)
		}
		pages[file] = out
	}
	return pages, nil
}

// checksums writes SHA256SUMS in the form that sha256sum -c reads.
func checksums(dir string, names []string) error {
	slices.Sort(names)
	var b strings.Builder
	for _, n := range names {
		f, err := os.Open(filepath.Join(dir, n))
		if err != nil {
			return err
		}
		h := sha256.New()
		_, err = io.Copy(h, f)
		if err := errors.Join(err, f.Close()); err != nil {
			return err
		}
		fmt.Fprintf(&b, "%x  %s\n", h.Sum(nil), n)
	}
	return os.WriteFile(filepath.Join(dir, "SHA256SUMS"), []byte(b.String()), 0o644)
}
