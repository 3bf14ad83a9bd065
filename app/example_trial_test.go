package app_test

import (
	"html"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"thrum/app"
	"thrum/store"
	"thrum/web"
)

// The example trial says what changed, what was held, what was found and how sure,
// and that one thread without marks has lost its size.
func TestExampleTrial(t *testing.T) {
	a, err := app.New(t.Context(), app.Config{Data: t.TempDir(), Address: "127.0.0.1:0", Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	for range 2 { // the second time nothing is added
		if err := a.LoadExamples(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	trials, err := a.Store.Trials(t.Context())
	if err != nil || len(trials) != 1 {
		t.Fatal(err, len(trials))
	}
	if q, err := a.Store.Questions(t.Context(), true); err != nil || len(q) != 4 {
		t.Errorf("%d questions, %v", len(q), err)
	}
	if polls, err := a.Store.Polls(t.Context()); err != nil || len(polls) != 1 || !polls[0].Open() {
		t.Errorf("polls %v, %v", polls, err)
	}
	evidence, err := a.Store.TrialEvidence(t.Context(), trials[0].ID)
	if err != nil || len(evidence.Measurements) != 8*9 {
		t.Errorf("%d measurements, %v", len(evidence.Measurements), err)
	}
	samples, err := a.Store.Samples(t.Context(), trials[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	checkTakes(t, a.Store, samples[0], evidence)
	body := ask(t, a.Store, "/trials/"+trials[0].ID+"/finding")
	for _, want := range []string{"Size was lost", "changed on purpose", "held", "varied", "2 graders", "all 70 ways", "Nobody was asked"} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q in the finding", want)
		}
	}
	if !strings.Contains(body, "Good evidence") {
		_, rest, _ := strings.Cut(body, `id="caused"`)
		t.Errorf("caused: %.1500s", rest)
	}
}

// checkTakes wants a photograph and a recording with every sample, named by the code
// alone, shown, played and sent on to be listened to.
func checkTakes(t *testing.T, st *store.Store, first store.Sample, e store.Evidence) {
	t.Helper()
	kinds := map[string]int{}
	for _, f := range e.Files {
		kinds[f.Kind]++
		if strings.Contains(f.Name, "centre") || !strings.Contains(f.Name, "simulated") {
			t.Errorf("a file is named %q", f.Name)
		}
	}
	if kinds["photo"] != 8 || kinds["recording"] != 8 {
		t.Fatalf("files: %v", kinds)
	}
	at := "/trials/" + first.TrialID
	body := ask(t, st, at+"/samples/"+first.Code)
	for _, f := range e.Files {
		if f.SampleID != first.ID {
			continue
		}
		want, head := `<img src="`+at+"/files/"+f.ID, "\xff\xd8"
		if f.Kind == "recording" {
			want, head = `<audio controls preload="none" src="`+at+"/files/"+f.ID, "OggS"
			if to := "/listen?kept=" + f.ID + "&amp;rpm=200"; !strings.Contains(body, to) {
				t.Errorf("no %s", to)
			} else if page := ask(t, st, html.UnescapeString(to)); !strings.Contains(page, `name="kept" value="`+f.ID) {
				t.Error("the page for listening does not hold the recording")
			}
		}
		if !strings.Contains(body, want) || !strings.HasPrefix(ask(t, st, at+"/files/"+f.ID), head) {
			t.Errorf("%s is not shown, or is something else", f.Name)
		}
	}
	to := regexp.MustCompile(`/flanks\?callout=1%2F2-13[^"]*kept=([^&"]+)[^"]*`).FindStringSubmatch(body)
	if to == nil {
		t.Fatal("no way to read marks")
	}
	if page := ask(t, st, html.UnescapeString(to[0])); !strings.Contains(page, `name="kept" value="`+to[1]) {
		t.Error("the page of the flanks does not hold the photograph")
	}
}

func ask(t *testing.T, st *store.Store, address string) string {
	t.Helper()
	s, err := web.New(web.Config{Store: st})
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodGet, address, nil)
	r.Host = "localhost"
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		t.Fatalf("%s: %d", address, w.Code)
	}
	return w.Body.String()
}
