package store

import (
	"context"
	"database/sql"
)

// Device is a phone or tablet that was paired with the bench. Its id is what the
// rows that it makes carry as their device.
type Device struct {
	Row
	Name    string // as its owner calls it
	Hash    string // SHA-256 of its secret, 64 hexadecimal digits; the secret itself is not kept
	Role    Role   // Member when empty
	Revoked bool
}

// Role is what a device may do.
type Role string

// An owner may do everything; a member all but let devices in or out and take lathes
// and materials off the shelf; a viewer only looks.
const (
	Owner  Role = "owner"
	Member Role = "member"
	Viewer Role = "viewer"
)

// Roles lists the roles, the one that may do most first.
func Roles() []Role { return []Role{Owner, Member, Viewer} }

func checkRole(r Role) error {
	if r != Owner && r != Member && r != Viewer {
		return invalid("role", string(r), "is not known", "one of owner, member, viewer")
	}
	return nil
}

const deviceQuery = "SELECT " + rowColumns + ", name, token_hash, revoked, role FROM devices "

func (d *Device) dest() []any {
	return d.Row.dest(&d.Name, &d.Hash, (*dbBool)(&d.Revoked), (*string)(&d.Role))
}

// AddDevice keeps a newly paired device.
func (s *Store) AddDevice(ctx context.Context, d Device) (Device, error) {
	if err := checkName("name of the device", d.Name); err != nil {
		return Device{}, err
	}
	if !isSHA256(d.Hash) {
		return Device{}, invalid("secret of the device", "", "is not given by its SHA-256", "")
	}
	if d.Role == "" {
		d.Role = Member
	}
	err := checkRole(d.Role)
	if err != nil {
		return Device{}, err
	}
	if d.Row, err = s.stamp(d.Row); err != nil {
		return Device{}, err
	}
	err = s.Update(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO devices ("+rowColumns+", name, token_hash, revoked, role) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
			d.Row.args(d.Name, d.Hash, oneIf(d.Revoked), string(d.Role))...)
		return err
	})
	if err != nil {
		return Device{}, err
	}
	return d, nil
}

// DeviceByHash returns the device that holds a secret, unless it was revoked.
func (s *Store) DeviceByHash(ctx context.Context, hash string) (Device, error) {
	d, ok, err := first(ctx, s.read, (*Device).dest, deviceQuery+"WHERE token_hash = $1 AND shop_id = $2 AND revoked = 0", hash, s.shop)
	if err == nil && !ok {
		err = notFound("device", "", "pair it with the bench")
	}
	return d, err
}

// Devices lists the devices, oldest first, revoked ones included.
func (s *Store) Devices(ctx context.Context) ([]Device, error) {
	return list(ctx, s.read, (*Device).dest, deviceQuery+"WHERE shop_id = $1 ORDER BY id", s.shop)
}

// RevokeDevice shuts a device out. What it made stays.
func (s *Store) RevokeDevice(ctx context.Context, id string) error {
	return s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "UPDATE devices SET revoked = 1 WHERE id = $1 AND shop_id = $2", id, s.shop)
		if err == nil && n == 0 {
			err = notFound("device", id, "")
		}
		return err
	})
}

// SetRole changes what a device may do, from its next request on.
func (s *Store) SetRole(ctx context.Context, id string, r Role) error {
	if err := checkRole(r); err != nil {
		return err
	}
	return s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "UPDATE devices SET role = $1 WHERE id = $2 AND shop_id = $3", string(r), id, s.shop)
		if err == nil && n == 0 {
			err = notFound("device", id, "")
		}
		return err
	})
}
