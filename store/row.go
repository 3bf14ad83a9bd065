package store

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"thrum/unit"
)

// Row is what every stored thing begins with. Fields left empty are filled in
// by the store: a new id, the shop and device the store was opened for, and the
// time of its clock.
type Row struct {
	ID        string    // UUID version 7, lower case
	Shop      string    // which shop it belongs to
	Device    string    // which phone, bench computer or command made it
	CreatedAt time.Time // UTC, to the microsecond
}

// timeLayout has a fixed width, so that times sort as text.
const timeLayout = "2006-01-02T15:04:05.000000Z"

// FormatTime writes a time as it is kept.
func FormatTime(t time.Time) string { return t.UTC().Format(timeLayout) }

// ParseTime reads a time as it is kept.
func ParseTime(s string) (time.Time, error) { return time.Parse(timeLayout, s) }

// stamp fills the empty fields of r and checks the others.
func (s *Store) stamp(r Row) (Row, error) {
	if r.ID == "" {
		r.ID = s.newID()
	}
	if err := checkID("id", r.ID); err != nil {
		return r, err
	}
	if r.Shop == "" {
		r.Shop = s.shop
	}
	if r.Shop != s.shop {
		return r, invalid("shop", r.Shop, "is not the shop that this store was opened for", "use "+unit.Quote(s.shop))
	}
	if r.Device == "" {
		r.Device = s.device
	}
	if err := checkKey("device", r.Device); err != nil {
		return r, err
	}
	if r.CreatedAt.IsZero() {
		r.CreatedAt = s.now()
	}
	r.CreatedAt = r.CreatedAt.UTC().Truncate(time.Microsecond)
	if y := r.CreatedAt.Year(); y < 1970 || y > 9999 {
		return r, invalid("time", r.CreatedAt.Format(time.RFC3339), "is not between the years 1970 and 9999", "set the clock of the device")
	}
	return r, nil
}

// same tells whether a row sent again is the one that is kept: all but the time
// of making, which the store may have filled in.
func (r Row) same(o Row) bool { return r.ID == o.ID && r.Shop == o.Shop && r.Device == o.Device }

// checkID wants a UUID version 7 in its one canonical spelling.
func checkID(field, id string) error {
	u, err := uuid.Parse(id)
	if err != nil || u.Version() != 7 || u.Variant() != uuid.RFC4122 || u.String() != id {
		return invalid(field, id, "is not a UUID of version 7 in lower case", "leave it empty to have one made")
	}
	return nil
}

// checkKey wants a short word: a shop, a device, a kind.
func checkKey(field, key string) error {
	if key == "" || len(key) > 64 {
		return invalid(field, key, "must have 1 to 64 characters", "")
	}
	for _, c := range key {
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' || c == '_' || c == '.') {
			return invalid(field, key, "may hold only a-z, 0-9, dot, hyphen and underscore", "")
		}
	}
	return nil
}

// checkName wants something a person can read on one line and type again.
func checkName(field, name string) error {
	switch {
	case strings.TrimSpace(name) == "":
		return invalid(field, name, "is empty", "give it a name")
	case name != strings.TrimSpace(name):
		return invalid(field, name, "begins or ends with a space", "leave the space away")
	case len(name) > 200:
		return invalid(field, name, "is longer than 200 bytes", "shorten it")
	case strings.ContainsFunc(name, func(c rune) bool { return c < ' ' || c == 0x7f }):
		return invalid(field, name, "holds a control character", "use letters, figures and signs on one line")
	}
	return checkText(field, name, 200)
}

// checkText wants text that both databases keep byte for byte.
func checkText(field, text string, most int) error {
	switch {
	case len(text) > most:
		return invalid(field, text, fmt.Sprintf("is longer than %d bytes", most), "shorten it")
	case !utf8.ValidString(text):
		return invalid(field, text, "is not valid UTF-8 text", "save it as UTF-8")
	case strings.IndexByte(text, 0) >= 0:
		return invalid(field, text, "holds a NUL character", "save it as UTF-8 text")
	}
	return nil
}
