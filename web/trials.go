package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"thrum/store"
	"thrum/trial"
)

// trialRoutes lists the addresses of trials.
func (s *Server) trialRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /trials", s.trialsShow)
	m.HandleFunc("POST /trials", s.trialSettle)
	m.HandleFunc("GET /trials/new", s.trialNew)
	m.HandleFunc("GET /trials/several", s.severalShow)
	m.HandleFunc("GET /trials/gauge", s.gaugeShow)
	m.HandleFunc("POST /questions", s.questionAdd)
	m.HandleFunc("POST /questions/{id}", s.questionClose)
	m.HandleFunc("GET /trials/{id}", s.trialShow)
	m.HandleFunc("POST /trials/{id}/all", s.trialForAll)
	m.HandleFunc("GET /trials/{id}/grade", s.gradeShow)
	m.HandleFunc("POST /trials/{id}/grade", s.gradeKeep)
	m.HandleFunc("GET /trials/{id}/samples/{code}", s.sampleShow)
	m.HandleFunc("POST /trials/{id}/samples/{code}", s.sampleKeep)
	m.HandleFunc("GET /trials/{id}/files/{file}", s.sampleFile)
	m.HandleFunc("GET /trials/{id}/finding", s.findingShow)
	m.HandleFunc("GET /trials/{id}/finding.pdf", s.findingFile(findingPDF))
	m.HandleFunc("GET /trials/{id}/finding.csv", s.findingFile(findingCSV))
	m.HandleFunc("GET /trials/{id}/finding.json", s.findingFile(findingJSON))
	m.HandleFunc("GET /trials/{id}/finding.txt", s.findingFile(findingText))
	m.HandleFunc("GET /trials/{id}/finding.png", s.findingFile(findingPNG))
	m.HandleFunc("GET /trials/{id}/finding.svg", s.findingFile(findingSVG))
}

type trialsPage struct {
	frame
	Trials []trialLine
	Queue  []questionLine
	Ready  []readyLine
	Asks   control
	Detail string
	Faults []fault
	Blank  bool // nothing was ever asked or cut
}

type trialLine struct {
	ID, Name, Words, State string
	At                     time.Time
}

type questionLine struct {
	store.Question
	Link string
}

type readyLine struct{ Link, Asks, Words string }

// trialsShow shows what is being cut, what waits, and questions that are ready.
func (s *Server) trialsShow(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	s.trialsAgain(w, r, http.StatusOK, url.Values{}, nil)
}

func (s *Server) trialsAgain(w http.ResponseWriter, r *http.Request, status int, typed url.Values, faults []fault) {
	ctx := r.Context()
	page := trialsPage{frame: s.frame(r, "Trials", "trials"), Faults: faults, Detail: typed.Get("detail")}
	f := form{q: typed, faults: map[string][]fault{}}
	for _, x := range faults {
		f.faults[x.Field] = append(f.faults[x.Field], x)
	}
	page.Asks = f.text("asks", "What would you like to know?", "one thing: is a fresh edge worth the trouble?")
	kept, err := s.config.Store.Trials(ctx)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, t := range kept {
		g, err := s.library.gather(ctx, t.ID)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		page.Trials = append(page.Trials, lineOf(g))
	}
	queue, err := s.config.Store.Questions(ctx, false)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, q := range queue {
		page.Queue = append(page.Queue, questionLine{q, "/trials/new?" + url.Values{"asked": {q.ID}, "question": {q.Asks}}.Encode()})
	}
	for _, q := range trial.Questions() {
		page.Ready = append(page.Ready, readyLine{"/trials/new?ready=" + url.QueryEscape(q.ID), q.Asks, q.Factor.Changed + " against " + q.Factor.Baseline})
	}
	page.Blank = len(kept)+len(queue) == 0
	s.show(w, r, status, "trials", page)
}

// lineOf says on one line how far a trial has come.
func lineOf(g *gathered) trialLine {
	set := g.Record.Settled
	l := trialLine{ID: g.Trial.ID, Name: g.Trial.Name, Words: set.Design.Words(set.Factor), At: g.Trial.CreatedAt}
	scored, cut := g.Record.Progress()
	switch n := len(set.Runs); {
	case scored == n:
		l.State = "all scored"
	case scored > 0:
		l.State = countOf(scored, n) + " scored"
	case cut > 0:
		l.State = countOf(cut, n) + " cut"
	default:
		l.State = "drawn, nothing cut yet"
	}
	return l
}

// questionAdd puts a question into the queue.
func (s *Server) questionAdd(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	_, err := s.config.Store.AddQuestion(r.Context(), store.Question{Asks: strings.TrimSpace(r.PostForm.Get("asks")), Detail: strings.TrimSpace(r.PostForm.Get("detail"))})
	if store.CodeOf(err) == store.Invalid {
		faults, _ := faultsOf(err)
		for i := range faults {
			faults[i].Field = "asks"
		}
		s.trialsAgain(w, r, http.StatusUnprocessableEntity, r.PostForm, faults)
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/trials#queue", http.StatusSeeOther)
}

// questionClose takes a question out of the queue.
func (s *Server) questionClose(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	q, err := s.config.Store.Question(r.Context(), r.PathValue("id"))
	if err == nil {
		q.Closed = true
		_, err = s.config.Store.EditQuestion(r.Context(), q)
	}
	switch store.CodeOf(err) {
	case store.NotFound, store.Invalid:
		s.fail(w, r, http.StatusNotFound, "There is no such question", "The list of trials shows those that wait.")
		return
	case store.Conflict:
		s.fail(w, r, http.StatusConflict, "The question was changed meanwhile", "Look at the list again.")
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/trials#queue", http.StatusSeeOther)
}

// gathered finds the trial that an address names.
func (s *Server) gathered(w http.ResponseWriter, r *http.Request) (*gathered, bool) {
	if !s.keeps(w, r) {
		return nil, false
	}
	g, err := s.library.gather(r.Context(), r.PathValue("id"))
	if code := store.CodeOf(err); code == store.NotFound || code == store.Invalid {
		s.fail(w, r, http.StatusNotFound, "There is no such trial", "The list of trials shows those that are kept.")
		return nil, false
	}
	if err != nil {
		s.broken(w, r, err)
		return nil, false
	}
	return g, true
}

// scores lists the scores of a trial, the main one first.
func scores(set trial.Settled) []string { return slices.Concat([]string{set.ScoreIs}, set.Others) }
