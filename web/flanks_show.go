package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"thrum/photo"
	"thrum/plan"
	"thrum/thread"
	"thrum/unit"
)

// flanksRoutes lists the addresses of the reading of flanks.
func (s *Server) flanksRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /flanks", s.flanksAsk)
	m.HandleFunc("POST /flanks", s.flanksTake)
	m.HandleFunc("GET /flanks/{id}", s.flanksShow)
	m.HandleFunc("GET /flanks/{id}/{n}", s.flanksPicture)
	m.HandleFunc("POST /flanks/{id}/outline", s.flanksOutline)
	m.HandleFunc("POST /flanks/{id}/keep", s.flanksKeep)
}

type flanksPage struct {
	frame
	Faults                           []fault
	Callout, Diameter, RPM, AfterRPM control
	Feed, Together                   control
	Sets                             []flankAnswer
	Compare                          []string
	ID                               string
	Kept                             []keptPhoto
	Part                             control
	Gone                             bool
}

// flanksAsk asks for photographs.
func (s *Server) flanksAsk(w http.ResponseWriter, r *http.Request) {
	s.flanksForm(w, r, http.StatusOK, flanksPage{frame: s.frame(r, "Flanks", "flanks")}, r.URL.Query())
}

// flanksForm fills the form itself, which every answer has.
func (s *Server) flanksForm(w http.ResponseWriter, r *http.Request, status int, page flanksPage, q url.Values) {
	f, err := s.form(r.Context(), q, page.Faults)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page.Callout = f.text("callout", "Thread", "M20x2.5, 1/2-13 UNC: its pitch is the scale")
	page.Diameter = f.text("diameter", "Outside diameter, measured", "by micrometer: 19.87mm. A per cent of it is a per cent of the answer")
	page.RPM = f.number("rpm", "Spindle rpm of the last pass", "as measured under cut; gives the frequency")
	page.AfterRPM = f.number("rpm-after", "Spindle rpm of the second sample", "where it is another")
	page.Feed = f.choose("feed", "The tool travelled", "not known", option{Value: "left", Label: "to the left in the photo"}, option{Value: "right", Label: "to the right in the photo"})
	page.Together = f.check("together", "All taken in one go: lamp, distance and exposure left alone")
	if page.Part, err = s.partChoice(r.Context(), f); err != nil {
		s.broken(w, r, err)
		return
	}
	page.Kept = s.flanksKept(r, q)
	s.show(w, r, status, "flanks", page)
}

// flanksTake reads the photographs that were sent and shows the answer at an address
// of its own, so that going back and forth sends nothing again.
func (s *Server) flanksTake(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostSample)
	if !s.sentFiles(w, r) {
		return
	}
	defer func() { _ = r.MultipartForm.RemoveAll() }()
	q := url.Values(r.MultipartForm.Value)
	set, err := s.flanksRead(r, q)
	if err != nil {
		page := flanksPage{frame: s.frame(r, "Flanks", "flanks")}
		page.Here = "/flanks"
		var rest error
		if page.Faults, rest = faultsOf(err); rest != nil || len(page.Faults) == 0 {
			s.broken(w, r, err)
			return
		}
		s.flanksForm(w, r, http.StatusUnprocessableEntity, page, q)
		return
	}
	id := s.tray.put(set, s.config.Now())
	http.Redirect(w, r, "/flanks/"+id, http.StatusSeeOther)
}

// flanksRead reads the form and its photographs.
func (s *Server) flanksRead(r *http.Request, q url.Values) (*flankSet, error) {
	in := reader{q: q}
	set := &flankSet{ask: url.Values{}, feed: photo.Side(q.Get("feed")), oneGo: in.yes("together")}
	for k := range q {
		set.ask[k] = []string{short(q.Get(k), 200)}
	}
	set.ask["kept"] = q["kept"][:min(len(q["kept"]), mostShots)]
	callout := strings.TrimSpace(q.Get("callout"))
	in.note("callout", func() (err error) {
		if callout == "" || len(callout) > thread.MaxCallout {
			return &unit.InputError{Value: short(callout, 60), Reason: "is no thread", Hint: "write it as on the drawing: M20x2.5 or 1/2-13 UNC"}
		}
		set.of.Thread, err = thread.Parse(callout, thread.External)
		return err
	})
	if v := strings.TrimSpace(q.Get("diameter")); v != "" {
		in.note("diameter", func() (err error) {
			set.of.Diameter, err = unit.ParseLength(v, set.of.Thread.System)
			return err
		})
	}
	if rpm := in.number("rpm"); rpm < 0 || rpm > 1e5 {
		in.bad("rpm", q.Get("rpm"), "is not a spindle speed", "give revolutions per minute")
	} else {
		set.of.Speed = unit.Rotation(rpm)
	}
	if rpm := in.number("rpm-after"); rpm < 0 || rpm > 1e5 {
		in.bad("rpm-after", q.Get("rpm-after"), "is not a spindle speed", "give revolutions per minute")
	} else {
		set.afterSpeed = unit.Rotation(rpm)
	}
	if set.feed != photo.NotTold && set.feed != photo.ToLeft && set.feed != photo.ToRight {
		in.bad("feed", q.Get("feed"), "is not a side", "choose from the list")
	}
	if err := in.err(); err != nil {
		return nil, err
	}
	th, err := set.of.Pictured()
	if err != nil {
		return nil, underField(err, map[string]string{"thread": "callout", "outside diameter": "diameter"})
	}
	if set.shots, err = s.keptShots(r, q, th, set.options()); err != nil {
		return nil, err
	}
	for _, field := range []string{"before", "after"} {
		shots, err := flankShots(r, field, th, set.options())
		if err != nil {
			return nil, err
		}
		set.shots = append(set.shots, shots...)
	}
	if len(set.shots) == 0 || set.shots[0].after {
		return nil, &unit.InputError{Field: "before", Reason: "is missing", Hint: "choose a photo of the thread"}
	}
	return set, nil
}

func (f *flankSet) options() photo.Options {
	o := photo.Options{Feed: f.feed}
	if f.oneGo {
		o.Session = "one go"
	}
	return o
}

// underField names the field of the form that an error is about.
func underField(err error, names map[string]string) error {
	var in *unit.InputError
	if errors.As(err, &in) {
		if n, ok := names[in.Field]; ok {
			in.Field = n
		}
	}
	return err
}

// notPhoto says of a file what is wrong with it.
func notPhoto(field, name string, err error) error {
	var in *unit.InputError
	if !errors.As(err, &in) || in.Field != "photo" && in.Field != "picture" {
		return err
	}
	reason := in.Reason
	if in.Value != "" {
		reason = "(" + in.Value + ") " + reason
	}
	return &unit.InputError{Field: field, Value: name, Reason: reason, Hint: in.Hint}
}

// sample puts the readings of one side of the comparison together.
func (s *Server) sample(set *flankSet, after bool) (*plan.Flanks, []int, error) {
	var shots []plan.FlankPhoto
	var at []int
	for i, sh := range set.shots {
		if sh.after == after {
			shots = append(shots, plan.FlankPhoto{Name: sh.name, Meta: sh.meta, Reading: s.tray.read(sh)})
			at = append(at, i)
		}
	}
	if len(shots) == 0 {
		return nil, nil, nil
	}
	of := set.of
	if after {
		of = of.At(set.afterSpeed)
	}
	f, err := plan.NewFlanks(of, shots)
	return f, at, err
}
