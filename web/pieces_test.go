package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/textproto"
	"regexp"
	"strings"
	"testing"
	"time"

	"thrum/examples"
	"thrum/piece"
	"thrum/plan"
	"thrum/store"
	"thrum/unit"
)

var (
	entryID = regexp.MustCompile(`name="id" value="([^"]+)"`)
	where   = regexp.MustCompile(`<bench-piece data-view="(\w*)" data-step="([^"]*)"`)
)

// begin keeps the example as a part and begins a piece of it; it returns the
// piece's address.
func (s shop) begin() string {
	s.Helper()
	lathe, _ := examples.Lathe("inch-bench")
	p, err := plan.Make(plan.Request{Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: lathe, Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch})
	if err != nil {
		s.Fatal(err)
	}
	part, err := s.store.AddPart(s.Context(), store.Part{Name: "Vice screw"})
	if err == nil {
		err = s.server.addPlan(httptest.NewRequest(http.MethodGet, "/", nil), part.ID, p)
	}
	if err != nil {
		s.Fatal(err)
	}
	page := s.get("/parts/" + part.ID)
	s.want(page, 200, "Cut one now")
	id := entryID.FindStringSubmatch(page.Body.String())[1]
	w := s.post("/parts/"+part.ID+"/pieces", "id", id)
	if again := s.post("/parts/"+part.ID+"/pieces", "id", id); again.Header().Get("Location") != w.Header().Get("Location") {
		s.Errorf("sent twice: %s and %s", w.Header().Get("Location"), again.Header().Get("Location"))
	}
	if all, err := s.store.Pieces(s.Context(), part.ID); err != nil || len(all) != 1 {
		s.Fatalf("%d pieces, %v", len(all), err)
	}
	return w.Header().Get("Location")
}

// at says which face and step a piece shows.
func (s shop) at(address string) (view, step string) {
	s.Helper()
	m := where.FindStringSubmatch(s.get(address).Body.String())
	if m == nil {
		s.Fatal("no piece on the page")
	}
	return m[1], m[2]
}

// enter sends one of the page's forms.
func (s shop) enter(address string, pairs ...string) *httptest.ResponseRecorder {
	s.Helper()
	id := entryID.FindStringSubmatch(s.get(address).Body.String())[1]
	return s.post(address+"/log", append([]string{"id", id}, pairs...)...)
}

// confirm confirms steps in their order until the one named is next.
func (s shop) confirm(address, until string) {
	s.Helper()
	for range 60 {
		_, step := s.at(address)
		if step == until {
			return
		}
		body := strings.NewReader(fmt.Sprintf("id=%s&kind=step&step=%s&sure=yes&sure=yes", entryID.FindStringSubmatch(s.get(address).Body.String())[1], step))
		r := httptest.NewRequest(http.MethodPost, address+"/log", body)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		s.wantRedirect(s.ask(r), address)
	}
	s.Fatal("never came to " + until)
}

// The job by forms alone: gates, passes, undo, a way back in, a measurement that
// changes what is left, a chipped tip, the end.
func TestPieceByForms(t *testing.T) {
	s := newShop(t)
	at := s.begin()
	s.want(s.get(at), 200, "Look the set-up over", "Lines 1 and 3", "0.97 s = 3.2 turns", "CROSS out, towards you")
	s.want(s.enter(at, "kind", "step", "step", "setup"), 422, "Tick what was checked")
	// A pass cannot be confirmed before its gates.
	s.wantRedirect(s.enter(at, "kind", "step", "step", "pass-1"), at)
	if _, step := s.at(at); step != "setup" {
		t.Errorf("a pass was confirmed before the gates: next is %s", step)
	}
	s.confirm(at, "scratch")
	s.want(s.get(at), 200, "turns of the helix", "It does not count right")
	s.wantRedirect(s.enter(at, "kind", "check", "what", "count", "found", "bad"), at)
	if _, step := s.at(at); step != "scratch" {
		t.Errorf("a scratch pass that does not count right leads to %s", step)
	}
	s.confirm(at, "pass-3")
	page := s.get(at)
	s.want(page, 200, "Pass 3 of 13", "<b>.015 in</b> <span>direct dial</span>", "pass 2 cut, COMPOUND at .010 in (direct dial)", "Take back")

	// Taken back by a page that is sent twice: once.
	undo := regexp.MustCompile(`name="undoes" value="([^"]+)"`).FindStringSubmatch(page.Body.String())[1]
	id := entryID.FindStringSubmatch(page.Body.String())[1]
	for range 2 {
		s.wantRedirect(s.post(at+"/log", "id", id, "kind", "undo", "undoes", undo), at)
	}
	if _, step := s.at(at); step != "pass-2" {
		t.Errorf("after taking back pass 2 the next is %s", step)
	}
	s.confirm(at, "pass-3")

	s.wantRedirect(s.enter(at, "kind", "pause"), at)
	if view, _ := s.at(at); view != "back" {
		t.Errorf("a paused piece shows %s", view)
	}
	s.want(s.get(at), 200, "has the compound already been moved?", "COMPOUND at .010 in (direct dial)", "COMPOUND at .015 in (direct dial)")
	s.wantRedirect(s.enter(at, "kind", "resume", "what", "compound", "found", "not-moved"), at)
	if view, step := s.at(at); view != "step" || step != "pass-3" {
		t.Errorf("taken up again it shows %s of %s", view, step)
	}

	s.confirm(at, "pass-11")
	s.want(s.get(at), 200, "Stop and measure first", "If nothing has yielded it reads about")
	s.want(s.enter(at, "kind", "measure", "reading", "about half"), 422, "The reading", `value="about half"`)
	s.wantRedirect(s.enter(at, "kind", "measure", "reading", ".5305"), at)
	s.want(s.get(at), 200, "0.5305 over 0.0444 in wires: not at size yet; left on the COMPOUND: .010 in (direct dial)", "Pass 11 of 15", "<b>.053 in</b>")
	if ms, err := s.store.Measurements(t.Context(), store.About{}); err != nil || len(ms) != 1 || ms[0].Quantity != "over-wires" {
		t.Errorf("measurements kept: %+v, %v", ms, err)
	}
	// The part's own page shows the plan of the whole part, not the rest of one piece.
	part := regexp.MustCompile(`/parts/[0-9a-f-]{36}`).FindString(s.get(at).Body.String())
	s.want(s.get(part), 200, "revision 1", "piece 1")

	s.wantRedirect(s.enter(at, "kind", "check", "what", "tip", "found", "bad"), at)
	if view, _ := s.at(at); view != "again" {
		t.Errorf("with a chipped tip it shows %s", view)
	}
	s.want(s.enter(at, "kind", "step", "step", "pass-11"), 422, "Pick the thread up again first")
	s.wantRedirect(s.enter(at, "kind", "pick-up"), at)
	s.want(s.get(at), 200, "both dials at 0, set in the groove")
	if view, step := s.at(at); view != "step" || step != "pass-11" {
		t.Errorf("picked up it shows %s of %s", view, step)
	}
	s.confirm(at, "")
	if view, _ := s.at(at); view != "done" {
		t.Errorf("at the end it shows %s", view)
	}
	s.want(s.get(at+"/log"), 200, "tip chipped", "taken back: pass 2 cut", "thread picked up", "planned anew")
}

// A piece that lay for a while asks where the compound stands.
func TestPieceAway(t *testing.T) {
	s := newShop(t)
	at := s.begin()
	s.confirm(at, "pass-2")
	s.server.config.Now = func() time.Time { return time.Now().Add(11 * time.Minute) }
	if view, step := s.at(at); view != "back" || step != "pass-2" {
		t.Errorf("after eleven minutes it shows %s of %s", view, step)
	}
}

func (s shop) sync(address, body string) (*httptest.ResponseRecorder, syncAnswer) {
	s.Helper()
	r := httptest.NewRequest(http.MethodPost, address+"/events", strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	w := s.ask(r)
	var a syncAnswer
	if w.Code == http.StatusOK {
		if err := json.Unmarshal(w.Body.Bytes(), &a); err != nil {
			s.Fatal(err)
		}
	}
	return w, a
}

func TestPieceSync(t *testing.T) {
	s := newShop(t)
	at := s.begin()
	var b pieceBundle
	if err := json.Unmarshal(s.get(at+"/bundle.json").Body.Bytes(), &b); err != nil {
		t.Fatal(err)
	}
	if len(b.Steps) != 18 || len(b.Table.Rows) < 10 || b.Plan == "" || len(b.Pickup) == 0 {
		t.Fatalf("bundle: %d steps, %d rows, plan %q", len(b.Steps), len(b.Table.Rows), b.Plan)
	}
	entry := func(id, kind, rest string) string {
		return fmt.Sprintf(`{"id":"01980000-0000-7000-8000-0000000000%s","kind":%q,"plan":%q,"at":%q%s}`, id, kind, b.Plan, time.Now().UTC().Format(time.RFC3339), rest)
	}
	body := `{"after":1,"entries":[` + entry("01", "step", `,"body":{"step":"setup"}`) + "," + entry("02", "note", `,"body":{"text":"oil can empty"}`) + "]}"
	_, a := s.sync(at, body)
	if len(a.Entries) != 2 || a.Entries[0].Seq != 2 || a.Plan != b.Plan {
		t.Errorf("answer: %+v", a)
	}
	if _, again := s.sync(at, body); len(again.Entries) != 2 {
		t.Errorf("sent twice: %+v", again)
	}
	notes, err := s.store.Notes(t.Context(), store.About{PieceID: b.Piece})
	if err != nil || len(notes) != 1 || notes[0].Text != "oil can empty" {
		t.Errorf("notes kept: %+v, %v", notes, err)
	}
	for name, c := range map[string]struct {
		body   string
		status int
	}{
		"no JSON":              {`{"entries":`, 400},
		"a kind of its own":    {`{"entries":[` + entry("03", "new-plan", "") + "]}", 422},
		"an unknown answer":    {`{"entries":[` + entry("03", "check", `,"body":{"what":"tip","found":"fine"}`) + "]}", 422},
		"another under its id": {`{"entries":[` + entry("01", "pause", "") + "]}", 200}, // what is kept stays
		"no UUID":              {`{"entries":[{"id":"7","kind":"pause","plan":"` + b.Plan + `","at":"2026-01-01T00:00:00Z"}]}`, 422},
		"no such plan":         {`{"entries":[{"id":"01980000-0000-7000-8000-000000000009","kind":"pause","plan":"x","at":"2026-01-01T00:00:00Z"}]}`, 422},
		"too many":             {`{"entries":[` + strings.Repeat(entry("05", "pause", "")+",", mostSync) + entry("05", "pause", "") + "]}", 413},
		"far too long":         {strings.Repeat(" ", mostBody+1), 400},
	} {
		if w, _ := s.sync(at, c.body); w.Code != c.status {
			t.Errorf("%s: status %d, want %d: %.200s", name, w.Code, c.status, w.Body)
		}
	}
	_, a = s.sync(at, `{"after":0,"entries":[]}`)
	if len(a.Entries) != 3 || a.Entries[1].Kind != piece.Did {
		t.Errorf("the log holds %+v", a.Entries)
	}
	// A measurement that came when passes had gone on is left alone; one at its place
	// gives a new plan.
	if w, _ := s.sync("/pieces/nothing", "{}"); w.Code != 404 {
		t.Errorf("a piece that is not there: %d", w.Code)
	}
}

func TestPieceFiles(t *testing.T) {
	s := newShop(t)
	at := s.begin()
	send := func(name, media, content string) *httptest.ResponseRecorder {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		part, err := m.CreatePart(textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="file"; filename=%q`, name)}, "Content-Type": {media}})
		if err != nil {
			t.Fatal(err)
		}
		_, _ = part.Write([]byte(content))
		_ = m.Close()
		r := httptest.NewRequest(http.MethodPost, at+"/files", &b)
		r.Header.Set("Content-Type", m.FormDataContentType())
		return s.ask(r)
	}
	s.wantRedirect(send("flank.jpg", "image/jpeg", "light"), at+"#kept")
	s.wantRedirect(send(`..\..\evil.html`, "text/html", "<script>alert(1)</script>"), at+"#kept")
	page := s.get(at)
	s.want(page, 200, "photo: flank.jpg", "document: evil.html", "Read the flanks", "/flanks?callout=")
	for _, m := range regexp.MustCompile(`<a href="(/pieces/[^"]*/files/[^"]*)"`).FindAllStringSubmatch(page.Body.String(), -1) {
		w := s.get(m[1])
		html := strings.Contains(w.Body.String(), "script")
		if w.Code != 200 || html != strings.Contains(w.Header().Get("Content-Disposition"), "attachment") || strings.Contains(w.Header().Get("Content-Type"), "html") {
			t.Errorf("%s: %d, %v", m[1], w.Code, w.Header())
		}
	}
	s.want(s.get(at+"/files/nothing"), 404)
	r := httptest.NewRequest(http.MethodPost, at+"/files", strings.NewReader("x"))
	r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	s.want(s.ask(r), 422, "No file came through")
}
