package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"thrum/store"
	"thrum/trial"
)

func countOf(n, of int) string { return fmt.Sprintf("%d of %d", n, of) }

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

type trialPage struct {
	frame
	ID       string
	Set      trial.Settled
	Words    string
	Drawn    time.Time
	Reach    trial.Reach
	Scored   int
	Cut      int
	Next     *runLine
	Runs     []runLine
	Blocks   string // "pair", "bar" or ""
	Plans    []control
	Held     string
	HoldList []string
	Ready    bool // there is something to find
	Faults   []fault
	Polls    []pollLine
}

type runLine struct {
	trial.Run
	Link     string
	Score    string
	Sizes    int
	Photos   int
	Sounds   int
	Notes    int
	Passes   int
	Planned  bool
	LeftOut  string
	Finished bool
}

// trialShow shows a trial while it is being cut: what comes next, and what is known
// of each sample so far.
func (s *Server) trialShow(w http.ResponseWriter, r *http.Request) {
	if g, ok := s.gathered(w, r); ok {
		s.trialAgain(w, r, http.StatusOK, g, "", nil)
	}
}

func (s *Server) trialAgain(w http.ResponseWriter, r *http.Request, status int, g *gathered, held string, faults []fault) {
	set := g.Record.Settled
	page := trialPage{
		frame: s.frame(r, g.Trial.Name, "trials"), ID: g.Trial.ID, Set: set, Words: set.Design.Words(set.Factor), Drawn: g.Trial.CreatedAt,
		Blocks: set.Design.Kind.Block(), Held: held, Faults: faults,
	}
	page.Reach, _ = set.Design.Reach() // it was checked when it was settled
	page.Scored, page.Cut = g.Record.Progress()
	page.Ready = page.Scored > 0
	var err error
	if page.Polls, err = s.pollsOf(r.Context(), g.Trial.ID); err != nil {
		s.broken(w, r, err)
		return
	}
	for i, run := range set.Runs {
		e, a := g.Record.Evidence[i], g.About[run.Code]
		l := runLine{
			Run: run, Link: "/trials/" + url.PathEscape(g.Trial.ID) + "/samples/" + url.PathEscape(run.Code), Sizes: len(e.Sizes), Photos: e.Photos, Sounds: e.Recordings,
			Notes: len(e.Notes), Passes: e.Passes, Planned: a.Plan != nil, LeftOut: e.LeftOut,
		}
		if v, ok := e.Score(set.ScoreIs); ok {
			l.Score = fmt.Sprintf("%.4g", v)
		}
		l.Finished = l.Score != "" || l.LeftOut != ""
		page.Runs = append(page.Runs, l)
		if page.Next == nil && !e.Cut && e.LeftOut == "" {
			page.Next = &page.Runs[len(page.Runs)-1]
		}
	}
	for _, h := range set.Hold {
		if !slices.ContainsFunc(g.Record.Evidence, func(e trial.Evidence) bool { return e.Conditions[h] == "" }) {
			continue
		}
		page.HoldList = append(page.HoldList, h)
	}
	if held == "" {
		for _, h := range page.HoldList {
			page.Held += h + " = \n"
		}
	}
	if page.Plans, err = s.planControls(r, set); err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, status, "trial", page)
}

// planControls offer the kept plans, one list for each arm.
func (s *Server) planControls(r *http.Request, set trial.Settled) ([]control, error) {
	opts, err := s.planOptions(r)
	if err != nil || len(opts) == 0 {
		return nil, err
	}
	f := form{q: r.PostForm}
	return []control{
		f.choose("plan-a", "Plan for "+set.Factor.Baseline, "not yet", opts...),
		f.choose("plan-b", "Plan for "+set.Factor.Changed, "not yet", opts...),
	}, nil
}

// planOptions lists the plans of all kept parts, newest revision first.
func (s *Server) planOptions(r *http.Request) ([]option, error) {
	parts, err := s.config.Store.Parts(r.Context(), false)
	if err != nil {
		return nil, err
	}
	var opts []option
	for _, p := range parts {
		plans, err := s.config.Store.Plans(r.Context(), p.ID)
		if err != nil {
			return nil, err
		}
		for _, x := range slices.Backward(plans) {
			opts = append(opts, option{Value: x.ID, Label: fmt.Sprintf("%s, revision %d: %s", p.Name, x.Revision, x.Title), Group: p.Name})
		}
	}
	return opts, nil
}

// mostConditions is how many conditions can be written down at once.
const mostConditions = 60

// conditionsOf reads lines such as "edge = 3". Lines without a value are left out,
// so that the names may stand there to be filled in.
func conditionsOf(text string) (map[string]string, *fault) {
	out := map[string]string{}
	for i, line := range strings.Split(strings.ReplaceAll(text, "\r", ""), "\n") {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		name, v, ok := strings.Cut(line, "=")
		name, v = strings.TrimSpace(name), strings.TrimSpace(v)
		if !ok || name == "" || len(name) > 60 || len(v) > 200 {
			return nil, &fault{"conditions", short(line, 60), fmt.Sprintf("in line %d is not a condition", i+1), "one a line: edge = 3"}
		}
		if v != "" {
			out[strings.ToLower(name)] = v
		}
	}
	if len(out) > mostConditions {
		return nil, &fault{"conditions", fmt.Sprint(len(out)), "are too many", fmt.Sprintf("at most %d", mostConditions)}
	}
	return out, nil
}

// trialForAll writes down what holds for all samples: conditions, and by which plan
// each arm is cut.
func (s *Server) trialForAll(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	g, ok := s.gathered(w, r)
	if !ok {
		return
	}
	conditions, bad := conditionsOf(r.PostForm.Get("conditions"))
	if bad != nil {
		s.trialAgain(w, r, http.StatusUnprocessableEntity, g, r.PostForm.Get("conditions"), []fault{*bad})
		return
	}
	facts, err := json.Marshal(conditions)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, x := range g.Samples {
		if len(conditions) > 0 {
			if err := s.enter(r, store.SampleEntry{SampleID: x.ID, Kind: entryConditions, Facts: string(facts)}); err != nil {
				s.broken(w, r, err)
				return
			}
		}
		id := r.PostForm.Get("plan-a")
		if x.Arm == g.Record.Settled.Factor.Changed {
			id = r.PostForm.Get("plan-b")
		}
		if id == "" || g.About[x.Code].PlanID == id {
			continue
		}
		err := s.enter(r, store.SampleEntry{SampleID: x.ID, Kind: entryCutAs, PlanID: id, PieceID: ""})
		if store.CodeOf(err) == store.NotFound {
			s.trialAgain(w, r, http.StatusUnprocessableEntity, g, r.PostForm.Get("conditions"), []fault{{"plan-a", "", "is no longer kept", "choose another plan"}})
			return
		}
		if err != nil {
			s.broken(w, r, err)
			return
		}
	}
	http.Redirect(w, r, "/trials/"+url.PathEscape(g.Trial.ID)+"#runs", http.StatusSeeOther)
}

func (s *Server) enter(r *http.Request, e store.SampleEntry) error {
	_, err := s.config.Store.AddSampleEntry(r.Context(), e)
	return err
}
