package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// testPoll keeps an open poll of n pictures.
func testPoll(t testing.TB, s *Store, n int) Poll {
	t.Helper()
	ctx := context.Background()
	p := must(s.AddPoll(ctx, Poll{Name: "centre or none", Asks: "Which thread looks cleaner?", Baseline: "none", Changed: "centre"}))(t)
	var crops []string
	for i := range n {
		photo := must(s.AddPollPhoto(ctx, PollPhoto{PollID: p.ID, Name: fmt.Sprintf("bar %d.jpg", i)}, strings.NewReader(fmt.Sprintf("photo %d", i))))(t)
		must(s.AddPollItem(ctx, PollItem{PollID: p.ID, PhotoID: photo.ID, Sample: fmt.Sprintf("bar %d", i), Arm: []string{"none", "centre"}[i%2], MiddleX: .5, MiddleY: .5, Side: 1}))(t)
		sum, _, err := s.Blobs().Put(ctx, strings.NewReader(fmt.Sprintf("crop %d", i)))
		if err != nil {
			t.Fatal(err)
		}
		crops = append(crops, sum)
	}
	return must(s.OpenPoll(ctx, p.ID, crops))(t)
}

func sumOf(ts []Tally) (n int) {
	for _, t := range ts {
		n += t.LeftWins + t.RightWins + t.Ties
	}
	return n
}

func TestPollIsPreparedOpenedAndClosed(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		p := must(s.AddPoll(ctx, Poll{Name: "x", Asks: "Which?"}))(t)
		vote := Vote{PollID: p.ID, Judge: "a", Left: 0, Right: 1, Outcome: LeftBetter, Chosen: "random"}
		_, err := s.Cast(ctx, vote)
		wantCode(t, err, Conflict)
		_, err = s.OpenPoll(ctx, p.ID, nil)
		wantCode(t, err, Invalid)
		photo := must(s.AddPollPhoto(ctx, PollPhoto{PollID: p.ID, Name: "a.jpg"}, strings.NewReader("a")))(t)
		item := PollItem{PollID: p.ID, PhotoID: photo.ID, Sample: "a", MiddleX: .5, MiddleY: .5, Side: 1}
		var ids []string
		for range 3 {
			ids = append(ids, must(s.AddPollItem(ctx, item))(t).ID)
		}
		bad := item
		bad.Side = 2
		_, err = s.AddPollItem(ctx, bad)
		wantCode(t, err, Invalid)
		bad = item
		bad.Arm = "centre"
		_, err = s.AddPollItem(ctx, bad)
		wantCode(t, err, Invalid)
		if err := s.RemovePollItem(ctx, p.ID, ids[0]); err != nil {
			t.Fatal(err)
		}
		for n, i := range must(s.PollItems(ctx, p.ID))(t) {
			if i.ID != ids[n+1] || i.Place != n {
				t.Errorf("item %d is %+v", n, i)
			}
		}
		sum, _, err := s.Blobs().Put(ctx, strings.NewReader("crop"))
		if err != nil {
			t.Fatal(err)
		}
		p = must(s.OpenPoll(ctx, p.ID, []string{sum, sum}))(t)
		_, err = s.AddPollItem(ctx, item)
		wantCode(t, err, Conflict)
		if key := must(s.PollKey(ctx, p.ID))(t); len(key) != 32 {
			t.Errorf("key of %d bytes", len(key))
		}
		if counted := must(s.Cast(ctx, vote))(t); !counted {
			t.Error("the first vote was not counted")
		}
		turned := vote // the same pair the other way round
		turned.Left, turned.Right = 1, 0
		if counted := must(s.Cast(ctx, turned))(t); counted {
			t.Error("a second vote on one pair was counted")
		}
		turned.Again = true
		if counted := must(s.Cast(ctx, turned))(t); !counted {
			t.Error("the repeat was not counted")
		}
		p = must(s.ClosePoll(ctx, p.ID))(t)
		p = must(s.ClosePoll(ctx, p.ID))(t)
		if p.Votes != 2 || p.Again != 1 || !p.Closed() {
			t.Errorf("closed as %+v", p)
		}
		vote.Judge = "b"
		_, err = s.Cast(ctx, vote)
		wantCode(t, err, Conflict)
		_, err = s.PollKey(ctx, p.ID)
		wantCode(t, err, NotFound)
		if got := must(s.Tallies(ctx, p.ID))(t); len(got) != 1 || got[0] != (Tally{JudgeGroup("a"), 0, 1, 1, 0, 0}) {
			t.Errorf("tallies %+v", got)
		}
		if got := must(s.VotesOf(ctx, p.ID, "a"))(t); len(got) != 2 || got[1].Left != 1 || !got[1].Again {
			t.Errorf("log %+v", got)
		}
		other := must(s.As("other", "d"))(t)
		_, err = other.Poll(ctx, p.ID)
		wantCode(t, err, NotFound)
		if problems := must(s.Check(ctx))(t); len(problems) > 0 {
			t.Error(problems)
		}
	})
}

// The key is gone from the file, not only from the tables.
func TestKeyOfAClosedPollIsDestroyed(t *testing.T) {
	c := configFor(t, "sqlite")
	s := must(Open(t.Context(), c))(t)
	p := testPoll(t, s, 2)
	key := fmt.Sprintf("%x", must(s.PollKey(t.Context(), p.ID))(t))
	files := func() (found int) {
		for _, name := range []string{"thrum.db", "thrum.db-wal"} {
			b, err := os.ReadFile(c.Dir + "/" + name)
			if err == nil && bytes.Contains(b, []byte(key)) {
				found++
			}
		}
		return found
	}
	if files() == 0 {
		t.Fatal("the key of the open poll is nowhere: this test sees nothing")
	}
	if a := export(t, s); bytes.Contains(a, []byte(key)) {
		t.Error("an archive holds the key")
	} else {
		for _, f := range unpack(t, a) {
			if strings.Contains(f.content, key) {
				t.Errorf("%s in an archive holds the key", f.name)
			}
		}
	}
	must(s.ClosePoll(t.Context(), p.ID))(t)
	if files() > 0 {
		t.Error("the key is still in the database's files")
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// Many cast at once, some the same vote: each pair of each judge counts once, and
// log, tallies and answers agree.
func TestManyVoteAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		p := testPoll(t, s, 4)
		var counted, turnedAway atomic.Int64
		var wg sync.WaitGroup
		for w := range 16 {
			wg.Go(func() {
				r := rand.New(rand.NewPCG(uint64(w), 1))
				for range 60 {
					left := r.IntN(4)
					v := Vote{PollID: p.ID, Judge: fmt.Sprintf("judge-%d", r.IntN(40)), Left: left, Right: (left + 1 + r.IntN(3)) % 4, Outcome: Outcome(r.IntN(3)), Chosen: "random", Took: time.Duration(r.IntN(5000)) * time.Millisecond}
					ok, err := s.Cast(ctx, v)
					if err != nil {
						t.Error(err)
						return
					}
					if ok {
						counted.Add(1)
					} else {
						turnedAway.Add(1)
					}
				}
			})
		}
		wg.Wait()
		n := 0
		seen := map[string]bool{}
		err := s.EachVote(ctx, p.ID, func(v Vote) error {
			k := fmt.Sprint(v.Judge, v.pair(), v.Again)
			if seen[k] {
				t.Errorf("%s is in the log twice", k)
			}
			seen[k] = true
			n++
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		p = must(s.Poll(ctx, p.ID))(t)
		if n != int(counted.Load()) || p.Votes != n || p.Again != int(turnedAway.Load()) || sumOf(must(s.Tallies(ctx, p.ID))(t)) != n || sumOf(must(s.PairTotals(ctx, p.ID))(t)) != n {
			t.Errorf("%d answered as counted, %d in the log, poll %+v", counted.Load(), n, p)
		}
		if got := must(s.SlowTallies(ctx, p.ID, 0))(t); !slices.Equal(got, must(s.Tallies(ctx, p.ID))(t)) {
			t.Error("the tallies are not those of the log")
		}
		if slow := sumOf(must(s.SlowTallies(ctx, p.ID, time.Second))(t)); slow >= n || slow == 0 {
			t.Errorf("%d of %d votes took a second", slow, n)
		}
		if problems := must(s.Check(ctx))(t); len(problems) > 0 {
			t.Error(problems)
		}
	})
}

// A lot with any mixture of votes gives what casting them one by one gives.
func TestLotsAreLikeSingleVotes(t *testing.T) {
	s := openTest(t, configFor(t, "sqlite"))
	one, lot := testPoll(t, s, 3), testPoll(t, s, 3)
	round := 0
	rapid.Check(t, func(rt *rapid.T) {
		round++
		n := rapid.IntRange(1, 30).Draw(rt, "votes")
		var single, together []Tally
		var answers []bool
		waiting := make([]ballot, n)
		replies := make([]chan answer, n)
		for i := range n {
			l := rapid.IntRange(0, 2).Draw(rt, "left")
			v := Vote{PollID: one.ID, Judge: fmt.Sprintf("%d.%d", round, rapid.IntRange(0, 8).Draw(rt, "judge")), Left: l, Right: (l + 1) % 3, Again: rapid.Bool().Draw(rt, "again"), Outcome: Outcome(rapid.IntRange(0, 2).Draw(rt, "outcome")), Chosen: "random"}
			answers = append(answers, must(s.Cast(context.Background(), v))(t))
			v.PollID = lot.ID
			v.Row = must(s.stamp(Row{}))(t)
			replies[i] = make(chan answer, 1)
			waiting[i] = ballot{v, replies[i]}
		}
		s.writeBallots(waiting)
		for i, r := range replies {
			if a := <-r; a.err != nil || a.counted != answers[i] {
				rt.Fatalf("vote %d: %+v, by itself %v", i, a, answers[i])
			}
		}
		single, together = must(s.Tallies(context.Background(), one.ID))(t), must(s.Tallies(context.Background(), lot.ID))(t)
		if !slices.Equal(single, together) {
			rt.Fatalf("one by one %+v, together %+v", single, together)
		}
	})
}

// Closing waits for nobody and loses nothing: what was acknowledged is in the log.
func TestClosingWhileVotesCome(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		p := testPoll(t, s, 2)
		var counted atomic.Int64
		var wg sync.WaitGroup
		for w := range 8 {
			wg.Go(func() {
				for n := 0; ; n++ {
					_, err := s.Cast(t.Context(), Vote{PollID: p.ID, Judge: fmt.Sprintf("%d-%d", w, n), Left: n % 2, Right: 1 - n%2, Chosen: "random"})
					if CodeOf(err) == Conflict {
						return
					}
					if err != nil {
						t.Error(err)
						return
					}
					counted.Add(1)
				}
			})
		}
		for counted.Load() < 50 {
			time.Sleep(time.Millisecond)
		}
		closed := must(s.ClosePoll(t.Context(), p.ID))(t)
		wg.Wait()
		if p = must(s.Poll(t.Context(), p.ID))(t); p.Votes != int(counted.Load()) || p.Votes != closed.Votes {
			t.Errorf("%d acknowledged, %d at closing, %d in the log", counted.Load(), closed.Votes, p.Votes)
		}
	})
}

func TestTooManyWaiting(t *testing.T) {
	b := &ballots{}
	hold := make(chan struct{})
	for n := range mostWaiting + mostBatch {
		err := b.add(ballot{}, func([]ballot) { <-hold })
		if errors.Is(err, ErrBusy) {
			close(hold)
			if n < mostWaiting {
				t.Errorf("busy after %d", n)
			}
			b.close()
			if err := b.add(ballot{}, nil); err == nil {
				t.Error("a closed store takes votes")
			}
			return
		}
	}
	err := b.add(ballot{}, func([]ballot) {})
	close(hold)
	if !errors.Is(err, ErrBusy) {
		t.Errorf("%d votes waiting, and still %v", mostWaiting+mostBatch, err)
	}
	b.close()
}

// voterMode makes this program cast votes without end, see runWriter. Every vote is
// cast twice, and acknowledged on standard output after the first.
const voterMode = "THRUM_TEST_VOTER"

func runVoter() int {
	ctx := context.Background()
	s, err := Open(ctx, Config{Dir: os.Getenv(writerDir), URL: os.Getenv(writerURL), Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	var wg sync.WaitGroup
	var failed atomic.Bool
	for w := range 8 {
		wg.Go(func() {
			for n := 0; !failed.Load(); n++ {
				v := Vote{PollID: os.Getenv(voterMode), Judge: s.newID() + "." + strconv.Itoa(w), Left: n % 3, Right: (n + 1) % 3, Outcome: Outcome(n % 3), Chosen: "random"}
				first, err := s.Cast(ctx, v)
				if err == nil {
					fmt.Printf("vote %s\n", v.Judge)
					var second bool
					if second, err = s.Cast(ctx, v); err == nil && (second || !first) {
						err = fmt.Errorf("a vote was counted as %v, %v", first, second)
					}
				}
				if err != nil {
					failed.Store(true)
					fmt.Fprintln(os.Stderr, err)
				}
			}
		})
	}
	wg.Wait()
	return 1
}

// A process that takes votes is killed again and again. No acknowledged vote may be
// lost, none may be there twice, and log and tallies must agree.
func TestKilledWhileVoting(t *testing.T) {
	kills := 20
	if os.Getenv("THRUM_SOAK") != "" {
		kills = 1000
	}
	for _, engine := range engines {
		t.Run(engine, func(t *testing.T) {
			t.Parallel()
			c := configFor(t, engine)
			s := must(Open(t.Context(), c))(t)
			p := testPoll(t, s, 3)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			acknowledged := map[string]string{}
			for range kills {
				cmd := exec.Command(must(os.Executable())(t))
				cmd.Env = append(os.Environ(), voterMode+"="+p.ID, writerDir+"="+c.Dir, writerURL+"="+c.URL)
				before := len(acknowledged)
				killWriter(t, cmd, acknowledged)
				if len(acknowledged) == before {
					t.Fatal("nothing was acknowledged before the kill")
				}
			}
			s = openTest(t, c)
			n := 0
			err := s.EachVote(t.Context(), p.ID, func(v Vote) error {
				delete(acknowledged, v.Judge)
				n++
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			if len(acknowledged) > 0 {
				t.Errorf("%d acknowledged votes are lost", len(acknowledged))
			}
			log := must(s.SlowTallies(t.Context(), p.ID, 0))(t)
			if !slices.Equal(log, must(s.Tallies(t.Context(), p.ID))(t)) || sumOf(log) != n {
				t.Error("log and tallies disagree")
			}
			if problems := must(s.Check(t.Context()))(t); len(problems) > 0 {
				t.Error(problems)
			}
			t.Logf("%d kills, %d votes in the log, none lost or doubled", kills, n)
		})
	}
}

func BenchmarkCast(b *testing.B) {
	for _, engine := range engines {
		b.Run(engine, func(b *testing.B) {
			s := openTest(b, configFor(b, engine))
			p := testPoll(b, s, 6)
			var next atomic.Int64
			b.SetParallelism(100)
			var mu sync.Mutex
			var all []time.Duration // from casting to the answer
			b.RunParallel(func(pb *testing.PB) {
				var took []time.Duration
				defer func() {
					mu.Lock()
					defer mu.Unlock()
					all = append(all, took...)
				}()
				for pb.Next() {
					n, began := int(next.Add(1)), time.Now()
					_, err := s.Cast(context.Background(), Vote{PollID: p.ID, Judge: strconv.Itoa(n / 15), Left: n % 6, Right: (n + 1 + n/6%5) % 6, Outcome: Outcome(n % 3), Chosen: "random"})
					if err != nil {
						b.Error(err)
						return
					}
					took = append(took, time.Since(began))
				}
			})
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "votes/s")
			slices.Sort(all)
			b.ReportMetric(float64(all[len(all)*99/100])/1e6, "p99-ms")
		})
	}
}
