package store

import "context"

// About says what a note, a measurement or a file belongs to. At least one field
// is set. An event implies its piece, a piece its part: those are filled in, so
// that everything about a part is found by the part. In a search, About asks
// for all that agree with the fields that are set; the zero About finds all.
type About struct {
	PartID  string
	PieceID string
	EventID string
	Lathe   string // by name
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

// AddNote keeps a note.
func (s *Store) AddNote(ctx context.Context, n Note) (Note, error) { return Note{}, errSoon }

// Notes returns notes, oldest first.
func (s *Store) Notes(ctx context.Context, a About) ([]Note, error) { return nil, errSoon }

// AddMeasurement keeps a measurement.
func (s *Store) AddMeasurement(ctx context.Context, m Measurement) (Measurement, error) {
	return Measurement{}, errSoon
}

// Measurements returns measurements, oldest first.
func (s *Store) Measurements(ctx context.Context, a About) ([]Measurement, error) {
	return nil, errSoon
}
