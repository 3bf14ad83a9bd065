package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"math/big"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"thrum/store"
)

// Net says how the bench can be reached from a workshop's network. The zero Net is
// a bench for this computer alone.
type Net struct {
	// Addresses lists the addresses for phones, as http://192.168.1.5:8470; Secure
	// the same over HTTPS.
	Addresses, Secure func() []string
	// Knows tells whether a name or address, without port, is this computer's.
	Knows func(host string) bool
	// Authority is the certificate (DER) that a phone installs to trust Secure.
	Authority []byte
}

// deviceKey is where the guard leaves the id of the device that asks.
type deviceKey struct{}

// deviceOf is the id of the device that asks; "local" is the bench computer itself.
func deviceOf(r *http.Request) string {
	if id, ok := r.Context().Value(deviceKey{}).(string); ok {
		return id
	}
	return localDevice
}

func withDevice(r *http.Request, id string) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), deviceKey{}, id))
}

const (
	localDevice  = "local"
	deviceCookie = "thrum-device"
)

// openToAll are the first parts of addresses that need no pairing: the form for the
// code, and what it takes to show it.
var openToAll = []string{"/pair", "/assets/", "/authority.cer"}

// admit finds out which device asks. The bench computer itself needs no pairing;
// any other shows the cookie that it was given, or sees the form for the code.
func (s *Server) admit(w http.ResponseWriter, r *http.Request) (*http.Request, bool) {
	if !s.config.Pair || s.config.Store == nil || fromHere(r) {
		return r, true
	}
	if c, err := r.Cookie(deviceCookie); err == nil && len(c.Value) <= 64 {
		d, err := s.config.Store.DeviceByHash(r.Context(), hashOf(c.Value))
		if err == nil {
			return withRole(withDevice(r, d.ID), d.Role), true
		}
		if store.CodeOf(err) != store.NotFound {
			s.broken(w, r, err)
			return r, false
		}
	}
	for _, p := range openToAll {
		if r.URL.Path == p || strings.HasSuffix(p, "/") && strings.HasPrefix(r.URL.Path, p) {
			return withRole(withDevice(r, ""), store.Viewer), true
		}
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		problem(w, http.StatusUnauthorized, "this device is not paired with the bench, or not any more")
		return r, false
	}
	s.showPair(withDevice(r, ""), w, http.StatusUnauthorized, "", r.URL.RequestURI(), "")
	return r, false
}

// fromHere tells whether a request comes from this very computer.
func fromHere(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	ip := net.ParseIP(host)
	return err == nil && ip != nil && ip.IsLoopback()
}

func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// Limits of pairing. Ten guesses at eight figures find the code once in ten million.
const (
	codeDigits = 8
	codeLasts  = 10 * time.Minute
	codeTries  = 10
)

// pairing holds the one code that is good now. It lives in memory alone: a restart
// forgets it.
type pairing struct {
	mu    sync.Mutex
	code  string
	until time.Time
	tries int
}

// fresh makes a new code in place of the last.
func (p *pairing) fresh(now time.Time) (string, error) {
	n, err := rand.Int(rand.Reader, big.NewInt(100_000_000))
	if err != nil {
		return "", err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.code, p.until, p.tries = fmt.Sprintf("%0*d", codeDigits, n.Int64()), now.Add(codeLasts), 0
	return p.code, nil
}

// current is the code that is good now, or "".
func (p *pairing) current(now time.Time) (string, time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if now.After(p.until) {
		p.code = ""
	}
	return p.code, p.until
}

// use tries a code. A right one is used up, and after ten wrong ones it is gone too.
func (p *pairing) use(code string, now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.code == "" || now.After(p.until) {
		return false
	}
	if subtle.ConstantTimeCompare([]byte(code), []byte(p.code)) == 1 {
		p.code = ""
		return true
	}
	if p.tries++; p.tries >= codeTries {
		p.code = ""
	}
	return false
}

// newSecret makes what a device shows with every request.
func newSecret() (string, error) {
	b := make([]byte, 32)
	_, err := rand.Read(b)
	return base64.RawURLEncoding.EncodeToString(b), err
}
