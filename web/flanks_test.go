package web

import (
	"errors"
	"image/jpeg"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"thrum/store"
)

const photos = "../examples/photos/"

func visit(s http.Handler, address string) *httptest.ResponseRecorder {
	r := httptest.NewRequest("GET", address, nil)
	r.Host = "localhost"
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

func postForm(s http.Handler, address string, q url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest("POST", address, strings.NewReader(q.Encode()))
	r.Host = "localhost"
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

var bigFigure = regexp.MustCompile(`<b>(\d+) ± (\d+)</b> marks per turn`)

// A bar drawn with 152.4 marks per turn by a ray tracer, and one drawn without, are
// read, compared, corrected and kept; what is kept holds the picture alone.
func TestFlanksPage(t *testing.T) {
	st, err := store.Open(t.Context(), store.Config{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = st.Close() })
	now := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
	s, err := New(Config{Store: st, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	part, err := st.AddPart(t.Context(), store.Part{Name: "Drawbar"})
	if err != nil {
		t.Fatal(err)
	}
	w := post(t, s, "/flanks", url.Values{"callout": {"M20x2.5"}, "rpm": {"200"}, "together": {"yes"}},
		map[string]string{"before": photos + "bar-a-1.jpg", "after": photos + "bar-b-1.jpg"})
	address := w.Header().Get("Location")
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(address, "/flanks/") {
		t.Fatalf("status %d, sent on to %q: %s", w.Code, address, w.Body)
	}
	body := visit(s, address).Body.String()
	m := bigFigure.FindStringSubmatch(body)
	if m == nil {
		t.Fatalf("no marks per turn in %s", body)
	}
	if n, _ := strconv.ParseFloat(m[1], 64); math.Abs(n-152.4) > 0.015*152.4 {
		t.Errorf("%g marks per turn, drawn with 152.4", n)
	}
	for _, want := range []string{"Hz at 200 rpm", "Regular marks were read before and none after", "<polyline", "flank-outline", `name="ux1"`, `href="/listen?callout=M20x2.5&amp;marks=152`} {
		if !strings.Contains(body, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	picture := visit(s, address+"/0.jpg")
	if img, err := jpeg.Decode(picture.Body); err != nil || img.Bounds().Dx() != 1120 {
		t.Errorf("picture: %v", err)
	}
	outline(t, s, address, body)

	if w := postForm(s, address+"/keep", url.Values{"part": {part.ID}}); w.Code != http.StatusSeeOther {
		t.Fatalf("keeping: status %d: %s", w.Code, w.Body)
	}
	files, err := st.Files(t.Context(), store.About{PartID: part.ID})
	if err != nil || len(files) != 2 || files[0].Kind != "photo" {
		t.Errorf("kept files %+v, %v", files, err)
	}
	readKept(t, s, files[0], files[1])
	kept, err := st.Measurements(t.Context(), store.About{PartID: part.ID})
	if err != nil || len(kept) != 1 || math.Abs(kept[0].Value-152.4) > 2.3 || kept[0].Spread < 1 {
		t.Errorf("kept %+v, %v", kept, err)
	}
	if w := postForm(s, address+"/keep", nil); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "choose the part") {
		t.Errorf("keeping with nothing: status %d", w.Code)
	}
	now = now.Add(trayTime + time.Second)
	if w := visit(s, address); w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "have been put away") {
		t.Errorf("after %v: status %d", trayTime, w.Code)
	}
}

// readKept reads photographs that are kept, without sending them again.
func readKept(t *testing.T, s *Server, file, other store.File) {
	t.Helper()
	page := visit(s, "/flanks?kept="+file.ID+"&callout=M20x2.5").Body.String()
	if !strings.Contains(page, `name="kept" value="`+file.ID) || !strings.Contains(page, file.Name) {
		t.Errorf("the form does not hold the kept photo: %s", page)
	}
	w := post(t, s, "/flanks", url.Values{"callout": {"M20x2.5"}, "kept": {file.ID}}, nil)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("reading a kept photo: status %d: %s", w.Code, w.Body)
	}
	m := bigFigure.FindStringSubmatch(visit(s, w.Header().Get("Location")).Body.String())
	if m == nil {
		t.Fatal("the kept photo was not read")
	}
	if n, _ := strconv.ParseFloat(m[1], 64); math.Abs(n-152.4) > 0.015*152.4 {
		t.Errorf("%g marks per turn in the kept photo, drawn with 152.4", n)
	}
	w = post(t, s, "/flanks", url.Values{"callout": {"M20x2.5"}, "kept": {file.ID}}, map[string]string{"after": photos + other.Name})
	if body := visit(s, w.Header().Get("Location")).Body.String(); !strings.Contains(body, "Before and after") {
		t.Error("a kept photo is not compared with a new one")
	}
	w = post(t, s, "/flanks", url.Values{"callout": {"M20x2.5"}, "kept": {"nowhere"}}, nil)
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "is not kept here") {
		t.Errorf("a photo that is not kept: status %d", w.Code)
	}
}

var outlineField = regexp.MustCompile(`id="f-0-([a-z0-9]+)" name="[a-z0-9]+" value="([^"]*)"`)

// outline confirms the outline of the first photograph, sends a wrong one, and sends
// it from a set that is not there.
func outline(t *testing.T, s *Server, address, body string) {
	q := url.Values{"shot": {"0"}}
	for _, m := range outlineField.FindAllStringSubmatch(body, -1) {
		q.Set(m[1], m[2])
	}
	if len(q) != 14 {
		t.Fatalf("fields of the outline: %v", q)
	}
	w := postForm(s, address+"/outline", q)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("confirming: status %d: %s", w.Code, w.Body)
	}
	after := visit(s, address).Body.String()
	m := bigFigure.FindStringSubmatch(after)
	if m == nil || !strings.Contains(after, "The outline is confirmed") {
		t.Fatalf("after confirming: %v", m)
	}
	if n, _ := strconv.ParseFloat(m[1], 64); math.Abs(n-152.4) > 0.015*152.4 {
		t.Errorf("%g marks per turn with the outline confirmed, drawn with 152.4", n)
	}
	q.Set("pitches", "1.5")
	q.Set("ux1", "far away")
	w = postForm(s, address+"/outline", q)
	if b := w.Body.String(); w.Code != http.StatusUnprocessableEntity || !strings.Contains(b, "is not a number") || !strings.Contains(b, "count the grooves") || !strings.Contains(b, `value="far away"`) {
		t.Errorf("a wrong outline: status %d", w.Code)
	}
	q.Set("shot", "7")
	if w := postForm(s, address+"/outline", q); w.Code != http.StatusNotFound {
		t.Errorf("a photo that is not there: status %d", w.Code)
	}
	if w := postForm(s, "/flanks/nowhere/outline", q); w.Code != http.StatusNotFound {
		t.Errorf("a set that is not there: status %d", w.Code)
	}
}

func TestFlanksPageRefuses(t *testing.T) {
	s := server(t)
	dir := t.TempDir()
	words := filepath.Join(dir, "photo.jpg")
	if err := os.WriteFile(words, []byte("<html>"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		q     url.Values
		files map[string]string
		want  string
	}{
		{url.Values{"callout": {"M20x2.5"}}, nil, "choose a photo of the thread"},
		{url.Values{"callout": {""}}, map[string]string{"before": words}, "is no thread"},
		{url.Values{"callout": {"M20x2.5"}}, map[string]string{"before": words}, "(text) is not a photo, whatever its name says"},
		{url.Values{"callout": {"M20x2.5-6H"}}, map[string]string{"before": words}, "is internal"},
		{url.Values{"callout": {"M20x2.5"}, "rpm": {"fast"}}, map[string]string{"before": words}, "is not a number"},
		{url.Values{"callout": {"M20x2.5"}, "rpm-after": {"-3"}}, map[string]string{"before": words}, "is not a spindle speed"},
		{url.Values{"callout": {"M20x2.5"}}, map[string]string{"after": photos + "bar-b-1.jpg"}, "choose a photo of the thread"},
	} {
		w := post(t, s, "/flanks", c.q, c.files)
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), c.want) {
			t.Errorf("%v %v: status %d, want 422 and %q", c.q, c.files, w.Code, c.want)
		}
	}
}

// The tray never holds more than its share of memory: the oldest go first.
func TestFlankTrayForgets(t *testing.T) {
	var tray flankTray
	now := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
	heavy := func() *flankSet { return &flankSet{shots: []*flankShot{{file: make([]byte, trayBytes/3)}}} }
	var ids []string
	for i := range 4 {
		ids = append(ids, tray.put(heavy(), now.Add(time.Duration(i)*time.Second)))
	}
	for i, id := range ids {
		if got := tray.get(id, now.Add(time.Minute)); (got != nil) != (i > 0) {
			t.Errorf("set %d of 4: %v", i, errors.New(id))
		}
	}
}
