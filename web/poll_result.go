package web

import (
	"context"
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"time"

	"thrum/store"
	"thrum/trial"
)

// hasty is the time under which a vote is called hasty. Such votes count; the result
// is worked out without them too.
const hasty = time.Second

// pollResult is what a closed poll shows.
type pollResult struct {
	Finding *trial.PollFinding
	Fault   string // why there is none
	Judges  int
	Hasty   int
	Without string // the answer without hasty votes
	Ranked  []rankedItem
	Pairs   []pairLine
	Chosen  []chosenLine
}

type rankedItem struct {
	Sample, Arm, Picture string
	Over                 string        // how often it is preferred to the last one, where there is a preference
	Bar                  template.HTML // the same, drawn
}

type pairLine struct {
	A, B             string
	ForA, ForB, Ties int
	Words            string
}

type chosenLine struct {
	Why string
	N   int
}

// resultOf works out the result of a closed poll.
func (s *Server) resultOf(ctx context.Context, p store.Poll, items []store.PollItem) (*pollResult, error) {
	if kept, ok := s.results.Load(p.ID); ok {
		return kept.(*pollResult), nil
	}
	res, in, err := s.countPoll(ctx, p, items)
	if err != nil {
		return nil, err
	}
	f, err := trial.AnalyzePoll(in)
	if words, ok := faultOf(err); ok {
		res.Fault = words
		return res, nil
	}
	if err != nil {
		return nil, err
	}
	res.Finding = f
	if res.Hasty > 0 {
		slow, err := s.config.Store.SlowTallies(ctx, p.ID, hasty)
		if err != nil {
			return nil, err
		}
		without := in
		without.Groups = groupsOf(slow)
		if w, err := trial.AnalyzePoll(without); err == nil {
			res.Without = w.Words.Answer
		} else {
			res.Without = "Nothing is left without them."
		}
	}
	res.rank(p, items)
	s.results.Store(p.ID, res)
	return res, nil
}

// countPoll reads the log once: judges, hasty votes, repeats and how pairs were chosen.
func (s *Server) countPoll(ctx context.Context, p store.Poll, items []store.PollItem) (*pollResult, trial.Poll, error) {
	in := trial.Poll{Baseline: p.Baseline, Changed: p.Changed}
	for _, it := range items {
		in.Items = append(in.Items, trial.PollItem{Sample: it.Sample, Arm: it.Arm})
	}
	tallies, err := s.config.Store.Tallies(ctx, p.ID)
	if err != nil {
		return nil, in, err
	}
	in.Groups = groupsOf(tallies)
	res := &pollResult{}
	judges := map[string]bool{}
	chosen := map[string]int{}
	type look struct {
		judge     string
		low, high int
	}
	first := map[look]int{} // 0 for the lower item, 1 for the higher, 2 tie
	in.Repeats = [][]float64{{0, 0, 0}, {0, 0, 0}, {0, 0, 0}}
	err = s.config.Store.EachVote(ctx, p.ID, func(v store.Vote) error {
		judges[v.Judge] = true
		chosen[v.Chosen]++
		if v.Took < hasty && !v.Again {
			res.Hasty++
		}
		k := look{v.Judge, min(v.Left, v.Right), max(v.Left, v.Right)}
		a := 2
		if v.Outcome != store.Tie {
			a = 0
			if (v.Outcome == store.LeftBetter) != (v.Left == k.low) {
				a = 1
			}
		}
		if !v.Again {
			first[k] = a
		} else if b, ok := first[k]; ok {
			in.Repeats[b][a]++
		}
		return nil
	})
	res.Judges = len(judges)
	for _, w := range []struct{ key, words string }{
		{string(trial.AtRandom), "drawn by lot among the pairs with the fewest votes"},
		{string(trial.Adaptive), "chosen where a vote tells most"},
		{string(trial.Control), "a picture with itself"},
		{string(trial.Repeat), "a pair again, sides swapped"},
	} {
		if chosen[w.key] > 0 {
			res.Chosen = append(res.Chosen, chosenLine{w.words, chosen[w.key]})
		}
	}
	return res, in, err
}

func groupsOf(tallies []store.Tally) [][]trial.Tally {
	groups := make([][]trial.Tally, store.JudgeGroups)
	for _, t := range tallies {
		groups[t.Group] = append(groups[t.Group], trial.Tally{Left: t.Left, Right: t.Right, LeftWins: float64(t.LeftWins), RightWins: float64(t.RightWins), Ties: float64(t.Ties)})
	}
	return groups
}

// rank lists the pictures, best liked first, and the pairs.
func (res *pollResult) rank(p store.Poll, items []store.PollItem) {
	f := res.Finding
	order := make([]int, len(items))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case f.Log[a] > f.Log[b]:
			return -1
		case f.Log[a] < f.Log[b]:
			return 1
		}
		return 0
	})
	for _, i := range order {
		res.Ranked = append(res.Ranked, rankedItem{items[i].Sample, items[i].Arm, fmt.Sprintf("/polls/%s/items/%d", p.Public, i), "", ""})
	}
	res.bars(order)
	for _, l := range f.Looks {
		words := "no errors can be given"
		if f.Clusters {
			words = fmt.Sprintf("%+.2f (%+.2f to %+.2f)", l.LogOdds, l.Interval.Low, l.Interval.High)
		}
		res.Pairs = append(res.Pairs, pairLine{items[l.I].Sample, items[l.J].Sample, int(l.ForI), int(l.ForJ), int(l.Ties), words})
	}
}

// bar draws how far a picture is above the last one, with its interval, on a scale
// that all share.
func bar(v, low, high, from, to float64) template.HTML {
	x := func(v float64) float64 { return 2 + 196*(v-from)/(to-from) }
	return template.HTML(fmt.Sprintf(`<svg class="range" viewBox="0 0 200 24" aria-hidden="true"><path class="nought" d="M%.1f 0v24"/><path d="M%.1f 12H%.1fM%.1f 7v10M%.1f 7v10"/><circle cx="%.1f" cy="12" r="4.5"/></svg>`,
		x(0), x(low), x(high), x(low), x(high), x(v)))
}

// bars sets each picture against the one that came last.
func (res *pollResult) bars(order []int) {
	f := res.Finding
	if !f.Clusters {
		return
	}
	last := order[len(order)-1]
	low, high := 0.0, 0.0
	over := make([]*trial.Look, len(order))
	for n, i := range order {
		for _, l := range f.Looks {
			if l.I == last && l.J == i {
				l = trial.Look{LogOdds: -l.LogOdds, Interval: trial.Interval{Low: -l.Interval.High, High: -l.Interval.Low}}
			} else if l.I != i || l.J != last {
				continue
			}
			over[n] = &l
			low, high = min(low, l.Interval.Low), max(high, l.Interval.High)
		}
	}
	for n, l := range over {
		if l == nil {
			continue
		}
		p := func(x float64) float64 { return 100 / (1 + math.Exp(-x)) }
		res.Ranked[n].Over = fmt.Sprintf("%.0f %% (%.0f to %.0f %%)", p(l.LogOdds), p(l.Interval.Low), p(l.Interval.High))
		res.Ranked[n].Bar = bar(l.LogOdds, l.Interval.Low, l.Interval.High, low, high)
	}
}

// pollJSON gives the result as JSON once the poll is closed.
func (s *Server) pollJSON(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if !ok {
		return
	}
	if !p.Closed() {
		s.fail(w, r, http.StatusConflict, "The poll is not closed", "How the votes stand is shown to nobody before.")
		return
	}
	items, err := s.config.Store.PollItems(r.Context(), p.ID)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	res, err := s.resultOf(r.Context(), p, items)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	type item struct {
		Sample string `json:"sample"`
		Arm    string `json:"arm,omitempty"`
	}
	var names []item
	for _, it := range items {
		names = append(names, item{it.Sample, it.Arm})
	}
	w.Header().Set("Content-Type", "application/json")
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	_ = e.Encode(map[string]any{"schema": 1, "question": p.Asks, "judges": res.Judges, "hasty": res.Hasty, "items": names, "finding": res.Finding})
}
