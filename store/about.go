package store

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"strings"

	"thrum/unit"
)

const maxNote = 64 << 10

// About says what a note, a measurement or a file belongs to. At least one field
// is set. An event implies its piece, a piece its part: those are filled in, so
// that everything about a part is found by the part. In a search, About asks
// for all that agree with the fields that are set; the zero About finds all.
type About struct {
	PartID   string
	PieceID  string
	EventID  string
	Lathe    string // by name
	SampleID string // of a trial; stands by itself
}

// Note is a remark.
type Note struct {
	Row
	About
	Text string
}

// Measurement is a value read off an instrument, or found by listening to or
// photographing the work.
type Measurement struct {
	Row
	About
	Quantity string  // a short word, such as "over-wires"
	Value    float64 // in Unit
	Unit     string  // such as "mm", "hz"
	Spread   float64 // standard uncertainty in Unit; 0 when not known
	Detail   string  // JSON: instrument, wires, method; or empty
}

const (
	aboutColumns       = "part_id, piece_id, event_id, lathe, sample_id"
	noteColumns        = rowColumns + ", " + aboutColumns + ", body"
	noteQuery          = "SELECT " + noteColumns + " FROM notes "
	measurementColumns = rowColumns + ", " + aboutColumns + ", quantity, reading, unit, spread, detail"
	measurementQuery   = "SELECT " + measurementColumns + " FROM measurements "
)

func (a *About) dest(more ...any) []any {
	return append([]any{(*dbText)(&a.PartID), (*dbText)(&a.PieceID), (*dbText)(&a.EventID), (*dbText)(&a.Lathe), (*dbText)(&a.SampleID)}, more...)
}

func (a *About) args(more ...any) []any {
	return append([]any{null(a.PartID), null(a.PieceID), null(a.EventID), null(a.Lathe), null(a.SampleID)}, more...)
}

func (n *Note) dest() []any { return n.Row.dest(n.About.dest(&n.Text)...) }

func (m *Measurement) dest() []any {
	return m.Row.dest(m.About.dest(&m.Quantity, &m.Value, &m.Unit, &m.Spread, &m.Detail)...)
}

// where turns a into conditions on the columns of the same names.
func (s *Store) where(a About) (string, []any) {
	cond, args := []string{"shop_id = $1"}, []any{s.shop}
	for _, c := range []struct{ column, value string }{
		{"part_id", a.PartID}, {"piece_id", a.PieceID}, {"event_id", a.EventID}, {"lathe", a.Lathe}, {"sample_id", a.SampleID},
	} {
		if c.value != "" {
			args = append(args, c.value)
			cond = append(cond, fmt.Sprintf("%s = $%d", c.column, len(args)))
		}
	}
	return "WHERE " + strings.Join(cond, " AND ") + " ORDER BY id", args
}

// resolve checks what a names and fills in what that implies.
func (s *Store) resolve(ctx context.Context, q querier, a About) (About, error) {
	if a == (About{}) {
		return a, invalid("subject", "", "is empty", "name the part, piece, entry, lathe or sample it belongs to")
	}
	if a.SampleID != "" {
		_, ok, err := first(ctx, q, (*Sample).dest, sampleQuery+"WHERE id = $1 AND shop_id = $2", a.SampleID, s.shop)
		if err == nil && !ok {
			err = notFound("sample", a.SampleID, "")
		}
		if err != nil {
			return a, err
		}
	}
	if a.Lathe != "" {
		if err := checkName("lathe name", a.Lathe); err != nil {
			return a, err
		}
	}
	if a.EventID != "" {
		e, ok, err := first(ctx, q, (*Event).dest, eventQuery+"WHERE id = $1 AND shop_id = $2", a.EventID, s.shop)
		if err := implied(&a.PieceID, e.PieceID, ok, err, "entry", a.EventID); err != nil {
			return a, err
		}
	}
	if a.PieceID != "" {
		p, ok, err := first(ctx, q, (*Piece).dest, pieceQuery+"WHERE id = $1 AND shop_id = $2", a.PieceID, s.shop)
		if err := implied(&a.PartID, p.PartID, ok, err, "piece", a.PieceID); err != nil {
			return a, err
		}
	}
	if a.PartID != "" {
		_, ok, err := first(ctx, q, (*Part).dest, partQuery+"WHERE id = $1 AND shop_id = $2", a.PartID, s.shop)
		if err == nil && !ok {
			err = notFound("part", a.PartID, "")
		}
		return a, err
	}
	return a, nil
}

// implied sets *owner to what a row belongs to, unless the caller said otherwise.
func implied(owner *string, is string, ok bool, err error, what, id string) error {
	switch {
	case err != nil:
		return err
	case !ok:
		return notFound(what, id, "")
	case *owner != "" && *owner != is:
		return invalid(what, id, "belongs to something else than "+unit.Quote(*owner), "leave the other one away")
	}
	*owner = is
	return nil
}

// AddNote keeps a note. Sent again under the same id it returns the one that is
// kept.
func (s *Store) AddNote(ctx context.Context, n Note) (kept Note, err error) {
	if err := checkText("note", n.Text, maxNote); err != nil {
		return Note{}, err
	}
	if strings.TrimSpace(n.Text) == "" {
		return Note{}, invalid("note", n.Text, "is empty", "")
	}
	if n.Row, err = s.stamp(n.Row); err != nil {
		return Note{}, err
	}
	err = s.Update(ctx, func(tx *sql.Tx) (err error) {
		kept = n
		if kept.About, err = s.resolve(ctx, tx, n.About); err != nil {
			return err
		}
		kept, err = insertOnce(ctx, tx, "note", "notes ("+noteColumns+") VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)",
			kept.Row.args(kept.About.args(kept.Text)...), noteQuery, kept)
		return err
	})
	if err != nil {
		return Note{}, err
	}
	return kept, nil
}

// Notes returns notes, oldest first.
func (s *Store) Notes(ctx context.Context, a About) ([]Note, error) {
	where, args := s.where(a)
	return list(ctx, s.read, (*Note).dest, noteQuery+where, args...)
}

func (m *Measurement) check() error {
	if err := checkKey("quantity", m.Quantity); err != nil {
		return err
	}
	if err := checkName("unit", m.Unit); err != nil {
		return err
	}
	if math.IsNaN(m.Value) || math.IsInf(m.Value, 0) {
		return invalid(m.Quantity, fmt.Sprint(m.Value), "is not a finite number", "")
	}
	if !(m.Spread >= 0) || math.IsInf(m.Spread, 0) {
		return invalid("spread of "+m.Quantity, fmt.Sprint(m.Spread), "is not a finite number of 0 or more", "write 0 when it is not known")
	}
	if m.Detail == "" {
		return nil
	}
	return checkJSON("detail of "+m.Quantity, m.Detail, maxDetail)
}

// AddMeasurement keeps a measurement. Sent again under the same id it returns
// the one that is kept.
func (s *Store) AddMeasurement(ctx context.Context, m Measurement) (kept Measurement, err error) {
	m.Value, m.Spread = m.Value+0, m.Spread+0 // no negative zero: it prints differently
	if err := m.check(); err != nil {
		return Measurement{}, err
	}
	if m.Row, err = s.stamp(m.Row); err != nil {
		return Measurement{}, err
	}
	err = s.Update(ctx, func(tx *sql.Tx) (err error) {
		kept = m
		if kept.About, err = s.resolve(ctx, tx, m.About); err != nil {
			return err
		}
		kept, err = insertOnce(ctx, tx, "measurement", "measurements ("+measurementColumns+") VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)",
			kept.Row.args(kept.About.args(kept.Quantity, kept.Value, kept.Unit, kept.Spread, kept.Detail)...), measurementQuery, kept)
		return err
	})
	if err != nil {
		return Measurement{}, err
	}
	return kept, nil
}

// Measurements returns measurements, oldest first.
func (s *Store) Measurements(ctx context.Context, a About) ([]Measurement, error) {
	where, args := s.where(a)
	return list(ctx, s.read, (*Measurement).dest, measurementQuery+where, args...)
}
