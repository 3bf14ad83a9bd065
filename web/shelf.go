package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"thrum/store"
	"thrum/unit"
)

// kind is what differs between the two shelves of texts, lathes and materials. The
// text is the one truth on both: it is shown, edited, checked and kept as it was
// written, comments included.
type kind struct {
	menu, what string // "lathes", "lathe"
	shelf      func() store.Shelf
	ready      func(name string) (text string, ok bool) // comes with the program
	keys       func() []formKey
	check      func(name, text string) error                                                  // every fault, with line and key
	tell       func(page *shelfPage, text string)                                             // what a faultless text means
	list       func(s *Server, w http.ResponseWriter, r *http.Request, a addForm, status int) // the page of all
}

// shelfPage is one lathe or material: what its text means, the text, its revisions.
type shelfPage struct {
	frame
	What     string
	Name     string
	New      bool // on no shelf yet: the form asks for a name
	Ready    bool // comes with the program
	Revision int  // the kept revision; 0 when there is none
	Shown    int  // an older revision that is shown; 0 for the kept one
	Saved    bool
	Text     string
	Lines    []textLine
	Faults   []textFault
	Named    control   // the name of a new one
	Other    *rival    // what was kept meanwhile
	History  []revised // newest first
	Lathe    *latheFacts
	Material *materialFacts
}

// textLine is a line number beside the text, marked when the line is at fault.
type textLine struct {
	N     int
	Wrong bool
}

// textFault is one thing wrong with a text.
type textFault struct {
	Line                     int // 0 when it belongs to no line
	Key, Value, Reason, Hint string
	Excerpt                  string // the line as written
}

// Words is the fault as a sentence.
func (f textFault) Words() string { return fault{"", f.Value, f.Reason, f.Hint}.Words() }

// rival is the text that somebody else kept since this one was opened.
type rival struct {
	Revision int
	Text     string
	At       time.Time
}

type revised struct {
	Revision int
	At       time.Time
	Device   string
	Removed  bool
	Current  bool
}

// addForm is the form that begins a new text.
type addForm struct{ Name, From control }

func (s *Server) shelfPage(r *http.Request, k kind, name string) shelfPage {
	return shelfPage{frame: s.frame(r, name, k.menu), What: k.what, Name: name}
}

// kept reads the current text of a name and its revisions; none of them is no error.
func (k kind) kept(ctx context.Context, s *Server, name string) (current store.Text, all []store.Text, err error) {
	if s.config.Store == nil {
		return store.Text{}, nil, nil
	}
	all, err = k.shelf().History(ctx, name)
	switch store.CodeOf(err) {
	case store.NotFound, store.Invalid:
		return store.Text{}, nil, nil
	}
	if err != nil || len(all) == 0 {
		return store.Text{}, nil, err
	}
	if last := all[len(all)-1]; !last.Removed {
		current = last
	}
	return current, all, nil
}

// revisions lists the revisions, newest first.
func (page *shelfPage) revisions(all []store.Text) {
	for i := len(all) - 1; i >= 0; i-- {
		t := all[i]
		page.History = append(page.History, revised{t.Revision, t.CreatedAt, t.Device, t.Removed, t.Revision == page.Revision})
	}
}

// write puts a text into the form; with faults its lines are marked and nothing is
// said about what it means.
func (page *shelfPage) write(k kind, name, text string) {
	page.Text = text
	page.Faults = textFaults(k.check(name, text), text)
	wrong := map[int]bool{}
	for _, f := range page.Faults {
		wrong[f.Line] = true
	}
	for n := 1; n <= strings.Count(text, "\n")+1 && n <= mostLines; n++ {
		page.Lines = append(page.Lines, textLine{n, wrong[n]})
	}
	if len(page.Faults) == 0 {
		k.tell(page, text)
	}
}

// Rows is the height of the text field: all of the text and room to write.
func (page shelfPage) Rows() int { return len(page.Lines) + 3 }

// Longer texts get no more line numbers.
const mostLines = 3000

// The name under which a text is checked; textFaults takes it off again.
const textName = "text"

var atLine = regexp.MustCompile(`^` + textName + `(?::(\d+))?(?:: ?(.*))?$`)

// textFaults takes the faults of a text apart by line and key.
func textFaults(err error, text string) []textFault {
	faults, rest := faultsOf(err)
	if rest != nil {
		faults = append(faults, fault{Field: textName, Reason: rest.Error()})
	}
	lines := strings.Split(text, "\n")
	var out []textFault
	for _, f := range faults {
		t := textFault{Key: f.Field, Value: short(f.Value, 120), Reason: f.Reason, Hint: f.Hint}
		if m := atLine.FindStringSubmatch(f.Field); m != nil {
			t.Key = m[2]
			t.Line, _ = strconv.Atoi(m[1])
		}
		if t.Line > 0 && t.Line <= len(lines) {
			t.Excerpt = short(strings.TrimSpace(lines[t.Line-1]), 120)
			if t.Excerpt == strings.TrimSpace(t.Value) {
				t.Value = "" // said once
			}
		}
		out = append(out, t)
	}
	return out
}

// newName checks the name of a new text: it becomes part of an address.
func newName(name string) error {
	if name == "." || name == ".." || strings.ContainsAny(name, "/\\") {
		return &unit.InputError{Field: "name", Value: name, Reason: "cannot stand in an address", Hint: "use letters, figures, spaces and dashes, without strokes"}
	}
	return nil
}

// sent reads what was posted. Line ends are those of the text that is kept.
func (s *Server) sent(w http.ResponseWriter, r *http.Request) bool {
	if s.config.Store == nil {
		s.fail(w, r, http.StatusNotFound, "Nothing is kept here", "This bench was started without a folder to keep things in.")
		return false
	}
	err := r.ParseForm()
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		s.fail(w, r, http.StatusRequestEntityTooLarge, "The text is too long", "At most 1 MB can be kept under one name. Go back: the text is still in the form.")
	case err != nil:
		s.fail(w, r, http.StatusBadRequest, "The form could not be read", "Go back and send it again.")
	}
	return err == nil
}

func postedText(r *http.Request) string {
	return strings.ReplaceAll(strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n"), "\r", "\n")
}

func (k kind) address(name string) string { return "/" + k.menu + "/" + url.PathEscape(name) }
