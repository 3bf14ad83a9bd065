package web

import (
	"html/template"
	"net/http"
	"net/url"
)

type startPage struct {
	frame
	Part    group
	Samples []sample
	Parts   []partLine
}

// sample is a set-up that is ready to be looked at.
type sample struct {
	Thread, Words string
	Query         string
}

// Ask is the query as a part of an address, already escaped.
func (s sample) Ask() template.URL { return template.URL(s.Query) } // #nosec: made by url.Values.Encode

// samples are the set-ups that the start page offers, shown in the reader's own
// measure.
func samples(units string) []sample {
	list := []struct{ thread, words, query string }{
		{"1/2-13 UNC-2A", "1018 steel in the bench lathe, 1 in of thread, relief behind it", "callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in"},
		{"M20x1.5-6g", "C45 in the geared lathe, between chuck and centre", "callout=M20x1.5-6g&lathe=metric-geared&material=C45&length=30mm&stickout=60mm&centre=yes"},
		{"M12x1.75-6g", "a metric thread on the inch leadscrew: the half nuts stay closed", "callout=M12x1.75-6g&lathe=inch-bench&material=12L14&length=20mm&stickout=40mm"},
		{"3/4-10 UNC-2B", "a bored hole, cut towards the operator", "callout=3/4-10+UNC-2B&lathe=inch-bench&material=1018&length=1in&stickout=1.5in"},
		{"Tr20x4-7e", "a trapezoidal screw", "callout=Tr20x4-7e&lathe=metric-geared&material=C45&length=40mm&stickout=80mm&centre=yes"},
	}
	var out []sample
	for _, l := range list {
		q, err := url.ParseQuery(l.query)
		if err != nil {
			panic(err) // our own text
		}
		if units != "" {
			q.Set("units", units)
		}
		out = append(out, sample{l.thread, l.words, q.Encode()})
	}
	return out
}

func (s *Server) startShow(w http.ResponseWriter, r *http.Request) {
	q := url.Values{}
	if u := unitsOf(r); u != "" {
		q.Set("units", u)
	}
	f, err := s.form(r.Context(), q, nil)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page := startPage{frame: s.frame(r, "Start", "start"), Part: f.part(), Samples: samples(unitsOf(r))}
	if s.config.Store != nil {
		if page.Parts, err = s.partLines(r.Context()); err != nil {
			s.broken(w, r, err)
			return
		}
		page.Parts = page.Parts[:min(len(page.Parts), 8)]
	}
	s.show(w, r, http.StatusOK, "start", page)
}

type aboutPage struct {
	frame
	Limits []string
}

func (s *Server) aboutShow(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "about", aboutPage{s.frame(r, "About", "about"), nil})
}
