package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"strconv"
)

const (
	maxRequest = 1 << 20
	maxResult  = 32 << 20
)

// Plan is one kept plan of a part. It never changes: reckoning again adds a
// revision.
type Plan struct {
	Row
	PartID   string
	PieceID  string // the piece whose rest it plans; empty for a plan of the whole part
	Revision int    // 1, 2, 3 ... within the part; given by AddPlan
	Title    string // one line for lists, such as the thread's callout
	Schema   int    // of Request and Result, as their owner counts it
	Engine   string // version of the program that made it
	Request  string // JSON
	Lathe    string // full copy of the TOML text
	Material string // full copy of the TOML text
	Result   string // JSON
}

const (
	planHead  = rowColumns + ", part_id, piece_id, revision, title, plan_schema, engine"
	planQuery = "SELECT " + planHead + ", request, lathe_toml, material_toml, result FROM plans "
)

func (p *Plan) head(more ...any) []any {
	return p.Row.dest(append([]any{&p.PartID, &p.PieceID, &p.Revision, &p.Title, &p.Schema, &p.Engine}, more...)...)
}

func (p *Plan) dest() []any { return p.head(&p.Request, &p.Lathe, &p.Material, &p.Result) }

func (p *Plan) listDest() []any { return p.head() }

func (p *Plan) check() error {
	if err := checkName("plan title", p.Title); err != nil {
		return err
	}
	if err := checkName("engine version", p.Engine); err != nil {
		return err
	}
	if p.Schema < 1 {
		return invalid("plan schema", strconv.Itoa(p.Schema), "is not 1 or more", "")
	}
	if err := checkJSON("plan request", p.Request, maxRequest); err != nil {
		return err
	}
	if err := checkText("lathe of the plan", p.Lathe, maxTOML); err != nil {
		return err
	}
	if err := checkText("material of the plan", p.Material, maxTOML); err != nil {
		return err
	}
	return checkJSON("plan result", p.Result, maxResult)
}

// checkJSON wants one JSON value.
func checkJSON(field, text string, most int) error {
	if err := checkText(field, text, most); err != nil {
		return err
	}
	if !json.Valid([]byte(text)) {
		return invalid(field, text, "is not JSON", "")
	}
	return nil
}

// AddPlan keeps a plan as the next revision of its part. Sending the same plan
// with the same id again returns the one that is kept; a different plan under
// that id is a Conflict.
func (s *Store) AddPlan(ctx context.Context, p Plan) (kept Plan, err error) {
	if err := p.check(); err != nil {
		return Plan{}, err
	}
	if p.Row, err = s.stamp(p.Row); err != nil {
		return Plan{}, err
	}
	err = s.Update(ctx, func(tx *sql.Tx) error {
		if err := s.lockPart(ctx, tx, p.PartID); err != nil {
			return err
		}
		sent, ok, err := first(ctx, tx, (*Plan).dest, planQuery+"WHERE id = $1", p.ID)
		if err != nil {
			return err
		}
		if ok {
			kept = sent
			same := p
			same.Revision, same.CreatedAt = sent.Revision, sent.CreatedAt
			if same != sent {
				return taken("plan", p.ID)
			}
			return nil
		}
		if p.PieceID != "" {
			piece, ok, err := first(ctx, tx, (*Piece).dest, pieceQuery+"WHERE id = $1 AND shop_id = $2", p.PieceID, s.shop)
			switch {
			case err != nil:
				return err
			case !ok:
				return notFound("piece", p.PieceID, "")
			case piece.PartID != p.PartID:
				return invalid("piece", p.PieceID, "is of another part than the plan", "")
			}
		}
		last, _, err := first(ctx, tx, (*Plan).listDest, "SELECT "+planHead+" FROM plans WHERE part_id = $1 ORDER BY revision DESC LIMIT 1", p.PartID)
		if err != nil {
			return err
		}
		kept = p
		kept.Revision = last.Revision + 1
		_, err = tx.ExecContext(ctx, "INSERT INTO plans ("+planHead+", request, lathe_toml, material_toml, result) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)",
			kept.Row.args(kept.PartID, kept.PieceID, kept.Revision, kept.Title, kept.Schema, kept.Engine, kept.Request, kept.Lathe, kept.Material, kept.Result)...)
		return err
	})
	if err != nil {
		return Plan{}, err
	}
	return kept, nil
}

// Plan returns one plan by its id.
func (s *Store) Plan(ctx context.Context, id string) (Plan, error) {
	p, ok, err := first(ctx, s.read, (*Plan).dest, planQuery+"WHERE id = $1 AND shop_id = $2", id, s.shop)
	if err == nil && !ok {
		err = notFound("plan", id, "")
	}
	return p, err
}

// LatestPlan returns the newest revision for a part as a whole.
func (s *Store) LatestPlan(ctx context.Context, partID string) (Plan, error) {
	p, ok, err := first(ctx, s.read, (*Plan).dest, planQuery+"WHERE part_id = $1 AND shop_id = $2 AND piece_id = '' ORDER BY revision DESC LIMIT 1", partID, s.shop)
	if err == nil && !ok {
		err = notFound("plan for part", partID, "")
	}
	return p, err
}

// Plans lists the revisions for a part, oldest first, without request, texts
// and result.
func (s *Store) Plans(ctx context.Context, partID string) ([]Plan, error) {
	return list(ctx, s.read, (*Plan).listDest, "SELECT "+planHead+" FROM plans WHERE part_id = $1 AND shop_id = $2 ORDER BY revision", partID, s.shop)
}
