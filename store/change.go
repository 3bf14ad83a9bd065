package store

import (
	"context"
	"database/sql"
)

// Change is one line in the record of who changed what.
type Change struct {
	Row
	Address string // that was written to, such as "/lathes/shop"
	Made    string // where the answer led: the page of what was made or changed
}

const (
	changeQuery = "SELECT " + rowColumns + ", address, made FROM changes "
	mostAddress = 500
)

func (c *Change) dest() []any { return c.Row.dest(&c.Address, &c.Made) }

// AddChange adds a line to the record.
func (s *Store) AddChange(ctx context.Context, c Change) error {
	for _, a := range []string{c.Address, c.Made} {
		if err := checkText("address", a, mostAddress); err != nil {
			return err
		}
	}
	var err error
	if c.Row, err = s.stamp(c.Row); err != nil {
		return err
	}
	return s.Update(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO changes ("+rowColumns+", address, made) VALUES ($1, $2, $3, $4, $5, $6)", c.Row.args(c.Address, c.Made)...)
		return err
	})
}

// Changes returns the newest lines of the record, newest first.
func (s *Store) Changes(ctx context.Context, most int) ([]Change, error) {
	return list(ctx, s.read, (*Change).dest, changeQuery+"WHERE shop_id = $1 ORDER BY created_at DESC, id DESC LIMIT $2", s.shop, most)
}
