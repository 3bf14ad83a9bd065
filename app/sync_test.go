package app_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"

	"thrum/app"
	"thrum/piece"
	"thrum/store"
)

// serveAlone makes this very test program a bench, to be killed: the data folder
// and the address stand in the environment.
const serveAlone = "THRUM_TEST_SERVE"

// TestServeAlone is no test: it is the bench that the next test starts and kills.
func TestServeAlone(t *testing.T) {
	data, address, ok := strings.Cut(os.Getenv(serveAlone), " ")
	if !ok {
		t.Skip("starts a bench for another test")
	}
	a, err := app.New(context.Background(), app.Config{Data: data, Address: address, Version: "test", Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	err = a.LoadExamples(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println("serving", a.URL())
	_ = a.Run(context.Background())
}

// mortal is a bench in a process of its own.
type mortal struct {
	t       *testing.T
	data    string
	address string
	command *exec.Cmd
}

func (m *mortal) start() {
	m.t.Helper()
	address := m.address
	if address == "" {
		address = "127.0.0.1:0"
	}
	c := exec.Command(os.Args[0], "-test.run=^TestServeAlone$")
	c.Env = append(os.Environ(), serveAlone+"="+m.data+" "+address)
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		m.t.Fatal(err)
	}
	m.command = c
	r := bufio.NewReader(out)
	for {
		line, err := r.ReadString('\n')
		if at, ok := strings.CutPrefix(strings.TrimSpace(line), "serving http://"); ok {
			m.address = at
			go func() { _, _ = io.Copy(io.Discard, r) }()
			return
		}
		if err != nil {
			m.t.Fatal("the bench did not start: ", err)
		}
	}
}

// kill ends it as a power cut would: SIGKILL, nothing is said first.
func (m *mortal) kill() {
	m.t.Helper()
	if err := m.command.Process.Signal(syscall.SIGKILL); err != nil {
		m.t.Fatal(err)
	}
	_ = m.command.Wait()
}

// shaky is a network that loses requests on the way there or answers on the way
// back, by a drawn plan.
type shaky struct {
	mu   sync.Mutex
	rand *rand.Rand
	cuts int // still to come
}

var errCut = errors.New("the network is gone")

func (s *shaky) RoundTrip(r *http.Request) (*http.Response, error) {
	s.mu.Lock()
	before, after := false, false
	if s.cuts > 0 && s.rand.IntN(3) == 0 {
		s.cuts--
		before = s.rand.IntN(2) == 0
		after = !before
	}
	s.mu.Unlock()
	if before {
		return nil, errCut
	}
	resp, err := http.DefaultTransport.RoundTrip(r)
	if err == nil && after { // the bench has it, the phone does not know
		_ = resp.Body.Close()
		return nil, errCut
	}
	return resp, err
}

// phone taps and sends as the page does: what is tapped stays until an answer
// shows its place in the log.
type phone struct {
	*testing.T
	base, piece, plan string
	client            *http.Client
	rand              *rand.Rand
	taps              []piece.Entry // everything tapped, in order
	log               []piece.Entry // what the bench has confirmed
}

func (p *phone) tap(kind, undoes string, body piece.Body) {
	id, err := uuid.NewV7()
	if err != nil {
		p.Fatal(err)
	}
	p.taps = append(p.taps, piece.Entry{ID: id.String(), Kind: kind, Undoes: undoes, Plan: p.plan, Body: body, At: time.Now().UTC().Truncate(time.Millisecond)})
}

func (p *phone) pending() []piece.Entry {
	have := map[string]bool{}
	for _, e := range p.log {
		have[e.ID] = true
	}
	var out []piece.Entry
	for _, e := range p.taps {
		if !have[e.ID] {
			out = append(out, e)
		}
	}
	return out
}

func (p *phone) send() error {
	after := 0
	if n := len(p.log); n > 0 {
		after = p.log[n-1].Seq
	}
	body, err := json.Marshal(map[string]any{"after": after, "entries": p.pending()})
	if err != nil {
		return err
	}
	r, err := p.client.Post(p.base+"/pieces/"+p.piece+"/events", "application/json", bytes.NewReader(body))
	if err != nil {
		return err
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		return err
	}
	if r.StatusCode != http.StatusOK {
		p.Errorf("the bench answers %s: %s", r.Status, text)
		return nil
	}
	var answer struct{ Entries []piece.Entry }
	if err := json.Unmarshal(text, &answer); err != nil {
		return err
	}
	p.log = append(p.log, answer.Entries...)
	return nil
}

// one tap: a note, a check or a pass; an undo takes back the last own entry that
// was not taken back yet.
func (p *phone) anyTap(n int, undo bool) {
	if undo {
		gone := map[string]bool{}
		for _, e := range p.taps {
			gone[e.Undoes] = true
		}
		for _, e := range slices.Backward(p.taps) {
			if e.Kind != piece.Undid && !gone[e.ID] {
				p.tap(piece.Undid, e.ID, piece.Body{})
				return
			}
		}
		p.Fatal("nothing to take back")
	}
	switch p.rand.IntN(4) {
	case 0:
		p.tap(piece.Noted, "", piece.Body{Text: fmt.Sprint("note ", n)})
	case 1:
		p.tap(piece.Checked, "", piece.Body{What: "tip", Found: piece.Good})
	default:
		p.tap(piece.Did, "", piece.Body{Step: piece.PassID(1 + p.rand.IntN(15))})
	}
}

// Two phones, a hundred taps of which twenty take something back, thirty cuts of the
// network, three times the bench is killed: the log holds every tap once, in each
// phone's own order, and nothing else.
func TestTwoPhonesLoseNothing(t *testing.T) {
	const taps, undos, cuts, kills = 100, 20, 30, 3
	m := &mortal{t: t, data: t.TempDir()}
	m.start()
	t.Cleanup(func() { m.kill() })
	id, planID := beginPiece(t, "http://"+m.address)
	net := &shaky{rand: rand.New(rand.NewPCG(1, 2)), cuts: cuts}
	var phones [2]*phone
	for i := range phones {
		phones[i] = &phone{T: t, base: "http://" + m.address, piece: id, plan: planID, client: &http.Client{Transport: net, Timeout: 10 * time.Second}, rand: rand.New(rand.NewPCG(7, uint64(i)))}
	}
	var done sync.WaitGroup
	tapped := make(chan int, taps)
	for _, p := range phones {
		done.Go(func() {
			for n := range taps / len(phones) {
				p.anyTap(n, n%5 == 4)
				tapped <- n
				if p.send() != nil {
					time.Sleep(20 * time.Millisecond) // and go on tapping: it is sent later
				}
			}
		})
	}
	for range kills { // in the midst of it
		for range taps / (kills + 1) {
			<-tapped
		}
		m.kill()
		m.start()
	}
	done.Wait()
	for _, p := range phones {
		for deadline := time.Now().Add(30 * time.Second); len(p.pending()) > 0 || net.cuts > 0; {
			if err := p.send(); err != nil && time.Now().After(deadline) {
				t.Fatal(err)
			}
		}
	}
	m.kill()
	sameLog(t, m, id, phones[:], taps, undos)
	if net.cuts != 0 {
		t.Errorf("%d cuts of the network did not happen", net.cuts)
	}
	m.start() // for the clean-up to end
}

// sameLog compares what is stored with what was tapped.
func sameLog(t *testing.T, m *mortal, id string, phones []*phone, taps, undos int) {
	t.Helper()
	st, err := store.Open(t.Context(), store.Config{Dir: m.data})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	events, err := st.Events(t.Context(), id, 0)
	if err != nil {
		t.Fatal(err)
	}
	by := map[string]int{}
	taken := 0
	for i, e := range events {
		if _, twice := by[e.ID]; twice || e.Seq != i+1 {
			t.Errorf("entry %d has place %d, twice: %t", i+1, e.Seq, twice)
		}
		by[e.ID] = i
		if e.Kind == piece.Undid {
			taken++
		}
	}
	if len(events) != taps+1 || taken != undos { // and the one with which it began
		t.Errorf("%d entries with %d undos, want %d and %d", len(events), taken, taps+1, undos)
	}
	for i, p := range phones {
		last := -1
		for n, tap := range p.taps {
			at, ok := by[tap.ID]
			if !ok {
				t.Fatalf("phone %d: tap %d is lost", i+1, n+1)
			}
			e := events[at]
			body, err := tap.BodyText()
			if err != nil || e.Kind != tap.Kind || e.Undoes != tap.Undoes || e.Body != body || !e.CreatedAt.Equal(tap.At) {
				t.Errorf("phone %d: tap %d is kept as %+v, want %+v", i+1, n+1, e, tap)
			}
			if at < last {
				t.Errorf("phone %d: tap %d stands before the one before it", i+1, n+1)
			}
			last = at
		}
	}
	if found, err := st.Check(t.Context()); err != nil || len(found) > 0 {
		t.Errorf("the store: %v, %v", found, err)
	}
}

// beginPiece begins a piece of the example part by the page's own forms.
func beginPiece(t *testing.T, base string) (id, planID string) {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Jar: jar}
	read := func(r *http.Response, err error) string {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, err := io.ReadAll(r.Body)
		if err != nil || r.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s, %v", r.Request.URL, r.Status, err)
		}
		return string(b)
	}
	find := func(pattern, text string) string {
		t.Helper()
		m := regexp.MustCompile(pattern).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("%s is not in %.300s", pattern, text)
		}
		return m[1]
	}
	part := find(`href="(/parts/[0-9a-f-]{36})"`, read(c.Get(base+"/parts")))
	form := find(`name="id" value="([^"]+)"`, read(c.Get(base+part)))
	page := read(c.PostForm(base+part+"/pieces", url.Values{"id": {form}}))
	return find(`action="/pieces/([^/"]+)/log"`, page), find(`name="plan" value="([^"]+)"`, page)
}
