package store

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"thrum/internal/pgtest"
)

func TestMain(m *testing.M) {
	if os.Getenv(writerMode) != "" {
		os.Exit(runWriter())
	}
	if os.Getenv(voterMode) != "" {
		os.Exit(runVoter())
	}
	os.Exit(pgtest.Run(m))
}

// engines are the two databases that every test runs on.
var engines = []string{"sqlite", "postgres"}

// onBoth runs a test on an empty store of each engine.
func onBoth(t *testing.T, test func(t *testing.T, s *Store)) {
	for _, engine := range engines {
		t.Run(engine, func(t *testing.T) {
			t.Parallel()
			test(t, openTest(t, configFor(t, engine)))
		})
	}
}

// configFor gives an empty data folder and, for PostgreSQL, an empty schema.
func configFor(t testing.TB, engine string) Config {
	t.Helper()
	c := Config{Dir: t.TempDir(), Log: slog.New(slog.DiscardHandler)}
	if engine == "postgres" {
		c.URL = pgtest.URL(t)
	}
	return c
}

func openTest(t testing.TB, c Config) *Store {
	t.Helper()
	s, err := Open(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// must ends the test when err is not nil.
func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// wantCode ends the test when err does not have the code.
func wantCode(t testing.TB, err error, code Code) {
	t.Helper()
	if CodeOf(err) != code {
		t.Fatalf("error %v has the code %q, want %q", err, CodeOf(err), code)
	}
}

const (
	benchTOML = "# the old bench lathe\nname = \"Inch bench\"\nscrew = \"8 tpi\"\n"
	steelTOML = "name = \"mild steel\"\nkc11_mpa = 1800\n"
)

// fill keeps at least one of everything, with letters beyond ASCII and with
// numbers that do not survive sloppy reading.
func fill(t testing.TB, s *Store) (Part, Plan, Piece, []Event) {
	t.Helper()
	ctx := t.Context()
	l := must(s.Lathes().Save(ctx, Text{Name: "Inch bench", TOML: benchTOML}))(t)
	must(s.Lathes().Save(ctx, Text{Name: "Inch bench", TOML: benchTOML + "brake = true\n", Revision: l.Revision}))(t)
	must(s.Lathes().Save(ctx, Text{Name: "Größe \"7\" <x>", TOML: "name = \"ø\"\r\n"}))(t)
	m := must(s.Materials().Save(ctx, Text{Name: "mild steel", TOML: steelTOML}))(t)
	if err := s.Materials().Remove(ctx, m.Name, m.Revision); err != nil {
		t.Fatal(err)
	}
	part := must(s.AddPart(ctx, Part{Name: "Spindle nut", Detail: "drawing 12/4\n\u2028 & <b>"}))(t)
	plan := must(s.AddPlan(ctx, testPlan(part.ID, 1)))(t)
	must(s.AddPlan(ctx, testPlan(part.ID, 2)))(t)
	piece := must(s.AddPiece(ctx, Piece{PartID: part.ID, Name: "1 of 2"}))(t)
	events := must(s.Append(ctx, piece.ID,
		Event{PlanID: plan.ID, Kind: "scratch", Body: `{"count":8}`},
		Event{PlanID: plan.ID, Kind: "pass"}))(t)
	events = append(events, must(s.Append(ctx, piece.ID, Event{PlanID: plan.ID, Kind: "undo", Undoes: events[1].ID}))(t)...)
	must(s.AddNote(ctx, Note{About: About{EventID: events[0].ID}, Text: "chip like a comma ✓"}))(t)
	for _, v := range []float64{0.1, 1.0 / 3, 5, -2.5e-7, 1e300, 12.700000000000001, 0} {
		must(s.AddMeasurement(ctx, Measurement{About: About{PieceID: piece.ID}, Quantity: "over-wires", Value: v, Unit: "mm", Spread: 0.002}))(t)
	}
	must(s.AddMeasurement(ctx, Measurement{About: About{Lathe: "Inch bench"}, Quantity: "knock", Value: 412.5, Unit: "hz", Detail: `{"centre":true}`}))(t)
	must(s.AddFile(ctx, File{About: About{PartID: part.ID}, Kind: "photo", Name: "../../flank.jpg", Media: "image/jpeg"}, strings.NewReader("not really a picture")))(t)
	must(s.AddFile(ctx, File{About: About{PieceID: piece.ID}, Kind: "recording", Name: "pass 1.wav", Media: "audio/wav"}, bytes.NewReader(make([]byte, 100_000))))(t)
	fillTrial(t, s, plan, piece)
	poll := testPoll(t, s, 3)
	for n := range 5 {
		must(s.Cast(ctx, Vote{PollID: poll.ID, Judge: "j", Left: n % 3, Right: (n + 1) % 3, Outcome: Outcome(n % 3), Chosen: "random", Took: 1500 * time.Millisecond}))(t)
	}
	err := s.Update(ctx, func(tx *sql.Tx) error {
		row := must(s.Stamp(Row{}))(t)
		_, err := tx.ExecContext(ctx, "INSERT INTO jobs (id, shop_id, device_id, created_at, kind, arguments, check_at, progress) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
			row.args("sheet-pdf", `{"plan":"x"}`, FormatTime(s.now()), 0.25)...)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return part, plan, piece, events
}

func testPlan(partID string, n int) Plan {
	return Plan{
		PartID: partID, Title: "1/2-13 UNC-2A", Schema: 1, Engine: "v0.1.0",
		Request: fmt.Sprintf(`{"schema":1,"rpm":%d}`, 100+n), Lathe: benchTOML, Material: steelTOML,
		Result: `{"schema":1, "passes":[ ]}`,
	}
}

func TestLibraryKeepsEveryRevision(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx, shelf := t.Context(), s.Lathes()
		_, err := shelf.Get(ctx, "Inch bench")
		wantCode(t, err, NotFound)
		one := must(shelf.Save(ctx, Text{Name: "Inch bench", TOML: benchTOML}))(t)
		two := must(shelf.Save(ctx, Text{Name: "Inch bench", TOML: "x = 2\n", Revision: 1}))(t)
		if one.Revision != 1 || two.Revision != 2 {
			t.Fatalf("revisions %d and %d, want 1 and 2", one.Revision, two.Revision)
		}

		t.Log("an edit from an old copy is refused and changes nothing")
		_, err = shelf.Save(ctx, Text{Name: "Inch bench", TOML: "x = 3\n", Revision: 1})
		wantCode(t, err, Conflict)
		_, err = shelf.Save(ctx, Text{Name: "Inch bench", TOML: "x = 3\n"})
		wantCode(t, err, Conflict)
		if got := must(shelf.Get(ctx, "Inch bench"))(t); got != two {
			t.Fatalf("kept %+v, want %+v", got, two)
		}

		t.Log("the same text again, or the same row again, adds nothing")
		same := must(shelf.Save(ctx, Text{Name: "Inch bench", TOML: "x = 2\n", Revision: 2}))(t)
		again := must(shelf.Save(ctx, Text{Row: one.Row, Name: "Inch bench", TOML: benchTOML}))(t)
		if same != two || again != one {
			t.Fatalf("got %+v and %+v", same, again)
		}
		_, err = shelf.Save(ctx, Text{Row: one.Row, Name: "Inch bench", TOML: "other\n"})
		wantCode(t, err, Conflict)

		t.Log("removed names are gone from lists and can be used again")
		wantCode(t, shelf.Remove(ctx, "Inch bench", 1), Conflict)
		if err := shelf.Remove(ctx, "Inch bench", 2); err != nil {
			t.Fatal(err)
		}
		wantCode(t, shelf.Remove(ctx, "Inch bench", 3), NotFound)
		must(shelf.Save(ctx, Text{Name: "aardvark", TOML: "a = 1\n"}))(t)
		must(shelf.Save(ctx, Text{Name: "Zebra", TOML: "z = 1\n"}))(t)
		_, err = shelf.Get(ctx, "Inch bench")
		wantCode(t, err, NotFound)
		if !strings.Contains(err.Error(), `stored: "Zebra", "aardvark"`) {
			t.Errorf("error %q does not name the lathes that there are", err)
		}
		must(shelf.Save(ctx, Text{Name: "Inch bench", TOML: "x = 4\n"}))(t)
		var names []string
		for _, l := range must(shelf.List(ctx))(t) {
			names = append(names, l.Name)
		}
		if got := strings.Join(names, "|"); got != "Inch bench|Zebra|aardvark" {
			t.Errorf("names %q are not in the order of their bytes", got)
		}
		history := must(shelf.History(ctx, "Inch bench"))(t)
		if len(history) != 4 || history[0] != one || !history[2].Removed || history[3].Revision != 4 {
			t.Errorf("history %+v", history)
		}
		if got := must(shelf.Revision(ctx, "Inch bench", 1))(t); got.TOML != benchTOML {
			t.Errorf("revision 1 reads %q", got.TOML)
		}
		if all := must(s.Materials().List(ctx))(t); len(all) != 0 {
			t.Errorf("lathes show among the materials: %+v", all)
		}
	})
}

func TestPlansAreImmutable(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		part := must(s.AddPart(ctx, Part{Name: "shaft"}))(t)
		_, err := s.LatestPlan(ctx, part.ID)
		wantCode(t, err, NotFound)
		var kept []Plan
		for n := 1; n <= 3; n++ {
			kept = append(kept, must(s.AddPlan(ctx, testPlan(part.ID, n)))(t))
		}
		if again := must(s.AddPlan(ctx, kept[0]))(t); again != kept[0] {
			t.Errorf("sent twice: %+v, want %+v", again, kept[0])
		}
		for i, p := range kept {
			if p.Revision != i+1 {
				t.Errorf("plan %d has revision %d", i+1, p.Revision)
			}
			if got := must(s.Plan(ctx, p.ID))(t); got != p {
				t.Errorf("read %+v, want %+v", got, p)
			}
		}
		if got := must(s.LatestPlan(ctx, part.ID))(t); got != kept[2] {
			t.Errorf("latest is %+v", got)
		}
		if all := must(s.Plans(ctx, part.ID))(t); len(all) != 3 || all[1].ID != kept[1].ID || all[1].Title != kept[1].Title || all[1].Result != "" {
			t.Errorf("list %+v", all)
		}
	})
}

func TestLogGrowsOnceAndInOrder(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		part, plan, piece, events := fill(t, s)
		for i, e := range events {
			if e.Seq != i+1 {
				t.Errorf("entry %d has place %d", i+1, e.Seq)
			}
		}
		more := Event{Row: Row{ID: s.newID(), Device: "phone-2"}, PlanID: plan.ID, Kind: "pass"}
		got := must(s.Append(ctx, piece.ID, events[1], more, events[0]))(t)
		if got[0] != events[1] || got[1].Seq != 4 || got[2] != events[0] {
			t.Errorf("appended %+v", got)
		}
		if all := must(s.Events(ctx, piece.ID, 0))(t); len(all) != 4 || all[3] != got[1] || all[2].Undoes != events[1].ID {
			t.Errorf("log %+v", all)
		}
		if rest := must(s.Events(ctx, piece.ID, 3))(t); len(rest) != 1 || rest[0] != got[1] {
			t.Errorf("rest of the log %+v", rest)
		}
		if p := must(s.Pieces(ctx, part.ID))(t); len(p) != 1 || p[0].Events != 4 {
			t.Errorf("pieces %+v", p)
		}
	})
}

// Two phones and the bench add to one log and one part at the same time, each
// repeating itself as after a lost connection.
func TestManyWriteAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		part, plan, piece, events := fill(t, s)
		const writers, each = 4, 15
		var wg sync.WaitGroup
		for w := range writers {
			phone := must(s.As("local", fmt.Sprintf("phone-%d", w)))(t)
			wg.Go(func() {
				for n := range each {
					e := Event{Row: Row{ID: s.newID()}, PlanID: plan.ID, Kind: "pass", Body: fmt.Sprint(n)}
					for range 2 {
						if _, err := phone.Append(ctx, piece.ID, e); err != nil {
							t.Error(err)
						}
					}
					if _, err := phone.AddPlan(ctx, testPlan(part.ID, n)); err != nil {
						t.Error(err)
					}
				}
			})
		}
		wg.Wait()
		all := must(s.Events(ctx, piece.ID, 0))(t)
		if len(all) != len(events)+writers*each {
			t.Errorf("the log has %d entries, want %d", len(all), len(events)+writers*each)
		}
		next := map[string]int{}
		for i, e := range all {
			if e.Seq != i+1 {
				t.Fatalf("entry %d has place %d", i+1, e.Seq)
			}
			if e.Device != "local" {
				if e.Body != fmt.Sprint(next[e.Device]) {
					t.Fatalf("entry %s of %s is out of order", e.Body, e.Device)
				}
				next[e.Device]++
			}
		}
		if problems := must(s.Check(ctx))(t); len(problems) != 0 {
			t.Error(problems)
		}
	})
}

// A text that two edit at once is saved by exactly one.
func TestOneOfTwoEditorsWins(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		must(s.Lathes().Save(ctx, Text{Name: "l", TOML: "a = 0"}))(t)
		for round := 1; round <= 5; round++ {
			results := make(chan error, 4)
			for w := range 4 {
				go func() {
					_, err := s.Lathes().Save(ctx, Text{Name: "l", TOML: fmt.Sprintf("a = %d # %d", round, w), Revision: round})
					results <- err
				}()
			}
			won := 0
			for range 4 {
				if err := <-results; err == nil {
					won++
				} else if CodeOf(err) != Conflict {
					t.Error(err)
				}
			}
			if won != 1 {
				t.Fatalf("%d editors saved revision %d", won, round+1)
			}
		}
	})
}

func TestSubjectsAreFilledIn(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		part, _, piece, events := fill(t, s)
		notes := must(s.Notes(ctx, About{PartID: part.ID}))(t)
		if len(notes) != 1 || notes[0].About != (About{PartID: part.ID, PieceID: piece.ID, EventID: events[0].ID}) || notes[0].Text != "chip like a comma ✓" {
			t.Errorf("notes of the part %+v", notes)
		}
		again := must(s.AddNote(ctx, notes[0]))(t)
		if again != notes[0] {
			t.Errorf("sent twice: %+v", again)
		}
		m := must(s.Measurements(ctx, About{PieceID: piece.ID}))(t)
		if len(m) != 7 || m[1].Value != 1.0/3 || m[1].Spread != 0.002 {
			t.Errorf("measurements of the piece %+v", m)
		}
		if m := must(s.Measurements(ctx, About{Lathe: "Inch bench"}))(t); len(m) != 1 || m[0].Detail != `{"centre":true}` {
			t.Errorf("measurements of the lathe %+v", m)
		}
		if f := must(s.Files(ctx, About{}))(t); len(f) != 3 || f[0].Name != "../../flank.jpg" || f[1].Size != 100_000 {
			t.Errorf("files %+v", f)
		}
	})
}

func TestShopsDoNotSeeEachOther(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		part, plan, piece, _ := fill(t, s)
		other := must(s.As("next-door", "bench"))(t)
		_, err := other.Part(ctx, part.ID)
		wantCode(t, err, NotFound)
		_, err = other.Plan(ctx, plan.ID)
		wantCode(t, err, NotFound)
		_, err = other.AddPlan(ctx, testPlan(part.ID, 1))
		wantCode(t, err, NotFound)
		_, err = other.Append(ctx, piece.ID, Event{PlanID: plan.ID, Kind: "pass"})
		wantCode(t, err, NotFound)
		_, err = other.EditPart(ctx, part)
		wantCode(t, err, NotFound)
		_, err = other.AddNote(ctx, Note{About: About{PartID: part.ID}, Text: "x"})
		wantCode(t, err, NotFound)
		_, err = other.AddPart(ctx, Part{Row: Row{ID: part.ID}, Name: part.Name})
		wantCode(t, err, Conflict)
		for _, f := range must(s.Files(ctx, About{}))(t) {
			_, _, err = other.OpenFile(ctx, f.ID)
			wantCode(t, err, NotFound)
			wantCode(t, other.RemoveFile(ctx, f.ID), NotFound)
		}
		if len(must(other.Parts(ctx, true))(t))+len(must(other.Lathes().List(ctx))(t))+len(must(other.Notes(ctx, About{}))(t)) != 0 {
			t.Error("lists show rows of another shop")
		}
		must(other.Lathes().Save(ctx, Text{Name: "Inch bench", TOML: "theirs = 1"}))(t)
	})
}

func TestPartsAreEditedAndArchived(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		a := must(s.AddPart(ctx, Part{Name: "a"}))(t)
		b := must(s.AddPart(ctx, Part{Name: "b"}))(t)
		edit := a
		edit.Name, edit.Archived = "a, done", true
		edited := must(s.EditPart(ctx, edit))(t)
		if edited.Revision != 2 || must(s.Part(ctx, a.ID))(t) != edited {
			t.Errorf("edited %+v", edited)
		}
		_, err := s.EditPart(ctx, edit)
		wantCode(t, err, Conflict)
		if again := must(s.AddPart(ctx, Part{Row: a.Row, Name: "a"}))(t); again != edited {
			t.Errorf("sent twice after an edit: %+v", again)
		}
		if now := must(s.Parts(ctx, false))(t); len(now) != 1 || now[0] != b {
			t.Errorf("parts %+v", now)
		}
		if all := must(s.Parts(ctx, true))(t); len(all) != 2 || all[0] != b || all[1] != edited {
			t.Errorf("all parts %+v", all)
		}
	})
}

func export(t testing.TB, s *Store) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.Export(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
