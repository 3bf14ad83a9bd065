package web

import (
	"io"
	"net/http"
	"net/url"
	"strings"

	"thrum/store"
)

// pieceFile keeps a photograph or a recording with the step that was confirmed last.
func (s *Server) pieceFile(w http.ResponseWriter, r *http.Request) {
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	parts, err := r.MultipartReader()
	kept := 0
	for err == nil {
		p, e := parts.NextPart()
		if e == io.EOF {
			break
		}
		if err = e; err != nil || p.FormName() != "file" || p.FileName() == "" {
			continue
		}
		media := p.Header.Get("Content-Type")
		kind := "document"
		switch {
		case strings.HasPrefix(media, "image/"):
			kind = "photo"
		case strings.HasPrefix(media, "audio/"), strings.HasPrefix(media, "video/"):
			kind = "recording"
		}
		_, err = st.AddFile(r.Context(), store.File{About: store.About{EventID: work.at()}, Kind: kind, Name: cleanName(p.FileName()), Media: media}, p)
		kept++
	}
	if err != nil || kept == 0 {
		s.showPiece(w, r, st, work, http.StatusUnprocessableEntity, "No file came through. Choose a photograph or a recording and send it again.", "")
		return
	}
	http.Redirect(w, r, "/pieces/"+url.PathEscape(work.piece.ID)+"#kept", http.StatusSeeOther)
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
