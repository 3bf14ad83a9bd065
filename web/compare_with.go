package web

import (
	"net/http"
	"net/url"
	"slices"
)

// compareWith are the choices that are most often weighed against each other: those of
// the newest set-up, to be changed for the next one.
func (f *form) compareWith() group {
	part, sections := f.part(), f.sections()
	shown := slices.DeleteFunc(part.Shown, func(c control) bool { return c.Name == "callout" || c.Name == "units" })
	for _, id := range []string{"speed", "tool", "ending"} {
		shown = append(shown, sections[id].Shown...)
	}
	return group{Shown: shown}
}

// compareCopy sets beside the others a copy of a set-up with the choices that were
// changed in the form, and leads to the comparison.
func (s *Server) compareCopy(w http.ResponseWriter, r *http.Request) bool {
	asked := r.URL.Query()
	if !asked.Has("copy") {
		return false
	}
	q, err := url.ParseQuery(asked.Get("copy"))
	f, err2 := s.form(r.Context(), q, nil)
	if err != nil || err2 != nil {
		s.fail(w, r, http.StatusBadRequest, "That set-up cannot be read", "Begin from a sheet: each has a link to compare it.")
		return true
	}
	for _, c := range f.compareWith().Shown {
		if v := asked.Get(c.Name); v != "" {
			q.Set(c.Name, v)
		} else {
			q.Del(c.Name)
		}
	}
	to := url.Values{}
	for _, letter := range compareLetters {
		switch {
		case asked.Get(letter) != "":
			to.Set(letter, asked.Get(letter))
		case q != nil:
			to.Set(letter, tidy(q).Encode())
			q = nil
		}
	}
	http.Redirect(w, r, "/compare?"+to.Encode(), http.StatusSeeOther)
	return true
}
