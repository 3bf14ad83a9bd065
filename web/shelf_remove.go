package web

import (
	"fmt"
	"net/http"
	"strconv"

	"thrum/store"
)

// shelfRemove takes a name off the shelf. Its revisions stay, and so do the plans
// that were made with it.
func (s *Server) shelfRemove(k kind) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.sent(w, r) {
			return
		}
		name := r.PathValue("name")
		revision, err := strconv.Atoi(r.PostForm.Get("revision"))
		if err != nil {
			revision = -1 // no revision: refused as outdated
		}
		switch err := k.shelf().Remove(r.Context(), name, revision); store.CodeOf(err) {
		case store.NotFound, store.Invalid:
			s.fail(w, r, http.StatusNotFound, fmt.Sprintf("No %s is called %s here", k.what, short(name, 80)), "The list of all is in the menu above.")
		case store.Conflict:
			s.fail(w, r, http.StatusConflict, "It was changed since this page was opened", "Open it again and look at what changed before it is taken off.")
		default:
			if err != nil {
				s.broken(w, r, err)
				return
			}
			http.Redirect(w, r, "/"+k.menu, http.StatusSeeOther)
		}
	}
}
