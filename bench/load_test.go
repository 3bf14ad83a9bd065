// Package bench measures the whole program under load. Measured figures are kept
// beside it, each with the machine and the day.
package bench

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"slices"
	"sync"
	"testing"
	"time"

	"thrum/app"
	"thrum/examples"
	"thrum/lathe"
	"thrum/plan"
	"thrum/unit"
)

const (
	rate       = 300 // recomputations a second
	checkEvery = 100 // answers are compared with the plan made here
	slowest    = 100 * time.Millisecond
)

// setup is a thread that is turned over and over with other figures.
type setup struct {
	callout, lathe, material string
	units                    unit.System
	length, step             float64 // of thread, and by how much each request differs, in the units
	infeed, infeedStep       float64 // largest infeed of one pass
	speeds                   []lathe.Speed
	text                     string
}

func setups(tb testing.TB) []setup {
	all := []setup{
		{callout: "1/2-13 UNC-2A", lathe: "inch-bench", material: "1018", units: unit.Inches, length: .75, step: 1e-5, infeed: .004, infeedStep: 1e-7},
		{callout: "M20x1.5-6g", lathe: "metric-geared", material: "1045", units: unit.Metric, length: 20, step: 2e-4, infeed: .1, infeedStep: 2e-6},
		{callout: "3/4-10 UNC-2B", lathe: "inch-bench", material: "12L14", units: unit.Inches, length: .8, step: 1e-5, infeed: .003, infeedStep: 1e-7},
	}
	for i := range all {
		s := &all[i]
		text, ok := examples.Lathe(s.lathe)
		if !ok {
			tb.Fatal("no lathe ", s.lathe)
		}
		la, err := lathe.Parse(s.lathe, []byte(text))
		if err != nil {
			tb.Fatal(err)
		}
		s.text, s.speeds = text, la.Speeds
	}
	return all
}

var infeeds = []string{"straight", "flank", "modified", "alternating"}

// request is the n-th recomputation, as an address and as what the address means.
// No two have the same length or the same largest infeed, and speed and way of
// infeed differ from those of the request before.
func request(all []setup, n int) (url.Values, plan.Request, error) {
	s := all[n%len(all)]
	i := n / len(all)
	name := map[unit.System]string{unit.Inches: "in", unit.Metric: "mm"}[s.units]
	length := fmt.Sprintf("%.6f%s", s.length+float64(i)*s.step, name)
	most := fmt.Sprintf("%.8f%s", s.infeed+float64(i)*s.infeedStep, name)
	speed := s.speeds[n%len(s.speeds)].RPM
	q := url.Values{
		"callout": {s.callout}, "lathe": {s.lathe}, "material": {s.material}, "length": {length}, "stickout": {"2in"},
		"rpm": {fmt.Sprintf("%.6g", speed.RPM())}, "infeed": {infeeds[n%len(infeeds)]}, "max-infeed": {most},
	}
	r := plan.Request{
		Callout: s.callout, Units: s.units, Lathe: s.text, Material: s.material, Stickout: 2 * unit.Inch, RPM: speed, Infeed: q.Get("infeed"),
	}
	var err error
	if r.Length, err = unit.ParseLength(length, s.units); err == nil {
		r.MaxDepth, err = unit.ParseLength(most, s.units)
	}
	return q, r, err
}

// load is what came of a run.
type load struct {
	Sent, Failed, Compared, Wrong int
	Took                          time.Duration
	Times                         []time.Duration // each from the moment at which it was due
	First                         string          // the first thing that went wrong
}

func (l *load) at(share float64) time.Duration {
	return l.Times[min(int(share*float64(len(l.Times))), len(l.Times)-1)]
}

func (l *load) String() string {
	return fmt.Sprintf("%d recomputations in %.1f s, %.0f/s; half within %.1f ms, 99 in 100 within %.1f ms, all within %.1f ms; %d failed; %d compared, %d differed",
		l.Sent, l.Took.Seconds(), float64(l.Sent)/l.Took.Seconds(), ms(l.at(.5)), ms(l.at(.99)), ms(l.at(1)), l.Failed, l.Compared, l.Wrong)
}

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// drive sends requests at the rate, whether or not earlier ones were answered: a
// server that falls behind is seen to, because waiting counts from the moment at
// which a request was due.
func drive(tb testing.TB, base string, from, count int) *load {
	tb.Helper()
	client := &http.Client{Transport: &http.Transport{MaxIdleConns: 512, MaxIdleConnsPerHost: 512}, Timeout: time.Minute}
	defer client.CloseIdleConnections()
	all := setups(tb)
	out := &load{Sent: count}
	var mu sync.Mutex
	var wait sync.WaitGroup
	begin := time.Now()
	for n := from; n < from+count; n++ {
		due := begin.Add(time.Duration(n-from) * time.Second / rate)
		time.Sleep(time.Until(due))
		wait.Go(func() {
			wrong, err := ask(client, base, all, n)
			took := time.Since(due)
			mu.Lock()
			defer mu.Unlock()
			out.Times = append(out.Times, took)
			if n%checkEvery == 0 {
				out.Compared++
			}
			if err == nil && wrong == "" {
				return
			}
			if err != nil {
				out.Failed++
				wrong = err.Error()
			} else {
				out.Wrong++
			}
			if out.First == "" {
				out.First = wrong
			}
		})
	}
	wait.Wait()
	out.Took = time.Since(begin)
	slices.Sort(out.Times)
	return out
}

// ask sends the n-th request, and compares its answer when its turn has come.
func ask(client *http.Client, base string, all []setup, n int) (wrong string, err error) {
	q, want, err := request(all, n)
	if err != nil {
		return "", err
	}
	r, err := client.Get(base + "/sheet.json?" + q.Encode())
	if err != nil {
		return "", err
	}
	body, err := io.ReadAll(r.Body)
	_ = r.Body.Close()
	if err != nil {
		return "", err
	}
	if r.StatusCode != http.StatusOK {
		return "", fmt.Errorf("%s: %s: %.300s", q.Encode(), r.Status, body)
	}
	if n%checkEvery != 0 {
		return "", nil
	}
	p, err := plan.Make(want)
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	if err := plan.Encode(&b, p); err != nil {
		return "", err
	}
	if !bytes.Equal(b.Bytes(), body) {
		return fmt.Sprintf("%s: the answer is not the plan", q.Encode()), nil
	}
	return "", nil
}

// serve runs a whole bench with its store on a free port.
func serve(tb testing.TB) string {
	tb.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	a, err := app.New(ctx, app.Config{Data: tb.TempDir(), Address: "127.0.0.1:0", Version: "test", Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		cancel()
		tb.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- a.Run(ctx) }()
	tb.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			tb.Error(err)
		}
	})
	return a.URL()
}

func (l *load) check(tb testing.TB) {
	tb.Helper()
	if l.Failed > 0 || l.Wrong > 0 || l.Compared == 0 {
		tb.Errorf("%s; first: %s", l, l.First)
	}
}

// Answers under load are those of the plan. How fast they are is measured by the
// benchmark and asserted only in the long run.
func TestRecomputations(t *testing.T) {
	base := serve(t)
	if os.Getenv("THRUM_SOAK") == "" {
		drive(t, base, 0, rate).check(t)
		return
	}
	drive(t, base, 0, 5*rate).check(t) // warm
	l := drive(t, base, 5*rate, 120*rate)
	l.check(t)
	t.Log(l)
	if p := l.at(.99); p > slowest {
		t.Errorf("99 in 100 within %v, want %v", p, slowest)
	}
	if got := float64(l.Sent) / l.Took.Seconds(); got < .99*rate {
		t.Errorf("%.0f recomputations a second, want %d", got, rate)
	}
}

// BenchmarkRecomputations sends 300 requests a second for a second per iteration.
func BenchmarkRecomputations(b *testing.B) {
	base := serve(b)
	drive(b, base, 0, rate).check(b) // warm
	b.ResetTimer()
	l := drive(b, base, rate, rate*b.N)
	b.StopTimer()
	l.check(b)
	b.ReportMetric(float64(l.Sent)/l.Took.Seconds(), "req/s")
	b.ReportMetric(ms(l.at(.5)), "p50-ms")
	b.ReportMetric(ms(l.at(.99)), "p99-ms")
	b.ReportMetric(ms(l.at(1)), "max-ms")
	b.ReportMetric(float64(l.Failed), "failed")
	b.ReportMetric(float64(l.Compared), "compared")
}
