package store

import (
	"context"
	"database/sql"
	"fmt"
)

const maxDetail = 64 << 10

// Part is a thing that is threaded, as on the drawing. Plans are made for it,
// pieces of it are cut.
type Part struct {
	Row
	Name     string
	Detail   string // drawing number, customer, remarks; free text
	Archived bool   // finished with: left out of lists
	Revision int    // counts edits from 1; an edit names the revision it began from
}

const partQuery = "SELECT " + rowColumns + ", name, detail, archived, revision FROM parts "

func (p *Part) dest() []any {
	return p.Row.dest(&p.Name, &p.Detail, (*dbBool)(&p.Archived), &p.Revision)
}

func (p *Part) check() error {
	if err := checkName("part name", p.Name); err != nil {
		return err
	}
	return checkText("part detail", p.Detail, maxDetail)
}

// AddPart keeps a new part. Sent again under the same id it returns the one that
// is kept.
func (s *Store) AddPart(ctx context.Context, p Part) (Part, error) {
	if err := p.check(); err != nil {
		return Part{}, err
	}
	var err error
	if p.Row, err = s.stamp(p.Row); err != nil {
		return Part{}, err
	}
	p.Revision = 1
	err = s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "INSERT INTO parts ("+rowColumns+", name, detail, archived, revision) VALUES ($1, $2, $3, $4, $5, $6, $7, 1) ON CONFLICT (id) DO NOTHING",
			p.Row.args(p.Name, p.Detail, oneIf(p.Archived))...)
		if err != nil || n == 1 {
			return err
		}
		kept, _, err := first(ctx, tx, (*Part).dest, partQuery+"WHERE id = $1", p.ID)
		if err != nil {
			return err
		}
		// It may have been edited since it was first sent; that is not undone.
		if !kept.Row.same(p.Row) || kept.Revision == 1 && (kept.Name != p.Name || kept.Detail != p.Detail || kept.Archived != p.Archived) {
			return taken("part", p.ID)
		}
		p = kept
		return nil
	})
	if err != nil {
		return Part{}, err
	}
	return p, nil
}

// EditPart changes name, detail and archived of a part. p.Revision is the
// revision the edit began from; when another edit came first, EditPart returns
// Conflict and changes nothing.
func (s *Store) EditPart(ctx context.Context, p Part) (Part, error) {
	if err := p.check(); err != nil {
		return Part{}, err
	}
	var kept Part
	err := s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "UPDATE parts SET name = $1, detail = $2, archived = $3, revision = revision + 1 WHERE id = $4 AND shop_id = $5 AND revision = $6",
			p.Name, p.Detail, oneIf(p.Archived), p.ID, s.shop, p.Revision)
		if err != nil {
			return err
		}
		var ok bool
		kept, ok, err = first(ctx, tx, (*Part).dest, partQuery+"WHERE id = $1 AND shop_id = $2", p.ID, s.shop)
		switch {
		case err != nil:
			return err
		case !ok:
			return notFound("part", p.ID, "")
		case n == 0:
			return conflict("part", kept.Name, fmt.Sprintf("was changed since revision %d was read: it is now at revision %d", p.Revision, kept.Revision), "read it again and repeat the edit")
		}
		return nil
	})
	if err != nil {
		return Part{}, err
	}
	return kept, nil
}

// Part returns one part.
func (s *Store) Part(ctx context.Context, id string) (Part, error) {
	p, ok, err := first(ctx, s.read, (*Part).dest, partQuery+"WHERE id = $1 AND shop_id = $2", id, s.shop)
	if err == nil && !ok {
		err = notFound("part", id, "")
	}
	return p, err
}

// Parts returns the parts, newest first, archived ones only when asked for.
func (s *Store) Parts(ctx context.Context, archived bool) ([]Part, error) {
	return list(ctx, s.read, (*Part).dest, partQuery+"WHERE shop_id = $1 AND archived <= $2 ORDER BY id DESC", s.shop, oneIf(archived))
}

// lockPart keeps other transactions from adding to a part until this one ends.
func (s *Store) lockPart(ctx context.Context, tx *sql.Tx, id string) error {
	n, err := changed(ctx, tx, "UPDATE parts SET revision = revision WHERE id = $1 AND shop_id = $2", id, s.shop)
	if err == nil && n == 0 {
		err = notFound("part", id, "")
	}
	return err
}
