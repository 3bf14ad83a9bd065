package web

import (
	"bytes"
	"html"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/store"
)

// post sends a form with files, named "field=path" in files.
func post(t *testing.T, s http.Handler, address string, values url.Values, files map[string]string) *httptest.ResponseRecorder {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for k, vs := range values {
		for _, v := range vs {
			if err := m.WriteField(k, v); err != nil {
				t.Fatal(err)
			}
		}
	}
	for field, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		w, err := m.CreateFormFile(field, filepath.Base(path))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest("POST", address, &b)
	r.Host = "localhost"
	r.Header.Set("Content-Type", m.FormDataContentType())
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// The frequencies that a generator of rings put into two recordings come out on the
// page, go into the sheet that the test is for, and are kept with the part.
func TestKnockPage(t *testing.T) {
	shop := newShop(t)
	s, st := shop.server, shop.store
	part, err := st.AddPart(t.Context(), store.Part{Name: "Drawbar"})
	if err != nil {
		t.Fatal(err)
	}
	const sheet = "callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=4in"
	files := map[string]string{"free": "../sound/testdata/knock/bar.wav", "centre": "../sound/testdata/knock/centre.wav"}
	w := post(t, s, "/knock", url.Values{"for": {sheet}, "keep": {"yes"}, "part": {part.ID}, "lathe": {"inch-bench"}}, files)
	body := w.Body.String()
	if w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, body)
	}
	use := regexp.MustCompile(`/sheet\?([^"]*)#finish`).FindStringSubmatch(body)
	if use == nil {
		t.Fatal("no way back to the sheet")
	}
	q, err := url.ParseQuery(html.UnescapeString(use[1]))
	if err != nil {
		t.Fatal(err)
	}
	for name, file := range map[string]string{"knock": "bar.wav", "knock-centre": "centre.wav"} {
		for i, want := range truth(t, file) {
			got := strings.Split(q.Get(name), ";")
			if i >= len(got) {
				t.Errorf("%s: %q has no mode %d", name, q.Get(name), i+1)
				break
			}
			f, err := strconv.ParseFloat(strings.Fields(got[i])[0], 64)
			if err != nil || f < want*0.998 || f > want*1.002 {
				t.Errorf("%s: %q, the generator's mode %d rings at %.1f Hz", name, q.Get(name), i+1, want)
			}
		}
	}
	for _, want := range []string{"What changed", "1 frequency moved", "Kept with", "<svg"} {
		if !strings.Contains(body, want) {
			t.Errorf("the answer has no %q", want)
		}
	}
	kept, err := s.knocks(t.Context(), store.About{PartID: part.ID})
	if err != nil || len(kept) != 2 {
		t.Errorf("kept with the part: %v, %v", kept, err)
	}
	if files, err := st.Files(t.Context(), store.About{Lathe: "inch-bench"}); err != nil || len(files) != 2 {
		t.Errorf("recordings kept with the lathe: %v, %v", files, err)
	}
}

// truth reads the natural frequencies that the generator gave a recording.
func truth(t *testing.T, file string) []float64 {
	t.Helper()
	var out []float64
	for _, row := range outside.Named(t, "../sound/testdata/knock/truth.csv") {
		if row["file"] == file {
			v, err := strconv.ParseFloat(row["natural_hz"], 64)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, v)
		}
	}
	if len(out) == 0 {
		t.Fatalf("no truth for %s", file)
	}
	return out
}

// What cannot be used is said beside its field, and nothing is kept.
func TestKnockPageRefuses(t *testing.T) {
	s, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		values url.Values
		files  map[string]string
		want   string
	}{
		{"nothing sent", nil, nil, "record taps here, or choose a recording"},
		{"no sound", nil, map[string]string{"free": "knock_test.go"}, "knock_test.go"},
		{"no rate", url.Values{"rate": {"fast"}}, map[string]string{"free": "../sound/testdata/knock/bar.wav"}, "is not a number"},
	} {
		w := post(t, s, "/knock", c.values, c.files)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), c.want) {
			t.Errorf("%s: status %d, want %q", c.name, w.Code, c.want)
		}
	}
	r := httptest.NewRequest("POST", "/knock", strings.NewReader(strings.Repeat("x", mostBody+1)))
	r.Host = "localhost"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	if w.Code < 400 || w.Code >= 500 {
		t.Errorf("a form without files and too long: %d", w.Code)
	}
}
