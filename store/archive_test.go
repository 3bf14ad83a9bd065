package store

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// importInto imports an archive into an empty store of the engine.
func importInto(t testing.TB, engine string, archive []byte) *Store {
	t.Helper()
	s := openTest(t, configFor(t, engine))
	if err := s.Import(context.Background(), bytes.NewReader(archive), int64(len(archive))); err != nil {
		t.Fatalf("importing into %s: %v", engine, err)
	}
	return s
}

func TestArchiveComesBackByteForByte(t *testing.T) {
	setBucketKeys(t)
	for _, from := range engines {
		for _, to := range engines {
			t.Run(from+" to "+to, func(t *testing.T) {
				first := openTest(t, configFor(t, from))
				part, _, piece, events := fill(t, first)
				a := export(t, first)
				if again := export(t, first); !bytes.Equal(a, again) {
					t.Fatal("two exports of one store differ")
				}
				second := importInto(t, to, a)
				b := export(t, second)
				if !bytes.Equal(a, b) {
					t.Fatalf("the archive came back different: %s", difference(t, a, b))
				}
				if problems := must(second.Check(t.Context()))(t); len(problems) > 0 {
					t.Error(problems)
				}
				if got := must(second.Events(t.Context(), piece.ID, 0))(t); !slices.Equal(got, events) {
					t.Errorf("log %+v, want %+v", got, events)
				}
				t.Log("the imported store goes on working")
				must(second.AddPlan(t.Context(), testPlan(part.ID, 3)))(t)
			})
		}
	}
	t.Run("into a bucket", func(t *testing.T) {
		first := openTest(t, configFor(t, "sqlite"))
		fill(t, first)
		a := export(t, first)
		c := configFor(t, "sqlite")
		c.Blobs = testBucket(t, "/x")
		second := openTest(t, c)
		if err := second.Import(t.Context(), bytes.NewReader(a), int64(len(a))); err != nil {
			t.Fatal(err)
		}
		if b := export(t, second); !bytes.Equal(a, b) {
			t.Fatalf("the archive came back different: %s", difference(t, a, b))
		}
	})
}

// difference names the first file in which two archives differ.
func difference(t testing.TB, a, b []byte) string {
	t.Helper()
	x, y := unpack(t, a), unpack(t, b)
	for i, f := range x {
		if i >= len(y) || f != y[i] {
			return f.name
		}
	}
	return "their zip headers"
}

type packed struct{ name, content string }

func unpack(t testing.TB, archive []byte) (files []packed) {
	t.Helper()
	z := must(zip.NewReader(bytes.NewReader(archive), int64(len(archive))))(t)
	for _, f := range z.File {
		files = append(files, packed{f.Name, string(must(readAll(f, 1<<30))(t))})
	}
	return files
}

func pack(t testing.TB, files []packed) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		w := must(z.Create(f.name))(t)
		must(io.WriteString(w, f.content))(t)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The same calls with the same ids and clock must give the same archive on both
// databases, whatever the texts and numbers are.
func TestBothEnginesKeepTheSame(t *testing.T) {
	stores := map[string]*Store{}
	for _, engine := range engines {
		stores[engine] = openTest(t, configFor(t, engine))
	}
	text := rapid.StringOfN(rapid.Rune(), 0, 40, -1).Filter(func(s string) bool { return !strings.Contains(s, "\x00") })
	n := uint64(0)
	rapid.Check(t, func(rt *rapid.T) {
		name := strings.TrimSpace(strings.Map(func(r rune) rune {
			if r < ' ' || r == 0x7f {
				return '.'
			}
			return r
		}, text.Draw(rt, "name"))) + "n"
		detail, note := text.Draw(rt, "detail"), text.Draw(rt, "note")+"."
		value, spread := rapid.Float64().Draw(rt, "value"), rapid.Float64Range(0, 1e9).Draw(rt, "spread")
		at := time.Unix(rapid.Int64Range(0, 4e9).Draw(rt, "time"), rapid.Int64Range(0, 1e9).Draw(rt, "ns"))
		n += 100
		for _, engine := range engines {
			s, next := stores[engine], n
			s.now = func() time.Time { return at }
			s.newID = func() string { next++; return testID(next) }
			ctx := context.Background()
			part, err := s.AddPart(ctx, Part{Name: name, Detail: detail})
			if err != nil {
				rt.Fatal(err)
			}
			about := About{PartID: part.ID, Lathe: name}
			kept, err := s.AddNote(ctx, Note{About: about, Text: note})
			if err != nil {
				rt.Fatal(err)
			}
			m, err := s.AddMeasurement(ctx, Measurement{About: about, Quantity: "q", Value: value, Spread: spread, Unit: "mm", Detail: string(must(json.Marshal(detail))(t))})
			if err != nil {
				rt.Fatal(err)
			}
			if got := must(s.Notes(ctx, about))(t); got[len(got)-1] != kept || kept.Text != note {
				rt.Fatalf("%s: note %+v, want %+v", engine, got, kept)
			}
			if got := must(s.Measurements(ctx, about))(t); got[len(got)-1] != m || m.Value != value {
				rt.Fatalf("%s: measurement %+v, want %+v", engine, got, m)
			}
		}
	})
	a, b := export(t, stores["sqlite"]), export(t, stores["postgres"])
	if !bytes.Equal(a, b) {
		t.Fatalf("the archives differ: %s", difference(t, a, b))
	}
	if got := export(t, importInto(t, "postgres", a)); !bytes.Equal(a, got) {
		t.Fatalf("the archive came back different: %s", difference(t, a, got))
	}
}

// testID gives ids of version 7 that count.
func testID(n uint64) string {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], n)
	return fmt.Sprintf("019a0000-0000-7000-8000-%012x", b[2:])
}

func TestImportWantsAnEmptyStore(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		fill(t, s)
		a := export(t, s)
		wantCode(t, s.Import(t.Context(), bytes.NewReader(a), int64(len(a))), Conflict)
		if after := export(t, s); !bytes.Equal(a, after) {
			t.Error("a refused import has changed what is stored")
		}
	})
}

func TestDamagedArchivesChangeNothing(t *testing.T) {
	source := openTest(t, configFor(t, "sqlite"))
	fill(t, source)
	good := export(t, source)
	files := unpack(t, good)
	edit := func(name, old, new string) []byte {
		changed := slices.Clone(files)
		for i, f := range changed {
			if strings.HasPrefix(f.name, name) {
				changed[i].content = strings.Replace(f.content, old, new, 1)
				if changed[i].content == f.content && old != new {
					t.Fatalf("%s does not hold %q", f.name, old)
				}
				break
			}
		}
		return pack(t, changed)
	}
	if s := importInto(t, "sqlite", edit(manifestName, "", "")); !bytes.Equal(good, export(t, s)) {
		t.Fatal("an archive packed by another program does not import")
	}
	without := func(name string) []byte {
		return pack(t, slices.DeleteFunc(slices.Clone(files), func(f packed) bool { return strings.HasPrefix(f.name, name) }))
	}
	cases := map[string][]byte{
		"nothing":                       {},
		"no zip":                        []byte("thrum"),
		"half of it":                    good[:len(good)/2],
		"no manifest":                   without(manifestName),
		"manifest of something else":    edit(manifestName, archiveFormat, "other"),
		"format of the future":          edit(manifestName, `"version": 1`, `"version": 2`),
		"tables of the future":          edit(manifestName, `"schema": `, `"schema": 9`),
		"no plans":                      without(tablePath + "plans"),
		"no content":                    without(blobPath),
		"one more file":                 pack(t, append(slices.Clone(files), packed{"../../etc/cron.d/x", "x"})),
		"a file twice":                  pack(t, append(slices.Clone(files), files[0])),
		"unknown table":                 edit(manifestName, `"name": "parts"`, `"name": "users"`),
		"a word changed":                edit(tablePath+"parts", "Spindle nut", "Spindle hut"),
		"content changed":               edit(blobPath+fmt.Sprintf("%x", hashOf(string(make([]byte, 100_000)))), "\x00\x00\x00", "\x00\x01\x00"),
		"content under a strange name":  edit(manifestName, `"blobs": [`, `"blobs": ["../x",`),
		"content that no row names":     edit(manifestName, `"outside": [`, `"outside": [7`),
		"row without an id":             resum(t, files, "parts", `"id":"`, `"id":"x`),
		"row with an unknown field":     resum(t, files, "parts", `"name"`, `"nane"`),
		"word for a number":             resum(t, files, "parts", `"revision":1`, `"revision":"1"`),
		"fraction for a number":         resum(t, files, "parts", `"revision":1`, `"revision":1.5`),
		"number beyond all bounds":      resum(t, files, "parts", `"revision":1`, `"revision":99999999999999999999`),
		"time that is none":             resum(t, files, "parts", `"created_at":"20`, `"created_at":"2O`),
		"revision zero":                 resum(t, files, "parts", `"revision":1`, `"revision":0`),
		"plan of no part":               resum(t, files, "plans", `"part_id":"0`, `"part_id":"1`),
		"two events at one place":       resum(t, files, "events", `"seq":2`, `"seq":1`),
		"file that names no content":    resum(t, files, "files", `"sha256":"`, `"sha256":"0`),
		"line that is cut off":          resum(t, files, "notes", `"}`, ``),
		"two values on a line is a fib": resum(t, files, "notes", `{`, `[{`),
	}
	for _, engine := range engines {
		s := openTest(t, configFor(t, engine))
		empty := export(t, s)
		for name, archive := range cases {
			err := s.Import(t.Context(), bytes.NewReader(archive), int64(len(archive)))
			if CodeOf(err) != Invalid {
				t.Errorf("%s, %s: error %v, want one with the code invalid", engine, name, err)
			}
			if !bytes.Equal(empty, export(t, s)) {
				t.Fatalf("%s, %s: something was imported", engine, name)
			}
		}
		if err := s.Import(t.Context(), bytes.NewReader(good), int64(len(good))); err != nil {
			t.Errorf("the good archive after the bad ones: %v", err)
		}
	}
}

// resum changes a table and its hash in the manifest, as a forger would.
func resum(t testing.TB, files []packed, table, old, new string) []byte {
	t.Helper()
	changed := slices.Clone(files)
	var m manifest
	for i, f := range changed {
		switch f.name {
		case tablePath + table + tableExt:
			changed[i].content = strings.Replace(f.content, old, new, 1)
			if changed[i].content == f.content {
				t.Fatalf("%s does not hold %q", f.name, old)
			}
		case manifestName: // the last file
			if err := json.Unmarshal([]byte(f.content), &m); err != nil {
				t.Fatal(err)
			}
			for j, mt := range m.Tables {
				if mt.Name == table {
					k := slices.IndexFunc(changed, func(f packed) bool { return f.name == tablePath+table+tableExt })
					m.Tables[j].SHA256 = fmt.Sprintf("%x", hashOf(changed[k].content))
				}
			}
			changed[i].content = string(must(json.Marshal(m))(t))
		}
	}
	return pack(t, changed)
}

// Content that was lost must not keep the rest from being saved, nor go unnoticed.
func TestLostContent(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		fill(t, s)
		f := must(s.Files(ctx, About{}))(t)
		damaged, lost := f[0].SHA256, f[1].SHA256
		if err := os.WriteFile(filepath.Join(s.Dir(), "blobs", damaged[:2], damaged), []byte("scratched"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := s.Blobs().Remove(ctx, lost); err != nil {
			t.Fatal(err)
		}
		problems := must(s.Check(ctx))(t)
		if len(problems) != 2 || !strings.Contains(fmt.Sprint(problems), damaged) || !strings.Contains(fmt.Sprint(problems), lost) {
			t.Errorf("problems %v", problems)
		}
		a := export(t, s)
		second := importInto(t, "sqlite", a)
		if b := export(t, second); !bytes.Equal(a, b) {
			t.Errorf("the archive came back different: %s", difference(t, a, b))
		}
		if problems := must(second.Check(ctx))(t); len(problems) != 2 {
			t.Errorf("problems after the import %v", problems)
		}

		t.Log("the same photograph sent again heals it")
		must(s.AddFile(ctx, File{About: f[0].About, Kind: "photo", Name: "again.jpg", Media: "image/jpeg"}, strings.NewReader("not really a picture")))(t)
		if problems := must(s.Check(ctx))(t); len(problems) != 1 {
			t.Errorf("problems after sending one again %v", problems)
		}
	})
}

// Check must find what no constraint forbids.
func TestCheckFindsGaps(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		fill(t, s)
		if problems := must(s.Check(ctx))(t); len(problems) != 0 {
			t.Fatalf("a sound store has %v", problems)
		}
		for statement, want := range map[string]string{
			"UPDATE pieces SET events = 9":                             "count of entries",
			"UPDATE events SET seq = 9 WHERE seq = 3":                  "gap",
			"UPDATE plans SET revision = 5 WHERE revision = 2":         "plans have a gap",
			"UPDATE lathes SET revision = 7 WHERE revision = 2":        "revisions have a gap",
			"UPDATE jobs SET arguments = '{'":                          "arguments is not JSON",
			"UPDATE parts SET created_at = 'yesterday'":                "created_at",
			"UPDATE notes SET shop_id = 'A b'":                         "shop_id",
			"UPDATE files SET sha256 = 'x'":                            "sha256",
			"UPDATE materials SET revision = 4 WHERE revision = 2":     "revisions have a gap",
			"UPDATE measurements SET id = 'zz' WHERE quantity='knock'": "UUID",
		} {
			if _, err := s.Writer().ExecContext(ctx, statement); err != nil {
				t.Fatal(err)
			}
			if problems := fmt.Sprint(must(s.Check(ctx))(t)); !strings.Contains(problems, want) {
				t.Errorf("%s: problems %s, want one about %q", statement, problems, want)
			}
		}
	})
}

// The list of tables must not forget one that a migration added.
func TestEveryTableIsExported(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		query := "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'"
		if s.Postgres() {
			query = "SELECT table_name FROM information_schema.tables WHERE table_schema = current_schema()"
		}
		names := must(list(t.Context(), s.read, func(s *string) []any { return []any{s} }, query))(t)
		for _, name := range names {
			if !slices.Contains(tables, name) && name != keyTable && name != "goose_db_version" && !strings.HasPrefix(name, "river_") {
				t.Errorf("table %s is not exported", name)
			}
		}
		for _, name := range tables {
			columns := must(columnsOf(t.Context(), s.read, name))(t)
			for _, must := range []string{"id", "shop_id", "device_id", "created_at"} {
				if _, ok := columns[must]; !ok {
					t.Errorf("table %s has no column %s", name, must)
				}
			}
		}
	})
}

func FuzzArchive(f *testing.F) {
	columns := map[string]map[string]kind{
		"parts": {"id": textColumn, "shop_id": textColumn, "device_id": textColumn, "created_at": textColumn, "revision": wholeColumn},
	}
	line := `{"id":"` + testID(1) + `","shop_id":"local","device_id":"local","created_at":"2026-11-25T10:00:00.000000Z","revision":1}` + "\n"
	sum := fmt.Sprintf("%x", hashOf("x"))
	good := pack(f, []packed{
		{tablePath + "parts" + tableExt, line},
		{blobPath + sum, "x"},
		{manifestName, `{"format":"thrum archive","version":1,"schema":1,"tables":[{"name":"parts","rows":1,"sha256":"` + fmt.Sprintf("%x", hashOf(line)) + `"}],"blobs":["` + sum + `"],"outside":[]}`},
	})
	read := func(b []byte) error {
		a, err := openArchive(bytes.NewReader(b), int64(len(b)))
		if err == nil {
			err = a.check(context.Background(), columns)
		}
		return err
	}
	if err := read(good); err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	f.Add([]byte("PK\x03\x04"))
	f.Add(pack(f, []packed{{manifestName, `{"format":"thrum archive","version":1,"tables":[{"name":"parts","rows":1}]}`}, {tablePath + "parts" + tableExt, "{}\n"}}))
	f.Fuzz(func(t *testing.T, b []byte) {
		if err := read(b); err != nil && CodeOf(err) != Invalid {
			t.Errorf("error %v has the code %q", err, CodeOf(err))
		}
	})
}

func FuzzRecord(f *testing.F) {
	columns := map[string]kind{"id": textColumn, "created_at": textColumn, "n": wholeColumn, "x": floatColumn}
	f.Add([]byte(`{"id":"019a0000-0000-7000-8000-000000000001","n":3,"x":0.1,"created_at":null}`))
	f.Add([]byte(`{"id":"\ud800","n":1e3,"x":1e999}`))
	f.Add([]byte(`[]`))
	f.Fuzz(func(t *testing.T, line []byte) {
		r, err := parseRecord(line, columns)
		if err != nil {
			return
		}
		r.check()
		out, err := r.line()
		if err != nil {
			t.Fatal(err)
		}
		again, err := parseRecord(out, columns)
		if err != nil {
			t.Fatalf("%q was written as %q, which does not read: %v", line, out, err)
		}
		if back, _ := again.line(); !bytes.Equal(out, back) {
			t.Fatalf("%q comes back as %q", out, back)
		}
	})
}
