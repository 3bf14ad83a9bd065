package store

import "context"

// Part is a thing that is threaded, as on the drawing. Plans are made for it,
// pieces of it are cut.
type Part struct {
	Row
	Name     string
	Detail   string // drawing number, customer, remarks; free text
	Archived bool   // finished with: left out of lists
	Revision int    // counts edits; an edit names the revision it began from
}

// AddPart keeps a new part.
func (s *Store) AddPart(ctx context.Context, p Part) (Part, error) { return Part{}, errSoon }

// EditPart changes name, detail and archived of a part. p.Revision is the
// revision the edit began from; when another edit came first, EditPart returns
// Conflict and changes nothing.
func (s *Store) EditPart(ctx context.Context, p Part) (Part, error) { return Part{}, errSoon }

// Part returns one part.
func (s *Store) Part(ctx context.Context, id string) (Part, error) { return Part{}, errSoon }

// Parts returns the parts, newest first, archived ones only when asked for.
func (s *Store) Parts(ctx context.Context, archived bool) ([]Part, error) { return nil, errSoon }
