package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"
	"sync"
	"time"
)

// JudgeGroups is the number of groups into which judges fall by a hash of their
// name. The tallies are kept a group at a time, so that each group can be left out
// in turn: judges, not votes, are what is independent.
const JudgeGroups = 100

// Outcome says which side was preferred.
type Outcome int

// The three outcomes of a look at two crops.
const (
	Tie Outcome = iota
	LeftBetter
	RightBetter
)

// Vote is one judgement of two items. Entries are added, never changed.
type Vote struct {
	Row
	PollID  string
	Judge   string // a keyed hash of the visitor's cookie
	Left    int    // place of the item that was shown on the left
	Right   int
	Again   bool // the pair was shown to this judge a second time, to see whether the answer holds; not tallied
	Outcome Outcome
	Chosen  string        // why this pair: a short word such as "random", "adaptive", "control"
	Took    time.Duration // from showing to voting, whole milliseconds
}

// Tally counts the votes of one group of judges on one pair, one way round.
type Tally struct {
	Group                     int // 0 to JudgeGroups-1
	Left, Right               int
	LeftWins, RightWins, Ties int
}

const (
	voteColumns = rowColumns + ", poll_id, judge, pair, again, left_item, right_item, outcome, chosen, took_ms"
	mostWaiting = 20_000 // votes waiting for a commit; more are turned away
	mostBatch   = 1000   // votes in one commit

	// Rows in one statement. Across a wire few long statements are quicker; in the
	// process short ones are, since SQLite looks placeholders up one by one.
	rowsByWire = 64
	rowsHere   = 8
)

// ErrBusy is returned when more votes wait than can be written in good time.
var ErrBusy = errors.New("too many votes are waiting to be written")

// JudgeGroup is the group of a judge.
func JudgeGroup(judge string) int {
	h := fnv.New32a()
	_, _ = h.Write([]byte(judge))
	return int(h.Sum32() % JudgeGroups)
}

// pair is the same number whichever item is on the left.
func (v Vote) pair() int { return min(v.Left, v.Right)*1000 + max(v.Left, v.Right) }

// ballots gathers the votes that wait, so that many share one transaction. One
// goroutine writes while there are any; it ends when none are left.
type ballots struct {
	mu      sync.Mutex
	waiting []ballot
	writing bool
	closed  bool
	done    sync.WaitGroup

	ready map[string]*sql.Stmt // statements of SQLite, parsed once; only the writing goroutine uses it
}

// lotRows is how many rows one statement writes.
func (s *Store) lotRows() int {
	if s.postgres {
		return rowsByWire
	}
	return rowsHere
}

// prepareLots parses the statements that the writing goroutine runs most, before it
// holds the one connection in a transaction. (The driver of PostgreSQL does so by
// itself.)
func (s *Store) prepareLots(ctx context.Context) error {
	b := s.ballots
	if s.postgres || b.ready != nil {
		return nil
	}
	ready := map[string]*sql.Stmt{}
	for n := 1; n <= rowsHere; n++ {
		for _, query := range []string{insertVotesQuery(n), addTalliesQuery(n)} {
			st, err := s.write.PrepareContext(ctx, query)
			if err != nil {
				return err
			}
			ready[query] = st
		}
	}
	b.ready = ready
	return nil
}

// lotQuery runs a statement in the transaction, parsed before where it can be.
func (s *Store) lotQuery(ctx context.Context, tx *sql.Tx, query string, args []any) (*sql.Rows, error) {
	if st := s.ballots.ready[query]; st != nil {
		return tx.StmtContext(ctx, st).QueryContext(ctx, args...)
	}
	return tx.QueryContext(ctx, query, args...)
}

func (s *Store) lotExec(ctx context.Context, tx *sql.Tx, query string, args []any) error {
	var err error
	if st := s.ballots.ready[query]; st != nil {
		_, err = tx.StmtContext(ctx, st).ExecContext(ctx, args...)
	} else {
		_, err = tx.ExecContext(ctx, query, args...)
	}
	return err
}

type ballot struct {
	vote  Vote
	reply chan<- answer
}

type answer struct {
	counted bool
	err     error
}

// Cast writes a vote. It returns when the vote is on the disk. counted is false when
// this judge had voted on the pair already: then nothing was changed but the count of
// such votes. A poll that is not open gives Conflict, and too many at once ErrBusy.
func (s *Store) Cast(ctx context.Context, v Vote) (counted bool, err error) {
	if err := checkKey("judge", v.Judge); err != nil {
		return false, err
	}
	if err := checkKey("choice", v.Chosen); err != nil {
		return false, err
	}
	if v.Left < 0 || v.Right < 0 || v.Left >= MostPollItems || v.Right >= MostPollItems || v.Outcome < Tie || v.Outcome > RightBetter {
		return false, invalid("vote", fmt.Sprintf("%d, %d, %d", v.Left, v.Right, v.Outcome), "is not a vote on two pictures of the poll", "")
	}
	if err := checkID("poll", v.PollID); err != nil {
		return false, err
	}
	if v.Row, err = s.stamp(v.Row); err != nil {
		return false, err
	}
	v.Took = max(0, min(v.Took.Truncate(time.Millisecond), 24*time.Hour))
	reply := make(chan answer, 1)
	if err := s.ballots.add(ballot{v, reply}, s.writeBallots); err != nil {
		return false, err
	}
	select {
	case a := <-reply:
		return a.counted, a.err
	case <-ctx.Done():
		return false, ctx.Err()
	}
}

func (b *ballots) add(one ballot, write func([]ballot)) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return errors.New("the store is closed")
	}
	if len(b.waiting) >= mostWaiting {
		return ErrBusy
	}
	b.waiting = append(b.waiting, one)
	if !b.writing {
		b.writing = true
		b.done.Go(func() { b.drain(write) })
	}
	return nil
}

// drain writes what waits until nothing does. Votes that arrive during a commit go
// into the next: the slower the disk, the larger the lots.
func (b *ballots) drain(write func([]ballot)) {
	for {
		b.mu.Lock()
		if len(b.waiting) == 0 {
			b.writing = false
			b.mu.Unlock()
			return
		}
		n := min(len(b.waiting), mostBatch)
		lot := b.waiting[:n:n]
		if b.waiting = b.waiting[n:]; len(b.waiting) == 0 {
			b.waiting = nil
		}
		b.mu.Unlock()
		write(lot)
	}
}

// close lets what waits be written, and takes no more.
func (b *ballots) close() {
	b.mu.Lock()
	b.closed = true
	b.mu.Unlock()
	b.done.Wait()
	for _, st := range b.ready {
		_ = st.Close() // its connection is closed next
	}
}

// writeBallots writes a lot in one transaction and answers each.
func (s *Store) writeBallots(lot []ballot) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	var answers []answer
	err := s.prepareLots(ctx)
	if err == nil {
		err = s.writeLot(ctx, lot, &answers)
	}
	for i, b := range lot {
		if err != nil {
			b.reply <- answer{false, err}
			continue
		}
		b.reply <- answers[i]
	}
}

func (s *Store) writeLot(ctx context.Context, lot []ballot, answers *[]answer) error {
	return s.Update(ctx, func(tx *sql.Tx) (err error) {
		*answers, err = s.castAll(ctx, tx, lot)
		return err
	})
}

// castAll writes the log and the tallies of a lot, a poll at a time.
func (s *Store) castAll(ctx context.Context, tx *sql.Tx, lot []ballot) ([]answer, error) {
	answers := make([]answer, len(lot))
	polls := map[[2]string][]int{} // by shop and poll
	for i, b := range lot {
		k := [2]string{b.vote.Shop, b.vote.PollID}
		polls[k] = append(polls[k], i)
	}
	keys := make([][2]string, 0, len(polls))
	for k := range polls {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b [2]string) int { return cmp.Or(cmp.Compare(a[1], b[1]), cmp.Compare(a[0], b[0])) }) // locks in one order
	for _, k := range keys {
		if err := s.castPoll(ctx, tx, k, polls[k], lot, answers); err != nil {
			return nil, err
		}
	}
	return answers, nil
}

func (s *Store) castPoll(ctx context.Context, tx *sql.Tx, key [2]string, which []int, lot []ballot, answers []answer) error {
	// The row of the poll is locked first: it cannot close under us.
	n, err := changed(ctx, tx, "UPDATE polls SET votes = votes WHERE id = $1 AND shop_id = $2 AND opened_at <> '' AND closed_at = ''", key[1], key[0])
	if err != nil {
		return err
	}
	if n == 0 {
		for _, i := range which {
			answers[i].err = conflict("poll", key[1], "takes no votes", "it is not open, or was closed")
		}
		return nil
	}
	counted := map[string]bool{}
	for rows := range slices.Chunk(which, s.lotRows()) {
		if err := s.insertVotes(ctx, tx, rows, lot, counted); err != nil {
			return err
		}
	}
	tallies := map[Tally]*Tally{}
	fresh := 0
	for _, i := range which {
		v := lot[i].vote
		if answers[i].counted = counted[v.ID]; !answers[i].counted {
			continue
		}
		fresh++
		if !v.Again {
			v.addTo(tallies)
		}
	}
	if _, err := tx.ExecContext(ctx, "UPDATE polls SET votes = votes + $1, again = again + $2 WHERE id = $3", fresh, len(which)-fresh, key[1]); err != nil {
		return err
	}
	return s.addTallies(ctx, tx, lot[which[0]].vote.Row, key[1], tallies)
}

func (v Vote) addTo(tallies map[Tally]*Tally) {
	k := Tally{Group: JudgeGroup(v.Judge), Left: v.Left, Right: v.Right}
	t := tallies[k]
	if t == nil {
		t = new(Tally)
		*t, tallies[k] = k, t
	}
	switch v.Outcome {
	case LeftBetter:
		t.LeftWins++
	case RightBetter:
		t.RightWins++
	default:
		t.Ties++
	}
}

// places writes n groups of m placeholders.
func places(n, m int) string {
	var b strings.Builder
	for i := range n {
		for j := range m {
			switch {
			case j > 0:
				b.WriteString(", ")
			case i > 0:
				b.WriteString("), (")
			default:
				b.WriteString("(")
			}
			fmt.Fprintf(&b, "$%d", i*m+j+1)
		}
	}
	b.WriteString(")")
	return b.String()
}

func insertVotesQuery(n int) string {
	return "INSERT INTO votes (" + voteColumns + ") VALUES " + places(n, 13) + " ON CONFLICT (poll_id, judge, pair, again) DO NOTHING RETURNING id"
}

func addTalliesQuery(n int) string {
	return "INSERT INTO poll_tallies (" + rowColumns + ", poll_id, bucket, left_item, right_item, left_wins, right_wins, ties) VALUES " + places(n, 11) +
		" ON CONFLICT (poll_id, bucket, left_item, right_item) DO UPDATE SET left_wins = poll_tallies.left_wins + excluded.left_wins," +
		" right_wins = poll_tallies.right_wins + excluded.right_wins, ties = poll_tallies.ties + excluded.ties"
}

// insertVotes adds votes to the log; the ids of those that were new are set in counted.
func (s *Store) insertVotes(ctx context.Context, tx *sql.Tx, which []int, lot []ballot, counted map[string]bool) error {
	args := make([]any, 0, 13*len(which))
	for _, i := range which {
		v := lot[i].vote
		args = append(args, v.Row.args(v.PollID, v.Judge, v.pair(), oneIf(v.Again), v.Left, v.Right, int(v.Outcome), v.Chosen, v.Took.Milliseconds())...)
	}
	rows, err := s.lotQuery(ctx, tx, insertVotesQuery(len(which)), args)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return err
		}
		counted[id] = true
	}
	return rows.Err()
}

func (s *Store) addTallies(ctx context.Context, tx *sql.Tx, row Row, poll string, tallies map[Tally]*Tally) error {
	all := make([]*Tally, 0, len(tallies))
	for _, t := range tallies {
		all = append(all, t)
	}
	slices.SortFunc(all, func(a, b *Tally) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), cmp.Compare(a.Left, b.Left), cmp.Compare(a.Right, b.Right))
	})
	for some := range slices.Chunk(all, s.lotRows()) {
		args := make([]any, 0, 11*len(some))
		for _, t := range some {
			row.ID = s.newID()
			args = append(args, row.args(poll, t.Group, t.Left, t.Right, t.LeftWins, t.RightWins, t.Ties)...)
		}
		if err := s.lotExec(ctx, tx, addTalliesQuery(len(some)), args); err != nil {
			return err
		}
	}
	return nil
}

// Tallies returns the counts of a poll, by group, left and right.
func (s *Store) Tallies(ctx context.Context, pollID string) ([]Tally, error) {
	return list(ctx, s.read, (*Tally).dest, "SELECT bucket, left_item, right_item, left_wins, right_wins, ties FROM poll_tallies WHERE poll_id = $1 AND shop_id = $2 ORDER BY bucket, left_item, right_item", pollID, s.shop)
}

func (t *Tally) dest() []any {
	return []any{&t.Group, &t.Left, &t.Right, &t.LeftWins, &t.RightWins, &t.Ties}
}

// PairTotals returns the counts of a poll over all groups; Group is 0.
func (s *Store) PairTotals(ctx context.Context, pollID string) ([]Tally, error) {
	return list(ctx, s.read, (*Tally).dest, "SELECT 0, left_item, right_item, CAST(SUM(left_wins) AS BIGINT), CAST(SUM(right_wins) AS BIGINT), CAST(SUM(ties) AS BIGINT) FROM poll_tallies WHERE poll_id = $1 AND shop_id = $2 GROUP BY left_item, right_item ORDER BY left_item, right_item", pollID, s.shop)
}

// SlowTallies is Tallies without the votes that were given in less than the time.
func (s *Store) SlowTallies(ctx context.Context, pollID string, least time.Duration) ([]Tally, error) {
	tallies := map[Tally]*Tally{}
	err := s.EachVote(ctx, pollID, func(v Vote) error {
		if !v.Again && v.Took >= least {
			v.addTo(tallies)
		}
		return nil
	})
	all := make([]Tally, 0, len(tallies))
	for _, t := range tallies {
		all = append(all, *t)
	}
	slices.SortFunc(all, func(a, b Tally) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), cmp.Compare(a.Left, b.Left), cmp.Compare(a.Right, b.Right))
	})
	return all, err
}

const voteQuery = "SELECT " + rowColumns + ", poll_id, judge, left_item, right_item, again, outcome, chosen, took_ms FROM votes "

func (v *Vote) dest(took *int64) []any {
	return v.Row.dest(&v.PollID, &v.Judge, &v.Left, &v.Right, (*dbBool)(&v.Again), &v.Outcome, &v.Chosen, took)
}

// EachVote calls fn with every vote of a poll, in the order of the log.
func (s *Store) EachVote(ctx context.Context, pollID string, fn func(Vote) error) error {
	return s.eachVote(ctx, fn, "WHERE poll_id = $1 AND shop_id = $2 ORDER BY id", pollID, s.shop)
}

// VotesOf returns what one judge has voted, in the order of the log.
func (s *Store) VotesOf(ctx context.Context, pollID, judge string) (votes []Vote, err error) {
	err = s.eachVote(ctx, func(v Vote) error { votes = append(votes, v); return nil }, "WHERE poll_id = $1 AND judge = $2 AND shop_id = $3", pollID, judge, s.shop)
	slices.SortFunc(votes, func(a, b Vote) int { return cmp.Compare(a.ID, b.ID) })
	return votes, err
}

func (s *Store) eachVote(ctx context.Context, fn func(Vote) error, where string, args ...any) error {
	rows, err := s.read.QueryContext(ctx, voteQuery+where, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var v Vote
		var took int64
		if err := rows.Scan(v.dest(&took)...); err != nil {
			return err
		}
		v.Took = time.Duration(took) * time.Millisecond
		if err := fn(v); err != nil {
			return err
		}
	}
	return rows.Err()
}
