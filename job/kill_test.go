package job

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	mrand "math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"syscall"
	"testing"
	"time"

	"thrum/store"
)

// The worker is this test program started again with these set.
const (
	workerDir = "THRUM_TEST_DIR"
	workerURL = "THRUM_TEST_URL"
)

const testLease = time.Second

// noisy is a handler whose result is never the same twice, so that a result
// that was recorded twice shows.
func noisy(ctx context.Context, w Work) (Result, error) {
	for step := range 5 {
		w.Progress(float64(step)/5, "rolling dice")
		select {
		case <-ctx.Done():
			return Result{}, ctx.Err()
		case <-time.After(time.Duration(mrand.IntN(10)) * time.Millisecond):
		}
	}
	b := make([]byte, 200)
	rand.Read(b)
	return Result{Name: "dice.bin", Media: "application/octet-stream", Data: b}, nil
}

var noisyKinds = map[string]Kind{"noisy": {Do: noisy, Attempts: 20}}

func runWorker() int {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	st, err := store.Open(ctx, store.Config{Dir: os.Getenv(workerDir), URL: os.Getenv(workerURL)})
	if err == nil {
		var q Queue
		if q, err = New(st, noisyKinds, Options{Lease: testLease}); err == nil {
			err = q.Run(ctx)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// Several processes work on one queue and are killed at random moments, each
// replaced by a new one. Every job must end with one result, and a result that
// was seen once must stay.
func TestKilledWorkers(t *testing.T) {
	jobs, processes, kills := 25, 2, 3
	if os.Getenv("THRUM_SOAK") != "" {
		jobs, processes, kills = 500, 3, 20
	}
	for _, engine := range engines {
		t.Run(engine, func(t *testing.T) {
			t.Parallel()
			c := configFor(t, engine)
			c.Log = slog.New(slog.DiscardHandler)
			st := openTest(t, c)
			q, err := New(st, noisyKinds, Options{Lease: testLease})
			if err != nil {
				t.Fatal(err)
			}
			workers := make([]*exec.Cmd, processes)
			for i := range workers {
				workers[i] = startWorker(t, c)
			}
			defer func() {
				for _, w := range workers {
					w.Process.Kill()
					w.Wait()
				}
			}()
			var ids []string
			results := map[string]string{}
			killed := 0
			next := time.Now()
			for end := time.Now().Add(10 * time.Minute); len(results) < jobs; {
				if time.Now().After(end) {
					t.Fatalf("%d of %d jobs have ended", len(results), jobs)
				}
				// Jobs are asked for half a step ahead of the kills: there is
				// work to be killed in, and the last of it waits for the last kill.
				if len(ids) < min(jobs, jobs*(2*killed+3)/(2*kills+2)) {
					ids = append(ids, enqueue(t, q, Request{Kind: "noisy"}))
				}
				// Kills are spread over the work: one for each part of it.
				if killed < kills && len(results)*(kills+1) >= killed*jobs && time.Now().After(next) {
					i := mrand.IntN(processes)
					workers[i].Process.Kill()
					workers[i].Wait()
					workers[i] = startWorker(t, c)
					killed++
					next = time.Now().Add(time.Duration(mrand.IntN(800)) * time.Millisecond)
				}
				note(t, q, ids, results)
				time.Sleep(5 * time.Millisecond)
			}
			if killed != kills {
				t.Errorf("%d kills, want %d", killed, kills)
			}
			time.Sleep(2 * testLease) // time for a zombie to do harm
			attempts := verify(t, st, q, ids, results)
			t.Logf("%d jobs, %d processes, %d kills, %d attempts", jobs, processes, killed, attempts)
		})
	}
}

func startWorker(t *testing.T, c store.Config) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), workerDir+"="+c.Dir, workerURL+"="+c.URL)
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd
}

// note writes down the results that are there, when first seen.
func note(t *testing.T, q Queue, ids []string, results map[string]string) {
	t.Helper()
	for _, id := range ids {
		if results[id] != "" {
			continue
		}
		s, err := q.Status(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if s.State == Failed {
			t.Fatalf("job failed: %+v", s)
		}
		if s.State == Done {
			results[id] = s.SHA256
		}
	}
}

func verify(t *testing.T, st *store.Store, q Queue, ids []string, results map[string]string) (attempts int) {
	t.Helper()
	for _, id := range ids {
		s, err := q.Status(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if s.State != Done || s.SHA256 != results[id] {
			t.Errorf("job %s had the result %s and now has %s (%s)", id, results[id], s.SHA256, s.State)
		}
		attempts += s.Attempts
	}
	var rows int
	if err := st.Reader().QueryRowContext(t.Context(), "SELECT COUNT(*) FROM job_results").Scan(&rows); err != nil {
		t.Fatal(err)
	}
	if rows != len(ids) {
		t.Errorf("%d results for %d jobs", rows, len(ids))
	}
	if problems, err := st.Check(t.Context()); err != nil || len(problems) > 0 {
		t.Errorf("problems %v, %v", problems, err)
	}
	return attempts
}
