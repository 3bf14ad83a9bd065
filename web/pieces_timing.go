package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"time"

	"thrum/lathe"
	"thrum/piece"
	"thrum/plan"
	"thrum/store"
	"thrum/unit"
)

// newTiming is a set of air passes that was measured after the plan in force was
// made, and that it does not know.
type newTiming struct {
	At       time.Time
	Operator string
	Timing   plan.Timing
	Before   string // what the plan in force rests on
	Now      string
}

// laterTiming finds the newest set of air passes at the lathe of a piece; nil when
// the plan in force has it, or is younger.
func (s *Server) laterTiming(ctx context.Context, w *pieceWork) (*newTiming, error) {
	name, err := s.latheOf(ctx, w.plan().Request.Lathe)
	if err != nil || name == "" || len(w.steps) == 0 {
		return nil, err
	}
	sets, err := s.library.airSets(ctx, name)
	if err != nil || len(sets) == 0 {
		return nil, err
	}
	newest, has := sets[0], w.plan().Request.Timing
	if has != nil && *has == newest.Timing || has != nil && newest.At.Before(w.planAt) {
		return nil, nil
	}
	t := &newTiming{newest.At, newest.Operator, newest.Timing, "assumed timing, nothing measured", timingWords(newest.Timing)}
	if has != nil {
		t.Before = timingWords(*has)
	}
	return t, nil
}

func timingWords(t plan.Timing) string {
	return fmt.Sprintf("%d air passes: %.2f s late on average, spread %.2f s, %d missed", t.Passes, t.Mean.S(), t.Spread.S(), t.Lapses)
}

// latheOf finds the name under which the lathe of a plan is kept: by its text, or when
// the text was changed since by the lathe's own name.
func (s *Server) latheOf(ctx context.Context, text string) (string, error) {
	own, err := lathe.Parse("lathe", []byte(text))
	if err != nil {
		return "", nil // a plan of an older kind: no lathe to find
	}
	names, err := s.library.latheNames(ctx)
	if err != nil {
		return "", err
	}
	found := ""
	for _, name := range names {
		other, err := s.library.lathe(ctx, name)
		if err != nil {
			return "", err
		}
		if other == text {
			return name, nil
		}
		if la, err := lathe.Parse(name, []byte(other)); err == nil && la.Name == own.Name {
			found = name
		}
	}
	return found, nil
}

// withTiming is the plan in force with what follows from another timing: the room that
// the ending needs, its risk, the hazards. Speed, ending, gears, zero and every pass
// stay as they are; so do the passes that are cut.
func (w *pieceWork) withTiming(t plan.Timing) (*plan.Plan, error) {
	now := w.plan()
	request := now.Request
	request.Timing, request.RPM, request.Ending = &t, now.Speed.RPM, now.Stopping.Method
	fresh, err := plan.Make(request)
	if err != nil {
		return nil, err
	}
	if b := fresh.Blocked(); len(b) > 0 {
		return nil, &unit.InputError{Reason: "with these air passes the set-up is blocked: " + b[0].Text, Hint: "do not cut on by the old figures; end the passes another way, or slower, from the part's page"}
	}
	out := *now
	out.Request, out.Stopping, out.Hazards = request, fresh.Stopping, fresh.Hazards
	out.Passes = slices.DeleteFunc(slices.Clone(now.Passes), func(p plan.Pass) bool { return p.N <= w.standing.Cut })
	return &out, nil
}

// pieceTiming takes a newer set of air passes into the plan of a piece.
func (s *Server) pieceTiming(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	s.answering.Lock()
	defer s.answering.Unlock()
	work, st, ok := s.onePiece(w, r)
	if !ok {
		return
	}
	back := "/pieces/" + url.PathEscape(work.piece.ID)
	later, err := s.laterTiming(r.Context(), work)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if later == nil { // taken already, or sent twice
		http.Redirect(w, r, back, http.StatusSeeOther)
		return
	}
	if work.standing.Again != "" || work.standing.Waiting != nil {
		s.showPiece(w, r, st, work, http.StatusUnprocessableEntity, "Finish what the page asks for first, then take the air passes.", "")
		return
	}
	p, err := work.withTiming(later.Timing)
	if err != nil {
		s.showPiece(w, r, st, work, http.StatusUnprocessableEntity, refusal(err)+".", "")
		return
	}
	if err := s.takeTiming(r, st, work, p, later); err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, back, http.StatusSeeOther)
}

// takeTiming keeps the plan and writes both entries: what was taken, and the plan that
// follows from it.
func (s *Server) takeTiming(r *http.Request, st *store.Store, work *pieceWork, p *plan.Plan, t *newTiming) error {
	taken, err := st.Stamp(store.Row{})
	if err != nil {
		return err
	}
	kept, err := s.addPlanFor(r.Context(), st, work, p, taken.ID)
	if err != nil {
		return err
	}
	row, err := st.Stamp(store.Row{})
	if err != nil {
		return err
	}
	now := s.config.Now()
	return s.appendEntries(r.Context(), st, work, []piece.Entry{
		{ID: taken.ID, Kind: piece.Timed, Plan: work.planID, At: now, Body: piece.Body{After: work.standing.Cut, Text: t.Now}},
		{ID: row.ID, Kind: piece.Replaned, Plan: kept.ID, At: now, Body: piece.Body{Cause: taken.ID, After: work.standing.Cut}},
	})
}
