package job

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"thrum/internal/pgtest"
	"thrum/store"
	"thrum/unit"
)

func TestMain(m *testing.M) {
	if os.Getenv(workerDir) != "" {
		os.Exit(runWorker())
	}
	os.Exit(pgtest.Run(m))
}

var engines = []string{"sqlite", "postgres"}

func configFor(t testing.TB, engine string) store.Config {
	t.Helper()
	c := store.Config{Dir: t.TempDir(), Log: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))}
	if engine == "postgres" {
		c.URL = pgtest.URL(t)
	}
	return c
}

func openTest(t testing.TB, c store.Config) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// onBoth runs a test on an empty store of each engine.
func onBoth(t *testing.T, test func(t *testing.T, st *store.Store)) {
	for _, engine := range engines {
		t.Run(engine, func(t *testing.T) {
			t.Parallel()
			test(t, openTest(t, configFor(t, engine)))
		})
	}
}

// start makes a queue and works on it until the test, or the returned function,
// ends it.
func start(t testing.TB, st *store.Store, kinds map[string]Kind) (q Queue, stop func()) {
	t.Helper()
	q, err := New(st, kinds, Options{Lease: 600 * time.Millisecond, Patience: 200 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- q.Run(ctx) }()
	var stopped atomic.Bool
	stop = func() {
		if stopped.Swap(true) {
			return
		}
		cancel()
		select {
		case err := <-ended:
			if err != nil {
				t.Error("Run:", err)
			}
		case <-time.After(20 * time.Second):
			t.Error("Run does not end")
		}
	}
	t.Cleanup(stop)
	return q, stop
}

func enqueue(t testing.TB, q Queue, r Request) string {
	t.Helper()
	id, err := q.Enqueue(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// await waits until a job fulfils a condition.
func await(t testing.TB, q Queue, id string, when func(Status) bool) Status {
	t.Helper()
	var s Status
	var err error
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if s, err = q.Status(t.Context(), id); err != nil {
			t.Fatal(err)
		}
		if when(s) {
			return s
		}
	}
	t.Fatalf("the job stays at %+v", s)
	return s
}

func ended(s Status) bool { return s.State == Done || s.State == Failed }

// shout is a handler that gives its arguments back in capitals.
func shout(_ context.Context, w Work) (Result, error) {
	return Result{Name: "shout.txt", Media: "text/plain", Data: bytes.ToUpper(w.Arguments)}, nil
}

func content(t testing.TB, st *store.Store, sum string) string {
	t.Helper()
	r, err := st.Blobs().Open(t.Context(), sum)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	b, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestJobsAreDone(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		q, _ := start(t, st, map[string]Kind{"shout": {Do: shout}})
		var ids []string
		for n := range 5 {
			ids = append(ids, enqueue(t, q, Request{Kind: "shout", Arguments: json.RawMessage(fmt.Sprintf(`{"n":%d}`, n))}))
		}
		for n, id := range ids {
			s := await(t, q, id, ended)
			want := fmt.Sprintf(`{"N":%d}`, n)
			if s.State != Done || s.Name != "shout.txt" || s.Media != "text/plain" || s.Size != int64(len(want)) || s.Progress != 1 || s.Attempts != 1 {
				t.Errorf("status %+v", s)
			}
			if got := content(t, st, s.SHA256); got != want {
				t.Errorf("result %q, want %q", got, want)
			}
		}
		if problems, err := st.Check(t.Context()); err != nil || len(problems) > 0 {
			t.Errorf("problems %v, %v", problems, err)
		}
	})
}

func TestAskingTwiceAsksOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		var runs atomic.Int32
		q, _ := start(t, st, map[string]Kind{"count": {Do: func(ctx context.Context, w Work) (Result, error) {
			runs.Add(1)
			return shout(ctx, w)
		}}})
		id := enqueue(t, q, Request{Kind: "count"})
		again := Request{ID: id, Kind: "count"}
		enqueue(t, q, again)
		first := await(t, q, id, ended)
		enqueue(t, q, again)
		time.Sleep(400 * time.Millisecond) // two rounds of the queue
		if s := await(t, q, id, ended); s != first || runs.Load() != 1 {
			t.Errorf("run %d times, status %+v", runs.Load(), s)
		}
		again.Arguments = json.RawMessage("1")
		if _, err := q.Enqueue(t.Context(), again); store.CodeOf(err) != store.Conflict {
			t.Errorf("another job under the same id: %v", err)
		}
	})
}

func TestErrorsAreTriedAgainToALimit(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		var flaky, hopeless, senseless, missing atomic.Int32
		q, _ := start(t, st, map[string]Kind{
			"flaky": {Attempts: 3, Do: func(ctx context.Context, w Work) (Result, error) {
				if flaky.Add(1) == 1 {
					return Result{}, errors.New("disk \xff full\x00")
				}
				return shout(ctx, w)
			}},
			"hopeless": {Attempts: 2, Do: func(context.Context, Work) (Result, error) {
				hopeless.Add(1)
				panic("no")
			}},
			"senseless": {Do: func(context.Context, Work) (Result, error) {
				senseless.Add(1)
				return Result{}, fmt.Errorf("asked: %w", &unit.InputError{Field: "speed", Value: "-1", Reason: "is below zero"})
			}},
			"missing": {Do: func(ctx context.Context, w Work) (Result, error) {
				missing.Add(1)
				_, err := st.Plan(ctx, w.ID)
				return Result{}, err
			}},
			"empty": {Do: func(context.Context, Work) (Result, error) { return Result{Name: "x", Media: "text/plain"}, nil }},
			"slow": {Attempts: 1, Timeout: 50 * time.Millisecond, Do: func(ctx context.Context, w Work) (Result, error) {
				<-ctx.Done()
				return Result{}, ctx.Err()
			}},
		})
		ids := map[string]string{}
		for _, kind := range []string{"flaky", "hopeless", "senseless", "missing", "empty", "slow"} {
			ids[kind] = enqueue(t, q, Request{Kind: kind})
		}
		waits := await(t, q, ids["flaky"], func(s Status) bool { return s.Error != "" })
		if waits.State != Waiting && waits.State != Running || waits.Error != "disk ? full?" {
			t.Errorf("after one failure %+v", waits)
		}
		for kind, want := range map[string]struct {
			state    State
			attempts int
			error    string
		}{
			"flaky":     {Done, 2, ""},
			"hopeless":  {Failed, 2, "a fault of the program: no"},
			"senseless": {Failed, 1, `speed "-1": is below zero`},
			"missing":   {Failed, 1, "is not stored"},
			"empty":     {Failed, 1, "0 bytes"},
			"slow":      {Failed, 1, "took longer than 50ms"},
		} {
			s := await(t, q, ids[kind], ended)
			if s.State != want.state || s.Attempts != want.attempts || !strings.Contains(s.Error, want.error) || want.error == "" && s.Error != "" {
				t.Errorf("%s: %+v, want %+v", kind, s, want)
			}
		}
		if flaky.Load() != 2 || hopeless.Load() != 2 || senseless.Load() != 1 || missing.Load() != 1 {
			t.Errorf("runs: %d, %d, %d, %d", flaky.Load(), hopeless.Load(), senseless.Load(), missing.Load())
		}
	})
}

func TestBackoffDoublesToAMinute(t *testing.T) {
	for failures, want := range map[int]time.Duration{1: time.Second, 2: 2 * time.Second, 6: 32 * time.Second, 7: time.Minute, 1000: time.Minute} {
		if got := backoff(failures); got != want {
			t.Errorf("after %d failures %v, want %v", failures, got, want)
		}
	}
}

func TestProgressIsSeen(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		release := make(chan struct{})
		q, _ := start(t, st, map[string]Kind{"steps": {Do: func(ctx context.Context, w Work) (Result, error) {
			w.Progress(0.25, "reading \x00")
			<-release
			w.Progress(7, "writing")
			return shout(ctx, w)
		}}})
		id := enqueue(t, q, Request{Kind: "steps"})
		s := await(t, q, id, func(s Status) bool { return s.Progress > 0 })
		if s.State != Running || s.Progress != 0.25 || s.Doing != "reading ?" {
			t.Errorf("status %+v", s)
		}
		time.Sleep(1500 * time.Millisecond) // more than two leases: signs of life keep it
		close(release)
		if s := await(t, q, id, ended); s.State != Done || s.Attempts != 1 {
			t.Errorf("a job that gives signs of life was taken up by another: %+v", s)
		}
	})
}

// A program that is told to stop gives its jobs back; that does not count as a
// failure, however often it happens.
func TestStoppedJobsAreTakenUp(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		var runs atomic.Int32
		kinds := map[string]Kind{"long": {Attempts: 1, Do: func(ctx context.Context, w Work) (Result, error) {
			if runs.Add(1) <= 3 {
				<-ctx.Done()
				return Result{}, ctx.Err()
			}
			return shout(ctx, w)
		}}}
		var id string
		for n := 1; n <= 3; n++ {
			q, stop := start(t, st, kinds)
			if n == 1 {
				id = enqueue(t, q, Request{Kind: "long"})
			}
			await(t, q, id, func(s Status) bool { return s.State == Running && s.Attempts == n })
			stop()
			if s := await(t, q, id, func(Status) bool { return true }); s.State != Waiting || s.Error != "" {
				t.Errorf("after stop %d: %+v", n, s)
			}
		}
		q, _ := start(t, st, kinds)
		if s := await(t, q, id, ended); s.State != Done || s.Attempts != 4 {
			t.Errorf("status %+v", s)
		}
	})
}

// A job whose program dies again and again is given up.
func TestDeadlyJobsAreGivenUp(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		kinds := map[string]Kind{"deadly": {Attempts: 2, Do: shout}}
		q, err := New(st, kinds, Options{})
		if err != nil {
			t.Fatal(err)
		}
		id := enqueue(t, q, Request{Kind: "deadly"})
		// As two processes leave it that were killed in the middle.
		if _, err := st.Writer().ExecContext(t.Context(), "UPDATE jobs SET attempts = 2, running = 1, check_at = $1", store.FormatTime(time.Now())); err != nil {
			t.Fatal(err)
		}
		q, _ = start(t, st, kinds)
		s := await(t, q, id, ended)
		if s.State != Failed || !strings.Contains(s.Error, "was begun 2 times") {
			t.Errorf("status %+v", s)
		}
	})
}

// A process may die after it has been given its turn and before it has begun.
func TestLostTurnsComeBack(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		kinds := map[string]Kind{"shout": {Do: shout}}
		q, err := New(st, kinds, Options{Lease: 100 * time.Millisecond})
		if err != nil {
			t.Fatal(err)
		}
		id := enqueue(t, q, Request{Kind: "shout"})
		res, err := st.Writer().ExecContext(t.Context(), "UPDATE river_job SET state = 'running', attempt = 1, attempted_at = CURRENT_TIMESTAMP")
		if err != nil {
			t.Fatal(err)
		}
		if n, err := res.RowsAffected(); n != 1 || err != nil {
			t.Fatalf("%d turns were waiting, %v", n, err)
		}
		q, _ = start(t, st, kinds)
		if s := await(t, q, id, ended); s.State != Done || s.Attempts != 1 {
			t.Errorf("status %+v", s)
		}
	})
}

// An archive holds jobs that were waiting; where it is imported they are done.
func TestImportedJobsAreDone(t *testing.T) {
	for i, engine := range engines {
		t.Run(engine, func(t *testing.T) {
			t.Parallel()
			kinds := map[string]Kind{"shout": {Do: shout}}
			from := openTest(t, configFor(t, engine))
			q, err := New(from, kinds, Options{})
			if err != nil {
				t.Fatal(err)
			}
			id := enqueue(t, q, Request{Kind: "shout", Arguments: json.RawMessage(`"hello"`)})
			var archive bytes.Buffer
			if err := from.Export(t.Context(), &archive); err != nil {
				t.Fatal(err)
			}
			c := configFor(t, engines[1-i])
			c.Now = func() time.Time { return time.Now().Add(time.Hour) }
			to := openTest(t, c)
			if err := to.Import(t.Context(), bytes.NewReader(archive.Bytes()), int64(archive.Len())); err != nil {
				t.Fatal(err)
			}
			q, _ = start(t, to, kinds)
			if s := await(t, q, id, ended); s.State != Done || content(t, to, s.SHA256) != `"HELLO"` {
				t.Errorf("status %+v", s)
			}
		})
	}
}

func TestRefusedRequests(t *testing.T) {
	onBoth(t, func(t *testing.T, st *store.Store) {
		q, err := New(st, map[string]Kind{"shout": {Do: shout}, "a": {Do: shout}}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range []Request{
			{Kind: "whisper"},
			{},
			{Kind: "shout", Arguments: json.RawMessage("{")},
			{Kind: "shout", Arguments: json.RawMessage(`"` + strings.Repeat("x", 2<<20) + `"`)},
			{Kind: "shout", ID: "1"},
		} {
			if _, err := q.Enqueue(t.Context(), r); store.CodeOf(err) != store.Invalid {
				t.Errorf("%.40s: error %v", r.Kind, err)
			}
		}
		if _, err := q.Enqueue(t.Context(), Request{Kind: "whisper"}); !strings.Contains(err.Error(), "known: a, shout") {
			t.Errorf("error %v", err)
		}
		if _, err := q.Status(t.Context(), "1"); store.CodeOf(err) != store.NotFound {
			t.Errorf("status of nothing: %v", err)
		}
		id := enqueue(t, q, Request{Kind: "shout"})
		other, err := st.As("next-door", "bench")
		if err != nil {
			t.Fatal(err)
		}
		if q, err = New(other, nil, Options{}); err != nil {
			t.Fatal(err)
		}
		if _, err := q.Status(t.Context(), id); store.CodeOf(err) != store.NotFound {
			t.Errorf("another shop sees the job: %v", err)
		}
	})
	if _, err := New(nil, map[string]Kind{"x": {}}, Options{}); err == nil {
		t.Error("a kind without a handler was taken")
	}
}
