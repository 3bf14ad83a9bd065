package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thrum/render"
	"thrum/trial"
	"thrum/unit"
)

type gaugePage struct {
	frame
	Table   control
	Faults  []fault
	Finding *trial.GaugeFinding
	Size    string
	Rows    []render.Value
	Studies []gaugeStudy
	Trial   string // where the spread from part to part goes on to; empty without one
}

type gaugeStudy struct {
	Method string
	Rows   []render.Value
}

// gaugeShow judges a way of measuring by repeated readings. Nothing is kept: the
// address holds the table.
func (s *Server) gaugeShow(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query() // not tidied: the lines of the table matter
	page := gaugePage{frame: s.frame(r, "How far to trust the measuring", "trials")}
	in := reader{q: q}
	text := strings.TrimSpace(q.Get("readings"))
	switch {
	case len(text) > mostTyped:
		in.bad("readings", text, "is too long", "some two hundred lines at most here; the command takes more")
	case text != "":
		in.note("readings", func() error { return placed(page.judge(text)) })
	}
	var rest error
	if page.Faults, rest = faultsOf(in.err()); rest != nil {
		s.broken(w, r, rest)
		return
	}
	page.Table = control{Name: "readings", Label: "Readings, one a line", Kind: "area", Value: text, Hint: "bar 1, 8.5 - or with several people: ann, bar 1, 8.5", Faults: page.Faults}
	status := http.StatusOK
	if len(page.Faults) > 0 {
		status = http.StatusUnprocessableEntity
	}
	s.show(w, r, status, "trial_gauge", page)
}

// placed moves the place that a fault in the table has into its reason.
func placed(err error) error {
	var in *unit.InputError
	if errors.As(err, &in) && in.Field != "table" {
		in.Reason += " (" + in.Field + ")"
	}
	return err
}

// mostTyped bounds a table that is typed into the page, in bytes.
const mostTyped = 6000

func (p *gaugePage) judge(text string) error {
	readings, err := trial.ReadReadings(strings.NewReader(text))
	if err != nil {
		return err
	}
	if p.Finding, err = readings.Judge(); err != nil {
		return err
	}
	p.Size, p.Rows = render.GaugeSize(p.Finding), render.GaugeRows(p.Finding)
	for _, s := range p.Finding.Studies {
		p.Studies = append(p.Studies, gaugeStudy{s.Method, render.StudyRows(s)})
	}
	if a := p.Finding.Apart; a.DF > 0 && a.SD > 0 {
		to := url.Values{"spread": {strconv.FormatFloat(a.SD, 'g', 3, 64)}, "spread-df": {strconv.Itoa(a.DF)}}
		p.Trial = "/trials/new?" + to.Encode()
	}
	return nil
}
