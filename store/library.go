package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

const maxTOML = 1 << 20 // a lathe with every change gear it ever had is 20 kB

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

func (t *Text) dest() []any {
	return t.Row.dest(&t.Name, &t.Revision, &t.TOML, (*dbBool)(&t.Removed))
}

func (f Shelf) query(where string) string {
	return "SELECT " + rowColumns + ", name, revision, toml, removed FROM " + f.table + " " + where
}

// Save keeps a text as the next revision of its name. t.Revision says which
// revision it was edited from, 0 for a new name; when that is no longer the
// current one, Save returns Conflict and changes nothing. A text that equals the
// current one is not stored again.
func (f Shelf) Save(ctx context.Context, t Text) (Text, error) {
	if err := checkName(f.what+" name", t.Name); err != nil {
		return Text{}, err
	}
	if err := checkText(f.what, t.TOML, maxTOML); err != nil {
		return Text{}, err
	}
	if strings.TrimSpace(t.TOML) == "" {
		return Text{}, invalid(f.what, t.TOML, "is empty", "to take it off the shelf, remove it")
	}
	t.Removed = false
	return f.add(ctx, t)
}

// Remove takes a name off the shelf; its revisions stay readable. The revision
// is the one that the caller saw.
func (f Shelf) Remove(ctx context.Context, name string, revision int) error {
	if _, err := f.Get(ctx, name); err != nil {
		return err
	}
	_, err := f.add(ctx, Text{Name: name, Revision: revision, Removed: true})
	return err
}

// add writes t as the revision after t.Revision.
func (f Shelf) add(ctx context.Context, t Text) (kept Text, err error) {
	if t.Row, err = f.s.stamp(t.Row); err != nil {
		return Text{}, err
	}
	err = f.s.Update(ctx, func(tx *sql.Tx) error {
		kept = t
		sent, ok, err := first(ctx, tx, (*Text).dest, f.query("WHERE id = $1"), t.ID)
		if err != nil {
			return err
		}
		if ok { // sent twice
			if !sent.Row.same(t.Row) || sent.Name != t.Name || sent.TOML != t.TOML || sent.Removed != t.Removed {
				return taken(f.what, t.ID)
			}
			kept = sent
			return nil
		}
		last, ok, err := first(ctx, tx, (*Text).dest, f.query("WHERE shop_id = $1 AND name = $2 ORDER BY revision DESC LIMIT 1"), f.s.shop, t.Name)
		if err != nil {
			return err
		}
		current := last.Revision
		if last.Removed {
			current = 0
		}
		if t.Revision != current {
			return f.outdated(t.Name, t.Revision, current)
		}
		if ok && !last.Removed && last.TOML == t.TOML && !t.Removed {
			kept = last
			return nil
		}
		kept.Revision = last.Revision + 1
		_, err = tx.ExecContext(ctx, "INSERT INTO "+f.table+" ("+rowColumns+", name, revision, toml, removed) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
			kept.Row.args(kept.Name, kept.Revision, kept.TOML, oneIf(kept.Removed))...)
		return err
	})
	if err != nil {
		return Text{}, err
	}
	return kept, nil
}

// outdated says how an edit and what is stored missed each other.
func (f Shelf) outdated(name string, from, current int) error {
	switch {
	case from == 0:
		return conflict(f.what, name, fmt.Sprintf("is already stored (revision %d)", current), "choose another name, or edit the stored one")
	case current == 0:
		return conflict(f.what, name, "is no longer stored", "save it as a new "+f.what)
	}
	return conflict(f.what, name, fmt.Sprintf("was changed since revision %d was read: it is now at revision %d", from, current), "read it again and repeat the edit")
}

// Get returns the current text, or NotFound with the names that there are.
func (f Shelf) Get(ctx context.Context, name string) (Text, error) {
	t, ok, err := first(ctx, f.s.read, (*Text).dest, f.query("WHERE shop_id = $1 AND name = $2 ORDER BY revision DESC LIMIT 1"), f.s.shop, name)
	if err != nil {
		return Text{}, err
	}
	if !ok || t.Removed {
		return Text{}, f.missing(ctx, name)
	}
	return t, nil
}

// missing is the error for a name that is not there; it lists those that are.
func (f Shelf) missing(ctx context.Context, name string) error {
	all, err := f.List(ctx)
	if err != nil {
		return err
	}
	hint := "no " + f.what + " is stored yet"
	if len(all) > 0 {
		const most = 8
		var names []string
		for _, t := range all[:min(len(all), most)] {
			names = append(names, strconv.Quote(t.Name))
		}
		hint = "stored: " + strings.Join(names, ", ")
		if len(all) > most {
			hint += fmt.Sprintf(" and %d more", len(all)-most)
		}
	}
	return notFound(f.what, name, hint)
}

// Revision returns one revision of a name, current or not.
func (f Shelf) Revision(ctx context.Context, name string, revision int) (Text, error) {
	t, ok, err := first(ctx, f.s.read, (*Text).dest, f.query("WHERE shop_id = $1 AND name = $2 AND revision = $3"), f.s.shop, name, revision)
	if err != nil {
		return Text{}, err
	}
	if !ok {
		return Text{}, notFound(f.what, fmt.Sprintf("%s, revision %d", name, revision), "")
	}
	return t, nil
}

// List returns the current text of every name, sorted by name.
func (f Shelf) List(ctx context.Context) ([]Text, error) {
	all, err := list(ctx, f.s.read, (*Text).dest, f.query("AS t WHERE shop_id = $1 AND removed = 0 AND revision = "+
		"(SELECT MAX(revision) FROM "+f.table+" WHERE shop_id = t.shop_id AND name = t.name)"), f.s.shop)
	// Sorted here, because the two databases sort words differently.
	slices.SortFunc(all, func(a, b Text) int { return strings.Compare(a.Name, b.Name) })
	return all, err
}

// History returns all revisions of a name, oldest first.
func (f Shelf) History(ctx context.Context, name string) ([]Text, error) {
	all, err := list(ctx, f.s.read, (*Text).dest, f.query("WHERE shop_id = $1 AND name = $2 ORDER BY revision"), f.s.shop, name)
	if err == nil && len(all) == 0 {
		return nil, f.missing(ctx, name)
	}
	return all, err
}
