package store

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// The writer is this test program started again with writerMode set to the
// number of entries it shall write (0 for no end). After each call that returned
// without an error it prints one line: what was written and its id. That line is
// the acknowledgement which the tests hold the store to.
const (
	writerMode    = "THRUM_TEST_WRITER"
	writerDir     = "THRUM_TEST_DIR"
	writerURL     = "THRUM_TEST_URL"
	writerPart    = "THRUM_TEST_PART"
	writerThreads = "THRUM_TEST_THREADS"
)

func runWriter() int {
	if err := write(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

func write(ctx context.Context) error {
	entries, err := strconv.Atoi(os.Getenv(writerMode))
	if err != nil {
		return err
	}
	threads, err := strconv.Atoi(os.Getenv(writerThreads))
	if err != nil {
		return err
	}
	s, err := Open(ctx, Config{Dir: os.Getenv(writerDir), URL: os.Getenv(writerURL), Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	part := os.Getenv(writerPart)
	plan, err := s.LatestPlan(ctx, part)
	if err != nil {
		return err
	}
	pieces, err := s.Pieces(ctx, part)
	if err != nil {
		return err
	}
	var failed atomic.Pointer[error]
	var wg sync.WaitGroup
	for range threads {
		wg.Go(func() {
			for n := 0; (entries == 0 || n < entries) && failed.Load() == nil; n++ {
				if err := writeOne(ctx, s, n, plan, pieces[0].ID); err != nil {
					failed.Store(&err)
				}
			}
		})
	}
	wg.Wait()
	if err := failed.Load(); err != nil {
		return *err
	}
	return s.Close()
}

// writeOne writes an entry of the log, a file or a plan, whose content follows
// from its id, and acknowledges it.
func writeOne(ctx context.Context, s *Store, n int, plan Plan, piece string) error {
	id := s.newID()
	row, about := Row{ID: id}, About{PieceID: piece}
	var what string
	var err error
	switch n % 3 {
	case 0:
		what = "event"
		_, err = s.Append(ctx, piece, Event{Row: row, PlanID: plan.ID, Kind: "pass", Body: payload(id, 2000)})
	case 1:
		what = "file"
		_, err = s.AddFile(ctx, File{Row: row, About: about, Kind: "photo", Name: id, Media: "image/jpeg"}, strings.NewReader(payload(id, 50_000)))
	case 2:
		what = "plan"
		p := testPlan(plan.PartID, n)
		p.Row, p.Result = row, payload(id, 20_000)
		_, err = s.AddPlan(ctx, p)
	}
	if err == nil {
		_, err = fmt.Printf("%s %s\n", what, id)
	}
	return err
}

// payload is a JSON text of about the given length that only id could have
// given, so that a torn or mixed-up one is noticed.
func payload(id string, length int) string {
	h := sha256.Sum256([]byte(id))
	return `"` + strings.Repeat(hex.EncodeToString(h[:]), length/64) + `"`
}

func writerCommand(t testing.TB, c Config, part string, entries, threads int) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(must(os.Executable())(t))
	cmd.Env = append(os.Environ(), writerMode+"="+strconv.Itoa(entries), writerThreads+"="+strconv.Itoa(threads),
		writerDir+"="+c.Dir, writerURL+"="+c.URL, writerPart+"="+part)
	return cmd
}

// preparePart keeps a part with a plan and a piece for the writer.
func preparePart(t *testing.T, c Config) (part, piece string) {
	t.Helper()
	s := must(Open(t.Context(), c))(t)
	p := must(s.AddPart(t.Context(), Part{Name: "shaft"}))(t)
	must(s.AddPlan(t.Context(), testPlan(p.ID, 1)))(t)
	pc := must(s.AddPiece(t.Context(), Piece{PartID: p.ID, Name: "1"}))(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return p.ID, pc.ID
}

// A process that writes is killed again and again. Nothing that it acknowledged
// may be lost, and nothing may be there in part.
func TestKilledWhileWriting(t *testing.T) {
	kills := 20
	if os.Getenv("THRUM_SOAK") != "" {
		kills = 1000
	}
	for _, engine := range engines {
		t.Run(engine, func(t *testing.T) {
			t.Parallel()
			c := configFor(t, engine)
			part, piece := preparePart(t, c)
			acknowledged := map[string]string{}
			for range kills {
				before := len(acknowledged)
				killWriter(t, writerCommand(t, c, part, 0, 3), acknowledged)
				if len(acknowledged) == before {
					t.Fatal("the writer acknowledged nothing before it was killed")
				}
				// The next writer opens what the killed one left; every few
				// kills all of it is read.
				if rand.IntN(10) == 0 {
					verify(t, c, part, piece, acknowledged)
				}
			}
			verify(t, c, part, piece, acknowledged)
			t.Logf("%d kills, %d entries acknowledged, none lost", kills, len(acknowledged))
		})
	}
}

// killWriter starts a writer, kills it at a random moment after its first
// acknowledgement, and adds all acknowledgements to the map.
func killWriter(t *testing.T, cmd *exec.Cmd, acknowledged map[string]string) {
	t.Helper()
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out := must(cmd.StdoutPipe())(t)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	for n := 0; ; n++ {
		line, err := lines.ReadString('\n')
		if err == io.EOF { // a line without its end was not printed whole
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		what, id, ok := strings.Cut(strings.TrimSpace(line), " ")
		if !ok {
			t.Fatalf("the writer printed %q", line)
		}
		acknowledged[id] = what
		if n == 0 {
			time.AfterFunc(time.Duration(rand.IntN(60_000))*time.Microsecond, func() { cmd.Process.Kill() })
		}
	}
	if err := cmd.Wait(); err == nil || stderr.Len() > 0 {
		t.Fatalf("the writer ended by itself: %v\n%s", err, &stderr)
	}
}

// verify opens the store and compares all that is there with what is expected.
func verify(t *testing.T, c Config, part, piece string, acknowledged map[string]string) {
	t.Helper()
	ctx := t.Context()
	s := must(Open(ctx, c))(t)
	defer s.Close()
	if problems := must(s.Check(ctx))(t); len(problems) > 0 {
		t.Fatalf("not sound: %v", problems)
	}
	there := map[string]string{}
	for _, e := range must(s.Events(ctx, piece, 0))(t) {
		there[e.ID] = "event"
		if e.Body != payload(e.ID, 2000) {
			t.Errorf("entry %s is torn", e.ID)
		}
	}
	for _, f := range must(s.Files(ctx, About{PieceID: piece}))(t) {
		there[f.ID] = "file"
		_, r, err := s.OpenFile(ctx, f.ID)
		if err != nil {
			t.Error(err)
			continue
		}
		if got := must(io.ReadAll(r))(t); string(got) != payload(f.ID, 50_000) {
			t.Errorf("file %s is torn", f.ID)
		}
		r.Close()
	}
	for _, head := range must(s.Plans(ctx, part))(t)[1:] {
		there[head.ID] = "plan"
		if p := must(s.Plan(ctx, head.ID))(t); p.Result != payload(p.ID, 20_000) {
			t.Errorf("plan %s is torn", p.ID)
		}
	}
	for id, what := range acknowledged {
		if there[id] != what {
			t.Errorf("%s %s was acknowledged and is lost", what, id)
		}
	}
}

// Every connection of both pools must force commits to the disk: a setting made
// on one connection only would leave the others without it.
func TestEveryConnectionIsDurable(t *testing.T) {
	want := map[string]map[string]string{
		"sqlite": {
			"PRAGMA synchronous": "2", "PRAGMA journal_mode": "wal",
			"PRAGMA foreign_keys": "1", "PRAGMA busy_timeout": "10000",
		},
		"postgres": {"SHOW synchronous_commit": "on", "SHOW fsync": "on", "SHOW full_page_writes": "on"},
	}
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		engine := "sqlite"
		if s.Postgres() {
			engine = "postgres"
		}
		pools := []*sql.DB{s.write}
		if !s.Postgres() {
			pools = append(pools, s.read)
		}
		seen := 0
		for _, db := range pools {
			for range db.Stats().MaxOpenConnections { // all held at once, so that each is another one
				conn := must(db.Conn(ctx))(t)
				defer conn.Close()
				seen++
				for query, value := range want[engine] {
					var got string
					if err := conn.QueryRowContext(ctx, query).Scan(&got); err != nil {
						t.Fatal(err)
					}
					if got != value {
						t.Errorf("connection %d: %s gives %s, want %s", seen, query, got, value)
					}
				}
			}
		}
		if seen < 4 {
			t.Errorf("looked at %d connections only", seen)
		}
	})
}
