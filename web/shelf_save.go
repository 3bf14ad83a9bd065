package web

import (
	"fmt"
	"net/http"
	"strconv"

	"thrum/store"
)

// shelfSave keeps an edited text as the next revision. A text with faults comes back
// as it was typed, with each fault at its line; a text that was edited from an old
// revision comes back beside the one that was kept meanwhile.
func (s *Server) shelfSave(k kind) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.sent(w, r) {
			return
		}
		name, text := r.PathValue("name"), postedText(r)
		from, err := strconv.Atoi(r.PostForm.Get("revision"))
		if err != nil || from < 0 {
			s.fail(w, r, http.StatusBadRequest, "The form does not say which revision it began from", "Open the page again and repeat the edit.")
			return
		}
		err = k.checkAs(name, text)
		if err == nil {
			var kept store.Text
			if kept, err = k.shelf().Save(r.Context(), store.Text{Name: name, Revision: from, TOML: text}); err == nil {
				http.Redirect(w, r, fmt.Sprintf("%s?kept=%d", k.address(name), kept.Revision), http.StatusSeeOther)
				return
			}
		}
		s.shelfRefused(w, r, k, name, text, from, err)
	}
}

// checkAs is the check of a text that is to be kept under a name.
func (k kind) checkAs(name, text string) error {
	if err := newName(name); err != nil {
		return err
	}
	return k.check(name, text)
}

// shelfRefused shows the form again with what was typed and why it was not kept.
func (s *Server) shelfRefused(w http.ResponseWriter, r *http.Request, k kind, name, text string, from int, cause error) {
	faults, rest := faultsOf(cause)
	if rest != nil && len(faults) == 0 {
		s.broken(w, r, rest)
		return
	}
	current, all, err := k.kept(r.Context(), s, name)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page := s.shelfPage(r, k, name)
	page.Revision = from
	status := http.StatusUnprocessableEntity
	if store.CodeOf(cause) == store.Conflict {
		status = http.StatusConflict
		page.Revision = current.Revision // to be kept over it knowingly
		page.Other = &rival{current.Revision, current.TOML, current.CreatedAt}
	}
	page.revisions(all)
	page.write(k, name, text)
	if page.Other == nil && len(page.Faults) == 0 {
		page.Faults = textFaults(cause, text)
	}
	page.Lathe, page.Material = nil, nil // not kept: only the text matters now
	s.show(w, r, status, "shelf", page)
}
