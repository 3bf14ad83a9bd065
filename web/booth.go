package web

import (
	"bytes"
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"io"
	"log/slog"
	randv2 "math/rand/v2"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"thrum/store"
	"thrum/trial"
)

// Booth is where people vote: one page of two pictures for each open poll, the
// pictures, and nothing else. It knows no names of samples when it writes a page.
// The bench has one, and the public listener serves only one.
type Booth struct {
	store  *store.Store
	log    *slog.Logger
	now    func() time.Time
	page   *template.Template
	assets *assets

	mu    sync.Mutex
	polls map[string]*boothPoll // by public id; only polls that exist
}

// How stale what a booth shows may be. That a poll is open is checked again with
// every vote, where it counts.
const (
	boothFresh = time.Second
	boothRefit = 10 * time.Second
	mostShapes = 64 // polls that are held ready at once
)

// boothPoll is a poll as the booth holds it ready.
type boothPoll struct {
	store.Poll
	items   int
	closed  atomic.Bool
	sums    []string
	seal    cipher.AEAD // of the questions that are asked
	key     []byte      // for the names of judges
	slots   map[string]int
	mu      sync.Mutex
	totals  []trial.Tally
	fit     *trial.Abilities
	read    time.Time
	refit   time.Time
	content map[int][]byte
}

func newBooth(st *store.Store, log *slog.Logger, now func() time.Time, page *template.Template, a *assets) *Booth {
	return &Booth{store: st, log: log, now: now, page: page, assets: a, polls: map[string]*boothPoll{}}
}

// routes are all addresses of a booth.
func (b *Booth) routes(m *http.ServeMux) {
	m.HandleFunc("GET /polls/{id}/vote", b.show)
	m.HandleFunc("POST /polls/{id}/vote", b.vote)
	m.HandleFunc("GET /polls/{id}/pictures/{picture}", b.picture)
}

func hashWith(key []byte, parts ...string) []byte {
	h := hmac.New(sha256.New, key)
	for _, p := range parts {
		_ = binary.Write(h, binary.BigEndian, uint32(len(p)))
		_, _ = io.WriteString(h, p)
	}
	return h.Sum(nil)
}

// slotName is the address of a picture within one pair: the same picture has another
// address in every pair, and two when it stands beside itself.
func slotName(secret string, item, other int) string {
	n := item
	if item == other {
		n = -1
	}
	return pictureName(secret, min(item, other), max(item, other), n)
}

func pictureName(secret string, low, high, which int) string {
	return hex.EncodeToString(hashWith([]byte(secret), "picture", fmt.Sprint(low, " ", high, " ", which))[:12]) + ".jpg"
}

// open tells whether the booth may ask; the vote itself is checked by the store.
func (p *boothPoll) open() bool { return !p.closed.Load() && p.seal != nil }

// poll returns a poll that is open or closed, or an error with code NotFound.
func (b *Booth) poll(ctx context.Context, public string) (*boothPoll, error) {
	b.mu.Lock()
	p := b.polls[public]
	b.mu.Unlock()
	if p == nil {
		var err error
		if p, err = b.load(ctx, public); err != nil {
			return nil, err
		}
		b.mu.Lock()
		if len(b.polls) >= mostShapes {
			clear(b.polls)
		}
		b.polls[public] = p
		b.mu.Unlock()
	}
	return p, nil
}

func (b *Booth) load(ctx context.Context, public string) (*boothPoll, error) {
	kept, err := b.store.PollByPublic(ctx, public)
	if err != nil {
		return nil, err
	}
	if kept.OpenedAt.IsZero() {
		return nil, &store.Error{Code: store.NotFound, Err: errors.New("the poll is not open yet")}
	}
	items, err := b.store.PollItems(ctx, kept.ID)
	if err != nil {
		return nil, err
	}
	p := &boothPoll{Poll: kept, items: len(items), slots: map[string]int{}, content: map[int][]byte{}}
	for i := range items {
		p.sums = append(p.sums, items[i].SHA256)
		for j := range items {
			p.slots[slotName(kept.Secret, i, j)] = i
		}
		p.slots[pictureName(kept.Secret, i, i, i)] = i
	}
	if p.closed.Store(kept.Closed()); kept.Closed() {
		return p, nil
	}
	if p.key, err = b.store.PollKey(ctx, kept.ID); err != nil {
		if store.CodeOf(err) == store.NotFound { // read back from an archive: cannot go on
			err = nil
		}
		return p, err
	}
	block, err := aes.NewCipher(hashWith(p.key, "seal"))
	if err != nil {
		return nil, err
	}
	p.seal, err = cipher.NewGCM(block)
	return p, err
}

// freshen reads again what may have changed, at most once a second.
func (b *Booth) freshen(ctx context.Context, p *boothPoll) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := b.now()
	if p.closed.Load() || now.Sub(p.read) < boothFresh {
		return nil
	}
	kept, err := b.store.PollByPublic(ctx, p.Public)
	if err != nil {
		return err
	}
	totals, err := b.store.PairTotals(ctx, p.ID)
	if err != nil {
		return err
	}
	p.closed.Store(kept.Closed())
	p.totals, p.read = nil, now
	for _, t := range totals {
		p.totals = append(p.totals, trial.Tally{Left: t.Left, Right: t.Right, LeftWins: float64(t.LeftWins), RightWins: float64(t.RightWins), Ties: float64(t.Ties)})
	}
	if now.Sub(p.refit) >= boothRefit {
		p.refit = now
		var different []trial.Tally
		for _, t := range p.totals {
			if t.Left != t.Right {
				different = append(different, t)
			}
		}
		p.fit, err = trial.Fit(p.items, different, trial.Model{Ties: true})
		if err != nil { // too few votes yet: choices stay random
			p.fit = nil
		}
	}
	return nil
}

// asked is what a page asks; it goes to the visitor and back sealed, so that its
// source tells nothing and cannot be changed.
type asked struct {
	left, right int
	again       bool
	why         trial.Why
	at          time.Time
}

var whys = []trial.Why{trial.AtRandom, trial.Adaptive, trial.Control, trial.Repeat}

func (p *boothPoll) sealed(q asked, judge string) string {
	plain := make([]byte, 12)
	plain[0], plain[1] = byte(q.left), byte(q.right)
	if q.again {
		plain[2] = 1
	}
	for i, w := range whys {
		if w == q.why {
			plain[3] = byte(i)
		}
	}
	binary.BigEndian.PutUint64(plain[4:], uint64(q.at.UnixMilli()))
	nonce := make([]byte, p.seal.NonceSize())
	_, _ = rand.Read(nonce) // never fails
	return base64.RawURLEncoding.EncodeToString(p.seal.Seal(nonce, nonce, plain, []byte(judge)))
}

func (p *boothPoll) unsealed(text, judge string) (q asked, ok bool) {
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(raw) < p.seal.NonceSize() {
		return q, false
	}
	n := p.seal.NonceSize()
	plain, err := p.seal.Open(nil, raw[:n], raw[n:], []byte(judge))
	if err != nil || len(plain) != 12 || int(plain[3]) >= len(whys) {
		return q, false
	}
	return asked{
		int(plain[0]), int(plain[1]), plain[2] == 1, whys[plain[3]],
		time.UnixMilli(int64(binary.BigEndian.Uint64(plain[4:]))),
	}, true
}

// visitor reads the cookie; judge is what is kept of it.
func (p *boothPoll) visitor(r *http.Request) (judge string, ok bool) {
	c, err := r.Cookie(p.cookie())
	if err != nil || len(c.Value) != 32 {
		return "", false
	}
	return p.judge(c.Value), true
}

func (p *boothPoll) cookie() string { return "poll-" + p.Public[:min(8, len(p.Public))] }

func (p *boothPoll) judge(cookie string) string {
	return hex.EncodeToString(hashWith(p.key, "judge", cookie)[:16])
}

// meet gives a visitor without a cookie one.
func (p *boothPoll) meet(w http.ResponseWriter, r *http.Request) (judge string, fresh bool) {
	if judge, ok := p.visitor(r); ok {
		return judge, false
	}
	b := make([]byte, 16)
	_, _ = rand.Read(b) // never fails
	value := hex.EncodeToString(b)
	http.SetCookie(w, &http.Cookie{
		Name: p.cookie(), Value: value, Path: "/polls/" + p.Public, MaxAge: 90 * 24 * 3600, HttpOnly: true,
		SameSite: http.SameSiteLaxMode, // a visitor comes by a link from elsewhere
		Secure:   r.TLS != nil,
	})
	return p.judge(value), true
}

// boothPage is one page of the booth.
type boothPage struct {
	Title, Style, Script string
	Asks                 string
	Action               string
	Left, Right          string // addresses
	Ask                  string
	Done                 int // votes of this visitor
	Pairs                int
	State                string // "ask", "done", "closed", "none", "cookie", "busy", "often"
	Said                 string
}

// show shows the next pair.
func (b *Booth) show(w http.ResponseWriter, r *http.Request) {
	p, err := b.poll(r.Context(), r.PathValue("id"))
	if err != nil {
		b.refuse(w, r, err)
		return
	}
	if err := b.freshen(r.Context(), p); err != nil {
		b.refuse(w, r, err)
		return
	}
	page := boothPage{Title: p.Asks, Asks: p.Asks, Action: "/polls/" + p.Public + "/vote", Pairs: p.items * (p.items - 1) / 2}
	if !p.open() {
		page.State = "closed"
		b.write(w, r, http.StatusOK, page)
		return
	}
	judge, fresh := p.meet(w, r)
	var seen []trial.Shown
	if !fresh {
		votes, err := b.store.VotesOf(r.Context(), p.ID, judge)
		if err != nil {
			b.refuse(w, r, err)
			return
		}
		for _, v := range votes {
			seen = append(seen, trial.Shown{Left: v.Left, Right: v.Right, Again: v.Again})
		}
	}
	page.Done = len(seen)
	if r.URL.Query().Get("said") == "again" {
		page.Said = "That pair you had judged before. The first answer stands."
	}
	p.mu.Lock()
	c, ok := trial.Choose(randv2.New(randv2.NewPCG(randv2.Uint64(), randv2.Uint64())), p.items, p.totals, seen, p.fit)
	p.mu.Unlock()
	if !ok {
		page.State = "done"
		b.write(w, r, http.StatusOK, page)
		return
	}
	page.State = "ask"
	page.Ask = p.sealed(asked{c.Left, c.Right, c.Again, c.Why, b.now()}, judge)
	base := "/polls/" + p.Public + "/pictures/"
	page.Left, page.Right = base+slotName(p.Secret, c.Left, c.Right), base+slotName(p.Secret, c.Right, c.Left)
	if c.Left == c.Right {
		page.Right = base + pictureName(p.Secret, c.Left, c.Left, c.Left)
	}
	b.write(w, r, http.StatusOK, page)
}

// vote takes a vote, and goes to the next pair.
func (b *Booth) vote(w http.ResponseWriter, r *http.Request) {
	p, err := b.poll(r.Context(), r.PathValue("id"))
	if err != nil {
		b.refuse(w, r, err)
		return
	}
	page := boothPage{Title: p.Asks, Asks: p.Asks, Action: "/polls/" + p.Public + "/vote", State: "closed"}
	if !p.open() {
		b.write(w, r, http.StatusGone, page)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		http.Error(w, "The vote did not arrive whole. Go back and send it again.", http.StatusBadRequest)
		return
	}
	judge, ok := p.visitor(r)
	if !ok {
		page.State = "cookie"
		b.write(w, r, http.StatusForbidden, page)
		return
	}
	q, ok := p.unsealed(r.PostForm.Get("ask"), judge)
	outcome, known := map[string]store.Outcome{"left": store.LeftBetter, "right": store.RightBetter, "same": store.Tie}[r.PostForm.Get("answer")]
	if !ok || !known {
		http.Error(w, "This is not an answer to a question that was asked here. Go back to the poll and try again.", http.StatusBadRequest)
		return
	}
	counted, err := b.store.Cast(r.Context(), store.Vote{
		PollID: p.ID, Judge: judge, Left: q.left, Right: q.right, Again: q.again, Outcome: outcome, Chosen: string(q.why), Took: b.now().Sub(q.at),
	})
	switch {
	case store.CodeOf(err) == store.Conflict: // closed a moment ago
		b.write(w, r, http.StatusGone, page)
	case err != nil:
		b.refuse(w, r, err)
	case !counted:
		http.Redirect(w, r, page.Action+"?said=again", http.StatusSeeOther)
	default:
		http.Redirect(w, r, page.Action, http.StatusSeeOther)
	}
}

// picture serves a crop by the address that it has within one pair.
func (b *Booth) picture(w http.ResponseWriter, r *http.Request) {
	p, err := b.poll(r.Context(), r.PathValue("id"))
	if err != nil {
		b.refuse(w, r, err)
		return
	}
	item, ok := p.slots[r.PathValue("picture")]
	if !ok {
		http.Error(w, "no such picture", http.StatusNotFound)
		return
	}
	data, err := b.crop(r.Context(), p, item)
	if err != nil {
		b.refuse(w, r, err)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "image/jpeg")
	h.Set("Cache-Control", "private, max-age=86400, immutable")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
}

// crop returns a crop's bytes; those of a poll are held, a few MB.
func (b *Booth) crop(ctx context.Context, p *boothPoll, item int) ([]byte, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if data := p.content[item]; data != nil {
		return data, nil
	}
	f, err := b.store.Blobs().Open(ctx, p.sums[item])
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, 4<<20))
	if err == nil {
		p.content[item] = data
	}
	return data, err
}

// refuse says what a visitor needs to know, and no more.
func (b *Booth) refuse(w http.ResponseWriter, r *http.Request, err error) {
	page := boothPage{Title: "No such poll", State: "none"}
	switch {
	case store.CodeOf(err) == store.NotFound:
		b.write(w, r, http.StatusNotFound, page)
	case errors.Is(err, store.ErrBusy):
		page.Title, page.State = "Too many at once", "busy"
		w.Header().Set("Retry-After", "2")
		b.write(w, r, http.StatusServiceUnavailable, page)
	case r.Context().Err() != nil: // nobody waits for the answer
	default:
		b.log.Error("voting failed", "error", err)
		page.Title, page.State = "Something went wrong", "busy"
		b.write(w, r, http.StatusInternalServerError, page)
	}
}

func (b *Booth) write(w http.ResponseWriter, r *http.Request, status int, page boothPage) {
	page.Style, page.Script = b.assets.boothStyle, b.assets.boothScript
	var out bytes.Buffer
	if err := b.page.ExecuteTemplate(&out, "booth", page); err != nil {
		panic(fmt.Errorf("booth page: %w", err))
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(out.Bytes())
}
