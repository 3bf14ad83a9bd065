package web

import (
	"net/http"
	"time"

	"thrum/store"
)

// exportSend sends everything that is kept as one archive, to be put somewhere safe.
// Only an owner may have it: it holds all parts, photographs and recordings.
func (s *Server) exportSend(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	if roleOf(r) != store.Owner {
		s.fail(w, r, http.StatusForbidden, "Only the bench computer and an owner’s device may save everything", "Ask the owner of the bench.")
		return
	}
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(2 * uploadTime))
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="thrum-`+s.config.Now().Format("2006-01-02")+`.zip"`)
	if err := s.config.Store.Export(r.Context(), w); err != nil {
		s.log.Error("saving everything was broken off", "error", err)
		panic(http.ErrAbortHandler) // the browser must not take half an archive for a whole one
	}
}
