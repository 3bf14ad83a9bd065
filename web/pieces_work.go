package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"time"

	"thrum/piece"
	"thrum/plan"
	"thrum/store"
	"thrum/unit"
)

// pieceWork is one workpiece with all that its page shows.
type pieceWork struct {
	piece    store.Piece
	part     store.Part
	log      []piece.Entry
	standing piece.Standing
	chain    []piece.Link
	planID   string    // the plan in force
	planAt   time.Time // when it was made
	plans    []string  // ids of the chain's
	steps    []piece.Step
	table    piece.Table
}

// plan is the plan in force.
func (p *pieceWork) plan() *plan.Plan { return p.chain[len(p.chain)-1].Plan }

// pieceStore is the store as the device that asks writes into it.
func (s *Server) pieceStore(r *http.Request) *store.Store {
	as, err := s.config.Store.As(s.config.Store.Shop(), deviceOf(r))
	if err != nil {
		panic(err) // ids of devices are keys
	}
	return as
}

// openPiece reads a piece and its log and works out where it stands.
func (s *Server) openPiece(ctx context.Context, st *store.Store, id string) (*pieceWork, error) {
	w := &pieceWork{}
	var err error
	if w.piece, err = st.Piece(ctx, id); err != nil {
		return nil, err
	}
	if w.part, err = st.Part(ctx, w.piece.PartID); err != nil {
		return nil, err
	}
	events, err := st.Events(ctx, id, 0)
	if err != nil {
		return nil, err
	}
	for _, e := range events {
		entry, err := entryOf(e)
		if err != nil {
			return nil, err
		}
		w.log = append(w.log, entry)
	}
	if len(w.log) == 0 {
		return nil, &store.Error{Code: store.NotFound, Err: errors.New("this piece was never begun")}
	}
	w.standing = piece.Fold(w.log)
	w.planID = w.log[0].Plan
	if err := s.addLink(ctx, w, w.log[0]); err != nil {
		return nil, err
	}
	for _, e := range w.standing.Plans {
		if err := s.addLink(ctx, w, e); err != nil {
			return nil, err
		}
		w.planID = e.Plan
	}
	w.steps = piece.Steps(w.chain)
	w.table = piece.TableOf(w.chain[0].Plan)
	return w, nil
}

func (s *Server) addLink(ctx context.Context, w *pieceWork, e piece.Entry) error {
	full, err := s.config.Store.Plan(ctx, e.Plan)
	if err != nil {
		return err
	}
	p, err := plan.Decode(bytes.NewReader([]byte(full.Result)))
	if err != nil {
		return err
	}
	w.plans, w.planAt = append(w.plans, e.Plan), full.CreatedAt
	w.chain = append(w.chain, piece.Link{Plan: p, After: e.Body.After, Fresh: e.Body.Fresh, Same: w.timed(e.Body.Cause)})
	return nil
}

// timed tells whether newer air passes were taken by an entry.
func (w *pieceWork) timed(id string) bool {
	e := w.entry(id)
	return e != nil && e.Kind == piece.Timed
}

func entryOf(e store.Event) (piece.Entry, error) {
	out := piece.Entry{ID: e.ID, Kind: e.Kind, Undoes: e.Undoes, Plan: e.PlanID, At: e.CreatedAt, Seq: e.Seq, Device: e.Device}
	if e.Body == "" {
		return out, nil
	}
	return out, json.Unmarshal([]byte(e.Body), &out.Body)
}

// append writes entries into the log and keeps what follows from them: a
// measurement and a note have rows of their own under the entry's id, so that the
// part's page finds them. What is there already stays as it is.
func (s *Server) appendEntries(ctx context.Context, st *store.Store, w *pieceWork, entries []piece.Entry) error {
	known := map[string]piece.Entry{}
	for _, e := range w.log {
		known[e.ID] = e
	}
	var events []store.Event
	for _, e := range entries {
		if have, ok := known[e.ID]; ok { // what belongs beside it may be missing after a power cut
			if err := s.keepBeside(ctx, st, w, have); err != nil {
				return err
			}
			continue
		}
		body, err := e.BodyText()
		if err != nil {
			return err
		}
		ev := store.Event{PlanID: e.Plan, Kind: e.Kind, Undoes: e.Undoes, Body: body}
		ev.ID, ev.CreatedAt = e.ID, e.At
		events = append(events, ev)
	}
	kept, err := st.Append(ctx, w.piece.ID, events...)
	if err != nil {
		return err
	}
	for _, ev := range kept {
		e, err := entryOf(ev)
		if err != nil {
			return err
		}
		if err := s.keepBeside(ctx, st, w, e); err != nil {
			return err
		}
	}
	return nil
}

func (s *Server) keepBeside(ctx context.Context, st *store.Store, w *pieceWork, e piece.Entry) error {
	row := store.Row{ID: e.ID, CreatedAt: e.At, Device: e.Device}
	about := store.About{EventID: e.ID}
	var err error
	switch {
	case e.Kind == piece.Measured && e.Body.Reading > 0 && w.table.Quantity != "":
		_, err = st.AddMeasurement(ctx, store.Measurement{Row: row, About: about, Quantity: w.table.Quantity, Value: e.Body.Reading.MM(), Unit: "mm"})
	case e.Kind == piece.Noted && e.Body.Text != "":
		_, err = st.AddNote(ctx, store.Note{Row: row, About: about, Text: e.Body.Text})
	}
	return err
}

// answer plans the rest anew when a reading or a fresh zero asks for it, and says
// in the log what came of it. One at a time: two devices may send at once.
func (s *Server) answer(ctx context.Context, st *store.Store, id string) (*pieceWork, error) {
	s.answering.Lock()
	defer s.answering.Unlock()
	w, err := s.openPiece(ctx, st, id)
	if err != nil || w.standing.Waiting == nil {
		return w, err
	}
	cause := w.standing.Waiting
	e := piece.Entry{Kind: piece.Replaned, Plan: w.planID, Body: piece.Body{Cause: cause.ID, After: w.standing.Cut, Fresh: w.standing.Fresh}}
	p, err := w.replan()
	switch {
	case err != nil:
		e.Body.Refused = refusal(err)
	default:
		kept, err := s.addPlanFor(ctx, st, w, p, cause.ID)
		if err != nil {
			return nil, err
		}
		e.Plan = kept.ID
	}
	row, err := st.Stamp(store.Row{})
	if err != nil {
		return nil, err
	}
	e.ID, e.At = row.ID, row.CreatedAt
	if err := s.appendEntries(ctx, st, w, []piece.Entry{e}); err != nil {
		return nil, err
	}
	return s.openPiece(ctx, st, id)
}

// addPlanFor keeps the plan of what is left of a piece. It carries the id of the
// entry that it answers, so that answering twice keeps it once.
func (s *Server) addPlanFor(ctx context.Context, st *store.Store, w *pieceWork, p *plan.Plan, id string) (store.Plan, error) {
	row, err := PlanRow(w.part.ID, p)
	if err != nil {
		return store.Plan{}, err
	}
	row.Row, row.PieceID = store.Row{ID: id, Device: localDevice}, w.piece.ID
	return st.AddPlan(ctx, row)
}

func refusal(err error) string {
	var in *unit.InputError
	if errors.As(err, &in) {
		words := in.Reason
		if in.Value != "" {
			words = in.Value + " " + words
		}
		if in.Hint != "" {
			words += "; " + in.Hint
		}
		return short(words, 300)
	}
	return short(err.Error(), 300)
}

// replan plans what is left from the last reading and the last zero.
func (w *pieceWork) replan() (*plan.Plan, error) {
	st := w.standing
	if st.Cut == 0 {
		return nil, &unit.InputError{Reason: "no pass is cut yet", Hint: "touch the blank and set both dials to 0 there"}
	}
	request := w.chain[0].Plan.Request
	if now := w.plan().Request; now.Timing != nil && (request.Timing == nil || *request.Timing != *now.Timing) {
		request.Timing, request.RPM, request.Ending = now.Timing, now.RPM, now.Ending // newer air passes were taken
	}
	state := plan.State{After: st.Cut, FreshZero: st.Fresh, Last: w.pass(st.Cut)}
	if r := st.Reading; r != nil {
		state.Pitch = r.Body.Reading
		if w.table.Quantity == "over-wires" {
			var err error
			if state.Pitch, err = plan.PitchFromWires(request, r.Body.Reading); err != nil {
				return nil, err
			}
		}
	}
	p, err := plan.Replan(request, state)
	if err == nil && len(p.Blocked()) > 0 {
		err = &unit.InputError{Reason: "what is left cannot be cut like this: " + p.Blocked()[0].Text}
	}
	return p, err
}

// pass finds a pass as it was cut: in the newest plan that has it.
func (w *pieceWork) pass(n int) *plan.Pass {
	for _, l := range slices.Backward(w.chain) {
		for i, p := range l.Plan.Passes {
			if p.N == n && l.After < n {
				return &l.Plan.Passes[i]
			}
		}
	}
	return nil
}

// away is how long a piece may lie untouched before the page asks where it stands.
const away = 10 * time.Minute

// view says which of its faces the page shows.
func (w *pieceWork) view(now time.Time) string {
	next := w.standing.Next(w.steps)
	switch {
	case len(w.steps) == 0:
		return "blocked"
	case next == nil:
		return "done"
	case w.standing.Again != "":
		return "again"
	case w.standing.Paused:
		return "back"
	case next.Kind == piece.Cut && now.Sub(w.log[len(w.log)-1].At) > away:
		return "back"
	case w.standing.Waiting != nil && w.standing.Waiting.Kind == piece.Picked:
		return "waits"
	}
	return "step"
}
