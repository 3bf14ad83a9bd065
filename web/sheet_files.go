package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"thrum/draw"
	"thrum/plan"
	"thrum/render"
)

// planned plans the query of a request, or answers with what is wrong as
// application/problem+json (RFC 9457).
func (s *Server) planned(w http.ResponseWriter, r *http.Request) (*plan.Plan, bool) {
	p, faults, err := s.planOf(r, tidy(r.URL.Query()))
	if err != nil {
		s.broken(w, r, err)
		return nil, false
	}
	if p == nil {
		type one struct {
			Field  string `json:"field"`
			Value  string `json:"value"`
			Reason string `json:"reason"`
			Hint   string `json:"hint,omitempty"`
		}
		body := struct {
			Title  string `json:"title"`
			Status int    `json:"status"`
			Code   string `json:"code"`
			Errors []one  `json:"errors"`
		}{errNoPlan.Error(), http.StatusUnprocessableEntity, "invalid", nil}
		for _, f := range faults {
			body.Errors = append(body.Errors, one(f))
		}
		w.Header().Set("Content-Type", "application/problem+json")
		w.WriteHeader(body.Status)
		_ = json.NewEncoder(w).Encode(body)
		return nil, false
	}
	return p, true
}

func (s *Server) sheetJSON(w http.ResponseWriter, r *http.Request) {
	if p, ok := s.planned(w, r); ok {
		var b bytes.Buffer
		if err := plan.Encode(&b, p); err != nil {
			s.broken(w, r, err)
			return
		}
		send(w, "application/json", b.Bytes())
	}
}

func (s *Server) sheetText(w http.ResponseWriter, r *http.Request) {
	if p, ok := s.planned(w, r); ok {
		var b bytes.Buffer
		if err := render.Sheet(&b, p, render.TextOptions{}); err != nil {
			s.broken(w, r, err)
			return
		}
		send(w, "text/plain; charset=utf-8", b.Bytes())
	}
}

func (s *Server) sheetPDF(w http.ResponseWriter, r *http.Request) {
	if p, ok := s.planned(w, r); ok {
		whole, err := s.planner.MakeWhole(r.Context(), p.Request)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		s.sendPaper(w, r, whole)
	}
}

// sendPaper sends a plan on paper.
func (s *Server) sendPaper(w http.ResponseWriter, r *http.Request, p *plan.Plan) {
	var b bytes.Buffer
	l, err := render.Page(p, render.PageOptions{})
	if err == nil {
		err = l.PDF(&b)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", fileName(p)+".pdf"))
	send(w, "application/pdf", b.Bytes())
}

// sheetSVG sends one page of the paper, the first unless page says otherwise.
func (s *Server) sheetSVG(w http.ResponseWriter, r *http.Request) {
	if p, ok := s.planned(w, r); ok {
		l, err := render.Page(p, render.PageOptions{})
		if err != nil {
			s.broken(w, r, err)
			return
		}
		n, err := strconv.Atoi(r.URL.Query().Get("page"))
		if err != nil || n < 1 {
			n = 1
		}
		light := draw.Light()
		var b bytes.Buffer
		if err := l.SVG(&b, min(n, l.Pages())-1, draw.SVGOptions{Theme: &light}); err != nil {
			s.broken(w, r, err)
			return
		}
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'")
		send(w, "image/svg+xml", b.Bytes())
	}
}

func send(w http.ResponseWriter, media string, data []byte) {
	w.Header().Set("Content-Type", media)
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	_, _ = w.Write(data)
}

// fileName makes a file name of the thread's designation.
func fileName(p *plan.Plan) string {
	name := strings.Map(func(r rune) rune {
		switch {
		case r >= '0' && r <= '9', r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z', r == '-', r == '.':
			return r
		}
		return '-'
	}, p.Thread.Designation)
	return "thread-" + strings.Trim(name, "-.")
}
