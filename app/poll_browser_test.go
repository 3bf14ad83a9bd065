package app_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"testing"
	"time"

	"thrum/app"
	"thrum/examples"
	"thrum/store"
	"thrum/web"
)

// pollStates adds what the example poll, which is open, does not show: a poll that is
// being prepared, and one that was voted on and closed. It returns the addresses of
// all pages about them.
func pollStates(ctx context.Context, a *app.App) ([]string, error) {
	_, err := addPoll(ctx, a.Store, store.Poll{Name: "prepared", Asks: "Which?", Baseline: "no centre", Changed: "centre"}, nil)
	if err != nil {
		return nil, err
	}
	closed, err := addPoll(ctx, a.Store, store.Poll{Name: "closed", Asks: "Which?", Baseline: "no centre", Changed: "centre"}, nil)
	if err == nil {
		err = web.OpenPoll(ctx, a.Store, closed, true)
	}
	if err != nil {
		return nil, err
	}
	for n := range 60 {
		left, right := n%3, (n+1+n/3%2)%3
		_, err := a.Store.Cast(ctx, store.Vote{
			PollID: closed.ID, Judge: fmt.Sprint("judge-", n/5), Left: left, Right: right, Outcome: []store.Outcome{store.LeftBetter, store.Tie, store.RightBetter}[n*n%3],
			Chosen: "random", Took: time.Duration(n%4) * time.Second,
		})
		if err != nil {
			return nil, err
		}
	}
	if _, err := a.Store.ClosePoll(ctx, closed.ID); err != nil {
		return nil, err
	}
	polls, err := a.Store.Polls(ctx)
	if err != nil {
		return nil, err
	}
	var all []string
	for _, p := range polls {
		all = append(all, "/polls/"+p.Public)
		if p.Open() {
			all = append(all, "/polls/"+p.Public+"/vote")
		}
	}
	return append(all, "/polls/"+closed.Public+"/vote", "/polls/nowhere/vote"), nil
}

// addPoll adds a poll with the example pictures. codes are the names of the samples
// without and with a centre; nil for those of the pictures.
func addPoll(ctx context.Context, st *store.Store, p store.Poll, codes map[bool]string) (store.Poll, error) {
	p, err := st.AddPoll(ctx, p)
	if err != nil {
		return p, err
	}
	for _, ph := range examples.Photos() {
		kept, err := st.AddPollPhoto(ctx, store.PollPhoto{PollID: p.ID, Name: ph.Name}, bytes.NewReader(ph.Content()))
		if err != nil {
			return p, err
		}
		it := store.PollItem{PollID: p.ID, PhotoID: kept.ID, Sample: ph.Sample, Arm: map[bool]string{false: p.Baseline, true: p.Changed}[ph.Centre], MiddleX: .5, MiddleY: .5, Side: .5}
		if codes != nil {
			it.Sample = codes[ph.Centre]
		}
		if _, err := st.AddPollItem(ctx, it); err != nil {
			return p, err
		}
	}
	return p, nil
}

// pollBench runs a bench of its own with a public address and an open poll about the
// example trial.
func pollBench(t *testing.T) (*app.App, store.Poll) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	a, err := app.New(ctx, app.Config{Data: t.TempDir(), Address: "127.0.0.1:0", Public: "127.0.0.1:0", Version: "test", Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		cancel()
		t.Fatal(err)
	}
	ended := make(chan struct{})
	t.Cleanup(func() { cancel(); <-ended })
	err = a.LoadExamples(ctx)
	go func() { defer close(ended); _ = a.Run(ctx) }()
	if err != nil {
		t.Fatal(err)
	}
	trials, err := a.Store.Trials(ctx)
	if err != nil || len(trials) != 1 {
		t.Fatal(trials, err)
	}
	samples, err := a.Store.Samples(ctx, trials[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	codes := map[bool]string{}
	for _, s := range samples {
		codes[s.Arm == "centre"] = s.Code
	}
	poll, err := addPoll(ctx, a.Store, store.Poll{Name: "two browsers", Asks: "Which looks cleaner?", Baseline: "no centre", Changed: "centre", TrialID: trials[0].ID}, codes)
	if err == nil {
		err = web.OpenPoll(ctx, a.Store, poll, true)
	}
	if err != nil {
		t.Fatal(err)
	}
	return a, poll
}

// Two browsers vote at once, for the bar with the centre wherever it stands, until
// they have seen all. Nobody sees how the votes stand; when the owner closes the poll,
// its page and the finding of its trial have them.
func TestTwoBrowsersVote(t *testing.T) {
	running(t)
	a, poll := pollBench(t)
	items, err := a.Store.PollItems(t.Context(), poll.ID)
	if err != nil {
		t.Fatal(err)
	}
	centre := map[string]bool{} // by the sum of the picture
	for _, it := range items {
		centre[it.SHA256] = it.Arm == "centre"
	}
	owner := open(t, 1440, 900)
	owner.base = a.URL()
	owner.visit("/trials/" + poll.TrialID + "/finding")
	if s := owner.text("main"); !strings.Contains(s, "Nobody was asked") {
		t.Errorf("before the poll is closed the finding says %q", s)
	}

	voters := []*tab{open(t, 360, 740), open(t, 1024, 768)}
	voteAt := "/polls/" + poll.Public + "/vote"
	for _, v := range voters {
		v.base = a.PublicURL()
		v.visit(voteAt)
	}
	sent := 0
	for range 30 {
		asked := map[*tab]string{}
		from := time.Now().Add(250 * time.Millisecond).UnixMilli()
		for _, v := range voters {
			ask := eval[string](v, `document.querySelector("[name=ask]")?.value ?? ""`)
			if ask == "" {
				continue
			}
			var sums []string
			for _, at := range eval[[]string](v, `[...document.querySelectorAll(".two img")].map(i => i.src)`) {
				sum := sha256.Sum256([]byte(get(t, at)))
				sums = append(sums, hex.EncodeToString(sum[:]))
			}
			answer := "same"
			switch {
			case len(sums) != 2:
				t.Fatalf("%d pictures", len(sums))
			case centre[sums[0]] && !centre[sums[1]]:
				answer = "left"
			case centre[sums[1]] && !centre[sums[0]]:
				answer = "right"
			}
			eval[bool](v, fmt.Sprintf(`setTimeout(() => document.querySelector("button[value=%s]").click(), %d - Date.now()) > 0`, answer, from))
			asked[v] = ask
			sent++
		}
		if len(asked) == 0 {
			break
		}
		for v, ask := range asked {
			v.await(fmt.Sprintf(`document.readyState === "complete" && document.querySelector("h1") && document.querySelector("[name=ask]")?.value !== %q`, ask))
		}
	}
	for _, v := range voters {
		if h := v.text("h1"); h != "That was all of them" {
			t.Fatalf("after %d votes a browser shows %q", sent, h)
		}
	}
	kept, err := a.Store.Poll(t.Context(), poll.ID)
	if err != nil || kept.Votes != sent || sent < 6 || kept.Again != 0 {
		t.Fatalf("%d votes of %d in the log, %d again, %v", kept.Votes, sent, kept.Again, err)
	}

	owner.visit("/polls/" + poll.Public)
	if s := owner.text("main"); !strings.Contains(s, fmt.Sprintf("%d votes", sent)) || strings.Contains(s, "prefer") {
		t.Errorf("the open poll shows %q", s)
	}
	late := open(t, 360, 740) // has a question before its eyes when the poll closes
	late.base = a.PublicURL()
	late.visit(voteAt)
	owner.click(`form[action$="/close"] button`)
	result := owner.text("main")
	for _, want := range []string{"closed", "centre", "Pictures, best liked first", "not that the change did it", "Judges 2"} {
		if !strings.Contains(result, want) {
			t.Errorf("no %q in the result: %s", want, result)
		}
	}
	first := ""
	for _, it := range items {
		if it.Arm == "centre" {
			first = it.Sample
		}
	}
	if best := owner.text(".ranked li:first-child"); !strings.HasPrefix(best, first) {
		t.Errorf("best liked is %q, not %q", best, first)
	}
	late.click(`button[value="left"]`)
	if h := late.text("h1"); h != "This poll is closed" {
		t.Errorf("a vote that comes late meets %q", h)
	}
	owner.visit("/trials/" + poll.TrialID + "/finding")
	if s := owner.text("main"); strings.Contains(s, "Nobody was asked") || !strings.Contains(s, "blind votes") {
		t.Errorf("after the poll is closed the finding says %q", s)
	}
}
