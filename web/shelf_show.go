package web

import (
	"fmt"
	"net/http"
	"strconv"
)

// shelfShow is the page of one lathe or material; ?revision= shows an older text in
// the same form, so that keeping it puts it back.
func (s *Server) shelfShow(k kind) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		name := r.PathValue("name")
		current, all, err := k.kept(r.Context(), s, name)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		ready, isReady := k.ready(name)
		page := s.shelfPage(r, k, name)
		page.Ready, page.Revision = isReady, current.Revision
		page.revisions(all)
		text := current.TOML
		switch {
		case current.Revision > 0:
		case isReady:
			page.New, text = true, ready
			page.Named = control{Name: "name", Label: "Keep as", Kind: "text", Hint: "a short name of your own: " + k.hint()}
		case len(all) == 0:
			s.fail(w, r, http.StatusNotFound, fmt.Sprintf("No %s is called %s here", k.what, short(name, 80)), "The list of all is in the menu above.")
			return
		default: // taken off the shelf: what it was last, to be put back
			for _, t := range all {
				if !t.Removed {
					text, page.Shown = t.TOML, t.Revision
				}
			}
		}
		if n, err := strconv.Atoi(r.URL.Query().Get("revision")); err == nil {
			for _, t := range all {
				if t.Revision == n && !t.Removed && n != current.Revision {
					text, page.Shown, page.New = t.TOML, n, false
				}
			}
		}
		page.Saved = current.Revision > 0 && r.URL.Query().Get("kept") == strconv.Itoa(current.Revision)
		page.write(k, "", text)
		s.show(w, r, http.StatusOK, "shelf", page)
	}
}

func (k kind) hint() string {
	if k.what == "lathe" {
		return "shop lathe, garage 9x20"
	}
	return "rack 3 red end, cold-drawn 1018"
}
