package store

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// call is one system call. Numbers of lines say when it began and ended.
type call struct {
	name, args   string
	path         string // of the file it is about
	begin, ended int
}

func (c call) sync() bool { return c.name == "fsync" || c.name == "fdatasync" }

func (c call) write() bool { return strings.Contains(c.name, "write") }

// acknowledgement returns what a line on standard output acknowledges, or "".
func (c call) acknowledgement() string {
	if !c.write() || !strings.HasPrefix(c.args, "1<") {
		return ""
	}
	_, text, _ := strings.Cut(c.args, `"`)
	what, _, _ := strings.Cut(text, " ")
	return what
}

// The acknowledgement of an entry may leave the process only after the entry has
// been forced to the disk; killing processes cannot show that, since the
// operating system keeps what a dead process wrote. So the system calls are
// looked at.
func TestForcedToDiskBeforeAcknowledged(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("strace is needed (Debian: apt-get install strace)")
		}
		t.Skip("strace is not installed (Debian: apt-get install strace)")
	}
	c := configFor(t, "sqlite")
	part, _ := preparePart(t, c)
	trace := filepath.Join(t.TempDir(), "trace")
	cmd := writerCommand(t, c, part, 12, 1)
	cmd.Args = append([]string{
		strace, "-f", "-y", "-s", "256", "-o", trace, "-e",
		"trace=write,pwrite64,writev,pwritev,fsync,fdatasync,rename,renameat,renameat2,mkdir,mkdirat", cmd.Path,
	}, cmd.Args[1:]...)
	cmd.Path = strace
	if out, err := cmd.Output(); err != nil {
		if e, ok := errors.AsType[*exec.ExitError](err); ok && strings.Contains(string(e.Stderr), "ptrace") && os.Getenv("CI") != "true" {
			t.Skipf("system calls may not be traced here: %s", e.Stderr)
		}
		t.Fatalf("%v\n%s", err, out)
	}
	calls := must(readTrace(trace))(t)
	n, err := checkTrace(calls, c.Dir)
	if err != nil {
		t.Error(err)
	}
	if n != 12 {
		t.Fatalf("%d acknowledgements in the trace, want 12", n)
	}

	t.Log("the same trace with one kind of call left out must not pass")
	for name, drop := range map[string]func(call) bool{
		"log of the database": func(c call) bool { return c.sync() && strings.HasSuffix(c.path, "-wal") },
		"content":             func(c call) bool { return c.sync() && strings.Contains(c.path, newPrefix) },
		"folder": func(c call) bool {
			return c.sync() && filepath.Base(filepath.Dir(c.path)) == "blobs" && !strings.Contains(c.path, newPrefix)
		},
		"folder of folders": func(c call) bool { return c.sync() && filepath.Base(c.path) == "blobs" },
		"name":              func(c call) bool { return strings.HasPrefix(c.name, "rename") },
	} {
		if _, err := checkTrace(slices.DeleteFunc(slices.Clone(calls), drop), c.Dir); err == nil {
			t.Errorf("%s: not forced to the disk, and not noticed", name)
		}
	}
}

// checkTrace looks, for each acknowledgement, at the calls since the one before.
func checkTrace(calls []call, dir string) (acknowledged int, err error) {
	wal, blobs := filepath.Join(dir, "thrum.db-wal"), filepath.Join(dir, "blobs")
	since := 0
	for _, ack := range calls {
		what := ack.acknowledgement()
		if what == "" {
			continue
		}
		acknowledged++
		var window []call
		for _, c := range calls {
			if c.begin > since && c.ended < ack.begin {
				window = append(window, c)
			}
		}
		since = ack.begin
		bad := func(reason string) {
			err = errors.Join(err, fmt.Errorf("acknowledgement %d (%s): %s", acknowledged, what, reason))
		}
		logged := slices.IndexFunc(window, func(c call) bool { return c.write() && c.path == wal })
		if logged < 0 {
			bad("the database's log was not written")
			continue
		}
		if !allSynced(window, wal) {
			bad("the database's log was not forced to the disk")
		}
		if what != "file" {
			continue
		}
		before := slices.DeleteFunc(slices.Clone(window), func(c call) bool { return c.ended > window[logged].begin })
		named := slices.IndexFunc(before, func(c call) bool { return strings.HasPrefix(c.name, "rename") })
		if named < 0 {
			bad("the content got no name before the row was written")
			continue
		}
		paths := quoted.FindAllStringSubmatch(before[named].args, -1)
		if from := paths[0][1]; !strings.HasPrefix(from, filepath.Join(blobs, newPrefix)) || !allSynced(before[:named], from) {
			bad("the content was not forced to the disk before it got its name")
		}
		if folder := filepath.Dir(paths[1][1]); !syncedAfter(before, before[named], folder) {
			bad("the name of the content was not forced to the disk")
		}
		for _, c := range before {
			if strings.HasPrefix(c.name, "mkdir") && !syncedAfter(before, c, filepath.Dir(c.path)) {
				bad("the name of a new folder was not forced to the disk")
			}
		}
	}
	return acknowledged, err
}

// allSynced tells whether a file was written and then forced to the disk.
func allSynced(calls []call, path string) bool {
	var last *call
	for i, c := range calls {
		if c.write() && c.path == path {
			last = &calls[i]
		}
	}
	return last != nil && syncedAfter(calls, *last, path)
}

func syncedAfter(calls []call, after call, path string) bool {
	return slices.ContainsFunc(calls, func(c call) bool { return c.sync() && c.path == path && c.begin > after.ended })
}

var (
	quoted    = regexp.MustCompile(`"([^"]*)"`)
	wholeLine = regexp.MustCompile(`^(\d+) +(\w+)\((.*)\) += (-?\d+)`)
	firstHalf = regexp.MustCompile(`^(\d+) +(\w+)\((.*) <unfinished \.\.\.>$`)
	otherHalf = regexp.MustCompile(`^(\d+) +<\.\.\. (\w+) resumed>.*\) += (-?\d+)`)
	fdPath    = regexp.MustCompile(`^\d+<([^>]*)>`)
)

// readTrace reads what strace wrote; calls that failed are left out.
func readTrace(file string) ([]call, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var calls []call
	open := map[string]call{} // by thread: begun and not yet ended
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for n := 1; lines.Scan(); n++ {
		line := lines.Text()
		if m := firstHalf.FindStringSubmatch(line); m != nil {
			open[m[1]] = call{name: m[2], args: m[3], begin: n}
			continue
		}
		var c call
		var result string
		if m := otherHalf.FindStringSubmatch(line); m != nil {
			c, result = open[m[1]], m[3]
		} else if m := wholeLine.FindStringSubmatch(line); m != nil {
			c, result = call{name: m[2], args: m[3], begin: n}, m[4]
		} else {
			continue
		}
		if strings.HasPrefix(result, "-") {
			continue
		}
		c.ended = n
		if m := fdPath.FindStringSubmatch(c.args); m != nil {
			c.path = m[1]
		} else if m := quoted.FindStringSubmatch(c.args); m != nil {
			c.path = m[1]
		}
		calls = append(calls, c)
	}
	return calls, lines.Err()
}

// PostgreSQL's own count of forced writes must grow with every entry; with
// synchronous_commit off, it must not.
func TestPostgresForcesEachCommit(t *testing.T) {
	s := openTest(t, configFor(t, "postgres"))
	s.write.SetMaxOpenConns(1) // the count is that of one connection, until it hands it over
	ctx := t.Context()
	part := must(s.AddPart(ctx, Part{Name: "p"}))(t)
	synced := func() (n int) {
		t.Helper()
		if _, err := s.write.ExecContext(ctx, "SELECT pg_stat_force_next_flush()"); err != nil {
			t.Skipf("this server does not count: %v", err)
		}
		if err := s.write.QueryRowContext(ctx, "SELECT wal_sync FROM pg_stat_wal").Scan(&n); err != nil {
			t.Skipf("this server does not count: %v", err)
		}
		return n
	}
	const entries = 40
	count := func() int {
		t.Helper()
		before := synced()
		for range entries {
			must(s.AddNote(ctx, Note{About: About{PartID: part.ID}, Text: "x"}))(t)
		}
		return synced() - before
	}
	if n := count(); n < entries {
		t.Errorf("%d entries acknowledged, %d forced to the disk", entries, n)
	}
	if _, err := s.write.ExecContext(ctx, "SET synchronous_commit = off"); err != nil {
		t.Fatal(err)
	}
	if n := count(); n >= entries {
		t.Errorf("%d entries counted as forced to the disk that were not: the count shows nothing", n)
	}
}
