//go:build linux

// Package pgtest gives tests a real PostgreSQL server: the one that Debian's
// package postgresql installs, started in a temporary folder, with a schema of
// its own for each test. The server ends with the tests, also when they are
// killed.
//
// A package that uses it has
//
//	func TestMain(m *testing.M) { os.Exit(pgtest.Run(m)) }
//
// Where the server is not installed, tests that need it are skipped; with CI=true
// in the environment they fail instead. THRUM_TEST_POSTGRES may hold the address
// of a running server (postgres://...) to be used in place of one.
package pgtest

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// The server of this process, started by the first test that asks.
var (
	once    sync.Once
	running *server
	failed  error
	schemas atomic.Int64
)

type server struct {
	address string // without a schema
	dir     string // empty for a server that was running already
	cmd     *exec.Cmd
	ended   chan error
}

// Run runs the tests and stops the server if one was started.
func Run(m *testing.M) int {
	code := m.Run()
	if running != nil {
		running.stop()
	}
	return code
}

// URL returns the address of an empty schema that is dropped when the test ends.
func URL(t testing.TB) string {
	t.Helper()
	once.Do(func() { running, failed = start() })
	if failed != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("PostgreSQL: %v", failed)
		}
		t.Skipf("PostgreSQL: %v", failed)
	}
	schema := fmt.Sprintf("t%d_%d", os.Getpid(), schemas.Add(1))
	if err := running.exec("CREATE SCHEMA " + schema); err != nil {
		t.Fatalf("PostgreSQL: %v", err)
	}
	t.Cleanup(func() {
		if err := running.exec("DROP SCHEMA " + schema + " CASCADE"); err != nil {
			t.Errorf("PostgreSQL: %v", err)
		}
	})
	u, err := url.Parse(running.address)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	q.Set("search_path", schema)
	u.RawQuery = q.Encode()
	return u.String()
}

func (s *server) exec(statement string) error {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.address)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, statement)
	return errors.Join(err, conn.Close(ctx))
}

func start() (*server, error) {
	if address := os.Getenv("THRUM_TEST_POSTGRES"); address != "" {
		return &server{address: address}, nil
	}
	bin, version, err := findPrograms()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "thrum-pg-")
	if err != nil {
		return nil, err
	}
	s := &server{
		dir:     dir,
		address: "postgres://thrum@/postgres?" + url.Values{"host": {dir}}.Encode(),
		ended:   make(chan error, 1),
	}
	if err := s.boot(bin, version); err != nil {
		s.stop()
		return nil, err
	}
	return s, nil
}

// findPrograms returns the folder of the newest version that is installed.
func findPrograms() (bin string, version int, err error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil {
		return "", 0, err
	}
	for _, f := range found {
		b := filepath.Dir(f)
		if v, err := strconv.Atoi(filepath.Base(filepath.Dir(b))); err == nil && v > version {
			bin, version = b, v
		}
	}
	if bin == "" {
		return "", 0, errors.New("no server is installed here (Debian: apt-get install postgresql)")
	}
	return bin, version, nil
}

// boot makes a database cluster and starts its server on a socket in the same
// folder. The server refuses to run as root: then it runs as the user postgres.
func (s *server) boot(bin string, version int) error {
	as, err := serverUser(s.dir)
	if err != nil {
		return err
	}
	data := filepath.Join(s.dir, "data")
	args := []string{"-D", data, "-U", "thrum", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"}
	if version >= 15 {
		// A language's own order of words, unlike SQLite's order of bytes.
		args = append(args, "--locale-provider=icu", "--icu-locale=en-US")
	}
	initdb := exec.Command(filepath.Join(bin, "initdb"), args...)
	initdb.SysProcAttr, initdb.Dir = runAs(as, false), s.dir
	if out, err := initdb.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, out)
	}
	log, err := os.Create(filepath.Join(s.dir, "log"))
	if err != nil {
		return err
	}
	defer log.Close()
	s.cmd = exec.Command(filepath.Join(bin, "postgres"), "-D", data, "-k", s.dir,
		"-c", "listen_addresses=", "-c", "max_connections=300", "-c", "shared_buffers=32MB")
	s.cmd.Dir, s.cmd.Stdout, s.cmd.Stderr = s.dir, log, log
	s.cmd.SysProcAttr = runAs(as, true)
	started := make(chan error)
	go func() {
		// The server is told to end when the thread that started it does, so
		// that thread is kept.
		runtime.LockOSThread()
		err := s.cmd.Start()
		started <- err
		if err == nil {
			s.ended <- s.cmd.Wait()
		}
	}()
	if err := <-started; err != nil {
		s.cmd = nil
		return err
	}
	return s.await()
}

// await waits until the server answers.
func (s *server) await() error {
	var err error
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if err = s.exec("SELECT 1"); err == nil {
			return nil
		}
		select {
		case err := <-s.ended:
			s.cmd = nil
			log, _ := os.ReadFile(filepath.Join(s.dir, "log"))
			return fmt.Errorf("the server ended: %w\n%s", err, log)
		default:
		}
	}
	return fmt.Errorf("the server does not answer: %w", err)
}

// stop ends the server at once (SIGQUIT: nothing in it is worth a checkpoint) and removes its folder.
func (s *server) stop() {
	if s.cmd != nil {
		s.cmd.Process.Signal(syscall.SIGQUIT)
		select {
		case <-s.ended:
		case <-time.After(10 * time.Second):
			s.cmd.Process.Kill()
		}
	}
	if s.dir != "" {
		os.RemoveAll(s.dir)
	}
}
