package store

import "context"

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

// AddPiece keeps a new piece.
func (s *Store) AddPiece(ctx context.Context, p Piece) (Piece, error) { return Piece{}, errSoon }

// Piece returns one piece.
func (s *Store) Piece(ctx context.Context, id string) (Piece, error) { return Piece{}, errSoon }

// Pieces returns the pieces of a part, oldest first.
func (s *Store) Pieces(ctx context.Context, partID string) ([]Piece, error) { return nil, errSoon }

// Append adds entries to the log of a piece in the order given, all of them or
// none, and returns them with their places. An entry that is already there is
// left where it is; a different one under the same id is a Conflict.
func (s *Store) Append(ctx context.Context, pieceID string, events ...Event) ([]Event, error) {
	return nil, errSoon
}

// Events returns the log of a piece from the entry after the given place, 0 for
// all of it.
func (s *Store) Events(ctx context.Context, pieceID string, after int) ([]Event, error) {
	return nil, errSoon
}
