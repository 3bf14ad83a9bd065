package web

import (
	"fmt"
	"net/http"
	"time"

	"thrum/examples"
	"thrum/lathe"
	"thrum/store"
	"thrum/unit"
)

type lathesPage struct {
	frame
	Own   []latheLine
	Ready []latheLine
	Add   addForm
}

// latheLine is a lathe in a list.
type latheLine struct {
	Name, Words string
	Faulty      bool // the text cannot be read by this version of the program
	Revision    int
	At          time.Time
}

// lathes is the shelf of lathes.
func (s *Server) lathes() kind {
	return kind{
		menu: "lathes", what: "lathe",
		shelf: func() store.Shelf { return s.config.Store.Lathes() },
		ready: examples.Lathe,
		keys:  latheKeys,
		check: func(_, text string) error { _, err := lathe.Parse(textName, []byte(text)); return err },
		tell: func(page *shelfPage, text string) {
			if l, err := lathe.Parse(textName, []byte(text)); err == nil {
				page.Lathe = factsOf(l)
			}
		},
		list: (*Server).lathesPage,
	}
}

// lathesShow lists the shop's lathes and the examples.
func (s *Server) lathesShow(w http.ResponseWriter, r *http.Request) {
	s.lathesPage(w, r, addForm{Name: control{Name: "name", Label: "Name", Kind: "text", Hint: "a short name of your own: " + s.lathes().hint()}}, http.StatusOK)
}

func (s *Server) lathesPage(w http.ResponseWriter, r *http.Request, a addForm, status int) {
	page := lathesPage{frame: s.frame(r, "Lathes", "lathes"), Add: a}
	own := map[string]bool{}
	var from []option
	if s.config.Store != nil {
		kept, err := s.config.Store.Lathes().List(r.Context())
		if err != nil {
			s.broken(w, r, err)
			return
		}
		for _, t := range kept {
			if text, ok := examples.Lathe(t.Name); ok && text == t.TOML {
				continue // kept as it came
			}
			line := latheLineOf(t.Name, t.TOML)
			line.Revision, line.At = t.Revision, t.CreatedAt
			page.Own = append(page.Own, line)
			own[t.Name] = true
			from = append(from, option{Value: t.Name, Label: t.Name, Group: "the shop's own"})
		}
	}
	for _, name := range examples.Lathes() {
		if own[name] {
			continue
		}
		text, _ := examples.Lathe(name)
		page.Ready = append(page.Ready, latheLineOf(name, text))
		from = append(from, option{Value: name, Label: name, Group: "examples"})
	}
	page.Add.From = chosenFrom(a.From, from)
	s.show(w, r, status, "lathes", page)
}

// chosenFrom is the list of what a new text may begin from.
func chosenFrom(c control, all []option) control {
	for i := range all {
		all[i].Chosen = all[i].Value == c.Value
	}
	return control{Name: "from", Label: "Begin from", Kind: "select", Options: all, Faults: c.Faults}
}

func latheLineOf(name, text string) latheLine {
	l, err := lathe.Parse(name, []byte(text))
	if err != nil {
		return latheLine{Name: name, Faulty: true}
	}
	places := 0
	if l.Units == unit.Inches {
		places = 2
	}
	words := fmt.Sprintf("swing %s, %s between centres, %d speeds", l.Bed.Swing.Format(l.Units, places), l.Bed.Centres.Format(l.Units, places), len(l.Speeds))
	if l.Name != name {
		words = l.Name + "; " + words
	}
	return latheLine{Name: name, Words: words}
}
