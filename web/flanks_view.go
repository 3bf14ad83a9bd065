package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thrum/cause"
	"thrum/photo"
	"thrum/plan"
	"thrum/render"
	"thrum/store"
	"thrum/unit"
)

// flankAnswer is one sample as the page shows it.
type flankAnswer struct {
	Title   string // empty with one sample alone
	Verdict string
	Big     string // the number, or "not read"
	Small   string // what stands behind it
	Reason  string
	Tone    string
	Listen  template.URL // where the causes are weighed, with the marks filled in
	Advice  []string
	Notes   []string
	Shots   []flankPicture
}

// flankPicture is one photograph with its outline.
type flankPicture struct {
	Set         string // the address of what was sent
	N           int
	Name        string
	W, H        int
	Grip        float64 // radius of a grip before the script sets it
	Big, Reason string
	Facts       []render.Value
	Lines       []flankLine
	Edges       []flankLine
	Grips       []flankGrip
	Fields      []control
	Confirmed   bool
	Outline     bool // there is one
	Several     bool // one of several of a sample
	NoUpper     bool // that edge is not in the picture
	NoLower     bool
}

type flankLine struct{ Class, Points string }

// flankGrip is a place that a finger can move; X and Y are fields of the form.
type flankGrip struct {
	X, Y   string
	CX, CY float64
}

// flanksShow shows what was read.
func (s *Server) flanksShow(w http.ResponseWriter, r *http.Request) {
	s.flanksAnswer(w, r, http.StatusOK, nil, nil, -1)
}

// flanksAnswer shows the set of the address, with faults of an outline where there
// are any: q and n are what was sent for which photograph.
func (s *Server) flanksAnswer(w http.ResponseWriter, r *http.Request, status int, faults []fault, q url.Values, n int) {
	set := s.tray.get(r.PathValue("id"), s.config.Now())
	page := flanksPage{frame: s.frame(r, "Flanks", "flanks"), ID: r.PathValue("id"), Faults: faults}
	if set == nil {
		page.Here, page.Gone = "/flanks", true
		s.flanksForm(w, r, http.StatusNotFound, page, url.Values{})
		return
	}
	page.Here = "/flanks/" + page.ID
	before, at, err := s.sample(set, false)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	after, atAfter, err := s.sample(set, true)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	title := ""
	if after != nil {
		title = "Before"
		page.Compare = plan.CompareFlanks(before, after, set.oneGo)
	}
	page.Sets = append(page.Sets, answerOf(page.ID, title, before, at, q, n))
	if after != nil {
		page.Sets = append(page.Sets, answerOf(page.ID, "After", after, atAfter, q, n))
	}
	s.flanksForm(w, r, status, page, set.ask)
}

func answerOf(id, title string, f *plan.Flanks, at []int, q url.Values, n int) flankAnswer {
	a := flankAnswer{Title: title, Verdict: string(f.All.Verdict), Reason: f.All.Reason, Advice: f.Advice(), Notes: f.Notes, Big: "not read"}
	if f.All.Verdict != photo.Refused {
		a.Big = fmt.Sprintf("%.0f ± %.0f", f.All.MarksPerTurn, math.Max(1, f.All.Uncertainty))
		a.Small = "marks per turn"
		if f.All.Verdict == photo.Doubtful {
			a.Small = "marks per turn, perhaps: confirm it by another photo or by sound"
		}
	}
	if m, ok := f.Marks(); ok {
		ask := url.Values{"callout": {f.Request.Thread.Callout}}
		if m.PerTurn > 0 {
			ask.Set("marks", fmt.Sprintf("%.1f", m.PerTurn))
		}
		if m.Pattern != cause.PatternUnknown {
			ask.Set("pattern", string(m.Pattern))
		}
		if f.Request.Speed > 0 {
			ask.Set("rpm", fmt.Sprintf("%g", f.Request.Speed.RPM()))
		}
		a.Listen = template.URL("/listen?" + ask.Encode()) // #nosec: encoded just now
	}
	if f.Tone != nil {
		a.Tone = fmt.Sprintf("%.0f ± %.0f Hz at %.4g rpm", f.Tone.Value.Hz(), math.Max(1, f.Tone.Doubt.Hz()), f.Request.Speed.RPM())
	}
	for i, p := range f.Photos {
		var mine url.Values
		if at[i] == n {
			mine = q
		}
		shot := pictureOf(id, at[i], p, f.Thread, mine)
		shot.Several = len(f.Photos) > 1
		a.Shots = append(a.Shots, shot)
	}
	return a
}

func pictureOf(id string, n int, p plan.FlankPhoto, th photo.Thread, q url.Values) flankPicture {
	r := p.Reading
	out := flankPicture{Set: id, N: n, Name: p.Name, W: p.Meta.Width, H: p.Meta.Height, Grip: float64(max(p.Meta.Width, p.Meta.Height)) / 40, Reason: r.Reason, Big: "not read"}
	if c, ok := r.Count(); ok {
		out.Big = fmt.Sprintf("%s: %.1f ± %.1f per turn", r.Verdict, c.Value, c.Doubt)
	}
	for _, v := range render.FlankFacts(r) {
		v.Key = fmt.Sprintf("flank.%d.%s", n, v.Key)
		out.Facts = append(out.Facts, v)
	}
	m := startMarks(p.Meta)
	if g := r.Geometry; g != nil {
		out.Outline, out.Confirmed = true, g.Confirmed
		m = g.Marks()
		out.NoUpper, out.NoLower = !g.Upper.Seen, !g.Lower.Seen
		if o, err := g.Overlay(th); err == nil {
			out.Lines, out.Edges = linesOf(o)
		}
	}
	out.fields(m, q)
	return out
}

// startMarks is where the grips lie when nothing was made out.
func startMarks(m photo.Meta) photo.Marks {
	w, h := float64(m.Width), float64(m.Height)
	return photo.Marks{
		Upper: [2]photo.Point{{X: 0.15 * w, Y: 0.2 * h}, {X: 0.85 * w, Y: 0.2 * h}}, Lower: [2]photo.Point{{X: 0.15 * w, Y: 0.8 * h}, {X: 0.85 * w, Y: 0.8 * h}},
		Crests: [2]photo.Point{{X: 0.3 * w, Y: 0.5 * h}, {X: 0.7 * w, Y: 0.5 * h}}, Pitches: 5,
	}
}

func linesOf(o *photo.Overlay) (lines, edges []flankLine) {
	points := func(pts []photo.Point) string {
		var b strings.Builder
		for i, p := range pts {
			if i > 0 {
				b.WriteByte(' ')
			}
			fmt.Fprintf(&b, "%.1f,%.1f", p.X, p.Y)
		}
		return b.String()
	}
	for _, l := range o.Roots {
		lines = append(lines, flankLine{"root", points(l)})
	}
	for _, l := range o.Crests {
		lines = append(lines, flankLine{"crest", points(l)})
	}
	for _, e := range [][2]photo.Point{o.Upper, o.Lower} {
		if e != [2]photo.Point{} {
			edges = append(edges, flankLine{"edge", points(e[:])})
		}
	}
	return append(lines, flankLine{"axis", points(o.Axis[:])}), edges
}

// outlineFields are the names of the places in the form, in the order of Marks.
var outlineFields = []struct{ x, y, label string }{
	{"ux1", "uy1", "Upper edge, first place"},
	{"ux2", "uy2", "Upper edge, second place"},
	{"lx1", "ly1", "Lower edge, first place"},
	{"lx2", "ly2", "Lower edge, second place"},
	{"cx1", "cy1", "Crest on the axis, first"},
	{"cx2", "cy2", "Crest on the axis, second"},
}

// outlinePlaces lists the points of m in the order of outlineFields.
func outlinePlaces(m *photo.Marks) []*photo.Point {
	return []*photo.Point{&m.Upper[0], &m.Upper[1], &m.Lower[0], &m.Lower[1], &m.Crests[0], &m.Crests[1]}
}

func (p *flankPicture) fields(m photo.Marks, q url.Values) {
	value := func(name string, v float64) string {
		if q != nil {
			return q.Get(name)
		}
		return strconv.FormatFloat(v, 'f', 1, 64)
	}
	for i, at := range outlinePlaces(&m) {
		f := outlineFields[i]
		if at.X == 0 && at.Y == 0 { // a silhouette that is not in the picture
			at.X, at.Y = float64(p.W)*(0.15+0.7*float64(i%2)), float64(p.H)*(0.03+0.94*float64(i/2))
		}
		p.Grips = append(p.Grips, flankGrip{f.x, f.y, at.X, at.Y})
		p.Fields = append(p.Fields,
			control{Name: f.x, Label: f.label + ", pixels across", Kind: "text", Number: true, Value: value(f.x, at.X)},
			control{Name: f.y, Label: f.label + ", pixels down", Kind: "text", Number: true, Value: value(f.y, at.Y)})
	}
	p.Fields = append(p.Fields, control{Name: "pitches", Label: "Grooves between these two crests", Kind: "text", Number: true, Value: value("pitches", float64(m.Pitches))})
	for i := range p.Fields { // each photograph has fields of its own on the page
		p.Fields[i].Extra = fmt.Sprintf("%d", p.N)
	}
	last := &p.Fields[len(p.Fields)-1]
	last.Value, _, _ = strings.Cut(last.Value, ".")
}

// flanksPicture sends a photograph as it is shown: reduced, upright, nothing but the picture.
func (s *Server) flanksPicture(w http.ResponseWriter, r *http.Request) {
	set := s.tray.get(r.PathValue("id"), s.config.Now())
	n, err := strconv.Atoi(strings.TrimSuffix(r.PathValue("n"), ".jpg"))
	if set == nil || err != nil || n < 0 || n >= len(set.shots) {
		s.nothingHere(w, r)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Cache-Control", "private, max-age=2400")
	_, _ = w.Write(set.shots[n].shown)
}

// flanksOutline reads a photograph anew with the outline that was set or confirmed.
func (s *Server) flanksOutline(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	set := s.tray.get(id, s.config.Now())
	if set == nil {
		s.flanksAnswer(w, r, http.StatusNotFound, nil, nil, -1)
		return
	}
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, http.StatusBadRequest, "The form did not arrive whole", "Go back and send it again.")
		return
	}
	n, err := strconv.Atoi(r.PostForm.Get("shot"))
	if err != nil || n < 0 || n >= len(set.shots) {
		s.nothingHere(w, r)
		return
	}
	if err := s.reread(set, n, r.PostForm); err != nil {
		faults, rest := faultsOf(err)
		if rest != nil || len(faults) == 0 {
			s.broken(w, r, err)
			return
		}
		s.flanksAnswer(w, r, http.StatusUnprocessableEntity, faults, r.PostForm, n)
		return
	}
	http.Redirect(w, r, fmt.Sprintf("/flanks/%s#photo-%d", url.PathEscape(id), n), http.StatusSeeOther)
}

func (s *Server) reread(set *flankSet, n int, q url.Values) error {
	in := reader{q: q}
	var m photo.Marks
	for i, at := range outlinePlaces(&m) {
		at.X, at.Y = in.number(outlineFields[i].x), in.number(outlineFields[i].y)
	}
	if q.Get("no-upper") == "yes" {
		m.Upper = [2]photo.Point{}
	}
	if q.Get("no-lower") == "yes" {
		m.Lower = [2]photo.Point{}
	}
	pitches := in.number("pitches")
	if pitches != math.Trunc(pitches) || pitches < 1 || pitches > 1000 {
		in.bad("pitches", q.Get("pitches"), "is not a count of grooves", "count the grooves from one crest to the other")
	}
	if err := in.err(); err != nil {
		return err
	}
	m.Pitches = int(pitches)
	th, err := set.of.Pictured()
	if err != nil {
		return err
	}
	shot := set.shots[n]
	reading, err := shot.confirmed(th, m, s.tray.read(shot), set.options())
	if err != nil {
		return err
	}
	s.tray.reread(shot, reading)
	return nil
}

// Words under which photographs and what was read in them are kept.
const (
	flankFile     = "photo"
	flankQuantity = "marks-per-turn"
)

// flanksKeep keeps the photographs and the answers with a part.
func (s *Server) flanksKeep(w http.ResponseWriter, r *http.Request) {
	set := s.tray.get(r.PathValue("id"), s.config.Now())
	if set == nil {
		s.flanksAnswer(w, r, http.StatusNotFound, nil, nil, -1)
		return
	}
	part := strings.TrimSpace(r.FormValue("part"))
	err := error(&unit.InputError{Field: "part", Reason: "is missing", Hint: "choose the part with which the photos are to be kept"})
	if part != "" && s.config.Store != nil {
		err = s.flanksStore(r, set, store.About{PartID: part})
	}
	var ie *store.Error
	if err != nil && errors.As(err, &ie) && ie.Code == store.NotFound {
		err = &unit.InputError{Field: "part", Value: short(part, 40), Reason: "is not there", Hint: "choose from the list"}
	}
	if err != nil {
		faults, rest := faultsOf(err)
		if rest != nil || len(faults) == 0 {
			s.broken(w, r, err)
			return
		}
		s.flanksAnswer(w, r, http.StatusUnprocessableEntity, faults, nil, -1)
		return
	}
	http.Redirect(w, r, "/parts/"+url.PathEscape(part), http.StatusSeeOther)
}

func (s *Server) flanksStore(r *http.Request, set *flankSet, about store.About) error {
	for _, sh := range set.shots {
		if _, err := s.config.Store.AddFile(r.Context(), store.File{About: about, Kind: flankFile, Name: sh.name, Media: "image/jpeg"}, bytes.NewReader(sh.shown)); err != nil {
			return err
		}
	}
	for _, after := range []bool{false, true} {
		f, _, err := s.sample(set, after)
		if err != nil {
			return err
		}
		if f == nil || f.All.Verdict == photo.Refused {
			continue
		}
		detail, err := json.Marshal(f)
		if err != nil {
			return err
		}
		m := store.Measurement{About: about, Quantity: flankQuantity, Value: f.All.MarksPerTurn, Unit: "1", Spread: f.All.Uncertainty, Detail: string(detail)}
		if _, err := s.config.Store.AddMeasurement(r.Context(), m); err != nil {
			return err
		}
	}
	return nil
}
