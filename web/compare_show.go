package web

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"thrum/plan"
	"thrum/render"
	"thrum/unit"
)

// compareLetters name the set-ups that stand side by side on a screen.
var compareLetters = []string{"a", "b", "c", "d"}

type comparePage struct {
	frame
	Columns []compareColumn
	Differ  []compareRow
	Same    []compareRow
	Samples []sample
	Next    string // letter of the set-up that could be added
	Keep    url.Values
	With    group        // choices of the newest set-up, to be changed for the next
	Copy    string       // the query that they are taken from
	Finish  template.URL // where what vibrates is set side by side; empty with fewer than two set-ups
}

type compareColumn struct {
	Letter string
	Query  string
	Title  string
	Faults []fault
	Blocks []plan.Hazard
	Edit   string // address at which it can be changed
}

type compareRow struct {
	Section, Label string
	Cells          []string
}

// compareShow puts two or more set-ups side by side, what differs first.
func (s *Server) compareShow(w http.ResponseWriter, r *http.Request) {
	if s.compareCopy(w, r) {
		return
	}
	page := comparePage{frame: s.frame(r, "Compare", "compare"), Samples: samples(unitsOf(r)), Keep: url.Values{}}
	var plans []*plan.Plan
	for _, letter := range compareLetters {
		text := strings.TrimSpace(r.URL.Query().Get(letter))
		if text == "" {
			if page.Next == "" {
				page.Next = letter
			}
			continue
		}
		if _, after, ok := strings.Cut(text, "?"); ok { // a whole address was pasted
			text = after
		}
		q, err := url.ParseQuery(text)
		if err != nil {
			s.fail(w, r, http.StatusBadRequest, "Set-up "+letter+" cannot be read", "Paste the address of a sheet.")
			return
		}
		q = tidy(q)
		page.Keep.Set(letter, q.Encode())
		c := compareColumn{Letter: strings.ToUpper(letter), Query: q.Encode(), Title: q.Get("callout"), Edit: "/sheet?" + q.Encode()}
		p, faults, err := s.planOf(r, q)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		c.Faults = faults
		if p != nil {
			c.Title, c.Blocks = p.Thread.Designation, p.Blocked()
		}
		page.Columns, plans = append(page.Columns, c), append(plans, p)
	}
	page.Differ, page.Same = compareRows(plans)
	if n := len(page.Columns); n > 0 && page.Next != "" {
		page.Copy = page.Columns[n-1].Query
		q, _ := url.ParseQuery(page.Copy) // written by Encode
		f, err := s.form(r.Context(), q, nil)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		page.With = f.compareWith()
	}
	if len(page.Keep) > 1 {
		page.Finish = template.URL("/compare/finish?" + page.Keep.Encode()) // #nosec: made by url.Values.Encode
	}
	s.show(w, r, http.StatusOK, "compare", page)
}

// compareRows lines up the figures of all plans by their key.
func compareRows(plans []*plan.Plan) (differ, same []compareRow) {
	type place struct{ section, label string }
	var order []string
	where := map[string]place{}
	values := make([]map[string]string, len(plans))
	for i, p := range plans {
		values[i] = map[string]string{}
		if p == nil {
			continue
		}
		for _, sec := range render.Sections(p) {
			for _, v := range append(slices.Clone(sec.Figures), sec.Facts...) {
				text := v.Text
				if v.Note != "" {
					text += " (" + v.Note + ")"
				}
				if _, ok := where[v.Key]; !ok {
					order = append(order, v.Key)
					where[v.Key] = place{sec.Title, v.Label}
				}
				values[i][v.Key] = text
			}
		}
		for _, v := range totals(p) {
			if _, ok := where[v.Key]; !ok {
				order = append(order, v.Key)
				where[v.Key] = place{"Passes", v.Label}
			}
			values[i][v.Key] = v.Text
		}
	}
	for _, key := range order {
		row := compareRow{Section: where[key].section, Label: where[key].label}
		for i := range plans {
			text := values[i][key]
			if text == "" {
				text = "–"
			}
			row.Cells = append(row.Cells, text)
		}
		if len(row.Cells) > 1 && slices.ContainsFunc(row.Cells, func(c string) bool { return c != row.Cells[0] }) {
			differ = append(differ, row)
		} else {
			same = append(same, row)
		}
	}
	return differ, same
}

// totals are figures over all passes.
func totals(p *plan.Plan) []render.Value {
	var out []render.Value
	var force unit.Force
	for _, s := range p.Passes {
		force = max(force, s.Force)
	}
	if len(p.Passes) > 0 {
		out = append(out, render.Value{Key: "total.force", Label: "greatest cutting force", Text: force.Format(p.Request.Units)})
	}
	if p.Bend != nil {
		out = append(out, render.Value{Key: "total.bend", Label: "pitch diameter varies by", Text: render.Length(p.Bend.Taper, p.Request.Units)})
	}
	return out
}
