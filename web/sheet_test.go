package web

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"thrum/examples"
	"thrum/plan"
	"thrum/unit"
)

func server(t testing.TB) *Server {
	t.Helper()
	s, err := New(Config{Version: "test", Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func get(s *Server, address string) *httptest.ResponseRecorder {
	r := httptest.NewRequest("GET", "http://localhost"+address, nil)
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

const example = "/sheet?callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in"

// The address alone makes the same plan as the calculation itself.
func TestSheetIsThePlan(t *testing.T) {
	text, _ := examples.Lathe("inch-bench")
	p, err := plan.Make(plan.Request{Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: text, Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch})
	if err != nil {
		t.Fatal(err)
	}
	var want strings.Builder
	if err := plan.Encode(&want, p); err != nil {
		t.Fatal(err)
	}
	if got := get(server(t), strings.Replace(example, "/sheet", "/sheet.json", 1)).Body.String(); got != want.String() {
		t.Errorf("the address gives another plan:\n%s", short(got, 400))
	}
}

func TestAddresses(t *testing.T) {
	s := server(t)
	all := []string{"/", "/about", "/sheet", example, s.assets.script, s.assets.style}
	for _, ext := range []string{"pdf", "svg", "txt", "json"} {
		all = append(all, strings.Replace(example, "/sheet", "/sheet."+ext, 1))
	}
	for _, l := range samples("mm") {
		all = append(all, "/sheet?"+l.Query)
	}
	for _, a := range all {
		w := get(s, a)
		if w.Code != http.StatusOK {
			t.Errorf("%s: status %d", a, w.Code)
		}
		for _, inline := range []string{"<style", " style=\"", " onclick"} {
			if strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") && strings.Contains(w.Body.String(), inline) {
				t.Errorf("%s: contains %s, which the policy blocks", a, inline)
			}
		}
	}
}

// A fault keeps what was typed, stands beside its field, and names a way out.
func TestFaultKeepsInput(t *testing.T) {
	w := get(server(t), "/sheet?callout=M10&lathe=inch-bench&material=1018&length=%3Cb%3Elong")
	body := w.Body.String()
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("status %d", w.Code)
	}
	for _, part := range []string{`value="&lt;b&gt;long"`, `href="#f-length"`, `aria-invalid="true"`, "12.7mm"} {
		if !strings.Contains(body, part) {
			t.Errorf("the page lacks %s", part)
		}
	}
	if strings.Contains(body, "<b>long") {
		t.Error("what was typed is not escaped")
	}
}

func TestGuard(t *testing.T) {
	s := server(t)
	r := httptest.NewRequest("GET", "http://evil.example/sheet", nil)
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	if w.Code != http.StatusMisdirectedRequest {
		t.Errorf("a strange name: status %d", w.Code)
	}
	r = httptest.NewRequest("POST", "http://localhost/looks", strings.NewReader("theme=dark&back=//evil.example"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	w = httptest.NewRecorder()
	s.ServeHTTP(w, r)
	if w.Code != http.StatusForbidden {
		t.Errorf("a write from another site: status %d", w.Code)
	}
	r = httptest.NewRequest("POST", "http://localhost/looks", strings.NewReader("theme=dark&back=//evil.example"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w = httptest.NewRecorder()
	s.ServeHTTP(w, r)
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/" {
		t.Errorf("status %d to %q", w.Code, w.Header().Get("Location"))
	}
	if p := get(s, "/").Header().Get("Content-Security-Policy"); !strings.Contains(p, "frame-ancestors 'none'") || strings.Contains(p, "unsafe") {
		t.Errorf("policy %q", p)
	}
}
