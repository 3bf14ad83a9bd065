package web

import (
	"context"
	"net/http"
	"regexp"
	"strings"

	"thrum/store"
	"thrum/unit"
)

// shelfAdd keeps a new text: the one that was sent, else a copy of one that is
// there already or comes with the program, under a new name.
func (s *Server) shelfAdd(k kind) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.sent(w, r) {
			return
		}
		name, from, text := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("from"), postedText(r)
		copied := text == ""
		err := newName(name)
		if name == "" {
			err = &unit.InputError{Field: "name", Reason: "is missing", Hint: "a short name of your own: " + k.hint()}
		}
		if copied && err == nil {
			if text, err = k.text(r.Context(), s, from); err == nil {
				text = renamed(text, name)
			}
		} else if ready, ok := k.ready(from); ok && err == nil && nameLine.FindString(ready) == nameLine.FindString(text) {
			text = renamed(text, name)
		}
		if err == nil {
			err = k.check(name, text)
		}
		if err == nil {
			if _, err = k.shelf().Save(r.Context(), store.Text{Name: name, TOML: text}); err == nil {
				http.Redirect(w, r, k.address(name)+"?kept=1", http.StatusSeeOther)
				return
			}
		}
		s.addRefused(w, r, k, name, from, text, copied, err)
	}
}

// nameLine is the line of a text that says its name.
var nameLine = regexp.MustCompile(`(?m)^name[ \t]*=.*$`)

// renamed gives a text another name.
func renamed(text, name string) string {
	at := nameLine.FindStringIndex(text)
	if at == nil {
		return text
	}
	return text[:at[0]] + "name = " + quoted(name) + text[at[1]:]
}

// text finds what a new one is to begin from.
func (k kind) text(ctx context.Context, s *Server, name string) (string, error) {
	current, _, err := k.kept(ctx, s, name)
	if err != nil || current.Revision > 0 {
		return current.TOML, err
	}
	if text, ok := k.ready(name); ok {
		return text, nil
	}
	return "", &unit.InputError{Field: "from", Value: name, Reason: "is not there", Hint: "choose one of the list"}
}

// addRefused shows the form that was sent, with what was typed.
func (s *Server) addRefused(w http.ResponseWriter, r *http.Request, k kind, name, from, text string, copied bool, cause error) {
	faults, rest := faultsOf(cause)
	if rest != nil && len(faults) == 0 {
		s.broken(w, r, rest)
		return
	}
	status := http.StatusUnprocessableEntity
	if store.CodeOf(cause) == store.Conflict {
		status = http.StatusConflict
	}
	named := control{Name: "name", Label: "Name", Kind: "text", Value: name, Hint: "a short name of your own: " + k.hint()}
	start := control{Name: "from", Value: from}
	for _, f := range faults {
		switch f.Field {
		case "name", k.what + " name", k.what:
			named.Faults = append(named.Faults, f)
		case "from":
			start.Faults = append(start.Faults, f)
		default: // a copy differs from a faultless text by its name alone
			if copied {
				named.Faults = append(named.Faults, f)
			}
		}
	}
	if copied {
		k.list(s, w, r, addForm{named, start}, status)
		return
	}
	page := s.shelfPage(r, k, name)
	page.Title, page.New, page.Name = "New "+k.what, true, from
	page.Named = named
	page.write(k, name, text)
	page.Lathe, page.Material = nil, nil
	s.show(w, r, status, "shelf", page)
}
