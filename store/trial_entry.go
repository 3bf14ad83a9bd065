package store

import (
	"context"
	"database/sql"
)

const maxFacts = 64 << 10

// SampleEntry is one entry in the log of a sample: which plan and piece it was cut
// as, what was written down of the conditions, that it is left out and why. Entries
// are added, never changed; the last of a kind holds.
type SampleEntry struct {
	Row
	SampleID string
	Seq      int    // place in the log, from 1; given by AddSampleEntry
	Kind     string // a short word, such as "cut-as", "conditions"
	PlanID   string // the plan revision it was cut by; empty if none
	PieceID  string // the piece whose log holds the passes as cut; empty if none
	Facts    string // JSON
}

const sampleEntryQuery = "SELECT " + rowColumns + ", sample_id, seq, kind, plan_id, piece_id, facts FROM sample_entries "

func (e *SampleEntry) dest() []any {
	return e.Row.dest(&e.SampleID, &e.Seq, &e.Kind, (*dbText)(&e.PlanID), (*dbText)(&e.PieceID), &e.Facts)
}

// AddSampleEntry adds an entry to the log of a sample. An entry that is already
// there is left where it is; a different one under the same id is a Conflict.
func (s *Store) AddSampleEntry(ctx context.Context, e SampleEntry) (SampleEntry, error) {
	if err := checkKey("kind of the entry", e.Kind); err != nil {
		return SampleEntry{}, err
	}
	if e.Facts == "" {
		e.Facts = "{}"
	}
	if err := checkJSON("entry", e.Facts, maxFacts); err != nil {
		return SampleEntry{}, err
	}
	var err error
	if e.Row, err = s.stamp(e.Row); err != nil {
		return SampleEntry{}, err
	}
	err = s.Update(ctx, func(tx *sql.Tx) (err error) {
		e, err = s.addSampleEntry(ctx, tx, e)
		return err
	})
	if err != nil {
		return SampleEntry{}, err
	}
	return e, nil
}

func (s *Store) addSampleEntry(ctx context.Context, tx *sql.Tx, e SampleEntry) (SampleEntry, error) {
	// Changing the row first makes others wait who would add to the same log.
	n, err := changed(ctx, tx, "UPDATE samples SET entries = entries WHERE id = $1 AND shop_id = $2", e.SampleID, s.shop)
	if err != nil {
		return e, err
	}
	if n == 0 {
		return e, notFound("sample", e.SampleID, "")
	}
	sent, ok, err := first(ctx, tx, (*SampleEntry).dest, sampleEntryQuery+"WHERE id = $1", e.ID)
	if err != nil {
		return e, err
	}
	if ok {
		e.Seq, e.CreatedAt = sent.Seq, sent.CreatedAt
		if e != sent {
			return e, taken("entry", e.ID)
		}
		return sent, nil
	}
	if err := s.checkCutAs(ctx, tx, e); err != nil {
		return e, err
	}
	sample, _, err := first(ctx, tx, (*Sample).dest, sampleQuery+"WHERE id = $1", e.SampleID)
	if err != nil {
		return e, err
	}
	e.Seq = sample.Entries + 1
	if _, err := tx.ExecContext(ctx, "INSERT INTO sample_entries ("+rowColumns+", sample_id, seq, kind, plan_id, piece_id, facts) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)",
		e.Row.args(e.SampleID, e.Seq, e.Kind, null(e.PlanID), null(e.PieceID), e.Facts)...); err != nil {
		return e, err
	}
	_, err = tx.ExecContext(ctx, "UPDATE samples SET entries = $1 WHERE id = $2", e.Seq, e.SampleID)
	return e, err
}

// checkCutAs wants a plan and a piece of this shop and, when both are named, of the
// same part.
func (s *Store) checkCutAs(ctx context.Context, tx *sql.Tx, e SampleEntry) error {
	part := ""
	if e.PlanID != "" {
		p, ok, err := first(ctx, tx, (*Plan).listDest, "SELECT "+planHead+" FROM plans WHERE id = $1 AND shop_id = $2", e.PlanID, s.shop)
		if err != nil {
			return err
		}
		if !ok {
			return notFound("plan", e.PlanID, "")
		}
		part = p.PartID
	}
	if e.PieceID == "" {
		return nil
	}
	p, ok, err := first(ctx, tx, (*Piece).dest, pieceQuery+"WHERE id = $1 AND shop_id = $2", e.PieceID, s.shop)
	switch {
	case err != nil:
		return err
	case !ok:
		return notFound("piece", e.PieceID, "")
	case part != "" && p.PartID != part:
		return invalid("piece", e.PieceID, "belongs to another part than the plan", "choose a plan and a piece of one part")
	}
	return nil
}

// SampleEntries returns the logs of all samples of a trial, sample by sample.
func (s *Store) SampleEntries(ctx context.Context, trialID string) ([]SampleEntry, error) {
	return list(ctx, s.read, (*SampleEntry).dest,
		sampleEntryQuery+"WHERE shop_id = $1 AND sample_id IN (SELECT id FROM samples WHERE trial_id = $2) ORDER BY sample_id, seq", s.shop, trialID)
}

// Evidence is everything that is kept about the samples of a trial, oldest first.
type Evidence struct {
	Entries      []SampleEntry
	Notes        []Note
	Measurements []Measurement
	Files        []File
}

// TrialEvidence returns it in four questions to the database, however many samples
// there are.
func (s *Store) TrialEvidence(ctx context.Context, trialID string) (e Evidence, err error) {
	const of = "WHERE shop_id = $1 AND sample_id IN (SELECT id FROM samples WHERE trial_id = $2) ORDER BY id"
	if e.Entries, err = s.SampleEntries(ctx, trialID); err != nil {
		return e, err
	}
	if e.Notes, err = list(ctx, s.read, (*Note).dest, noteQuery+of, s.shop, trialID); err != nil {
		return e, err
	}
	if e.Measurements, err = list(ctx, s.read, (*Measurement).dest, measurementQuery+of, s.shop, trialID); err != nil {
		return e, err
	}
	e.Files, err = list(ctx, s.read, (*File).dest, fileQuery+of, s.shop, trialID)
	return e, err
}
