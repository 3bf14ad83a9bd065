package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"strings"
	"time"
)

// MostPollItems is how many crops one poll can hold: 24 make 276 pairs.
const MostPollItems = 24

// Poll is a blind comparison by votes. It is prepared, then open, then closed for
// good. While it is being prepared items may be added and changed; once it is open
// nothing but votes is added.
type Poll struct {
	Row
	Name     string // for the one who asks; visitors never see it
	Asks     string // the question as visitors read it
	Public   string // the id that visitors see; it says nothing about the poll
	Secret   string // from which the addresses of the pictures are made; 64 hexadecimal digits
	TrialID  string // the trial whose samples are compared; empty when there is none
	Baseline string // the two arms, when the items have arms
	Changed  string
	OpenedAt time.Time // zero while it is being prepared
	ClosedAt time.Time // zero until it is closed
	Votes    int       // in the log
	Again    int       // votes that were sent again for a pair already judged, and not counted
}

// Open tells whether votes are taken.
func (p Poll) Open() bool { return !p.OpenedAt.IsZero() && p.ClosedAt.IsZero() }

// Closed tells whether results may be shown.
func (p Poll) Closed() bool { return !p.ClosedAt.IsZero() }

// PollPhoto is a photograph as it was handed in; visitors see crops of it only.
type PollPhoto struct {
	Row
	PollID string
	Name   string
	SHA256 string
	Size   int64
}

// PollItem is one crop that is shown. Two items with the same sample are two looks
// at the same thread, and ought to come out even.
type PollItem struct {
	Row
	PollID  string
	PhotoID string
	Place   int // number of the item, from 0; given by AddPollItem
	Sample  string
	Arm     string  // empty when there are no arms
	MiddleX float64 // middle of the crop, share of the photo's width
	MiddleY float64 // share of its height
	Side    float64 // side of the square, share of the photo's shorter side
	Turn    float64 // degrees by which the photo is turned, clockwise
	SHA256  string  // of the crop, from the moment the poll opens
}

const (
	pollColumns  = rowColumns + ", name, asks, public, secret, trial_id, baseline, changed, opened_at, closed_at, votes, again"
	pollQuery    = "SELECT " + pollColumns + " FROM polls "
	photoColumns = rowColumns + ", poll_id, name, sha256, size"
	itemColumns  = rowColumns + ", poll_id, photo_id, place, sample, arm, middle_x, middle_y, side, turn, sha256"
	itemQuery    = "SELECT " + itemColumns + " FROM poll_items "
)

func (p *Poll) dest() []any {
	return p.Row.dest(&p.Name, &p.Asks, &p.Public, &p.Secret, &p.TrialID, &p.Baseline, &p.Changed,
		(*dbMoment)(&p.OpenedAt), (*dbMoment)(&p.ClosedAt), &p.Votes, &p.Again)
}

func (p *PollPhoto) dest() []any { return p.Row.dest(&p.PollID, &p.Name, &p.SHA256, &p.Size) }

func (i *PollItem) dest() []any {
	return i.Row.dest(&i.PollID, &i.PhotoID, &i.Place, &i.Sample, &i.Arm, &i.MiddleX, &i.MiddleY, &i.Side, &i.Turn, &i.SHA256)
}

// dbMoment reads a time that may not have come yet, kept as an empty text.
type dbMoment time.Time

// Scan implements sql.Scanner.
func (t *dbMoment) Scan(v any) error {
	if v == "" {
		*t = dbMoment{}
		return nil
	}
	return (*dbTime)(t).Scan(v)
}

// secretHex gives n random bytes as hexadecimal digits.
func secretHex(n int) string {
	b := make([]byte, n)
	_, _ = rand.Read(b) // never fails
	return hex.EncodeToString(b)
}

func (p *Poll) check() error {
	if err := checkName("name of the poll", p.Name); err != nil {
		return err
	}
	if err := checkName("question", p.Asks); err != nil {
		return err
	}
	if (p.Baseline == "") != (p.Changed == "") || p.Baseline != "" && p.Baseline == p.Changed {
		return invalid("arms", p.Baseline+" and "+p.Changed, "are not two arms", "name both, or neither")
	}
	if p.Baseline != "" {
		if err := checkName("baseline", p.Baseline); err != nil {
			return err
		}
		if err := checkName("changed arm", p.Changed); err != nil {
			return err
		}
	}
	if p.TrialID != "" {
		return checkID("trial", p.TrialID)
	}
	return nil
}

// AddPoll keeps a new poll, which is then being prepared. Sent again under the same
// id it returns the one that is kept.
func (s *Store) AddPoll(ctx context.Context, p Poll) (Poll, error) {
	if err := p.check(); err != nil {
		return Poll{}, err
	}
	var err error
	if p.Row, err = s.stamp(p.Row); err != nil {
		return Poll{}, err
	}
	if p.Public == "" {
		p.Public = secretHex(12)
	}
	if p.Secret == "" {
		p.Secret = secretHex(32)
	}
	err = s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "INSERT INTO polls ("+rowColumns+", name, asks, public, secret, trial_id, baseline, changed) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) ON CONFLICT (id) DO NOTHING",
			p.Row.args(p.Name, p.Asks, p.Public, p.Secret, p.TrialID, p.Baseline, p.Changed)...)
		if err != nil || n == 1 {
			return err
		}
		kept, _, err := first(ctx, tx, (*Poll).dest, pollQuery+"WHERE id = $1", p.ID)
		if err != nil {
			return err
		}
		if !kept.Row.same(p.Row) || kept.Name != p.Name || kept.Asks != p.Asks || kept.TrialID != p.TrialID || kept.Baseline != p.Baseline || kept.Changed != p.Changed {
			return taken("poll", p.ID)
		}
		p = kept
		return nil
	})
	if err != nil {
		return Poll{}, err
	}
	return p, nil
}

// Poll returns a poll by its id.
func (s *Store) Poll(ctx context.Context, id string) (Poll, error) {
	return s.poll(ctx, s.read, "id", id)
}

// PollByPublic returns a poll by the id that visitors see.
func (s *Store) PollByPublic(ctx context.Context, public string) (Poll, error) {
	return s.poll(ctx, s.read, "public", public)
}

func (s *Store) poll(ctx context.Context, q querier, column, value string) (Poll, error) {
	if strings.IndexByte(value, 0) >= 0 {
		return Poll{}, notFound("poll", "", "")
	}
	p, ok, err := first(ctx, q, (*Poll).dest, pollQuery+"WHERE "+column+" = $1 AND shop_id = $2", value, s.shop)
	if err == nil && !ok {
		err = notFound("poll", value, "")
	}
	return p, err
}

// Polls lists the polls, newest first.
func (s *Store) Polls(ctx context.Context) ([]Poll, error) {
	return list(ctx, s.read, (*Poll).dest, pollQuery+"WHERE shop_id = $1 ORDER BY id DESC", s.shop)
}

// PollsOfTrial lists the polls about a trial's samples, oldest first.
func (s *Store) PollsOfTrial(ctx context.Context, trialID string) ([]Poll, error) {
	return list(ctx, s.read, (*Poll).dest, pollQuery+"WHERE shop_id = $1 AND trial_id = $2 ORDER BY id", s.shop, trialID)
}

// prepared locks a poll and returns it; it must not have been opened yet.
func (s *Store) prepared(ctx context.Context, tx *sql.Tx, id string) (Poll, error) {
	if _, err := changed(ctx, tx, "UPDATE polls SET votes = votes WHERE id = $1 AND shop_id = $2", id, s.shop); err != nil {
		return Poll{}, err
	}
	p, err := s.poll(ctx, tx, "id", id)
	if err == nil && !p.OpenedAt.IsZero() {
		err = conflict("poll", p.Name, "has been opened; its pictures can no longer change", "make a new poll")
	}
	return p, err
}

// AddPollPhoto keeps a photograph for a poll that is being prepared.
func (s *Store) AddPollPhoto(ctx context.Context, p PollPhoto, content io.Reader) (kept PollPhoto, err error) {
	if err := checkName("photo name", p.Name); err != nil {
		return PollPhoto{}, err
	}
	if p.Row, err = s.stamp(p.Row); err != nil {
		return PollPhoto{}, err
	}
	if p.SHA256, p.Size, err = s.blobs.Put(ctx, &limitReader{content, s.maxBlob, s.maxBlob}); err != nil {
		return PollPhoto{}, err
	}
	err = s.Update(ctx, func(tx *sql.Tx) (err error) {
		if _, err := s.prepared(ctx, tx, p.PollID); err != nil {
			return err
		}
		kept, err = insertOnce(ctx, tx, "photo", "poll_photos ("+photoColumns+") VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
			p.Row.args(p.PollID, p.Name, p.SHA256, p.Size), "SELECT "+photoColumns+" FROM poll_photos ", p)
		if err != nil {
			return err
		}
		return s.HasBlob(ctx, p.SHA256)
	})
	return kept, err
}

// PollPhotos lists the photographs of a poll, oldest first.
func (s *Store) PollPhotos(ctx context.Context, pollID string) ([]PollPhoto, error) {
	return list(ctx, s.read, (*PollPhoto).dest, "SELECT "+photoColumns+" FROM poll_photos WHERE poll_id = $1 AND shop_id = $2 ORDER BY id", pollID, s.shop)
}

func (i *PollItem) check() error {
	if err := checkName("sample", i.Sample); err != nil {
		return err
	}
	if i.Arm != "" {
		if err := checkName("arm", i.Arm); err != nil {
			return err
		}
	}
	share := func(v float64) bool { return v >= 0 && v <= 1 }
	if !share(i.MiddleX) || !share(i.MiddleY) || !(i.Side > 0 && i.Side <= 1) {
		return invalid("crop", fmt.Sprintf("%g, %g, %g", i.MiddleX, i.MiddleY, i.Side), "is not within the photo", "middle and side are shares of the photo between 0 and 1")
	}
	if !(math.Abs(i.Turn) <= 180) {
		return invalid("turn", fmt.Sprint(i.Turn), "is not an angle", "degrees between -180 and 180")
	}
	i.MiddleX, i.MiddleY, i.Turn = i.MiddleX+0, i.MiddleY+0, i.Turn+0 // no negative zero
	return nil
}

// AddPollItem adds a crop at the end of a poll that is being prepared.
func (s *Store) AddPollItem(ctx context.Context, i PollItem) (kept PollItem, err error) {
	if err := i.check(); err != nil {
		return PollItem{}, err
	}
	if i.Row, err = s.stamp(i.Row); err != nil {
		return PollItem{}, err
	}
	i.SHA256 = ""
	err = s.Update(ctx, func(tx *sql.Tx) (err error) {
		p, err := s.prepared(ctx, tx, i.PollID)
		if err != nil {
			return err
		}
		if i.Arm != "" && i.Arm != p.Baseline && i.Arm != p.Changed {
			return invalid("arm", i.Arm, "is neither arm of the poll", "leave it empty, or choose one of the two")
		}
		items, err := list(ctx, tx, (*PollItem).dest, itemQuery+"WHERE poll_id = $1 ORDER BY place", i.PollID)
		if err != nil {
			return err
		}
		i.Place = len(items)
		for n, k := range items {
			if k.ID == i.ID {
				i.Place = n
			}
		}
		if i.Place >= MostPollItems {
			return invalid("pictures", fmt.Sprint(i.Place+1), "are more than one poll holds", fmt.Sprintf("at most %d", MostPollItems))
		}
		kept, err = insertOnce(ctx, tx, "picture", "poll_items ("+itemColumns+") VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)",
			i.Row.args(i.PollID, i.PhotoID, i.Place, i.Sample, i.Arm, i.MiddleX, i.MiddleY, i.Side, i.Turn, i.SHA256), itemQuery, i)
		return err
	})
	return kept, err
}

// EditPollItem changes sample, arm and crop of an item by its id, while the poll is
// being prepared.
func (s *Store) EditPollItem(ctx context.Context, i PollItem) error {
	if err := i.check(); err != nil {
		return err
	}
	return s.Update(ctx, func(tx *sql.Tx) error {
		p, err := s.prepared(ctx, tx, i.PollID)
		if err != nil {
			return err
		}
		if i.Arm != "" && i.Arm != p.Baseline && i.Arm != p.Changed {
			return invalid("arm", i.Arm, "is neither arm of the poll", "leave it empty, or choose one of the two")
		}
		n, err := changed(ctx, tx, "UPDATE poll_items SET sample = $1, arm = $2, middle_x = $3, middle_y = $4, side = $5, turn = $6 WHERE id = $7 AND poll_id = $8",
			i.Sample, i.Arm, i.MiddleX, i.MiddleY, i.Side, i.Turn, i.ID, i.PollID)
		if err == nil && n == 0 {
			err = notFound("picture", i.ID, "")
		}
		return err
	})
}

// RemovePollItem takes an item out of a poll that is being prepared; those behind
// it move up.
func (s *Store) RemovePollItem(ctx context.Context, pollID, id string) error {
	return s.Update(ctx, func(tx *sql.Tx) error {
		if _, err := s.prepared(ctx, tx, pollID); err != nil {
			return err
		}
		items, err := list(ctx, tx, (*PollItem).dest, itemQuery+"WHERE poll_id = $1 ORDER BY place", pollID)
		if err != nil {
			return err
		}
		gone := false
		for _, i := range items {
			switch {
			case i.ID == id:
				_, err = tx.ExecContext(ctx, "DELETE FROM poll_items WHERE id = $1", id)
				gone = true
			case gone:
				_, err = tx.ExecContext(ctx, "UPDATE poll_items SET place = place - 1 WHERE id = $1", i.ID)
			}
			if err != nil {
				return err
			}
		}
		if !gone {
			return notFound("picture", id, "")
		}
		return nil
	})
}

// PollItems lists the items of a poll by place.
func (s *Store) PollItems(ctx context.Context, pollID string) ([]PollItem, error) {
	return list(ctx, s.read, (*PollItem).dest, itemQuery+"WHERE poll_id = $1 AND shop_id = $2 ORDER BY place", pollID, s.shop)
}

// OpenPoll opens a poll. crops holds the SHA-256 of the finished crop of each item,
// by place; their content has been put into Blobs before. A key by which visitors
// are told apart is made.
func (s *Store) OpenPoll(ctx context.Context, id string, crops []string) (Poll, error) {
	var p Poll
	err := s.Update(ctx, func(tx *sql.Tx) (err error) {
		if p, err = s.prepared(ctx, tx, id); err != nil {
			return err
		}
		items, err := list(ctx, tx, (*PollItem).dest, itemQuery+"WHERE poll_id = $1 ORDER BY place", id)
		switch {
		case err != nil:
			return err
		case len(items) < 2:
			return invalid("pictures", fmt.Sprint(len(items)), "cannot be compared", "add at least two")
		case len(items) != len(crops):
			return conflict("poll", p.Name, "was changed meanwhile", "look at it again")
		}
		for n, i := range items {
			if !isSHA256(crops[n]) {
				return invalid("crop", crops[n], "is not a SHA-256", "")
			}
			if _, err := tx.ExecContext(ctx, "UPDATE poll_items SET sha256 = $1 WHERE id = $2", crops[n], i.ID); err != nil {
				return err
			}
			if err := s.HasBlob(ctx, crops[n]); err != nil {
				return err
			}
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO poll_keys (poll_id, visitor) VALUES ($1, $2)", id, secretHex(32)); err != nil {
			return err
		}
		p.OpenedAt = s.now().UTC().Truncate(time.Microsecond)
		_, err = tx.ExecContext(ctx, "UPDATE polls SET opened_at = $1 WHERE id = $2", FormatTime(p.OpenedAt), id)
		return err
	})
	return p, err
}

// ClosePoll ends the voting and destroys the key by which visitors were told apart;
// closing again changes nothing. When it returns, every vote that was or will be
// acknowledged is in the log.
func (s *Store) ClosePoll(ctx context.Context, id string) (Poll, error) {
	var p Poll
	err := s.Update(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE polls SET closed_at = $1 WHERE id = $2 AND shop_id = $3 AND opened_at <> '' AND closed_at = ''", FormatTime(s.now()), id, s.shop)
		if err != nil {
			return err
		}
		if p, err = s.poll(ctx, tx, "id", id); err != nil {
			return err
		}
		if !p.Closed() {
			return conflict("poll", p.Name, "is not open", "open it first")
		}
		_, err = tx.ExecContext(ctx, "DELETE FROM poll_keys WHERE poll_id = $1", id)
		return err
	})
	if err == nil && !s.postgres { // the log of SQLite still holds the page with the key
		_, err = s.write.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	}
	return p, err
}

// PollKey returns the key by which visitors of an open poll are told apart. A poll
// that is not open, or that was read back from an archive, has none.
func (s *Store) PollKey(ctx context.Context, id string) (key []byte, err error) {
	text, ok, err := first(ctx, s.read, func(t *string) []any { return []any{t} }, "SELECT visitor FROM poll_keys WHERE poll_id = $1", id)
	if err == nil && !ok {
		err = notFound("key of the poll", id, "a poll read back from an archive cannot go on: close it")
	}
	if err != nil {
		return nil, err
	}
	return hex.DecodeString(text)
}
