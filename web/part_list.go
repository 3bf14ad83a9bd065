package web

import (
	"context"
	"slices"
	"time"

	"thrum/store"
)

// partLine is a part in a list.
type partLine struct {
	ID, Name, Thread string
	Revisions        int
	At               time.Time
}

// partLines lists the parts, those kept last first.
func (s *Server) partLines(ctx context.Context) ([]partLine, error) {
	parts, err := s.config.Store.Parts(ctx, false)
	if err != nil {
		return nil, err
	}
	var out []partLine
	for _, p := range parts {
		line := partLine{ID: p.ID, Name: p.Name, At: p.CreatedAt}
		plans, err := s.config.Store.Plans(ctx, p.ID)
		if err != nil {
			return nil, err
		}
		plans = slices.DeleteFunc(plans, func(p store.Plan) bool { return p.PieceID != "" })
		if n := len(plans); n > 0 {
			line.Thread, line.Revisions, line.At = plans[n-1].Title, n, plans[n-1].CreatedAt
		}
		out = append(out, line)
	}
	return out, nil
}
