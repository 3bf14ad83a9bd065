package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"thrum/draw"
	"thrum/render"
	"thrum/trial"
)

type findingPage struct {
	frame
	ID      string
	Set     trial.Settled
	Words   string
	Report  *trial.Report
	Picture template.HTML
	Answers []render.Answer
	Samples []render.SampleRow
	Sized   bool
	Blocks  string
	Mixed   []trial.Condition // changed together with the factor, or closely
}

// findingShow shows what a trial says so far.
func (s *Server) findingShow(w http.ResponseWriter, r *http.Request) {
	g, ok := s.gathered(w, r)
	if !ok {
		return
	}
	rep, err := g.Record.Report()
	if err != nil {
		s.broken(w, r, err)
		return
	}
	set := g.Record.Settled
	page := findingPage{
		frame: s.frame(r, "Finding: "+g.Trial.Name, "trials"), ID: g.Trial.ID, Set: set, Words: set.Design.Words(set.Factor), Report: rep,
		Answers: render.Answers(rep), Samples: render.SampleRows(rep), Sized: len(rep.Shapes) > 0, Blocks: set.Design.Kind.Block(),
	}
	if rep.Finding != nil {
		page.Picture = svg(render.FindingDots(rep.Finding, draw.Size{W: 110, H: 100}), "dots")
		for _, c := range rep.Finding.Conditions {
			if c.Status == trial.Together || c.Status != trial.OnPurpose && c.Warning != "" && c.R > 0 {
				page.Mixed = append(page.Mixed, c)
			}
		}
	}
	s.show(w, r, http.StatusOK, "trial_finding", page)
}

// findingWriter writes a report in one form.
type findingWriter struct {
	ext, media string
	write      func(b *bytes.Buffer, rep *trial.Report) error
}

// errNoFinding says that there is nothing to draw yet.
var errNoFinding = errors.New("no finding yet")

var (
	findingPDF = findingWriter{"pdf", "application/pdf", func(b *bytes.Buffer, rep *trial.Report) error {
		return render.FindingPage(rep, draw.A4).PDF(b)
	}}
	findingCSV = findingWriter{"csv", "text/csv; charset=utf-8", func(b *bytes.Buffer, rep *trial.Report) error {
		if rep.Finding == nil {
			return errNoFinding
		}
		return trial.WriteCSV(b, rep.Finding.Samples)
	}}
	findingJSON = findingWriter{"json", "application/json", func(b *bytes.Buffer, rep *trial.Report) error {
		e := json.NewEncoder(b)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(rep)
	}}
	findingText = findingWriter{"txt", "text/plain; charset=utf-8", func(b *bytes.Buffer, rep *trial.Report) error { return render.FindingSummary(b, rep) }}
	findingPNG  = findingWriter{"png", "image/png", func(b *bytes.Buffer, rep *trial.Report) error {
		if rep.Finding == nil {
			return errNoFinding
		}
		return render.FindingFigure(rep.Finding).PNG(b, 0, draw.PNGOptions{Transparent: true})
	}}
	findingSVG = findingWriter{"svg", "image/svg+xml", func(b *bytes.Buffer, rep *trial.Report) error {
		if rep.Finding == nil {
			return errNoFinding
		}
		light := draw.Light()
		return render.FindingFigure(rep.Finding).SVG(b, 0, draw.SVGOptions{Theme: &light, Transparent: true})
	}}
)

// findingFile sends the finding as a file.
func (s *Server) findingFile(f findingWriter) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		g, ok := s.gathered(w, r)
		if !ok {
			return
		}
		rep, err := g.Record.Report()
		var b bytes.Buffer
		if err == nil {
			err = f.write(&b, rep)
		}
		if errors.Is(err, errNoFinding) {
			s.fail(w, r, http.StatusNotFound, "There is no finding yet", rep.Waiting)
			return
		}
		if err != nil {
			s.broken(w, r, err)
			return
		}
		w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", plainName(g.Trial.Name)+"."+f.ext))
		send(w, f.media, b.Bytes())
	}
}

// plainName makes a file name of a question.
func plainName(s string) string {
	words := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9') })
	name := strings.Join(words[:min(len(words), 8)], "-")
	if name == "" {
		return "finding"
	}
	return name
}
