package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thrum/store"
	"thrum/trial"
)

type gradePage struct {
	frame
	ID, Name string
	By       control
	Of       string
	Which    []gradeChoice
	Better   string
	Samples  []gradeLine
	Faults   []fault
	Kept     bool
}

type gradeChoice struct {
	Name, Link string
	Shown      bool
}

type gradeLine struct {
	Code   string
	Value  string
	Photos []string // addresses
	Faults []fault
}

// gradeShow is the form for grading blind: codes in the order of the codes, and no
// arm, block or run anywhere on the page.
func (s *Server) gradeShow(w http.ResponseWriter, r *http.Request) {
	if g, ok := s.gathered(w, r); ok {
		s.gradeAgain(w, r, http.StatusOK, g, r.URL.Query(), nil)
	}
}

func (s *Server) gradeAgain(w http.ResponseWriter, r *http.Request, status int, g *gathered, q url.Values, faults []fault) {
	set := g.Record.Settled
	page := gradePage{frame: s.frame(r, "Grade blind", "trials"), ID: g.Trial.ID, Name: g.Trial.Name, Of: set.ScoreIs, Faults: faults, Kept: q.Get("kept") == "yes"}
	at := map[string][]fault{}
	for _, x := range faults {
		at[x.Field] = append(at[x.Field], x)
	}
	for _, of := range scores(set) {
		if of == q.Get("of") {
			page.Of = of
		}
	}
	for _, of := range scores(set) {
		page.Which = append(page.Which, gradeChoice{of, "/trials/" + url.PathEscape(g.Trial.ID) + "/grade?" + url.Values{"of": {of}, "by": {q.Get("by")}}.Encode(), of == page.Of})
	}
	if page.Of == set.ScoreIs {
		switch set.Better {
		case trial.Higher:
			page.Better = "more is better"
		case trial.Lower:
			page.Better = "less is better"
		}
	}
	f := form{q: q, faults: at}
	page.By = f.text("by", "Graded by", "a name or initials; each grader enters their own")
	for _, e := range g.Record.ByCode() {
		l := gradeLine{Code: e.Code, Value: q.Get("v-" + e.Code), Faults: at["v-"+e.Code]}
		for _, x := range g.About[e.Code].Files {
			if x.Kind == "photo" {
				l.Photos = append(l.Photos, fmt.Sprintf("/trials/%s/files/%s", url.PathEscape(g.Trial.ID), url.PathEscape(x.ID)))
			}
		}
		if l.Value == "" && q.Get("by") != "" {
			for _, x := range e.Grades {
				if x.By == q.Get("by") && x.Of == page.Of {
					l.Value = strconv.FormatFloat(x.Value, 'g', -1, 64)
				}
			}
		}
		page.Samples = append(page.Samples, l)
	}
	s.show(w, r, status, "trial_grade", page)
}

// grader reads who grades.
func grader(q url.Values) (string, *fault) {
	by := strings.TrimSpace(q.Get("by"))
	if by == "" || len(by) > 60 {
		return "", &fault{"by", by, "is missing or too long", "write who graded: a name or initials"}
	}
	return by, nil
}

// score reads a number; a comma counts as the point of a decimal.
func score(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	return v, err == nil && !math.IsNaN(v) && math.Abs(v) <= 1e12
}

// gradeKeep keeps the grades of one grader. A grade entered again takes the place of
// the earlier one, which stays in the records.
func (s *Server) gradeKeep(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	g, ok := s.gathered(w, r)
	if !ok {
		return
	}
	of := g.Record.Settled.ScoreIs
	for _, x := range scores(g.Record.Settled) {
		if x == r.PostForm.Get("of") {
			of = x
		}
	}
	var faults []fault
	by, bad := grader(r.PostForm)
	if bad != nil {
		faults = append(faults, *bad)
	}
	values := map[string]float64{}
	for _, x := range g.Samples {
		text := strings.TrimSpace(r.PostForm.Get("v-" + x.Code))
		if text == "" {
			continue
		}
		v, ok := score(text)
		if !ok {
			faults = append(faults, fault{"v-" + x.Code, short(text, 40), "is not a number", "digits, such as 3 or 3.5"})
		}
		values[x.Code] = v
	}
	if len(faults) > 0 {
		s.gradeAgain(w, r, http.StatusUnprocessableEntity, g, r.PostForm, faults)
		return
	}
	for i, x := range g.Samples {
		v, ok := values[x.Code]
		if !ok || has(g.Record.Evidence[i].Grades, trial.Grade{By: by, Of: of, Value: v}) {
			continue
		}
		if err := s.keepScore(r, x.ID, of, by, v); err != nil {
			s.broken(w, r, err)
			return
		}
	}
	http.Redirect(w, r, "/trials/"+url.PathEscape(g.Trial.ID)+"/grade?"+url.Values{"of": {of}, "by": {by}, "kept": {"yes"}}.Encode(), http.StatusSeeOther)
}

func has(list []trial.Grade, g trial.Grade) bool {
	for _, x := range list {
		if x == g {
			return true
		}
	}
	return false
}

func (s *Server) keepScore(r *http.Request, sample, of, by string, v float64) error {
	detail, err := json.Marshal(scoreDetail{of, by})
	if err != nil {
		return err
	}
	_, err = s.config.Store.AddMeasurement(r.Context(), store.Measurement{
		About: store.About{SampleID: sample}, Quantity: quantityScore, Value: v, Unit: "points", Detail: string(detail),
	})
	return err
}
