package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"thrum/draw"
	"thrum/plan"
	"thrum/render"
	"thrum/thread"
	"thrum/unit"
)

type threadsPage struct {
	frame
	Look     group
	Like     group
	Sections []sheetSection // limits of the thread asked for
	Found    []sheetSection // threads that readings may come from
	Faults   []fault
	Families []familyLine
}

type familyLine struct {
	What, Standard string
	Examples       []string
}

// threadsShow gives the limits of a callout, and says which thread readings may
// come from.
func (s *Server) threadsShow(w http.ResponseWriter, r *http.Request) {
	q := tidy(r.URL.Query())
	page := threadsPage{frame: s.frame(r, "Threads", "threads")}
	var err error
	switch {
	case q.Has("callout"):
		page.Sections, err = limitSections(q)
	case q.Has("diameter") || q.Has("pitch") || q.Has("threads"):
		page.Found, err = likeSections(q)
	}
	status := http.StatusOK
	if err != nil {
		var rest error
		if page.Faults, rest = faultsOf(err); rest != nil && len(page.Faults) == 0 {
			s.broken(w, r, rest)
			return
		}
		status = http.StatusUnprocessableEntity
	}
	f := &form{q: q, faults: map[string][]fault{}}
	for _, ft := range page.Faults {
		f.faults[ft.Field] = append(f.faults[ft.Field], ft)
	}
	units := f.choose("units", "Figures in", "the thread's own", option{Value: "mm", Label: "millimetres"}, option{Value: "in", Label: "inches"})
	page.Look = group{Shown: []control{
		f.text("callout", "Thread", "as on the drawing: 1/2-13 UNC-2A, M10, G 1/2, Tr20x4"),
		f.number("plating", "Plating to come, per surface", "8um, .0003in"), f.check("after-plating", "The drawing's limits hold after plating"), units,
	}}
	page.Like = group{Shown: []control{
		f.check("internal", "Internal: a nut or a hole"),
		f.number("diameter", "Diameter", "outside of a screw, smallest of a nut: 9.9mm, .496in"),
		f.text("pitch", "Pitch", "by gauge: 1.5mm, 13tpi"),
		f.number("threads", "or counted: pitches", "10"), f.number("over", "over a length of", "15mm, 3/4in"),
		f.number("angle", "Included angle, if measured", "60"), f.number("error", "Diameter right within", ".05mm, .002in"),
	}}
	if page.Sections == nil && page.Found == nil {
		for _, fam := range thread.Families() {
			page.Families = append(page.Families, familyLine{fam.What, fam.Standard, fam.Examples[:min(3, len(fam.Examples))]})
		}
	}
	s.show(w, r, status, "threads", page)
}

// limitSections gives each member of the pair that the callout leaves open.
func limitSections(q url.Values) ([]sheetSection, error) {
	in := reader{q: q}
	callout := strings.TrimSpace(q.Get("callout"))
	sys := in.thread(callout, false)
	plating := in.length("plating", q.Get("plating"), sys)
	after := in.yes("after-plating")
	show := in.units(sys)
	if err := in.err(); err != nil {
		return nil, err
	}
	sizes, err := plan.LimitsOf(callout, plating, after, show)
	if err != nil {
		return nil, err
	}
	var out []sheetSection
	for i, f := range sizes.Threads {
		m := sizes.Limits.External
		side := thread.External
		if f.Internal {
			m, side = sizes.Limits.Internal, thread.Internal
		}
		th, err := thread.Parse(callout, side)
		if err != nil {
			return nil, err
		}
		sec := render.Section{ID: fmt.Sprintf("limits-%d", i), Title: f.Designation, Table: render.LimitRows(m, show)}
		sec.Facts = []render.Value{
			{Key: "form", Label: "form", Text: f.Form + "; " + f.Words, Note: f.Source},
			{Key: "lead", Label: "lead", Text: render.Length(f.Lead, show)},
		}
		l := draw.New(screen, "Form of "+f.Designation)
		render.ThreadForm(l, screen.Box(2), th, show)
		out = append(out, sheetSection{Section: sec, N: i + 1, Pictures: []picture{{sec.ID, "Form of " + f.Designation, svg(l, sec.ID)}}})
	}
	notes := render.Items{Title: "Reasons and assumptions"}
	seen := map[string]bool{}
	add := func(mark, text string) {
		if !seen[text] {
			seen[text] = true
			notes.Items = append(notes.Items, render.Item{Mark: mark, Text: text})
		}
	}
	for _, a := range sizes.Assumptions {
		add("assumed", a.Text)
	}
	for _, n := range sizes.Reasons {
		add("", strings.TrimSpace(n.Text+" "+bracket(n.Source)))
	}
	if len(out) > 0 {
		out[len(out)-1].Lists = append(out[len(out)-1].Lists, notes)
	}
	return out, nil
}

func bracket(source string) string {
	if source == "" {
		return ""
	}
	return "[" + source + "]"
}

// units reads the system in which figures are shown; the given one when nothing is said.
func (in *reader) units(own unit.System) unit.System {
	u := in.q.Get("units")
	if u == "" {
		return own
	}
	sys := own
	in.note("units", func() (err error) { sys, err = unit.ParseSystem(u); return })
	return sys
}

const candidatesShown = 6

// likeSections ranks the threads that the readings may come from.
func likeSections(q url.Values) ([]sheetSection, error) {
	in := reader{q: q}
	sys := in.units(unit.Metric)
	r := thread.Readings{
		Diameter: in.length("diameter", q.Get("diameter"), sys), Over: in.length("over", q.Get("over"), sys),
		DiameterError: in.length("error", q.Get("error"), sys), Threads: int(in.number("threads")), Angle: unit.Angle(in.number("angle")) * unit.Degree,
	}
	if in.yes("internal") {
		r.Side = thread.Internal
	}
	if p := strings.TrimSpace(q.Get("pitch")); p != "" {
		in.note("pitch", func() (err error) { r.Pitch, err = unit.ParsePitch(p, sys); return })
	}
	if err := in.err(); err != nil {
		return nil, err
	}
	found, err := thread.Identify(r)
	if err != nil {
		return nil, err
	}
	t := &render.Table{Caption: "Which thread is this, the most likely first", Head: []string{"thread", "likely", "diameter", "pitch", "series"}}
	for i, c := range found[:min(len(found), candidatesShown)] {
		if i > 0 && c.Probability < 0.0005 {
			break
		}
		pitch := render.Length(c.Row.Pitch.Length(), unit.Metric)
		if c.Row.System == unit.Inches {
			pitch = c.Row.TPI().String() + " to the inch"
		}
		t.Rows = append(t.Rows, render.Row{
			Key: c.Row.Designation, Cells: []string{c.Row.Designation, fmt.Sprintf("%.1f %%", c.Probability*100), render.Length(c.Row.Nominal, c.Row.System), pitch, c.Row.Series},
			Note: c.Why, Strong: i == 0,
		})
	}
	sec := render.Section{ID: "like", Title: "Which thread is this", Table: t}
	if len(found) == 0 {
		sec.Table = nil
		sec.Lists = []render.Items{{Items: []render.Item{{Text: "no standard thread fits these readings within their error: measure again, or it is a special"}}}}
	}
	if len(found) > 1 {
		if x := thread.Separate(found[0].Thread, found[1].Thread); x.Measure != "" {
			sec.Lists = append(sec.Lists, render.Items{Title: "To tell the first two apart", Items: []render.Item{
				{Text: x.Measure}, {Mark: found[0].Row.Designation, Text: x.First}, {Mark: found[1].Row.Designation, Text: x.Second},
			}})
		}
	}
	return []sheetSection{{Section: sec, N: 1}}, nil
}
