package web

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"

	"thrum/job"
	"thrum/plan"
	"thrum/store"
)

// PaperJob is the kind of job that writes a sheet as PDF; its arguments are a
// plan.Request as JSON.
const PaperJob = "paper"

type jobPage struct {
	frame
	Job     job.Status
	Percent int
	Ended   bool
}

// jobAsk asks for the paper of the sheet that the form names.
func (s *Server) jobAsk(w http.ResponseWriter, r *http.Request) {
	if !s.hasQueue(w, r) || !s.sent(w, r) {
		return
	}
	q, err := url.ParseQuery(r.PostForm.Get("query"))
	var p *plan.Plan
	if err == nil {
		p, _, err = s.planOf(r, tidy(q))
	}
	if err != nil || p == nil {
		s.fail(w, r, http.StatusUnprocessableEntity, "This sheet cannot be written", "Go back and complete it first.")
		return
	}
	args, err := json.Marshal(p.Request)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	id, err := s.config.Queue.Enqueue(r.Context(), job.Request{Kind: PaperJob, Arguments: args})
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/jobs/"+url.PathEscape(id), http.StatusSeeOther)
}

func (s *Server) hasQueue(w http.ResponseWriter, r *http.Request) bool {
	if s.config.Queue == nil || s.config.Store == nil {
		s.fail(w, r, http.StatusNotFound, "Nothing is done in the background here", "Print the sheet from its own page.")
		return false
	}
	return true
}

func (s *Server) jobStatus(w http.ResponseWriter, r *http.Request) (job.Status, bool) {
	if !s.hasQueue(w, r) {
		return job.Status{}, false
	}
	st, err := s.config.Queue.Status(r.Context(), r.PathValue("id"))
	switch code := store.CodeOf(err); {
	case code == store.NotFound || code == store.Invalid:
		s.fail(w, r, http.StatusNotFound, "There is no such job", "Ask for the paper again from its sheet.")
		return st, false
	case err != nil:
		s.broken(w, r, err)
		return st, false
	}
	return st, true
}

// jobShow says how far a job is; until it has ended the page asks again by itself.
func (s *Server) jobShow(w http.ResponseWriter, r *http.Request) {
	st, ok := s.jobStatus(w, r)
	if !ok {
		return
	}
	if st.State == job.Done && st.Kind == ListenJob {
		http.Redirect(w, r, "/listen/"+url.PathEscape(st.ID), http.StatusSeeOther)
		return
	}
	ended := st.State == job.Done || st.State == job.Failed
	if !ended {
		w.Header().Set("Refresh", "1")
	}
	s.show(w, r, http.StatusOK, "job", jobPage{s.frame(r, "In the background", ""), st, int(100 * st.Progress), ended})
}

// jobResult sends what a job has made.
func (s *Server) jobResult(w http.ResponseWriter, r *http.Request) {
	st, ok := s.jobStatus(w, r)
	if !ok {
		return
	}
	if st.State != job.Done {
		s.fail(w, r, http.StatusNotFound, "It is not ready", "The job's page says how far it is.")
		return
	}
	content, err := s.config.Store.Blobs().Open(r.Context(), st.SHA256)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	defer content.Close()
	w.Header().Set("Content-Type", st.Media)
	w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", st.Name))
	if _, err := io.Copy(w, content); err != nil {
		s.log.Warn("sending a result", "job", st.ID, "error", err)
	}
}
