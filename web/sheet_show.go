package web

import (
	"bytes"
	"errors"
	"html/template"
	"net/http"
	"net/url"
	"regexp"
	"slices"

	"thrum/draw"
	"thrum/plan"
	"thrum/render"
)

type sheetPage struct {
	frame
	Part     group
	Sections []sheetSection
	Faults   []fault // all of them, for the summary; each stands beside its field too
	Planned  bool
	Blocked  []plan.Hazard
	Thread   string
	Words    string
	Query    string // the address's query, without what is empty
	Form     bool   // show the choices
	Samples  []sample
	Parts    []partLine
}

// Ask is the query as a part of an address, already escaped.
func (p sheetPage) Ask() template.URL { return template.URL(p.Query) } // #nosec: made by url.Values.Encode

// sheetSection is a section with its choices and its drawings made.
type sheetSection struct {
	render.Section
	N        int
	Choices  group
	Pictures []picture
	Empty    bool         // nothing is planned yet: choices only
	Later    template.URL // where the figures come from when they are asked for
}

type picture struct {
	ID, Title string
	SVG       template.HTML
}

// sheetShow is the main page: one sheet, its choices beside what they drive.
func (s *Server) sheetShow(w http.ResponseWriter, r *http.Request) {
	q := tidy(r.URL.Query())
	if u := q.Get("units"); u == "mm" || u == "in" {
		if u != unitsOf(r) {
			remember(w, "thrum-units", u)
		}
	}
	p, faults, err := s.planOf(r, q)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	f, err := s.form(r.Context(), q, faults)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page := sheetPage{frame: s.frame(r, "Set-up sheet", "sheet"), Part: f.part(), Faults: faults, Query: q.Encode(), Form: true, Samples: samples(unitsOf(r))}
	status := http.StatusOK
	switch {
	case p != nil:
		page.fill(p, f)
		page.lateFinish(p, q, f)
	case len(q) == 0:
		page.Faults = nil
		f.faults = map[string][]fault{}
		page.Part = f.part()
	default:
		status = http.StatusUnprocessableEntity
		for i, id := range choiceOrder {
			page.Sections = append(page.Sections, sheetSection{Section: render.Section{ID: id.id, Title: id.title}, N: i + 1, Choices: f.sections()[id.id], Empty: true})
		}
	}
	if s.config.Store != nil && p != nil {
		if page.Parts, err = s.partLines(r.Context()); err != nil {
			s.broken(w, r, err)
			return
		}
	}
	s.show(w, r, status, "sheet", page)
}

// choiceOrder are the sections that have choices, shown while nothing is planned.
var choiceOrder = []struct{ id, title string }{
	{"thread", "Thread and finished size"},
	{"ending", "How each pass ends"},
	{"blank", "Blank and holding"},
	{"tool", "Tool and compound"},
	{"speed", "Speed and oil"},
	{"passes", "Passes"},
}

// fill puts a plan on the page.
func (page *sheetPage) fill(p *plan.Plan, f *form) {
	page.Planned, page.Thread, page.Words = true, p.Thread.Designation, p.Thread.Form+"; "+p.Thread.Words
	page.Title = p.Thread.Designation
	page.Blocked = p.Blocked()
	var choices map[string]group
	if f != nil {
		choices = f.sections()
	}
	for i, sec := range render.Sections(p) {
		page.Sections = append(page.Sections, sheetSection{Section: onPage(sec), N: i + 1, Choices: choices[sec.ID], Pictures: pictures(sec.Drawings)})
	}
}

// lateFinish puts the place for what vibrates after the passes.
func (page *sheetPage) lateFinish(p *plan.Plan, q url.Values, f *form) {
	at := slices.IndexFunc(page.Sections, func(s sheetSection) bool { return s.ID == "passes" })
	if at < 0 || len(p.Passes) == 0 {
		return
	}
	sec := later(0, q)
	sec.Choices = f.sections()[sec.ID]
	page.Sections = slices.Insert(page.Sections, at+1, sec)
	for i := range page.Sections {
		page.Sections[i].N = i + 1
	}
}

// screen is the paper that drawings on the page are set on: their lettering is
// readable when a telephone shows it across its width.
var screen = draw.Size{W: 92, H: 84}

func pictures(all []render.Drawing) []picture {
	var out []picture
	for _, d := range all {
		out = append(out, picture{d.ID, d.Title, svg(d.List(screen), d.ID)})
	}
	return out
}

// The page's own style sheet has the drawing's classes; a style written into the
// page would not be let through.
var inlineStyle = regexp.MustCompile(`(?s)<style>.*?</style>\s*`)

func svg(l *draw.List, id string) template.HTML {
	var b bytes.Buffer
	if err := l.SVG(&b, 0, draw.SVGOptions{ID: id + "-", Transparent: true}); err != nil {
		return ""
	}
	return template.HTML(inlineStyle.ReplaceAll(b.Bytes(), nil)) // #nosec: draw escapes every text
}

// planOf plans what a query asks for. Faults are those of the input; err is a
// failure of this computer.
func (s *Server) planOf(r *http.Request, q url.Values) (*plan.Plan, []fault, error) {
	req, err := s.library.request(r.Context(), q)
	if err == nil {
		var p *plan.Plan
		if p, err = s.planner.Make(req); err == nil {
			return p, nil, nil
		}
	}
	faults, rest := faultsOf(err)
	if rest != nil && len(faults) == 0 {
		return nil, nil, rest
	}
	if req.Callout != "" && q.Get("length") == "" && !slices.ContainsFunc(faults, func(f fault) bool { return f.Field == "length" }) {
		faults = append(faults, fault{"length", "", "is missing", "give the length of full thread: 1in, 25mm"})
	}
	return nil, faults, nil
}

// tidy drops what was left empty, so that addresses stay short and equal sheets
// have equal addresses.
func tidy(q url.Values) url.Values {
	out := url.Values{}
	for k, vs := range q {
		for _, v := range vs {
			if v != "" {
				out.Add(k, v)
			}
		}
	}
	return out
}

// errNoPlan stands for input that cannot be planned, in answers without a form.
var errNoPlan = errors.New("this cannot be planned")
