package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"thrum/plan"
	"thrum/render"
	"thrum/store"
)

type partsPage struct {
	frame
	Parts   []partLine
	Samples []sample
}

// partsShow lists the parts that are kept.
func (s *Server) partsShow(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	page := partsPage{frame: s.frame(r, "Parts", "parts"), Samples: samples(unitsOf(r))}
	var err error
	if page.Parts, err = s.partLines(r.Context()); err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, "parts_kept", page)
}

// keeps tells the reader when this bench keeps nothing.
func (s *Server) keeps(w http.ResponseWriter, r *http.Request) bool {
	if s.config.Store == nil {
		s.fail(w, r, http.StatusNotFound, "This bench keeps nothing", "It was started without a folder to keep things in.")
		return false
	}
	return true
}

// mostName is the longest name of a part, in bytes.
const mostName = 120

// partKeep keeps the sheet that the form names as a part, or as the next revision
// of the part of that name.
func (s *Server) partKeep(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) || !s.sent(w, r) {
		return
	}
	name := strings.TrimSpace(r.PostForm.Get("name"))
	q, err := url.ParseQuery(r.PostForm.Get("query"))
	if err != nil || name == "" || len(name) > mostName {
		s.fail(w, r, http.StatusUnprocessableEntity, "The sheet was not kept", fmt.Sprintf("Give the part a name of at most %d letters, and keep it from its sheet.", mostName))
		return
	}
	q = tidy(q)
	p, faults, err := s.planOf(r, q)
	switch {
	case err != nil:
		s.broken(w, r, err)
		return
	case p == nil:
		words := ""
		for _, f := range faults {
			words += f.Field + " " + f.Words() + ". "
		}
		s.fail(w, r, http.StatusUnprocessableEntity, "The sheet was not kept: it cannot be planned", words)
		return
	}
	if p, err = s.planner.MakeWhole(r.Context(), p.Request); err != nil {
		s.broken(w, r, err)
		return
	}
	id, err := s.keepPlan(r, name, p)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/parts/"+url.PathEscape(id), http.StatusSeeOther)
}

// keepPlan files a plan under the part of a name, which is made when it is new.
func (s *Server) keepPlan(r *http.Request, name string, p *plan.Plan) (string, error) {
	ctx := r.Context()
	parts, err := s.config.Store.Parts(ctx, false)
	if err != nil {
		return "", err
	}
	i := slices.IndexFunc(parts, func(x store.Part) bool { return x.Name == name })
	var part store.Part
	if i >= 0 {
		part = parts[i]
	} else if part, err = s.config.Store.AddPart(ctx, store.Part{Name: name}); err != nil {
		return "", err
	}
	return part.ID, s.addPlan(r, part.ID, p)
}

func (s *Server) addPlan(r *http.Request, partID string, p *plan.Plan) error {
	row, err := PlanRow(partID, p)
	if err == nil {
		_, err = s.config.Store.AddPlan(r.Context(), row)
	}
	return err
}

// PlanRow is a plan as the store keeps it: the request, full copies of the lathe and
// the material, and the result.
func PlanRow(partID string, p *plan.Plan) (store.Plan, error) {
	var result bytes.Buffer
	if err := plan.Encode(&result, p); err != nil {
		return store.Plan{}, err
	}
	request, err := json.Marshal(p.Request)
	if err != nil {
		return store.Plan{}, err
	}
	return store.Plan{
		PartID: partID, Title: p.Thread.Designation, Schema: p.Schema, Engine: p.Engine,
		Request: string(request), Lathe: p.Request.Lathe, Material: p.Request.Own, Result: result.String(),
	}, nil
}

type partPage struct {
	frame
	ID, Name  string
	Revisions []revisionLine
	Shown     int
	Planned   bool
	Thread    string
	Words     string
	Sections  []sheetSection
	Notes     []noteLine
	Changed   []compareRow // from the revision before
	Knocks    []knockLine
	Pieces    []pieceLine
	NewPiece  string // id for the piece that the form begins
	Blocked   bool
}

type revisionLine struct {
	N      int
	Thread string
	At     time.Time
	Shown  bool
}

type noteLine struct {
	Text string
	At   time.Time
}

// partShow shows a kept plan as it was when it was kept: nothing is reckoned again.
func (s *Server) partShow(w http.ResponseWriter, r *http.Request) {
	kept, shown, plans, ok := s.keptPlan(w, r)
	if !ok {
		return
	}
	part, err := s.config.Store.Part(r.Context(), shown.PartID)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page := partPage{frame: s.frame(r, part.Name, "parts"), ID: part.ID, Name: part.Name, Shown: shown.Revision}
	for _, p := range slices.Backward(plans) {
		page.Revisions = append(page.Revisions, revisionLine{p.Revision, p.Title, p.CreatedAt, p.Revision == shown.Revision})
	}
	page.Planned, page.Thread, page.Words = true, kept.Thread.Designation, kept.Thread.Form+"; "+kept.Thread.Words
	for i, sec := range render.Sections(kept) {
		page.Sections = append(page.Sections, sheetSection{Section: onPage(sec), N: i + 1, Pictures: pictures(sec.Drawings)})
	}
	if i := slices.IndexFunc(plans, func(p store.Plan) bool { return p.ID == shown.ID }); i > 0 {
		if before, err := s.readPlan(r, plans[i-1].ID); err == nil {
			page.Changed, _ = compareRows([]*plan.Plan{before, kept})
		}
	}
	notes, err := s.config.Store.Notes(r.Context(), store.About{PartID: part.ID})
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, n := range notes {
		page.Notes = append(page.Notes, noteLine{n.Text, n.CreatedAt})
	}
	if page.Knocks, err = s.knocks(r.Context(), store.About{PartID: part.ID}); err != nil {
		s.broken(w, r, err)
		return
	}
	if page.Pieces, err = s.pieceLines(r, part); err != nil {
		s.broken(w, r, err)
		return
	}
	row, err := s.config.Store.Stamp(store.Row{})
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page.NewPiece, page.Blocked = row.ID, len(kept.Blocked()) > 0
	s.show(w, r, http.StatusOK, "part", page)
}

// keptPlan finds the plan that an address asks for: the newest revision unless it
// names another.
func (s *Server) keptPlan(w http.ResponseWriter, r *http.Request) (*plan.Plan, store.Plan, []store.Plan, bool) {
	if !s.keeps(w, r) {
		return nil, store.Plan{}, nil, false
	}
	plans, err := s.config.Store.Plans(r.Context(), r.PathValue("id"))
	plans = slices.DeleteFunc(plans, func(p store.Plan) bool { return p.PieceID != "" }) // the rest of one piece is shown with it
	if code := store.CodeOf(err); code == store.NotFound || code == store.Invalid || err == nil && len(plans) == 0 {
		s.fail(w, r, http.StatusNotFound, "There is no such part", "The list of parts shows those that are kept.")
		return nil, store.Plan{}, nil, false
	}
	if err != nil {
		s.broken(w, r, err)
		return nil, store.Plan{}, nil, false
	}
	shown := plans[len(plans)-1]
	if n := r.URL.Query().Get("revision"); n != "" {
		i := slices.IndexFunc(plans, func(p store.Plan) bool { return fmt.Sprint(p.Revision) == n })
		if i < 0 {
			s.fail(w, r, http.StatusNotFound, "There is no such revision", "The part's page lists its revisions.")
			return nil, store.Plan{}, nil, false
		}
		shown = plans[i]
	}
	p, err := s.readPlan(r, shown.ID)
	if err != nil {
		s.broken(w, r, err)
		return nil, store.Plan{}, nil, false
	}
	return p, shown, plans, true
}

func (s *Server) readPlan(r *http.Request, id string) (*plan.Plan, error) {
	full, err := s.config.Store.Plan(r.Context(), id)
	if err != nil {
		return nil, err
	}
	return plan.Decode(strings.NewReader(full.Result))
}

// partPDF and partJSON send a kept plan as it was.
func (s *Server) partPDF(w http.ResponseWriter, r *http.Request) {
	p, _, _, ok := s.keptPlan(w, r)
	if !ok {
		return
	}
	s.sendPaper(w, r, p)
}

func (s *Server) partJSON(w http.ResponseWriter, r *http.Request) {
	p, _, _, ok := s.keptPlan(w, r)
	if !ok {
		return
	}
	var b bytes.Buffer
	if err := plan.Encode(&b, p); err != nil {
		s.broken(w, r, err)
		return
	}
	send(w, "application/json", b.Bytes())
}

// partAgain reckons the newest plan's request anew and keeps it as a revision.
func (s *Server) partAgain(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	old, shown, _, ok := s.keptPlan(w, r)
	if !ok {
		return
	}
	request := old.Request
	for name, to := range map[string]*[]plan.Knocked{"knock": &request.KnockFree, "knock-centre": &request.KnockCentre} {
		if heard, err := plan.ParseKnocked(r.PostForm.Get(name)); err == nil && len(heard) > 0 {
			*to = heard
		}
	}
	p, err := s.planner.MakeWhole(r.Context(), request)
	if err == nil {
		err = s.addPlan(r, shown.PartID, p)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/parts/"+url.PathEscape(shown.PartID), http.StatusSeeOther)
}

// mostNote is the longest note, in bytes.
const mostNote = 10_000

// partNote adds a note to a part.
func (s *Server) partNote(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) || !s.sent(w, r) {
		return
	}
	text := strings.TrimSpace(r.PostForm.Get("text"))
	if text == "" || len(text) > mostNote {
		s.fail(w, r, http.StatusUnprocessableEntity, "The note was not kept", fmt.Sprintf("Write something, at most %d letters.", mostNote))
		return
	}
	id := r.PathValue("id")
	_, err := s.config.Store.AddNote(r.Context(), store.Note{About: store.About{PartID: id}, Text: text})
	switch store.CodeOf(err) {
	case store.NotFound, store.Invalid:
		s.fail(w, r, http.StatusNotFound, "There is no such part", "The list of parts shows those that are kept.")
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/parts/"+url.PathEscape(id)+"#notes", http.StatusSeeOther)
}
