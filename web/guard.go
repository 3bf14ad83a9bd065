package web

import (
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"slices"
	"strings"
)

// mostBody is the largest body of a request: a lathe file with room to spare.
const mostBody = 2 << 20

// policy lets the page load from this server and nowhere else, run no script and
// use no style that is written into a page, and stand in no other site's frame.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; font-src 'none'; " +
	"media-src 'self' blob:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; manifest-src 'self'"

// guard stands before every page. In this order: the name by which the server was
// called (a page elsewhere may have pointed its own name at this computer), where
// a write comes from, how long its body is.
func (s *Server) guard(next http.Handler) http.Handler {
	same := http.NewCrossOriginProtection()
	same.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, http.StatusForbidden, "This was sent from another site's page", "Open the page of the bench itself and send it from there.")
	}))
	checked := same.Handler(s.recorded(next))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		if r.TLS != nil || fromHere(r) || !s.config.Pair { // on a plain connection browsers ignore it, and complain
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
		}
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(self), geolocation=(), payment=(), usb=()")
		h.Set("Cache-Control", "no-cache")
		if !s.knows(r.Host) {
			http.Error(w, fmt.Sprintf("This server does not answer to the name %q.", short(r.Host, 80)), http.StatusMisdirectedRequest)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, takes(w, r))
		defer rescue(s.log, r, func() {
			s.fail(w, r, http.StatusInternalServerError, "Something went wrong in the program", "The log says more. What you kept is safe.")
		})
		if r, ok := s.admit(w, r); ok {
			checked.ServeHTTP(w, r)
		}
	})
}

// rescue is deferred by what stands before all pages: a fault of the program is
// written into the log and answered, and the other requests go on.
func rescue(log *slog.Logger, r *http.Request, answer func()) {
	e := recover()
	if e == nil {
		return
	}
	if e == http.ErrAbortHandler {
		panic(e)
	}
	log.Error("panic", "path", r.URL.Path, "error", e, "stack", string(debug.Stack()))
	answer()
}

// knows reports whether the server was called by a name of its own.
func (s *Server) knows(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	if s.config.Net.Knows != nil && s.config.Net.Knows(host) {
		return true
	}
	if s.config.Hosts == nil {
		return host == "localhost" || host == "127.0.0.1" || host == "::1"
	}
	return slices.Contains(s.config.Hosts, host)
}

func short(s string, n int) string {
	if len(s) > n {
		return s[:n] + "..."
	}
	return s
}
