package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// A sheet is kept, shown as it was, noted on, reckoned again; what is not there is
// not found, and nothing that was typed comes back as script.
func TestParts(t *testing.T) {
	s := newShop(t).server
	ask := func(method, address string, form url.Values, header ...string) (int, string, string) {
		r := httptest.NewRequest(method, address, strings.NewReader(form.Encode()))
		r.Host = "localhost"
		if form != nil {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		for i := 0; i+1 < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		return w.Code, w.Header().Get("Location"), w.Body.String()
	}
	const query = "callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in"
	if status, _, body := ask("GET", "/parts", nil); status != 200 || !strings.Contains(body, "Nothing is kept yet") {
		t.Errorf("empty list: %d", status)
	}
	status, at, body := ask("POST", "/parts", url.Values{"name": {"Screw <script>alert(1)</script>"}, "query": {query}})
	if status != http.StatusSeeOther || !strings.HasPrefix(at, "/parts/") {
		t.Fatalf("keeping: %d %s %s", status, at, body)
	}
	expect := func(address string, wants ...string) {
		t.Helper()
		status, _, body := ask("GET", address, nil)
		if status != 200 {
			t.Errorf("%s: %d", address, status)
		}
		for _, w := range wants {
			if !strings.Contains(body, w) {
				t.Errorf("%s: no %q", address, w)
			}
		}
		if strings.Contains(body, "<script>alert") {
			t.Errorf("%s: what was typed came back as script", address)
		}
	}
	expect(at, "0.5102 to 0.5152", "revision 1", "200 rpm")
	expect("/parts", "Screw", "1 revision")
	expect(at+"/sheet.pdf", "%PDF")
	expect(at+"/sheet.json", `"schema": 1`, `"outlook"`, `"remedies"`)
	expect(at, "Finish: what vibrates", "marks from vibration") // what the sheet of the same thread says on its page

	// The same name with another speed is the next revision, and says what changed.
	if status, _, _ := ask("POST", "/parts", url.Values{"name": {"Screw <script>alert(1)</script>"}, "query": {query + "&rpm=115"}}); status != http.StatusSeeOther {
		t.Errorf("second revision: %d", status)
	}
	expect(at, "revision 2", "115 rpm", "What changed from the revision before", "200 rpm")
	expect(at+"?revision=1", "200 rpm")
	if status, _, _ := ask("POST", at+"/revisions", url.Values{}); status != http.StatusSeeOther {
		t.Errorf("reckoning again: %d", status)
	}
	expect(at, "revision 3")
	if status, _, _ := ask("POST", at+"/notes", url.Values{"text": {"fresh edge, <script>alert(2)</script>"}}); status != http.StatusSeeOther {
		t.Errorf("note: %d", status)
	}
	expect(at, "fresh edge")

	for _, c := range []struct {
		method, address string
		form            url.Values
		status          int
	}{
		{"GET", "/parts/nothing", nil, 404},
		{"GET", at + "?revision=99", nil, 404},
		{"POST", "/parts", url.Values{"name": {""}, "query": {query}}, 422},
		{"POST", "/parts", url.Values{"name": {"x"}, "query": {"callout=M10x1.6"}}, 422},
		{"POST", at + "/notes", url.Values{"text": {"  "}}, 422},
		{"POST", "/parts/nothing/notes", url.Values{"text": {"x"}}, 404},
	} {
		if status, _, body := ask(c.method, c.address, c.form); status != c.status {
			t.Errorf("%s %s: %d, want %d: %.200s", c.method, c.address, status, c.status, body)
		}
	}
	if status, _, _ := ask("POST", "/parts", url.Values{"name": {"evil"}, "query": {query}}, "Sec-Fetch-Site", "cross-site", "Origin", "http://evil.example"); status != http.StatusForbidden {
		t.Errorf("a post from another site: %d", status)
	}
}
