package app_test

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"thrum/app"
	"thrum/examples"
	"thrum/plan"
	"thrum/store"
	"thrum/unit"
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
	lathe, _ := examples.Lathe("inch-bench")
	p, err := plan.Make(plan.Request{Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: lathe, Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 { // the second time nothing is added
		if err := a.LoadExamples(t.Context(), p); err != nil {
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
	body := ask(t, a.Store, "/trials/"+trials[0].ID+"/finding")
	for _, want := range []string{"Size was lost", "changed on purpose", "held", "drifted", "2 graders", "all 70 ways", "Nobody was asked"} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q in the finding", want)
		}
	}
	if !strings.Contains(body, "Good evidence") {
		_, rest, _ := strings.Cut(body, `id="caused"`)
		t.Errorf("caused: %.1500s", rest)
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
