package bench

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"thrum/app"
	"thrum/store"
)

// voters is how many browsers vote at once.
const voters = 200

// BenchmarkVotes casts votes over the public listener, as browsers do, each from another
// visitor, and reports votes acknowledged a second and how long the slowest took. The
// pages with the questions are fetched before the clock starts. THRUM_DATABASE names
// a PostgreSQL database.
//
//	go test -run '^$' -bench Votes -benchtime 20s ./bench
//
// With a slower disk:
//
//	go test -c -o /tmp/bench.test ./bench
//	strace -f --seccomp-bpf -o /dev/null -e trace=fsync,fdatasync -e inject=fsync,fdatasync:delay_enter=10000 \
//	  /tmp/bench.test -test.run '^$' -test.bench Votes -test.benchtime 20s
func BenchmarkVotes(b *testing.B) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	a, err := app.New(ctx, app.Config{Data: b.TempDir(), Database: os.Getenv("THRUM_DATABASE"), Address: "127.0.0.1:0", Public: "127.0.0.1:0", PublicRate: 1e9, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		b.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- a.Run(ctx) }()
	defer func() { cancel(); <-ended }()
	p := openPoll(b, a.Store)

	var took [voters][]time.Duration
	var failed atomic.Int64
	voting := make([]*voter, voters)
	each(func(w int) error {
		voting[w] = newVoter(strings.TrimPrefix(a.PublicURL(), "http://"), p)
		return voting[w].ask((b.N + w) / voters)
	}, b, &failed)
	busy := processor(b) // of server and voters: what a vote costs, whatever else the machine does
	b.ResetTimer()
	each(func(w int) (err error) {
		took[w], err = voting[w].vote()
		return err
	}, b, &failed)
	b.StopTimer()
	busy = processor(b) - busy
	var all []time.Duration
	for _, t := range took {
		all = append(all, t...)
	}
	slices.Sort(all)
	kept, err := a.Store.Poll(ctx, p.ID)
	if err != nil || failed.Load() > 0 || kept.Votes != len(all) || kept.Again > 0 {
		b.Fatalf("%d acknowledged, %d in the log, %d failed, %v", len(all), kept.Votes, failed.Load(), err)
	}
	b.ReportMetric(float64(len(all))/b.Elapsed().Seconds(), "votes/s")
	b.ReportMetric(float64(all[len(all)*99/100])/1e6, "p99-ms")
	b.ReportMetric(float64(all[len(all)-1])/1e6, "slowest-ms")
	b.ReportMetric(float64(busy.Microseconds())/float64(len(all)), "cpu-us/vote")
}

func openPoll(b *testing.B, st *store.Store) store.Poll {
	b.Helper()
	ctx := context.Background()
	p, err := st.AddPoll(ctx, store.Poll{Name: "load", Asks: "Which?"})
	var sums []string
	for i := 0; i < 6 && err == nil; i++ {
		var photo store.PollPhoto
		if photo, err = st.AddPollPhoto(ctx, store.PollPhoto{PollID: p.ID, Name: "x"}, strings.NewReader(fmt.Sprint("photo", i))); err != nil {
			break
		}
		if _, err = st.AddPollItem(ctx, store.PollItem{PollID: p.ID, PhotoID: photo.ID, Sample: fmt.Sprint(i), MiddleX: .5, MiddleY: .5, Side: 1}); err != nil {
			break
		}
		var sum string
		sum, _, err = st.Blobs().Put(ctx, strings.NewReader(fmt.Sprint("crop", i)))
		sums = append(sums, sum)
	}
	if err == nil {
		p, err = st.OpenPoll(ctx, p.ID, sums)
	}
	if err != nil {
		b.Fatal(err)
	}
	return p
}

// each runs fn for every voter at once.
func each(fn func(int) error, b *testing.B, failed *atomic.Int64) {
	var wg sync.WaitGroup
	for w := range voters {
		wg.Go(func() {
			if err := fn(w); err != nil {
				failed.Add(1)
				b.Log(err)
			}
		})
	}
	wg.Wait()
}

// voter is one connection with the questions that were asked over it, each of
// another visitor.
type voter struct {
	address, path, name string
	client              http.Client
	asks                []question
}

type question struct{ cookie, ask string }

func newVoter(address string, p store.Poll) *voter {
	return &voter{address: address, path: "/polls/" + p.Public + "/vote", name: "poll-" + p.Public[:8], client: http.Client{
		Transport:     &http.Transport{DialContext: (&net.Dialer{}).DialContext, MaxIdleConnsPerHost: 1},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

var askPattern = regexp.MustCompile(`name="ask" value="([^"]+)"`)

func (v *voter) ask(n int) error {
	for range n {
		b := make([]byte, 16)
		_, _ = rand.Read(b)
		q := question{cookie: hex.EncodeToString(b)}
		page, err := v.send(http.MethodGet, q.cookie, nil, http.StatusOK)
		if err != nil {
			return err
		}
		m := askPattern.FindStringSubmatch(page)
		if m == nil {
			return fmt.Errorf("no question on the page")
		}
		q.ask = m[1]
		v.asks = append(v.asks, q)
	}
	return nil
}

func (v *voter) vote() (took []time.Duration, err error) {
	for i, q := range v.asks {
		from := time.Now()
		_, err := v.send(http.MethodPost, q.cookie, url.Values{"ask": {q.ask}, "answer": {[]string{"left", "right", "same"}[i%3]}}, http.StatusSeeOther)
		if err != nil {
			return took, err
		}
		took = append(took, time.Since(from))
	}
	return took, nil
}

func (v *voter) send(method, cookie string, form url.Values, want int) (string, error) {
	r, err := http.NewRequest(method, "http://"+v.address+v.path, strings.NewReader(form.Encode()))
	if err != nil {
		return "", err
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	r.AddCookie(&http.Cookie{Name: v.name, Value: cookie})
	res, err := v.client.Do(r)
	if err != nil {
		return "", err
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err == nil && res.StatusCode != want {
		err = fmt.Errorf("%s: status %d: %.200s", method, res.StatusCode, text)
	}
	return string(text), err
}
