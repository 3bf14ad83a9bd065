package store

import (
	"context"
	"database/sql"
	"fmt"
)

const (
	maxEvents    = 10_000 // in one call
	maxEventBody = 64 << 10
)

// Piece is one workpiece on its way to becoming a part: "shaft 3 of 5". What
// happens to it is written into its log.
type Piece struct {
	Row
	PartID string
	Name   string
	Events int // entries in its log so far
}

// Event is one entry in the log of a piece: a pass cut, a gate confirmed, a
// measurement entered, an undo. Entries are added, never changed.
type Event struct {
	Row
	PieceID string
	PlanID  string // the plan revision that was being followed
	Seq     int    // place in the log, from 1; given by Append
	Kind    string // a short word, such as "pass", "undo"
	Undoes  string // id of an earlier entry of the same piece; empty if none
	Body    string // JSON, or empty
}

const (
	pieceQuery = "SELECT " + rowColumns + ", part_id, name, events FROM pieces "
	eventQuery = "SELECT " + rowColumns + ", piece_id, plan_id, seq, kind, undoes, body FROM events "
)

func (p *Piece) dest() []any { return p.Row.dest(&p.PartID, &p.Name, &p.Events) }

func (e *Event) dest() []any {
	return e.Row.dest(&e.PieceID, &e.PlanID, &e.Seq, &e.Kind, (*dbText)(&e.Undoes), &e.Body)
}

// AddPiece keeps a new piece of a part. Sent again under the same id it returns
// the one that is kept.
func (s *Store) AddPiece(ctx context.Context, p Piece) (Piece, error) {
	if err := checkName("piece name", p.Name); err != nil {
		return Piece{}, err
	}
	var err error
	if p.Row, err = s.stamp(p.Row); err != nil {
		return Piece{}, err
	}
	p.Events = 0
	err = s.Update(ctx, func(tx *sql.Tx) error {
		if err := s.lockPart(ctx, tx, p.PartID); err != nil {
			return err
		}
		n, err := changed(ctx, tx, "INSERT INTO pieces ("+rowColumns+", part_id, name) VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (id) DO NOTHING",
			p.Row.args(p.PartID, p.Name)...)
		if err != nil || n == 1 {
			return err
		}
		kept, _, err := first(ctx, tx, (*Piece).dest, pieceQuery+"WHERE id = $1", p.ID)
		if err != nil {
			return err
		}
		if !kept.Row.same(p.Row) || kept.PartID != p.PartID || kept.Name != p.Name {
			return taken("piece", p.ID)
		}
		p = kept
		return nil
	})
	if err != nil {
		return Piece{}, err
	}
	return p, nil
}

// Piece returns one piece.
func (s *Store) Piece(ctx context.Context, id string) (Piece, error) {
	p, ok, err := first(ctx, s.read, (*Piece).dest, pieceQuery+"WHERE id = $1 AND shop_id = $2", id, s.shop)
	if err == nil && !ok {
		err = notFound("piece", id, "")
	}
	return p, err
}

// Pieces returns the pieces of a part, oldest first.
func (s *Store) Pieces(ctx context.Context, partID string) ([]Piece, error) {
	return list(ctx, s.read, (*Piece).dest, pieceQuery+"WHERE part_id = $1 AND shop_id = $2 ORDER BY id", partID, s.shop)
}

// Append adds entries to the log of a piece in the order given, all of them or
// none, and returns them with their places. An entry that is already there is
// left where it is; a different one under the same id is a Conflict.
func (s *Store) Append(ctx context.Context, pieceID string, events ...Event) ([]Event, error) {
	if len(events) > maxEvents {
		return nil, invalid("entries", fmt.Sprint(len(events)), fmt.Sprintf("are more than %d at once", maxEvents), "send them in smaller lots")
	}
	add := make([]Event, len(events))
	for i, e := range events {
		if e.PieceID != "" && e.PieceID != pieceID {
			return nil, invalid("piece of the entry", e.PieceID, "is not the piece whose log this is", "")
		}
		e.PieceID = pieceID
		if err := checkKey("kind of the entry", e.Kind); err != nil {
			return nil, err
		}
		if e.Body != "" {
			if err := checkJSON("entry", e.Body, maxEventBody); err != nil {
				return nil, err
			}
		}
		var err error
		if e.Row, err = s.stamp(e.Row); err != nil {
			return nil, err
		}
		add[i] = e
	}
	var kept []Event
	err := s.Update(ctx, func(tx *sql.Tx) (err error) {
		kept, err = s.appendTx(ctx, tx, pieceID, add)
		return err
	})
	if err != nil {
		return nil, err
	}
	return kept, nil
}

func (s *Store) appendTx(ctx context.Context, tx *sql.Tx, pieceID string, add []Event) ([]Event, error) {
	// Changing the row first makes others wait who would add to the same log.
	n, err := changed(ctx, tx, "UPDATE pieces SET events = events WHERE id = $1 AND shop_id = $2", pieceID, s.shop)
	if err != nil {
		return nil, err
	}
	if n == 0 {
		return nil, notFound("piece", pieceID, "")
	}
	piece, _, err := first(ctx, tx, (*Piece).dest, pieceQuery+"WHERE id = $1", pieceID)
	if err != nil {
		return nil, err
	}
	plans := map[string]bool{}
	kept := make([]Event, 0, len(add))
	for _, e := range add {
		sent, ok, err := first(ctx, tx, (*Event).dest, eventQuery+"WHERE id = $1", e.ID)
		if err != nil {
			return nil, err
		}
		if ok {
			e.Seq, e.CreatedAt = sent.Seq, sent.CreatedAt
			if e != sent {
				return nil, taken("entry", e.ID)
			}
			kept = append(kept, sent)
			continue
		}
		if err := s.checkEvent(ctx, tx, piece, e, plans); err != nil {
			return nil, err
		}
		piece.Events++
		e.Seq = piece.Events
		if _, err := tx.ExecContext(ctx, "INSERT INTO events ("+rowColumns+", piece_id, plan_id, seq, kind, undoes, body) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)",
			e.Row.args(e.PieceID, e.PlanID, e.Seq, e.Kind, null(e.Undoes), e.Body)...); err != nil {
			return nil, err
		}
		kept = append(kept, e)
	}
	_, err = tx.ExecContext(ctx, "UPDATE pieces SET events = $1 WHERE id = $2", piece.Events, pieceID)
	return kept, err
}

// checkEvent wants a plan of the same part and, for an undo, an entry of the
// same log. Plans found good are remembered in plans.
func (s *Store) checkEvent(ctx context.Context, tx *sql.Tx, piece Piece, e Event, plans map[string]bool) error {
	if !plans[e.PlanID] {
		p, ok, err := first(ctx, tx, (*Plan).listDest, "SELECT "+planHead+" FROM plans WHERE id = $1 AND shop_id = $2", e.PlanID, s.shop)
		switch {
		case err != nil:
			return err
		case !ok:
			return notFound("plan", e.PlanID, "an entry names the plan that was being followed")
		case p.PartID != piece.PartID:
			return invalid("plan", e.PlanID, "is for another part than the piece", "")
		}
		plans[e.PlanID] = true
	}
	if e.Undoes == "" {
		return nil
	}
	u, ok, err := first(ctx, tx, (*Event).dest, eventQuery+"WHERE id = $1 AND piece_id = $2", e.Undoes, piece.ID)
	if err == nil && (!ok || u.ID == e.ID) {
		err = notFound("entry to undo", e.Undoes, "an entry can only undo an earlier one of the same piece")
	}
	return err
}

// Events returns the log of a piece from the entry after the given place, 0 for
// all of it.
func (s *Store) Events(ctx context.Context, pieceID string, after int) ([]Event, error) {
	return list(ctx, s.read, (*Event).dest, eventQuery+"WHERE piece_id = $1 AND shop_id = $2 AND seq > $3 ORDER BY seq", pieceID, s.shop, after)
}
