package web

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"

	"thrum/plan"
	"thrum/render"
)

// finishRoutes are the addresses of what vibrates: of one sheet, and of several side
// by side. They take a second and so are asked for apart from the sheet.
func (s *Server) finishRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /sheet/finish", s.finishShow)
	m.HandleFunc("GET /compare/finish", s.compareFinish)
}

type finishPage struct {
	frame
	Thread, Words string
	Query         string
	Head          sheetSection // the figures
	Helps, Others []remedy     // cheapest first
	Planned       string       // what they are held against
	Pictures      []picture
	Tail          sheetSection // how sure, and why
	Why           []string     // why nothing can be said
}

// Ask is the query as a part of an address, already escaped.
func (p finishPage) Ask() template.URL { return template.URL(p.Query) } // #nosec: made by url.Values.Encode

// remedy is a change with what it would do, and the addresses of the sheet with it.
type remedy struct {
	Do              string
	Figures         []render.Value
	Note            string
	Sheet, Together template.URL // empty where an address has no word for the change
}

// later is the section of the sheet that holds the place of what vibrates.
func later(n int, q url.Values) sheetSection {
	return sheetSection{Section: render.Section{ID: "finish", Title: "Finish: what vibrates"}, N: n, Later: template.URL("/sheet/finish?" + q.Encode())} // #nosec: made by url.Values.Encode
}

// study plans and assesses what a query asks for.
func (s *Server) study(r *http.Request, q url.Values) (*plan.Study, []fault, error) {
	req, err := s.library.request(r.Context(), q)
	if err == nil {
		var st *plan.Study
		if st, err = s.planner.Examine(req); err == nil {
			return st, nil, nil
		}
	}
	faults, rest := faultsOf(err)
	if len(faults) > 0 {
		rest = nil
	}
	return nil, faults, rest
}

// finishShow says what vibrates in a sheet's set-up, how sure that is and what would
// help. The sheet's page takes its middle part into its own place.
func (s *Server) finishShow(w http.ResponseWriter, r *http.Request) {
	q := tidy(r.URL.Query())
	st, faults, err := s.study(r, q)
	page := finishPage{frame: s.frame(r, "What vibrates", "sheet"), Query: q.Encode()}
	if err == nil && st != nil {
		err = st.Complete(r.Context())
	}
	switch {
	case r.Context().Err() != nil:
		return // nobody waits for the answer any more
	case err != nil:
		s.broken(w, r, err)
		return
	}
	status := http.StatusOK
	switch {
	case st == nil:
		status = http.StatusUnprocessableEntity
		for _, f := range faults {
			page.Why = append(page.Why, f.Field+" "+f.Words())
		}
	case st.Plan.Vibration == nil:
		page.Thread = st.Plan.Thread.Designation
		page.Why = []string{"nothing is cut in this set-up"}
		for _, h := range st.Plan.Blocked() {
			page.Why = append(page.Why, h.Text)
		}
	default:
		p := st.Plan
		page.Thread, page.Words = p.Thread.Designation, p.Thread.Form+"; "+p.Thread.Words
		page.fill(q, p)
	}
	s.show(w, r, status, "finish", page)
}

func (page *finishPage) fill(q url.Values, p *plan.Plan) {
	sec := render.Finish(p)
	page.Head = sheetSection{Section: render.Section{Figures: sec.Figures, Facts: sec.Facts}}
	page.Tail = sheetSection{Section: render.Section{Lists: sec.Lists}}
	page.Pictures = pictures(sec.Drawings)
	page.Planned = p.Vibration.AsPlanned()
	useful, others := plan.Useful(p.Vibration.Remedies)
	for _, r := range useful {
		page.Helps = append(page.Helps, remedyOf(q, r))
	}
	for _, r := range others {
		page.Others = append(page.Others, remedyOf(q, r))
	}
}

func remedyOf(q url.Values, r plan.Remedy) remedy {
	out := remedy{Do: r.Do, Note: render.RemedyNote(r)}
	if r.Name != plan.RemedyOil {
		out.Figures = []render.Value{
			{Label: "each pass then leaves", Text: plan.TimesOf(r.CarryOver)},
			{Label: "the worst wave ends", Text: plan.TimesOf(r.Growth)},
		}
		if h := r.Holds; h != nil && h.Of > 0 {
			out.Figures = append(out.Figures, render.Value{Label: "helps in", Text: fmt.Sprintf("%.0f of 100 cases in which waves grow", 100*h.Share), Note: fmt.Sprintf("%.0f to %.0f", 100*h.Low, 100*h.High)})
		}
		if m := r.Marks; m != nil {
			out.Figures = append(out.Figures, render.Value{Label: "marks remain in", Text: fmt.Sprintf("%.0f of 100 cases", 100*m.Share), Note: fmt.Sprintf("%.0f to %.0f", 100*m.Low, 100*m.High)})
		}
	}
	if len(r.Settings) == 0 {
		return out
	}
	to := url.Values{}
	for k, v := range q {
		to[k] = v
	}
	switch r.Name {
	case plan.RemedySpeed:
		to.Del("finish-rpm")
	case plan.RemedyInfeed:
		to.Del("angle")
	}
	for _, set := range r.Settings {
		if set.Name == "rubbing" { // fitted to own cuts, which belong to the set-up as it was
			to.Del("own-cuts")
		}
		to.Set(set.Name, set.Value)
	}
	both := url.Values{"a": {q.Encode()}, "b": {to.Encode()}}
	out.Sheet = template.URL("/sheet?" + to.Encode()) // #nosec: made by url.Values.Encode
	out.Together = template.URL("/compare?" + both.Encode())
	return out
}
