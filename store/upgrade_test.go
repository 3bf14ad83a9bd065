package store

import (
	"bytes"
	"database/sql"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"testing"
	"testing/fstest"
)

// firstSteps gives the first n of our migrations.
func firstSteps(t testing.TB, n int) fs.FS {
	t.Helper()
	names := must(fs.Glob(migrations(), "*.sql"))(t)
	slices.Sort(names)
	steps := fstest.MapFS{}
	for _, name := range names[:n] {
		steps[name] = &fstest.MapFile{Data: must(fs.ReadFile(migrations(), name))(t)}
	}
	return steps
}

// What a program with an older schema has written is there after the upgrade, from
// every earlier schema, and fits together. The rows are written in plain SQL, as that
// program wrote them.
func TestUpgradeFromEveryEarlierSchema(t *testing.T) {
	all := must(fs.Glob(migrations(), "*.sql"))(t)
	for _, engine := range engines {
		for n := 1; n < len(all); n++ {
			t.Run(fmt.Sprintf("%s from %d", engine, n), func(t *testing.T) {
				t.Parallel()
				c := configFor(t, engine)
				old := openWith(t, c, firstSteps(t, n))
				content := []byte("a photograph of that time")
				sum, size, err := old.Blobs().Put(t.Context(), bytes.NewReader(content))
				if err != nil {
					t.Fatal(err)
				}
				part, plan, piece, event := testID(1), testID(2), testID(3), testID(4)
				row := func(id string) []any { return []any{id, "local", "local", "2026-01-02T03:04:05.000006Z"} }
				insert := func(table string, columns string, args ...any) {
					t.Helper()
					marks := ""
					for i := range args {
						marks += fmt.Sprintf(", $%d", i+1)
					}
					err := old.Update(t.Context(), func(tx *sql.Tx) error {
						_, err := tx.ExecContext(t.Context(), "INSERT INTO "+table+" (id, shop_id, device_id, created_at, "+columns+") VALUES ("+marks[2:]+")", args...)
						return err
					})
					if err != nil {
						t.Fatal(err)
					}
				}
				insert("lathes", "name, revision, toml", append(row(testID(9)), "Inch bench", 1, benchTOML)...)
				insert("parts", "name, revision", append(row(part), "Spindle nut", 1)...)
				insert("plans", "part_id, revision, title, plan_schema, engine, request, lathe_toml, material_toml, result",
					append(row(plan), part, 1, "1/2-13 UNC-2A", 1, "v0", `{"schema":1}`, benchTOML, steelTOML, `{"schema":1}`)...)
				insert("pieces", "part_id, name, events", append(row(piece), part, "1 of 2", 1)...)
				insert("events", "piece_id, plan_id, seq, kind, body", append(row(event), piece, plan, 1, "pass", `{"n":1}`)...)
				insert("notes", "event_id, body", append(row(testID(5)), event, "sang")...)
				insert("measurements", "piece_id, quantity, reading, unit", append(row(testID(6)), piece, "over-wires", 13.1, "mm")...)
				insert("files", "part_id, kind, name, media, sha256, size", append(row(testID(7)), part, "photo", "flank.jpg", "image/jpeg", sum, size)...)
				if err := old.Close(); err != nil {
					t.Fatal(err)
				}

				s := openTest(t, c)
				if found := backups(t, c); len(found) != 1 {
					t.Errorf("backups %v, want one from before the upgrade", found)
				}
				if l := must(s.Lathes().Get(t.Context(), "Inch bench"))(t); l.TOML != benchTOML {
					t.Error("the lathe's text is another")
				}
				if p := must(s.Plan(t.Context(), plan))(t); p.Title != "1/2-13 UNC-2A" || p.Lathe != benchTOML || p.Revision != 1 || p.PartID != part {
					t.Errorf("plan %+v", p)
				}
				if e := must(s.Events(t.Context(), piece, 0))(t); len(e) != 1 || e[0].Body != `{"n":1}` || e[0].PlanID != plan {
					t.Errorf("events %+v", e)
				}
				if m := must(s.Measurements(t.Context(), About{PieceID: piece}))(t); len(m) != 1 || m[0].Value != 13.1 {
					t.Errorf("measurements %+v", m)
				}
				if f := must(s.Files(t.Context(), About{PartID: part}))(t); len(f) != 1 {
					t.Errorf("files %+v", f)
				}
				_, r, err := s.OpenFile(t.Context(), testID(7))
				if err != nil {
					t.Fatal(err)
				}
				defer r.Close()
				if got := must(io.ReadAll(r))(t); !bytes.Equal(got, content) {
					t.Errorf("the photograph is %q", got)
				}
				if faults := must(s.Check(t.Context()))(t); len(faults) != 0 {
					t.Errorf("after the upgrade: %v", faults)
				}
			})
		}
	}
}
