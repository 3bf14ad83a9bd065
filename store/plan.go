package store

import "context"

// Plan is one kept plan of a part. It never changes: reckoning again adds a
// revision.
type Plan struct {
	Row
	PartID   string
	Revision int    // 1, 2, 3 ... within the part; given by AddPlan
	Title    string // one line for lists, such as the thread's callout
	Schema   int    // of Request and Result, as their owner counts it
	Engine   string // version of the program that made it
	Request  string // JSON
	Lathe    string // full copy of the TOML text
	Material string // full copy of the TOML text
	Result   string // JSON
}

// AddPlan keeps a plan as the next revision of its part. Sending the same plan
// with the same id again returns the one that is kept; a different plan under
// that id is a Conflict.
func (s *Store) AddPlan(ctx context.Context, p Plan) (Plan, error) { return Plan{}, errSoon }

// Plan returns one plan by its id.
func (s *Store) Plan(ctx context.Context, id string) (Plan, error) { return Plan{}, errSoon }

// LatestPlan returns the newest revision for a part.
func (s *Store) LatestPlan(ctx context.Context, partID string) (Plan, error) {
	return Plan{}, errSoon
}

// Plans lists the revisions for a part, oldest first, without request, texts
// and result.
func (s *Store) Plans(ctx context.Context, partID string) ([]Plan, error) { return nil, errSoon }
