package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thrum/piece"
	"thrum/plan"
	"thrum/store"
	"thrum/unit"
)

// mostField is the longest field that stands before a file in a form.
const mostField = 100

// sentFile is what a form says of a file before it comes.
type sentFile struct {
	id    string // of the file, made by the page; sent twice it is kept once
	event string // entry of the log to which it belongs; empty: the step confirmed last
}

// pieceFile keeps a photograph or a recording with the step that was confirmed last,
// or with the entry of the log that the form names.
func (s *Server) pieceFile(w http.ResponseWriter, r *http.Request) {
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	page := strings.HasPrefix(r.Header.Get("Accept"), "application/json")
	kept, err := keepPieceFiles(r, work, st)
	switch code := store.CodeOf(err); {
	case code == store.NotFound && page: // the entry is still on its way
		problem(w, http.StatusConflict, "the log has no such entry yet")
		return
	case (err != nil || kept == 0) && page:
		problem(w, http.StatusUnprocessableEntity, "no file came through")
		return
	case err != nil || kept == 0:
		s.showPiece(w, r, st, work, http.StatusUnprocessableEntity, "No file came through. Choose a photograph or a recording and send it again.", "")
		return
	case page:
		send(w, "application/json", []byte(fmt.Sprintf(`{"kept":%d}`, kept)))
		return
	}
	http.Redirect(w, r, "/pieces/"+url.PathEscape(work.piece.ID)+"#kept", http.StatusSeeOther)
}

func keepPieceFiles(r *http.Request, work *pieceWork, st *store.Store) (kept int, err error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return 0, err
	}
	said := sentFile{}
	for {
		p, err := parts.NextPart()
		switch {
		case err == io.EOF:
			return kept, nil
		case err != nil:
			return kept, err
		}
		switch p.FormName() {
		case "id", "event":
			text, err := io.ReadAll(io.LimitReader(p, mostField))
			if err != nil {
				return kept, err
			}
			if p.FormName() == "id" {
				said.id = string(text)
			} else {
				said.event = string(text)
			}
			continue
		case "file":
		default:
			continue
		}
		if p.FileName() == "" {
			continue
		}
		f, err := work.fileOf(said, cleanName(p.FileName()), p.Header.Get("Content-Type"))
		if err == nil {
			_, err = st.AddFile(r.Context(), f, p)
		}
		if err != nil {
			return kept, err
		}
		kept++
		said = sentFile{}
	}
}

// fileOf is the row of a file before its content is kept.
func (w *pieceWork) fileOf(said sentFile, name, media string) (store.File, error) {
	f := store.File{Row: store.Row{ID: said.id}, About: store.About{EventID: w.at()}, Kind: "document", Name: name, Media: media}
	switch {
	case strings.HasPrefix(media, "image/"):
		f.Kind = "photo"
	case strings.HasPrefix(media, "audio/"), strings.HasPrefix(media, "video/"):
		f.Kind = "recording"
	}
	if said.event == "" {
		return f, nil
	}
	e := w.entry(said.event)
	if e == nil {
		return f, &store.Error{Code: store.NotFound, Err: fmt.Errorf("no entry %s", short(said.event, 40))}
	}
	f.EventID = e.ID
	if e.Kind == piece.Recorded {
		f.Name = strings.ReplaceAll(e.Body.Step, "-", " ") + strings.TrimPrefix(name, "recorded")
	}
	return f, nil
}

func (w *pieceWork) entry(id string) *piece.Entry {
	for i := range w.log {
		if w.log[i].ID == id {
			return &w.log[i]
		}
	}
	return nil
}

// cutAt tells which step a file of the piece belongs to, and the plan by which it was
// cut: that of the entry it hangs on.
func (w *pieceWork) cutAt(event string) (step string, p *plan.Plan) {
	p = w.plan()
	e := w.entry(event)
	if e == nil {
		return "", p
	}
	for i, id := range w.plans {
		if id == e.Plan {
			p = w.chain[i].Plan
		}
	}
	return e.Body.Step, p
}

// rpmAt is the spindle speed of a step: the pass's own, else another.
func rpmAt(p *plan.Plan, step string, other unit.Rotation) unit.Rotation {
	for _, ps := range p.Passes {
		if piece.PassID(ps.N) == step {
			return ps.RPM
		}
	}
	return other
}

// keptSetup finds by which plan, and at which speed, a kept recording of a piece was
// made; nil for a recording of something else.
func (s *Server) keptSetup(ctx context.Context, f store.File) (*plan.Plan, unit.Rotation, error) {
	if f.PieceID == "" {
		return nil, 0, nil
	}
	work, err := s.openPiece(ctx, s.config.Store, f.PieceID)
	if err != nil {
		return nil, 0, err
	}
	step, p := work.cutAt(f.EventID)
	return p, rpmAt(p, step, p.Speed.RPM), nil
}

// fileLine tells of a file of the piece.
func (w *pieceWork) fileLine(f store.File) pieceFileLine {
	l := pieceFileLine{ID: f.ID, Kind: f.Kind, Name: f.Name, Image: strings.HasPrefix(f.Media, "image/")}
	step, p := w.cutAt(f.EventID)
	if f.Kind == "recording" && step != "" {
		l.Note = fmt.Sprintf("at %.4g rpm", rpmAt(p, step, p.Speed.RPM).RPM())
	}
	if f.Kind == flankFile { // what is seen was left by the pass that it was taken after
		rpm := rpmAt(p, step, p.MarkSpeed())
		q := url.Values{"kept": {f.ID}, "callout": {p.Request.Callout}, "rpm": {strconv.FormatFloat(rpm.RPM(), 'f', -1, 64)}}
		l.Read = "/flanks?" + q.Encode()
	}
	return l
}

// pieceFileShow sends a file of a piece. Only pictures and sounds open in the page;
// all else is saved, so that nothing sent in can act as a page of the bench.
func (s *Server) pieceFileShow(w http.ResponseWriter, r *http.Request) {
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	f, content, err := st.OpenFile(r.Context(), r.PathValue("file"))
	if err != nil || f.PieceID != work.piece.ID {
		s.fail(w, r, http.StatusNotFound, "There is no such file", "The page of the piece lists its files.")
		return
	}
	defer content.Close()
	media := "application/octet-stream"
	switch f.Media {
	case "image/jpeg", "image/png", "image/webp", "image/heic", "audio/mpeg", "audio/mp4", "audio/ogg", "audio/wav", "audio/webm", "video/mp4", "video/webm":
		media = f.Media
	default:
		w.Header().Set("Content-Disposition", "attachment")
	}
	w.Header().Set("Content-Type", media)
	w.Header().Set("Content-Security-Policy", "default-src 'none'; sandbox")
	http.ServeContent(w, r, "", f.CreatedAt, content)
}
