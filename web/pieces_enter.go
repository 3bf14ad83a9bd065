package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"thrum/piece"
	"thrum/store"
)

// pieceEnter writes one entry from a form, and goes back to the page. The form
// carries the entry's id: sent twice it is written once.
func (s *Server) pieceEnter(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	e, fault := work.entryFrom(r.PostForm)
	if fault != "" {
		s.showPiece(w, r, st, work, http.StatusUnprocessableEntity, fault, short(r.PostForm.Get("reading"), 40))
		return
	}
	if e == nil { // nothing new: a page from before sent it
		http.Redirect(w, r, "/pieces/"+url.PathEscape(work.piece.ID), http.StatusSeeOther)
		return
	}
	e.At = s.config.Now()
	err := s.appendEntries(r.Context(), st, work, []piece.Entry{*e})
	if err == nil {
		_, err = s.answer(r.Context(), st, work.piece.ID)
	}
	switch store.CodeOf(err) {
	case store.Invalid, store.NotFound, store.Conflict:
		s.showPiece(w, r, st, work, http.StatusUnprocessableEntity, "That could not be kept: "+err.Error(), "")
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/pieces/"+url.PathEscape(work.piece.ID), http.StatusSeeOther)
}

// entryFrom reads a form. Nil without a fault: the page was an old one and what it
// asks for has happened already.
func (w *pieceWork) entryFrom(f url.Values) (e *piece.Entry, fault string) {
	e = &piece.Entry{ID: f.Get("id"), Kind: f.Get("kind"), Plan: w.planID}
	for _, have := range w.log {
		if have.ID == e.ID {
			return nil, ""
		}
	}
	next := w.standing.Next(w.steps)
	switch e.Kind {
	case piece.Did:
		e.Body.Step = f.Get("step")
		if next == nil || e.Body.Step != next.ID {
			return nil, ""
		}
		if w.standing.Again != "" {
			return nil, "Pick the thread up again first: " + w.standing.Again + "."
		}
		if len(f["sure"]) < len(next.Sure) {
			return nil, "Tick what was checked: " + strings.Join(next.Sure, "; ") + "."
		}
	case piece.Undid:
		e.Undoes = f.Get("undoes")
		if w.standing.Last == nil || w.standing.Last.ID != e.Undoes {
			return nil, ""
		}
	case piece.Measured:
		l, err := w.table.Parse(f.Get("reading"), w.plan().Request.Units)
		if err != nil {
			return nil, "The reading: " + refusal(err) + "."
		}
		e.Body.Reading, e.Body.Typed = l, short(f.Get("reading"), 40)
	case piece.Noted:
		if e.Body.Text = strings.TrimSpace(f.Get("text")); e.Body.Text == "" || len(e.Body.Text) > mostNote {
			return nil, fmt.Sprintf("Write something, at most %d letters.", mostNote)
		}
	case piece.Checked, piece.Resumed:
		e.Body.What, e.Body.Found = f.Get("what"), f.Get("found")
	case piece.Paused, piece.Picked:
	default:
		return nil, "That is nothing that can be entered here."
	}
	e.Body.After = w.standing.Cut
	return e, known(*e)
}

// known checks the words of an entry.
func known(e piece.Entry) (fault string) {
	found := e.Body.What + " " + e.Body.Found
	switch e.Kind {
	case piece.Checked:
		switch found {
		case "tip good", "tip bad", "slip good", "slip bad", "count bad":
			return ""
		}
	case piece.Resumed:
		switch found {
		case "compound moved", "compound not-moved", "compound unsure":
			return ""
		}
	case piece.Did, piece.Undid, piece.Measured, piece.Noted, piece.Paused, piece.Picked, piece.Recorded:
		return ""
	}
	return "That is nothing that can be entered here."
}

// mostSync is the most entries that are taken at once; a phone sends the rest next.
const mostSync = 500

// syncAsk is what a phone sends: what it has and the bench has not confirmed.
type syncAsk struct {
	After   int           `json:"after"` // place of the last entry that it knows
	Entries []piece.Entry `json:"entries"`
}

// syncAnswer holds the entries after that place, those just sent among them.
type syncAnswer struct {
	Entries []piece.Entry `json:"entries"`
	Plan    string        `json:"plan"` // the plan in force: another than before means new steps
}

// pieceSync takes entries from a phone and gives those that it lacks. An entry that
// is there already is left alone, so a phone that heard no answer sends again.
func (s *Server) pieceSync(w http.ResponseWriter, r *http.Request) {
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	var ask syncAsk
	if err := json.NewDecoder(r.Body).Decode(&ask); err != nil {
		problem(w, http.StatusBadRequest, "the entries could not be read: "+err.Error())
		return
	}
	if len(ask.Entries) > mostSync {
		problem(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("send at most %d entries at once", mostSync))
		return
	}
	now := s.config.Now()
	for i := range ask.Entries {
		e := &ask.Entries[i]
		if fault := known(*e); fault != "" {
			problem(w, http.StatusUnprocessableEntity, fmt.Sprintf("entry %d, %q: %s", i+1, short(e.Kind, 20), fault))
			return
		}
		e.Body.Text, e.Body.Typed = short(e.Body.Text, mostNote), short(e.Body.Typed, 40)
		if e.At.Before(now.Add(-365*24*time.Hour)) || e.At.After(now.Add(time.Hour)) {
			e.At = now // the phone's clock is wrong
		}
	}
	err := s.appendEntries(r.Context(), st, work, ask.Entries)
	if err == nil {
		work, err = s.answer(r.Context(), st, work.piece.ID)
	}
	var coded *store.Error
	if errors.As(err, &coded) {
		status := map[store.Code]int{store.Conflict: http.StatusConflict}[coded.Code]
		if status == 0 {
			status = http.StatusUnprocessableEntity
		}
		problem(w, status, coded.Error())
		return
	}
	if err != nil {
		s.log.Error("sync failed", "path", r.URL.Path, "error", err)
		problem(w, http.StatusInternalServerError, "the bench could not keep it; it stays on this device and is sent again")
		return
	}
	answer := syncAnswer{Plan: work.planID, Entries: []piece.Entry{}}
	for _, e := range work.log {
		if e.Seq > ask.After {
			answer.Entries = append(answer.Entries, e)
		}
	}
	b, err := json.Marshal(answer)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	send(w, "application/json", b)
}

func problem(w http.ResponseWriter, status int, words string) {
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(map[string]any{"status": status, "title": words})
}
