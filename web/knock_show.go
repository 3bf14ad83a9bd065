package web

import (
	"context"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"thrum/plan"
	"thrum/render"
	"thrum/sound"
	"thrum/store"
	"thrum/unit"
)

// mostTaps is the longest recording of taps that is taken.
const mostTaps unit.Time = 300

type knockPage struct {
	frame
	For      string // the sheet that the test is for, as a query
	Thread   string
	Rate     control
	Lathe    control
	Part     control
	Faults   []fault
	Sections []sheetSection
	Heard    bool
	Use      template.URL // the sheet with what was heard, as a query
	Values   []render.Value
	Kept     []keptLine // with what the results were kept
}

type keptLine struct{ Address, Name string }

// knockShow asks for recordings of taps.
func (s *Server) knockShow(w http.ResponseWriter, r *http.Request) {
	page := knockPage{frame: s.frame(r, "Knock test", "knock"), For: r.URL.Query().Get("for")}
	s.knockForm(w, r, http.StatusOK, page, r.URL.Query())
}

// knockHear listens to the recordings that were sent.
func (s *Server) knockHear(w http.ResponseWriter, r *http.Request) {
	if !s.sentFiles(w, r) {
		return
	}
	q := url.Values(r.MultipartForm.Value)
	page := knockPage{frame: s.frame(r, "Knock test", "knock"), For: q.Get("for")}
	page.Here = "/knock"
	tests, err := s.knockTests(r, q)
	if err == nil {
		err = s.knockTell(r, &page, tests, q)
	}
	for _, t := range tests {
		t.file.Close()
	}
	status := http.StatusOK
	if err != nil {
		var rest error
		if page.Faults, rest = faultsOf(err); rest != nil || len(page.Faults) == 0 {
			s.broken(w, r, err)
			return
		}
		status = http.StatusUnprocessableEntity
	}
	s.knockForm(w, r, status, page, q)
}

// knockForm fills what every answer has: the form itself.
func (s *Server) knockForm(w http.ResponseWriter, r *http.Request, status int, page knockPage, q url.Values) {
	f, err := s.form(r.Context(), q, page.Faults)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if of, err := url.ParseQuery(page.For); err == nil && len(page.For) < 4*mostValue {
		page.Thread = of.Get("callout")
		if q.Get("lathe") == "" && of.Get("lathe") != "" {
			f.q = url.Values{"lathe": {of.Get("lathe")}, "rate": {q.Get("rate")}, "part": {q.Get("part")}}
		}
	} else {
		page.For = ""
	}
	page.Rate = f.number("rate", "Values a second", "for a list of values without times")
	page.Lathe = f.choose("lathe", "Keep with the lathe", "none", plainOptions(f.lathes...)...)
	if page.Part, err = s.partChoice(r.Context(), f); err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, status, "knock", page)
}

// partChoice lists the kept parts.
func (s *Server) partChoice(ctx context.Context, f *form) (control, error) {
	var opts []option
	if s.config.Store != nil {
		parts, err := s.config.Store.Parts(ctx, false)
		if err != nil {
			return control{}, err
		}
		for _, p := range parts {
			opts = append(opts, option{Value: p.ID, Label: p.Name})
		}
	}
	return f.choose("part", "Keep with the part", "none", opts...), nil
}

// tapped is one recording of taps and what was heard in it.
type tapped struct {
	file   *upload
	centre bool
	rec    *sound.Recording
	test   *sound.KnockTest
}

func (t tapped) how() string {
	if t.centre {
		return "with the centre"
	}
	return "without the centre"
}

func (t tapped) id() string {
	if t.centre {
		return "centre"
	}
	return "free"
}

// knockTests hears each recording that was sent. What it returns with an error is
// to be closed too.
func (s *Server) knockTests(r *http.Request, q url.Values) (tests []tapped, err error) {
	in := reader{q: q}
	rate := in.number("rate")
	if rate < 0 || rate > 1e7 {
		in.bad("rate", q.Get("rate"), "is not a rate", "give values per second: 400")
	}
	if err := in.err(); err != nil {
		return nil, err
	}
	for _, centre := range []bool{false, true} {
		t := tapped{centre: centre}
		if t.file, err = s.upload(r, t.id()); err != nil {
			return tests, err
		}
		if t.file == nil {
			continue
		}
		tests = append(tests, t)
		at := &tests[len(tests)-1]
		st, err := s.recording(r, t.id(), t.file, unit.Frequency(rate))
		if err != nil {
			return tests, err
		}
		if at.rec, err = sound.Load(st, sound.Pick{}, mostTaps); err != nil {
			return tests, unreadable(t.id(), t.file.Name, err)
		}
		if at.test, err = sound.Knock(at.rec, sound.KnockOptions{}); err != nil {
			return tests, unreadable(t.id(), t.file.Name, err)
		}
	}
	if len(tests) == 0 {
		return nil, &unit.InputError{Field: "free", Reason: "is missing", Hint: "record taps here, or choose a recording"}
	}
	return tests, nil
}

// knockTell puts what was heard on the page and keeps it where that was asked for.
func (s *Server) knockTell(r *http.Request, page *knockPage, tests []tapped, q url.Values) error {
	page.Heard = true
	use, err := url.ParseQuery(page.For)
	if err != nil {
		use = url.Values{}
	}
	for _, t := range tests {
		title := "Rings, " + t.how()
		sec := render.KnockSection(t.id(), title, t.test, t.rec)
		page.Sections = append(page.Sections, sheetSection{Section: sec, N: len(page.Sections) + 1, Pictures: pictures(sec.Drawings)})
		ks := knockedOf(t.test)
		if len(ks) == 0 {
			continue
		}
		name := "knock"
		if t.centre {
			name = "knock-centre"
		}
		use.Set(name, plan.FormatKnocked(ks))
		page.Values = append(page.Values, render.Value{Key: "use." + t.id(), Label: t.how(), Text: plan.FormatKnocked(ks)})
	}
	if len(tests) == 2 {
		shift := render.ShiftSection(sound.CompareKnock(tests[0].test, tests[1].test), "without", "with the centre")
		page.Sections = append(page.Sections, sheetSection{Section: shift, N: len(page.Sections) + 1})
	}
	if page.For != "" && len(page.Values) > 0 {
		page.Use = template.URL(use.Encode()) // #nosec: encoded just now
	}
	return s.knockKeep(r, page, tests, q)
}

// knockedOf are the natural frequencies that a sheet can use, lowest first.
func knockedOf(k *sound.KnockTest) []plan.Knocked {
	var out []plan.Knocked
	for _, m := range k.Modes[:min(len(k.Modes), plan.MostKnocked)] {
		z := float64(m.Damping.Value)
		if z < 0 || z >= 0.5 {
			z = 0
		}
		out = append(out, plan.Knocked{Frequency: m.Natural(), Damping: z})
	}
	return out
}

// Words under which a knock test is kept.
const (
	knockQuantity = "natural-frequency"
	knockFile     = "knock"
)

// knockDetail is what is kept of a knock test beside its lowest frequency.
type knockDetail struct {
	Centre    bool           `json:"centre"`
	Modes     []plan.Knocked `json:"modes"`
	Taps      int            `json:"taps"`
	Recording string         `json:"recording,omitempty"` // id of the file
}

// knockKeep keeps the recordings and what was heard with a lathe, a part or both.
func (s *Server) knockKeep(r *http.Request, page *knockPage, tests []tapped, q url.Values) error {
	about := store.About{PartID: strings.TrimSpace(q.Get("part")), Lathe: strings.TrimSpace(q.Get("lathe"))}
	if q.Get("keep") != "yes" || s.config.Store == nil {
		return nil
	}
	if about == (store.About{}) {
		return &unit.InputError{Field: "part", Reason: "is missing", Hint: "choose the part or the lathe with which the test is to be kept"}
	}
	for _, t := range tests {
		ks := knockedOf(t.test)
		if len(ks) == 0 {
			continue
		}
		if err := t.file.again(); err != nil {
			return err
		}
		kept, err := s.config.Store.AddFile(r.Context(), store.File{About: about, Kind: knockFile, Name: t.file.Name, Media: "application/octet-stream"}, t.file)
		if err != nil {
			return err
		}
		detail, err := json.Marshal(knockDetail{t.centre, ks, t.test.Used(), kept.ID})
		if err != nil {
			return err
		}
		m := store.Measurement{About: about, Quantity: knockQuantity, Value: float64(ks[0].Frequency), Unit: "hz", Spread: spreadOf(t.test), Detail: string(detail)}
		if _, err := s.config.Store.AddMeasurement(r.Context(), m); err != nil {
			return err
		}
	}
	if about.PartID != "" {
		page.Kept = append(page.Kept, keptLine{"/parts/" + url.PathEscape(about.PartID) + "#knocks", "the part"})
	}
	if about.Lathe != "" {
		page.Kept = append(page.Kept, keptLine{"/lathes/" + url.PathEscape(about.Lathe), "the lathe " + about.Lathe})
	}
	return nil
}

// spreadOf is the standard uncertainty of the lowest frequency, zero when it cannot
// be told.
func spreadOf(k *sound.KnockTest) float64 {
	if se := float64(k.Modes[0].Freq.SE); se > 0 && se < 1e6 {
		return se
	}
	return 0
}

// knockLine is a kept knock test.
type knockLine struct {
	At    time.Time
	How   string
	Words string
	Knock string // as the sheet's form takes it
	Name  string // of the field that takes it
}

// knocks lists the knock tests that are kept with a part or a lathe, oldest first.
func (s *Server) knocks(ctx context.Context, about store.About) ([]knockLine, error) {
	all, err := s.config.Store.Measurements(ctx, about)
	if err != nil {
		return nil, err
	}
	var out []knockLine
	for _, m := range all {
		var d knockDetail
		if m.Quantity != knockQuantity || json.Unmarshal([]byte(m.Detail), &d) != nil {
			continue
		}
		l := knockLine{At: m.CreatedAt, How: "without the centre", Name: "knock", Knock: plan.FormatKnocked(d.Modes)}
		if d.Centre {
			l.How, l.Name = "with the centre", "knock-centre"
		}
		l.Words = strconv.Itoa(d.Taps) + " taps"
		if m.Spread > 0 {
			l.Words += fmt.Sprintf("; the lowest right within %.2g Hz (standard)", m.Spread)
		}
		out = append(out, l)
	}
	return out, nil
}
