package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"thrum/piece"
	"thrum/store"
)

// piecesRoutes lists the addresses of the work at the lathe.
func (s *Server) piecesRoutes(m *http.ServeMux) {
	m.HandleFunc("POST /parts/{id}/pieces", s.pieceBegin)
	m.HandleFunc("GET /offline.js", s.offlineScript)
	m.HandleFunc("GET /pieces", s.piecesShow)
	m.HandleFunc("GET /pieces/{id}", s.pieceShow)
	m.HandleFunc("GET /pieces/{id}/bundle.json", s.pieceBundle)
	m.HandleFunc("GET /pieces/{id}/log", s.pieceLog)
	m.HandleFunc("POST /pieces/{id}/log", s.pieceEnter)
	m.HandleFunc("POST /pieces/{id}/events", s.pieceSync)
	m.HandleFunc("POST /pieces/{id}/files", s.pieceFile)
	m.HandleFunc("POST /pieces/{id}/timing", s.pieceTiming)
	m.HandleFunc("GET /pieces/{id}/files/{file}", s.pieceFileShow)
}

// offlineScript is the script that runs beside the pages. Its address is fixed and
// at the root, as browsers ask.
func (s *Server) offlineScript(w http.ResponseWriter, _ *http.Request) {
	send(w, "text/javascript; charset=utf-8", s.assets.offline)
}

// pieceBundle is all that a phone needs to go on without the bench.
type pieceBundle struct {
	Schema int           `json:"schema"`
	Piece  string        `json:"piece"`
	Name   string        `json:"name"`
	Part   string        `json:"part"`
	Thread string        `json:"thread"`
	Plan   string        `json:"plan"` // id of the plan in force
	Device string        `json:"device"`
	Steps  []piece.Step  `json:"steps"`
	Pickup []piece.Line  `json:"pick_up"`
	Table  piece.Table   `json:"table"`
	Log    []piece.Entry `json:"log"`
}

func (w *pieceWork) bundle(device string) pieceBundle {
	b := pieceBundle{
		Schema: 1, Piece: w.piece.ID, Name: w.piece.Name, Part: w.part.Name, Thread: w.plan().Thread.Designation, Plan: w.planID,
		Device: device, Steps: w.steps, Table: w.table, Log: w.log,
	}
	if len(w.steps) > 0 {
		b.Pickup = piece.Pickup(w.chain[0].Plan)
	}
	return b
}

type piecePage struct {
	frame
	ID, Name, Part, PartID string
	Thread                 string
	View                   string
	Step                   string // id of the next step
	Steps                  []piece.Step
	Standing               piece.Standing
	Table                  piece.Table
	Bundle                 pieceBundle
	Entry                  string // id for the entry that this page's forms will make
	Plan                   string
	Last                   string // what was confirmed last
	LastAt                 time.Time
	Undo                   string // id of what Undo takes back
	UndoWords              string
	Reading                string // what the last reading means
	Waits                  bool
	Pickup                 []piece.Line
	Blocked                []string
	Fault                  string
	FaultReading           string
	Expect                 string // what the next reading may be
	MeasureNow             bool
	Log                    []pieceLogLine
	Files                  []pieceFileLine
	At                     string // pass that files and notes now belong to
	Later                  *newTiming
	Ending                 string // what the ending of a pass rests on
}

type pieceLogLine struct {
	At            time.Time
	Words, Device string
	Gone          bool
}

type pieceFileLine struct {
	ID, Kind, Name string
	Note           string // at which speed it was recorded
	Image          bool
	Read           string // where a photograph's flanks are read
}

// pieceBegin takes up a new piece of a part with its newest plan.
func (s *Server) pieceBegin(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	st := s.pieceStore(r)
	ctx := r.Context()
	p, err := st.LatestPlan(ctx, r.PathValue("id"))
	if code := store.CodeOf(err); code == store.NotFound || code == store.Invalid {
		s.fail(w, r, http.StatusNotFound, "There is no such part", "The list of parts shows those that are kept.")
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	before, err := st.Pieces(ctx, p.PartID)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	id := r.PostForm.Get("id")
	for _, x := range before {
		if x.ID == id { // sent twice
			http.Redirect(w, r, "/pieces/"+url.PathEscape(id), http.StatusSeeOther)
			return
		}
	}
	row, err := st.Stamp(store.Row{ID: id})
	if err != nil {
		s.fail(w, r, http.StatusUnprocessableEntity, "The piece was not begun", "Go back to the part and begin it from there.")
		return
	}
	one, err := st.AddPiece(ctx, store.Piece{Row: row, PartID: p.PartID, Name: "piece " + strconv.Itoa(len(before)+1)})
	if err == nil {
		_, err = st.Append(ctx, one.ID, store.Event{PlanID: p.ID, Kind: piece.Began})
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/pieces/"+url.PathEscape(one.ID), http.StatusSeeOther)
}

// onePiece finds the piece that an address names.
func (s *Server) onePiece(w http.ResponseWriter, r *http.Request) (*pieceWork, *store.Store, bool) {
	if !s.keeps(w, r) {
		return nil, nil, false
	}
	st := s.pieceStore(r)
	work, err := s.openPiece(r.Context(), st, r.PathValue("id"))
	switch store.CodeOf(err) {
	case store.NotFound, store.Invalid:
		s.fail(w, r, http.StatusNotFound, "There is no such piece", "The page of each part lists its pieces.")
		return nil, nil, false
	}
	if err != nil {
		s.broken(w, r, err)
		return nil, nil, false
	}
	return work, st, true
}

func (s *Server) pieceShow(w http.ResponseWriter, r *http.Request) {
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	s.showPiece(w, r, st, work, http.StatusOK, "", "")
}

func (s *Server) showPiece(w http.ResponseWriter, r *http.Request, st *store.Store, work *pieceWork, status int, fault, typed string) {
	page := piecePage{
		frame: s.frame(r, work.part.Name+", "+work.piece.Name, "pieces"), ID: work.piece.ID, Name: work.piece.Name, Part: work.part.Name, PartID: work.part.ID,
		Thread: work.plan().Thread.Designation, View: work.view(s.config.Now()), Steps: work.steps, Standing: work.standing, Table: work.table,
		Plan: work.planID, Waits: work.standing.Waiting != nil, Fault: fault, FaultReading: typed,
	}
	for _, h := range work.plan().Blocked() {
		page.Blocked = append(page.Blocked, h.Text)
	}
	if len(work.steps) > 0 {
		page.Pickup = piece.Pickup(work.chain[0].Plan)
	}
	if next := work.standing.Next(work.steps); next != nil {
		page.Step, page.Expect = next.ID, next.Expect
		page.MeasureNow = next.First && work.standing.Reading == nil || typed != ""
	}
	page.Last, page.LastAt = work.last()
	if l := work.standing.Last; l != nil {
		page.Undo, page.UndoWords = l.ID, work.words(*l)
	}
	page.Reading = work.reading()
	page.Bundle = work.bundle(deviceOf(r))
	row, err := st.Stamp(store.Row{})
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page.Entry = row.ID
	page.At = work.at()
	if page.Later, err = s.laterTiming(r.Context(), work); err != nil {
		s.broken(w, r, err)
		return
	}
	if t := work.plan().Request.Timing; t != nil {
		page.Ending = fmt.Sprintf("%s; the ending needs %.2f s", timingWords(*t), work.plan().Stopping.Seconds.S())
	}
	files, err := st.Files(r.Context(), store.About{PieceID: work.piece.ID})
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, f := range files {
		page.Files = append(page.Files, work.fileLine(f))
	}
	s.show(w, r, status, "piece", page)
}

// last is what was confirmed last, in words.
func (w *pieceWork) last() (string, time.Time) {
	l := w.standing.Last
	if l == nil {
		return "nothing yet: the piece is fresh", w.log[0].At
	}
	return w.words(*l), l.At
}

// words tells an entry of the log.
func (w *pieceWork) words(e piece.Entry) string {
	switch e.Kind {
	case piece.Began:
		return "begun"
	case piece.Did:
		for _, s := range w.steps {
			if s.ID == e.Body.Step {
				return s.Then
			}
		}
		return e.Body.Step + " confirmed"
	case piece.Undid:
		return "taken back"
	case piece.Measured:
		return "measured " + w.number(e) + " " + w.table.Words
	case piece.Picked:
		return "thread picked up, both dials at 0 in the groove"
	case piece.Checked:
		return map[string]string{
			"tip good": "tip looked at: whole", "tip bad": "tip chipped", "slip good": "witness line looked at: nothing has slipped",
			"slip bad": "work or tool has slipped", "count bad": "the scratch pass does not count right",
		}[e.Body.What+" "+e.Body.Found]
	case piece.Resumed:
		return map[string]string{"moved": "taken up again: compound already moved", "not-moved": "taken up again: compound not moved yet", piece.Unsure: "taken up again: not sure where the compound stood"}[e.Body.Found]
	case piece.Paused:
		return "paused"
	case piece.Noted:
		return "note: " + e.Body.Text
	case piece.Timed:
		return "newer air passes taken: " + e.Body.Text
	case piece.Recorded:
		return "recording: " + e.Body.Text
	case piece.Replaned:
		if e.Body.Refused != "" {
			return "no new plan: " + e.Body.Refused
		}
		return "passes from " + strconv.Itoa(e.Body.After+1) + " on planned anew"
	}
	return e.Kind
}

func (w *pieceWork) number(e piece.Entry) string {
	return e.Body.Reading.Number(w.plan().Request.Units, w.table.Places)
}

// reading says what the last reading means; empty without one.
func (w *pieceWork) reading() string {
	r := w.standing.Reading
	if r == nil {
		return ""
	}
	left, verdict := w.table.Left(r.Body.Reading)
	words := w.number(*r) + " " + w.table.Words + ": " + verdict
	if left != "" {
		words += "; left on the " + w.table.Slide + ": " + left
	}
	if w.standing.Refused != "" {
		words += ". No new plan: " + w.standing.Refused
	}
	return words
}

// at names the step that notes and files now belong to: the one confirmed last.
func (w *pieceWork) at() string {
	for _, e := range slices.Backward(w.log) {
		if e.Kind == piece.Did && w.standing.Done[e.Body.Step] {
			return e.ID
		}
	}
	return w.log[0].ID
}

func (s *Server) pieceBundle(w http.ResponseWriter, r *http.Request) {
	work, _, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	b, err := json.Marshal(work.bundle(deviceOf(r)))
	if err != nil {
		s.broken(w, r, err)
		return
	}
	send(w, "application/json", b)
}

// pieceLog shows everything that happened, newest first.
func (s *Server) pieceLog(w http.ResponseWriter, r *http.Request) {
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	names := map[string]string{}
	devices, err := st.Devices(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, d := range devices {
		names[d.ID] = d.Name
	}
	gone := map[string]bool{}
	for _, e := range work.log {
		gone[e.Undoes] = true
	}
	page := piecePage{frame: s.frame(r, work.part.Name+", "+work.piece.Name+": log", "pieces"), ID: work.piece.ID, Name: work.piece.Name, Part: work.part.Name}
	for _, e := range slices.Backward(work.log) {
		words := work.words(e)
		if e.Kind == piece.Undid {
			words = "taken back"
			for _, u := range work.log {
				if u.ID == e.Undoes {
					words = "taken back: " + work.words(u)
				}
			}
		}
		who := names[e.Device]
		if who == "" && e.Device != "local" {
			who = e.Device
		}
		page.Log = append(page.Log, pieceLogLine{e.At, words, who, gone[e.ID]})
	}
	s.show(w, r, http.StatusOK, "piece_log", page)
}

type piecesPage struct {
	frame
	Pieces []pieceLine
}

type pieceLine struct {
	ID, Name, Part string
	Events         int
	At             time.Time
}

// piecesShow lists the pieces in work, newest first.
func (s *Server) piecesShow(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	parts, err := s.config.Store.Parts(r.Context(), false)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page := piecesPage{frame: s.frame(r, "At the lathe", "pieces")}
	for _, p := range parts {
		lines, err := s.pieceLines(r, p)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		page.Pieces = append(page.Pieces, lines...)
	}
	slices.SortFunc(page.Pieces, func(a, b pieceLine) int { return b.At.Compare(a.At) })
	s.show(w, r, http.StatusOK, "pieces", page)
}

func (s *Server) pieceLines(r *http.Request, part store.Part) ([]pieceLine, error) {
	pieces, err := s.config.Store.Pieces(r.Context(), part.ID)
	if err != nil {
		return nil, err
	}
	var out []pieceLine
	for _, p := range slices.Backward(pieces) {
		out = append(out, pieceLine{p.ID, p.Name, part.Name, p.Events, p.CreatedAt})
	}
	return out, nil
}
