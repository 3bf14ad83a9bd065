package web

import (
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"thrum/examples"
	"thrum/lathe"
	"thrum/store"
)

// shop is a bench with a store of its own.
type shop struct {
	*testing.T
	server *Server
	store  *store.Store
}

func newShop(t *testing.T) shop {
	t.Helper()
	st, err := store.Open(t.Context(), store.Config{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	s, err := New(Config{Store: st})
	if err != nil {
		t.Fatal(err)
	}
	return shop{t, s, st}
}

func (s shop) ask(r *http.Request) *httptest.ResponseRecorder {
	s.Helper()
	r.Host = "localhost"
	w := httptest.NewRecorder()
	s.server.ServeHTTP(w, r)
	return w
}

func (s shop) get(address string) *httptest.ResponseRecorder {
	s.Helper()
	return s.ask(httptest.NewRequest(http.MethodGet, address, nil))
}

// post sends a form as the bench's own page does.
func (s shop) post(address string, pairs ...string) *httptest.ResponseRecorder {
	s.Helper()
	q := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		q.Set(pairs[i], pairs[i+1])
	}
	return s.send(address, q)
}

// send posts a form from the bench computer itself.
func (s shop) send(address string, form url.Values) *httptest.ResponseRecorder {
	s.Helper()
	r := httptest.NewRequest(http.MethodPost, address, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.RemoteAddr = "127.0.0.1:50000"
	return s.ask(r)
}

// want checks the status and that the page holds the words.
func (s shop) want(w *httptest.ResponseRecorder, status int, words ...string) {
	s.Helper()
	if w.Code != status {
		s.Errorf("status %d, want %d", w.Code, status)
	}
	for _, word := range words {
		if !strings.Contains(w.Body.String(), word) {
			s.Errorf("%q is not on the page", word)
		}
	}
}

func (s shop) wantRedirect(w *httptest.ResponseRecorder, to string) {
	s.Helper()
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != to {
		s.Fatalf("status %d to %q, want 303 to %q", w.Code, w.Header().Get("Location"), to)
	}
}

var field = regexp.MustCompile(`(?s)<textarea[^>]*>\n?(.*?)</textarea>`)

// typed is the text that stands in the form, as a browser reads it.
func typed(w *httptest.ResponseRecorder) string {
	m := field.FindStringSubmatch(w.Body.String())
	if m == nil {
		return "no text field"
	}
	return html.UnescapeString(m[1])
}

func TestLathesEmpty(t *testing.T) {
	s := newShop(t)
	s.want(s.get("/lathes"), 200, "No lathe of your own is described yet", "inch-bench", "metric-geared", `name="from"`)
	s.want(s.get("/lathes/none-such"), 404, "No lathe is called none-such here")
}

// An example can be looked at before anything is kept: gears, dials, protractor,
// what is dangerous, what is not measured and how to measure it.
func TestLatheShown(t *testing.T) {
	s := newShop(t)
	text, _ := examples.Lathe("inch-bench")
	l, err := lathe.Parse("inch-bench", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	w := s.get("/lathes/inch-bench")
	s.want(w, 200, "Keep as", "Gears for 1/2-13", "Gears for M10", "Threading dial, as engraved", "direct dial", "0.001 in a line", "0.100 in a turn", "your scale reads 29.5", "Dangerous on this lathe")
	for _, m := range l.Missing() {
		s.want(w, 200, html.EscapeString(m.Key))
	}
	if typed(w) != text {
		t.Error("the text in the form is not that of the example")
	}
	// A protractor whose zero lies along the bed shows the rest of the right angle,
	// and a diameter dial counts twice what its slide travels.
	s.want(s.get("/lathes/metric-geared"), 200, "your scale reads 60.5", "diameter dial")
}

func TestLatheKept(t *testing.T) {
	s := newShop(t)
	s.wantRedirect(s.post("/lathes", "name", "garage 9x20", "from", "inch-bench"), "/lathes/garage%209x20?kept=1")
	w := s.get("/lathes/garage%209x20?kept=1")
	s.want(w, 200, "Kept as revision 1.", `name="revision" value="1"`)
	text := typed(w)
	if !strings.Contains(text, `name = "garage 9x20"`) {
		t.Error("the copy does not carry the new name")
	}

	edited := strings.Replace(text, "tpi = 8 ", "tpi = 4 ", 1)
	s.wantRedirect(s.post("/lathes/garage%209x20", "revision", "1", "text", strings.ReplaceAll(edited, "\n", "\r\n")), "/lathes/garage%209x20?kept=2")
	kept, err := s.store.Lathes().Get(t.Context(), "garage 9x20")
	if err != nil || kept.TOML != edited || kept.Revision != 2 {
		t.Fatalf("kept revision %d, %v; the text is the edited one: %t", kept.Revision, err, kept.TOML == edited)
	}
	s.want(s.get("/lathes/garage%209x20"), 200, "leadscrew 4 threads per inch", "Revision 2, kept now", "?revision=1")

	// An old revision is shown in the same form, to be put back as a new one.
	old := s.get("/lathes/garage%209x20?revision=1")
	s.want(old, 200, "This is revision 1.", `name="revision" value="2"`)
	if typed(old) != text {
		t.Error("the old revision's text is not shown")
	}

	// A sheet can be made with it.
	s.want(s.get("/sheet"), 200, `<option value="garage 9x20">`)
	s.want(s.get("/sheet?callout=1/2-13+UNC-2A&lathe=garage+9x20&material=1018&length=1in&stickout=2in"), 200, `<option value="garage 9x20" selected>`, "data-v=")
	s.want(s.get("/lathes"), 200, "garage 9x20", "revision 2")
}

// Faults come back with the text as it was typed, each with its line and key, and
// nothing is kept.
func TestLatheFaults(t *testing.T) {
	s := newShop(t)
	s.wantRedirect(s.post("/lathes", "name", "mine", "from", "inch-bench"), "/lathes/mine?kept=1")
	text := typed(s.get("/lathes/mine"))
	wrong := strings.Replace(text, "tpi = 8 ", `tpi = "eight" `, 1)
	wrong = strings.Replace(wrong, "studs = 2 ", "stubs = 2 ", 1)
	line := func(of string) string {
		at := strings.Index(wrong, of)
		return fmt.Sprintf(`href="#line-%d"`, 1+strings.Count(wrong[:at], "\n"))
	}
	w := s.post("/lathes/mine", "revision", "1", "text", wrong)
	s.want(w, 422, line(`tpi = "eight"`), "<code>leadscrew.tpi</code>", "is not a number", line("stubs = 2"), "<code>banjo.stubs</code>", "did you mean", `aria-invalid="true"`)
	if typed(w) != wrong {
		t.Error("what was typed is lost")
	}
	if kept, err := s.store.Lathes().Get(t.Context(), "mine"); err != nil || kept.Revision != 1 || kept.TOML != text {
		t.Errorf("a faulty text was kept: revision %d, %v", kept.Revision, err)
	}

	// A new one likewise, with its name.
	w = s.post("/lathes", "name", "other", "from", "inch-bench", "text", wrong)
	s.want(w, 422, "<code>leadscrew.tpi</code>", `value="other"`)
	if got := typed(w); !strings.Contains(got, `tpi = "eight"`) {
		t.Error("what was typed is lost")
	}
	for name, words := range map[string]string{"": "is missing", "a/b": "cannot stand in an address", "..": "cannot stand in an address", "mine": "is already stored", strings.Repeat("x", 201): `id="x-name" data-live="fault-name"><p>`} {
		status := 422
		if name == "mine" {
			status = 409
		}
		s.want(s.post("/lathes", "name", name, "from", "inch-bench"), status, words, `value="`+name+`"`)
	}
	s.want(s.post("/lathes", "name", "new", "from", "nowhere"), 422, "is not there")
}

// Two people edit one lathe: the second is told, sees both texts, and may keep his
// on top knowingly.
func TestLatheConflict(t *testing.T) {
	s := newShop(t)
	s.wantRedirect(s.post("/lathes", "name", "mine", "from", "inch-bench"), "/lathes/mine?kept=1")
	text := typed(s.get("/lathes/mine"))
	theirs, ours := text+"# theirs\n", text+"# ours\n"
	s.wantRedirect(s.post("/lathes/mine", "revision", "1", "text", theirs), "/lathes/mine?kept=2")
	w := s.post("/lathes/mine", "revision", "1", "text", ours)
	s.want(w, 409, "it was changed meanwhile", "# theirs", `name="revision" value="2"`, "Keep mine on top")
	if typed(w) != ours {
		t.Error("what was typed is lost")
	}
	s.wantRedirect(s.post("/lathes/mine", "revision", "2", "text", ours), "/lathes/mine?kept=3")
	s.want(s.post("/lathes/mine", "revision", "three", "text", ours), 400)
	s.want(s.post("/lathes/mine/remove", "revision", "2"), 409)
	s.wantRedirect(s.post("/lathes/mine/remove", "revision", "3"), "/lathes")
	removed := s.get("/lathes/mine")
	s.want(removed, 200, "It was taken off the shelf.", "?revision=3")
	if typed(removed) != ours {
		t.Error("the last text of a removed lathe is not shown")
	}
	if body := s.get("/sheet").Body.String(); strings.Contains(body, `<option value="mine"`) {
		t.Error("a removed lathe is still offered")
	}
	// Put back from its history.
	s.wantRedirect(s.post("/lathes/mine", "revision", "0", "text", ours), "/lathes/mine?kept=5")
}

// What is typed never becomes part of the page's own code.
func TestLatheInjection(t *testing.T) {
	s := newShop(t)
	const evil = `</textarea><script>alert(1)</script>`
	w := s.post("/lathes", "name", `"><script>alert(1)</script>`, "from", "inch-bench")
	if w.Code != http.StatusUnprocessableEntity { // it has a stroke
		t.Errorf("status %d", w.Code)
	}
	s.wantRedirect(s.post("/lathes", "name", `<script>alert(1)`, "from", "inch-bench"), "/lathes/%3Cscript%3Ealert%281%29?kept=1")
	text := typed(s.get("/lathes/%3Cscript%3Ealert%281%29"))
	pages := []*httptest.ResponseRecorder{
		w, s.get("/lathes"), s.get("/lathes/%3Cscript%3Ealert%281%29"), s.get("/sheet"), s.get("/lathes/%3Cscript%3Ex"),
		s.post("/lathes/%3Cscript%3Ealert%281%29", "revision", "1", "text", text+evil),
		s.post("/lathes/%3Cscript%3Ealert%281%29", "revision", "0", "text", text+"# "+evil),
		s.post("/lathes", "name", "x", "from", evil),
	}
	for i, p := range pages {
		if strings.Contains(strings.ToLower(p.Body.String()), "<script>") {
			t.Errorf("page %d: what was typed came back as script", i)
		}
	}
	if got := typed(pages[5]); got != text+evil {
		t.Error("what was typed is lost")
	}
}

// Writes from other sites' pages, and writes too long to be a lathe, are refused.
func TestLatheGuarded(t *testing.T) {
	s := newShop(t)
	r := httptest.NewRequest(http.MethodPost, "/lathes", strings.NewReader("name=x&from=inch-bench"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	s.want(s.ask(r), 403)
	s.want(s.post("/lathes", "name", "x", "text", strings.Repeat("#", mostBody)), 413, "too long")
	s.want(s.post("/lathes", "name", "x", "text", strings.Repeat("a", lathe.MostBytes+1)), 422)
	if all, err := s.store.Lathes().List(t.Context()); err != nil || len(all) > 0 {
		t.Errorf("%d lathes were kept, %v", len(all), err)
	}

	none, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	s.server = none
	s.want(s.post("/lathes", "name", "x", "from", "inch-bench"), 404, "Nothing is kept here")
	s.want(s.get("/lathes"), 200, "inch-bench")
	s.want(s.get("/lathes/inch-bench"), 200, "Gears for 1/2-13")
}
