package web

import (
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"
)

// Limits of the public listener.
const (
	PublicRate  = 20 // requests a second from one address, by default
	publicBurst = 4  // seconds' worth that may come at once
	mostKnown   = 20_000
	mostAtOnce  = 512 // requests under way
)

const boothPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// Public is the handler of the public listener: the booth and what its pages load,
// and nothing else of the bench. rate is how many requests a second one address may
// make; 0 sets no limit.
func (s *Server) Public(rate float64) http.Handler {
	if s.booth == nil {
		return http.NotFoundHandler()
	}
	m := http.NewServeMux()
	s.booth.routes(m)
	m.HandleFunc("GET /assets/{name}", func(w http.ResponseWriter, r *http.Request) {
		if n := "/assets/" + r.PathValue("name"); n != s.assets.boothScript && n != s.assets.boothStyle {
			http.Error(w, "nothing here", http.StatusNotFound)
			return
		}
		s.assets.serve(w, r)
	})
	m.HandleFunc("GET /robots.txt", func(w http.ResponseWriter, _ *http.Request) {
		_, _ = w.Write([]byte("User-agent: *\nDisallow: /\n"))
	})
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.booth.write(w, r, http.StatusNotFound, boothPage{Title: "Nothing here", State: "none"})
	})
	return s.booth.guard(http.NewCrossOriginProtection().Handler(m), newMeter(rate, s.config.Now))
}

// guard stands before every answer of the public listener.
func (b *Booth) guard(next http.Handler, m *meter) http.Handler {
	room := make(chan struct{}, mostAtOnce)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", boothPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin") // none at all would make browsers hide where a form comes from
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()")
		h.Set("X-Robots-Tag", "noindex, nofollow")
		h.Set("Cache-Control", "no-store")
		if !m.allow(r.RemoteAddr) {
			h.Set("Retry-After", "5")
			b.write(w, r, http.StatusTooManyRequests, boothPage{Title: "A little slower, please", State: "often"})
			return
		}
		select {
		case room <- struct{}{}:
			defer func() { <-room }()
		default:
			h.Set("Retry-After", "2")
			b.write(w, r, http.StatusServiceUnavailable, boothPage{Title: "Too many at once", State: "busy"})
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
		defer rescue(b.log, r, func() { http.Error(w, "Something went wrong.", http.StatusInternalServerError) })
		next.ServeHTTP(w, r)
	})
}

// meter counts requests by address. It forgets addresses in two steps, so that its
// memory is bounded whoever comes; an address that was just forgotten starts afresh.
type meter struct {
	rate float64
	now  func() time.Time

	mu       sync.Mutex
	new, old map[netip.Prefix]bucket
}

// bucket holds the requests that an address may still make.
type bucket struct {
	left float64
	at   time.Time
}

func newMeter(rate float64, now func() time.Time) *meter {
	return &meter{rate: rate, now: now, new: map[netip.Prefix]bucket{}}
}

// addressOf is an IPv4 address, or the 64 bits of an IPv6 one that a household has.
func addressOf(remote string) netip.Prefix {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		return netip.Prefix{}
	}
	a, err := netip.ParseAddr(strings.Trim(host, "[]"))
	if err != nil {
		return netip.Prefix{}
	}
	a = a.Unmap().WithZone("")
	bits := 64
	if a.Is4() {
		bits = 32
	}
	p, _ := a.Prefix(bits) // within the length of the address
	return p
}

func (m *meter) allow(remote string) bool {
	if m.rate <= 0 {
		return true
	}
	k, now := addressOf(remote), m.now()
	most := m.rate * publicBurst
	m.mu.Lock()
	defer m.mu.Unlock()
	b, ok := m.new[k]
	if !ok {
		if b, ok = m.old[k]; !ok {
			b = bucket{most, now}
		}
		if len(m.new) >= mostKnown/2 {
			m.old, m.new = m.new, map[netip.Prefix]bucket{}
		}
	}
	b.left = min(most, b.left+m.rate*max(0, now.Sub(b.at).Seconds()))
	b.at = now
	allowed := b.left >= 1
	if allowed {
		b.left--
	}
	m.new[k] = b
	return allowed
}
