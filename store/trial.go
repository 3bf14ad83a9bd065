package store

import (
	"context"
	"database/sql"
	"fmt"
)

const (
	maxDesign  = 1 << 20
	maxSamples = 10_000 // in one trial
)

// Question is something somebody wants to know, waiting in the queue until it is
// cut for or dropped.
type Question struct {
	Row
	Asks     string // on one line
	Detail   string // who asked, what they see on their lathe; free text
	Closed   bool   // answered or dropped: left out of the queue
	Revision int    // counts edits from 1; an edit names the revision it began from
}

// Trial is a comparison as it was settled before the first cut. It never changes,
// and neither do its samples: a draw that could be mended afterwards would prove
// nothing.
type Trial struct {
	Row
	QuestionID string // empty when it answers none of the queue
	Name       string
	Design     string // JSON; what it means is the business of another package
}

// Sample is one cut of a trial: its place in the order drawn, its arm, and the code
// that is written on it.
type Sample struct {
	Row
	TrialID string
	Run     int // place in the order drawn, from 1
	Block   int // pair, bar or day, from 1
	Arm     string
	Code    string
	Entries int // in its log so far
}

const (
	questionQuery = "SELECT " + rowColumns + ", asks, detail, closed, revision FROM questions "
	trialQuery    = "SELECT " + rowColumns + ", question_id, name, design FROM trials "
	sampleQuery   = "SELECT " + rowColumns + ", trial_id, run, block, arm, code, entries FROM samples "
)

func (q *Question) dest() []any {
	return q.Row.dest(&q.Asks, &q.Detail, (*dbBool)(&q.Closed), &q.Revision)
}

func (t *Trial) dest() []any { return t.Row.dest((*dbText)(&t.QuestionID), &t.Name, &t.Design) }

func (s *Sample) dest() []any {
	return s.Row.dest(&s.TrialID, &s.Run, &s.Block, &s.Arm, &s.Code, &s.Entries)
}

func (q *Question) check() error {
	if err := checkName("question", q.Asks); err != nil {
		return err
	}
	return checkText("detail of the question", q.Detail, maxDetail)
}

// AddQuestion puts a question into the queue. Sent again under the same id it
// returns the one that is kept.
func (s *Store) AddQuestion(ctx context.Context, q Question) (Question, error) {
	if err := q.check(); err != nil {
		return Question{}, err
	}
	var err error
	if q.Row, err = s.stamp(q.Row); err != nil {
		return Question{}, err
	}
	q.Revision = 1
	err = s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "INSERT INTO questions ("+rowColumns+", asks, detail, closed, revision) VALUES ($1, $2, $3, $4, $5, $6, $7, 1) ON CONFLICT (id) DO NOTHING",
			q.Row.args(q.Asks, q.Detail, oneIf(q.Closed))...)
		if err != nil || n == 1 {
			return err
		}
		kept, _, err := first(ctx, tx, (*Question).dest, questionQuery+"WHERE id = $1", q.ID)
		if err != nil {
			return err
		}
		if !kept.Row.same(q.Row) || kept.Revision == 1 && (kept.Asks != q.Asks || kept.Detail != q.Detail || kept.Closed != q.Closed) {
			return taken("question", q.ID)
		}
		q = kept
		return nil
	})
	if err != nil {
		return Question{}, err
	}
	return q, nil
}

// EditQuestion changes a question. q.Revision is the revision the edit began from;
// when another edit came first, it returns Conflict and changes nothing.
func (s *Store) EditQuestion(ctx context.Context, q Question) (Question, error) {
	if err := q.check(); err != nil {
		return Question{}, err
	}
	var kept Question
	err := s.Update(ctx, func(tx *sql.Tx) error {
		n, err := changed(ctx, tx, "UPDATE questions SET asks = $1, detail = $2, closed = $3, revision = revision + 1 WHERE id = $4 AND shop_id = $5 AND revision = $6",
			q.Asks, q.Detail, oneIf(q.Closed), q.ID, s.shop, q.Revision)
		if err != nil {
			return err
		}
		var ok bool
		kept, ok, err = first(ctx, tx, (*Question).dest, questionQuery+"WHERE id = $1 AND shop_id = $2", q.ID, s.shop)
		switch {
		case err != nil:
			return err
		case !ok:
			return notFound("question", q.ID, "")
		case n == 0:
			return conflict("question", kept.Asks, fmt.Sprintf("was changed since revision %d was read: it is now at revision %d", q.Revision, kept.Revision), "read it again and repeat the edit")
		}
		return nil
	})
	if err != nil {
		return Question{}, err
	}
	return kept, nil
}

// Question returns one question.
func (s *Store) Question(ctx context.Context, id string) (Question, error) {
	q, ok, err := first(ctx, s.read, (*Question).dest, questionQuery+"WHERE id = $1 AND shop_id = $2", id, s.shop)
	if err == nil && !ok {
		err = notFound("question", id, "")
	}
	return q, err
}

// Questions returns the queue, oldest first, closed ones only when asked for.
func (s *Store) Questions(ctx context.Context, closed bool) ([]Question, error) {
	return list(ctx, s.read, (*Question).dest, questionQuery+"WHERE shop_id = $1 AND closed <= $2 ORDER BY id", s.shop, oneIf(closed))
}

// AddTrial keeps a trial together with its samples, all or nothing. Sent again
// under the same id with the same content it returns what is kept; a different
// trial under that id is a Conflict: no draw is ever replaced.
func (s *Store) AddTrial(ctx context.Context, t Trial, samples []Sample) (Trial, []Sample, error) {
	if err := checkTrial(t, samples); err != nil {
		return Trial{}, nil, err
	}
	var err error
	if t.Row, err = s.stamp(t.Row); err != nil {
		return Trial{}, nil, err
	}
	add := make([]Sample, len(samples))
	for i, x := range samples {
		x.TrialID, x.Run, x.Entries = t.ID, i+1, 0
		if x.Row, err = s.stamp(x.Row); err != nil {
			return Trial{}, nil, err
		}
		add[i] = x
	}
	kept := add
	err = s.Update(ctx, func(tx *sql.Tx) error {
		if t.QuestionID != "" {
			_, ok, err := first(ctx, tx, (*Question).dest, questionQuery+"WHERE id = $1 AND shop_id = $2", t.QuestionID, s.shop)
			if err != nil {
				return err
			}
			if !ok {
				return notFound("question", t.QuestionID, "")
			}
		}
		n, err := changed(ctx, tx, "INSERT INTO trials ("+rowColumns+", question_id, name, design) VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (id) DO NOTHING",
			t.Row.args(null(t.QuestionID), t.Name, t.Design)...)
		if err != nil {
			return err
		}
		if n == 0 {
			t, kept, err = s.trialAgain(ctx, tx, t, add)
			return err
		}
		for _, x := range add {
			if _, err := tx.ExecContext(ctx, "INSERT INTO samples ("+rowColumns+", trial_id, run, block, arm, code) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
				x.Row.args(x.TrialID, x.Run, x.Block, x.Arm, x.Code)...); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Trial{}, nil, err
	}
	return t, kept, nil
}

// trialAgain compares a trial that is sent again with the one that is kept.
func (s *Store) trialAgain(ctx context.Context, tx *sql.Tx, sent Trial, samples []Sample) (Trial, []Sample, error) {
	kept, _, err := first(ctx, tx, (*Trial).dest, trialQuery+"WHERE id = $1", sent.ID)
	if err != nil {
		return Trial{}, nil, err
	}
	sent.CreatedAt = kept.CreatedAt
	drawn, err := list(ctx, tx, (*Sample).dest, sampleQuery+"WHERE trial_id = $1 ORDER BY run", sent.ID)
	if err != nil {
		return Trial{}, nil, err
	}
	same := kept == sent && len(drawn) == len(samples)
	for i := range drawn {
		same = same && drawn[i].Block == samples[i].Block && drawn[i].Arm == samples[i].Arm && drawn[i].Code == samples[i].Code
	}
	if !same {
		return Trial{}, nil, taken("trial", sent.ID)
	}
	return kept, drawn, nil
}

func checkTrial(t Trial, samples []Sample) error {
	if err := checkName("name of the trial", t.Name); err != nil {
		return err
	}
	if err := checkJSON("design of the trial", t.Design, maxDesign); err != nil {
		return err
	}
	if len(samples) < 2 || len(samples) > maxSamples {
		return invalid("samples", fmt.Sprint(len(samples)), fmt.Sprintf("is not a number of samples from 2 to %d", maxSamples), "")
	}
	codes := map[string]bool{}
	for _, x := range samples {
		if err := checkName("arm", x.Arm); err != nil {
			return err
		}
		if err := checkName("code", x.Code); err != nil {
			return err
		}
		if x.Block < 1 {
			return invalid("block", fmt.Sprint(x.Block), "is not a number from 1", "use 1 when there are no blocks")
		}
		if codes[x.Code] {
			return invalid("code", x.Code, "is given to two samples", "")
		}
		codes[x.Code] = true
	}
	return nil
}

// Trial returns one trial.
func (s *Store) Trial(ctx context.Context, id string) (Trial, error) {
	t, ok, err := first(ctx, s.read, (*Trial).dest, trialQuery+"WHERE id = $1 AND shop_id = $2", id, s.shop)
	if err == nil && !ok {
		err = notFound("trial", id, "")
	}
	return t, err
}

// Trials returns the trials, newest first.
func (s *Store) Trials(ctx context.Context) ([]Trial, error) {
	return list(ctx, s.read, (*Trial).dest, trialQuery+"WHERE shop_id = $1 ORDER BY id DESC", s.shop)
}

// Samples returns the samples of a trial in the order drawn.
func (s *Store) Samples(ctx context.Context, trialID string) ([]Sample, error) {
	return list(ctx, s.read, (*Sample).dest, sampleQuery+"WHERE trial_id = $1 AND shop_id = $2 ORDER BY run", trialID, s.shop)
}
