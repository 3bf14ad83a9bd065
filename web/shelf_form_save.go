package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"thrum/internal/tomltext"
	"thrum/lathe"
	"thrum/store"
	"thrum/unit"
)

type shelfFormPage struct {
	frame
	What, Name string
	Revision   int
	Sections   []formSection
	Faults     []fault
	Good       bool // checked, not kept yet
	Other      *rival
}

// shelfFormShow asks for the values of a kept text one by one.
func (s *Server) shelfFormShow(k kind) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		current, ok := s.formText(w, r, k)
		if !ok {
			return
		}
		page := s.shelfFormPage(r, k, current)
		page.fill(k, current.TOML, current.TOML, nil)
		s.show(w, r, http.StatusOK, "shelf_form", page)
	}
}

func (s *Server) shelfFormPage(r *http.Request, k kind, t store.Text) shelfFormPage {
	return shelfFormPage{frame: s.frame(r, t.Name, k.menu), What: k.what, Name: t.Name, Revision: t.Revision}
}

// formText finds the kept text; without one there is nothing to fill in.
func (s *Server) formText(w http.ResponseWriter, r *http.Request, k kind) (store.Text, bool) {
	name := r.PathValue("name")
	current, _, err := k.kept(r.Context(), s, name)
	if err != nil {
		s.broken(w, r, err)
		return current, false
	}
	if current.Revision == 0 {
		s.fail(w, r, http.StatusNotFound, fmt.Sprintf("No %s of your own is called %s", k.what, short(name, 80)), "Begin one of your own from an example first; the list of all is in the menu above.")
		return current, false
	}
	return current, true
}

// fill lays out the form; the drawings show what the text in now means.
func (page *shelfFormPage) fill(k kind, base, now string, typed map[string][]string) {
	beside := map[string][]fault{}
	for _, f := range page.Faults {
		beside[f.Field] = append(beside[f.Field], f)
	}
	page.Sections = formOf(k.keys(), base, typed, beside)
	if k.what != "lathe" {
		return
	}
	l, err := lathe.Parse(textName, []byte(now))
	if err != nil {
		return
	}
	for _, p := range factsOf(l).Pictures {
		title := "Dials and protractor"
		switch {
		case strings.HasPrefix(p.ID, "gears"):
			title = "Change gears"
		case p.ID == "threading-dial":
			title = "Carriage and threading dial"
		}
		for i := range page.Sections {
			if page.Sections[i].Title == title {
				page.Sections[i].Pictures = append(page.Sections[i].Pictures, p)
			}
		}
	}
}

// shelfFormSave puts what was changed into the text, checks it as any text is
// checked, and keeps it as the next revision.
func (s *Server) shelfFormSave(k kind) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.sent(w, r) {
			return
		}
		current, ok := s.formText(w, r, k)
		if !ok {
			return
		}
		from, err := strconv.Atoi(r.PostForm.Get("revision"))
		base, found := s.revision(r, k, current, from)
		if err != nil || !found {
			s.fail(w, r, http.StatusBadRequest, "The form does not say which revision it began from", "Open the page again and repeat the edit.")
			return
		}
		page := s.shelfFormPage(r, k, base)
		text, faults := applyForm(k.keys(), base.TOML, r.PostForm)
		cause := error(nil)
		if page.Faults = faults; len(faults) == 0 {
			if cause = k.checkAs(base.Name, text); cause == nil && r.PostForm.Get("act") != "check" {
				var kept store.Text
				if kept, cause = k.shelf().Save(r.Context(), store.Text{Name: base.Name, Revision: from, TOML: text}); cause == nil {
					http.Redirect(w, r, fmt.Sprintf("%s?kept=%d", k.address(base.Name), kept.Revision), http.StatusSeeOther)
					return
				}
			}
		}
		s.formRefused(w, r, k, page, base.TOML, text, current, cause)
	}
}

// revision finds the text from which a form began.
func (s *Server) revision(r *http.Request, k kind, current store.Text, n int) (store.Text, bool) {
	if n == current.Revision {
		return current, true
	}
	_, all, err := k.kept(r.Context(), s, current.Name)
	i := slices.IndexFunc(all, func(t store.Text) bool { return t.Revision == n && !t.Removed })
	if err != nil || i < 0 {
		return store.Text{}, false
	}
	return all[i], true
}

func (s *Server) formRefused(w http.ResponseWriter, r *http.Request, k kind, page shelfFormPage, base, text string, current store.Text, cause error) {
	status := http.StatusUnprocessableEntity
	switch {
	case store.CodeOf(cause) == store.Conflict:
		status = http.StatusConflict
		page.Other = &rival{current.Revision, current.TOML, current.CreatedAt}
	case cause != nil:
		faults, rest := faultsOf(cause)
		if rest != nil && len(faults) == 0 {
			s.broken(w, r, rest)
			return
		}
		for _, f := range textFaults(k.check(textName, text), text) {
			page.Faults = append(page.Faults, fault{fieldOf(text, f), f.Value, f.Reason, f.Hint})
		}
	case len(page.Faults) == 0:
		page.Good, status = true, http.StatusOK
	}
	page.fill(k, base, text, r.PostForm)
	s.show(w, r, status, "shelf_form", page)
}

// fieldOf is the field that a fault of the text belongs to.
func fieldOf(text string, f textFault) string {
	path := tomltext.At(text, f.Line).String()
	last := f.Key[strings.LastIndexByte(f.Key, '.')+1:]
	if path == "" {
		return f.Key
	}
	if strings.HasSuffix("."+path, "."+last) {
		return path
	}
	return path + "." + last // missing: told at the heading of its table
}

// applyForm puts the values of a form that differ from those of the text into it.
func applyForm(keys []formKey, text string, form url.Values) (string, []fault) {
	var faults []fault
	base := text
	set := func(k formKey, at tomltext.Path) {
		raw, _ := tomltext.Get(base, at)
		typed, value := form.Get(at.String()), ""
		switch {
		case k.kind == "yes-no":
			value = map[bool]string{true: "true", false: "false"}[typed == "yes"]
			if typed != "yes" && raw != "true" || typed == "yes" && raw == "true" {
				return
			}
		case strings.TrimSpace(strings.ReplaceAll(typed, "\r\n", "\n")) == strings.TrimSpace(shownValue(k.kind, raw)):
			return
		default:
			value = writtenValue(k.kind, typed)
		}
		next, err := tomltext.Set(text, at, value)
		if err != nil {
			faults = append(faults, fault{at.String(), typed, "cannot be written into the text", "see how it is written in the text itself"})
			return
		}
		text = next
	}
	var lists []string
	for i, k := range keys {
		inside := slices.ContainsFunc(lists, func(l string) bool { return strings.HasPrefix(k.path.String(), l+".") })
		_, inline := tomltext.Get(base, k.path)
		switch {
		case inside || k.kind == "table":
		case k.kind == "tables" && !inline:
			lists = append(lists, k.path.String())
			for n := 0; n <= tomltext.Count(base, k.path); n++ {
				at := append(append(tomltext.Path{}, k.path...), strconv.Itoa(n))
				for _, in := range keys[i+1:] {
					if strings.HasPrefix(in.path.String(), k.path.String()+".") {
						set(in, append(append(tomltext.Path{}, at...), in.path[len(k.path):]...))
					}
				}
			}
		default:
			if k.kind == "tables" {
				lists = append(lists, k.path.String())
			}
			set(k, k.path)
		}
	}
	return takeAway(text, form["remove"], faults)
}

// takeAway removes entries of lists, the last first so that the numbers of the
// others stay.
func takeAway(text string, entries []string, faults []fault) (string, []fault) {
	number := func(e string) int {
		n, _ := strconv.Atoi(e[strings.LastIndexByte(e, '.')+1:])
		return n
	}
	slices.SortFunc(entries, func(a, b string) int { return number(b) - number(a) })
	for _, e := range slices.Compact(entries) {
		next, err := tomltext.Remove(text, tomltext.ParsePath(e))
		if err != nil {
			faults = append(faults, fault{e, "", (&unit.InputError{Field: e, Reason: "is not there to be taken away"}).Reason, "open the page again"})
			continue
		}
		text = next
	}
	return text, faults
}
