package store

import "context"

// Text is one revision of a lathe or a material: a TOML text under a name.
type Text struct {
	Row
	Name     string
	Revision int    // 1, 2, 3 ...; 0 for a name that is not stored yet
	TOML     string // as written, comments included
	Removed  bool   // the last revision of a name that was taken off the shelf
}

// Shelf is where the lathes or the materials of a shop are kept by name.
type Shelf struct {
	s     *Store
	table string // "lathes", "materials"
	what  string // "lathe", "material"
}

// Lathes are the lathes of the shop.
func (s *Store) Lathes() Shelf { return Shelf{s, "lathes", "lathe"} }

// Materials are the shop's own materials.
func (s *Store) Materials() Shelf { return Shelf{s, "materials", "material"} }

// Save keeps a text as the next revision of its name. t.Revision says which
// revision it was edited from, 0 for a new name; when that is no longer the
// current one, Save returns Conflict and changes nothing. A text that equals the
// current one is not stored again.
func (f Shelf) Save(ctx context.Context, t Text) (Text, error) { return Text{}, errSoon }

// Get returns the current text, or NotFound with the names that there are.
func (f Shelf) Get(ctx context.Context, name string) (Text, error) { return Text{}, errSoon }

// Revision returns one revision of a name, current or not.
func (f Shelf) Revision(ctx context.Context, name string, revision int) (Text, error) {
	return Text{}, errSoon
}

// List returns the current text of every name, sorted by name.
func (f Shelf) List(ctx context.Context) ([]Text, error) { return nil, errSoon }

// History returns all revisions of a name, oldest first.
func (f Shelf) History(ctx context.Context, name string) ([]Text, error) { return nil, errSoon }

// Remove takes a name off the shelf; its revisions stay readable. The revision
// is the one that the caller saw.
func (f Shelf) Remove(ctx context.Context, name string, revision int) error { return errSoon }
