package web

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"thrum/store"
)

// roleKey is where the guard leaves the role of the device that asks.
type roleKey struct{}

// roleOf is what the device that asks may do; the bench computer itself is an owner.
func roleOf(r *http.Request) store.Role {
	if role, ok := r.Context().Value(roleKey{}).(store.Role); ok {
		return role
	}
	return store.Owner
}

func withRole(r *http.Request, role store.Role) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), roleKey{}, role))
}

// writes tells whether a request may change something.
func writes(r *http.Request) bool {
	return r.Method != http.MethodGet && r.Method != http.MethodHead && r.Method != http.MethodOptions
}

// personal are the addresses whose writes concern nobody but the device itself.
var personal = []string{"/looks", "/pair"}

// askings change nothing that is kept: they have something reckoned or heard.
var askings = []string{"/jobs", "/listen"}

// allowed tells whether a role may send a request.
func allowed(role store.Role, r *http.Request) bool {
	path := r.URL.Path
	switch {
	case !writes(r) || slices.Contains(personal, path) || role == store.Owner:
		return true
	case role == store.Viewer:
		return slices.Contains(askings, path)
	}
	// A member: all but letting devices in or out and clearing shelves.
	return !strings.HasSuffix(path, "/remove") && !strings.HasPrefix(path, "/devices/") || strings.HasSuffix(path, "/revoke") && strings.HasPrefix(path, "/devices/"+deviceOf(r)+"/")
}

// recorded serves a request and, when it changed something, adds a line to the
// record of who changed what.
func (s *Server) recorded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !allowed(roleOf(r), r) {
			what := "A " + string(roleOf(r)) + "’s device may not do this"
			if strings.HasPrefix(r.Header.Get("Accept"), "application/json") {
				problem(w, http.StatusForbidden, what)
				return
			}
			s.fail(w, r, http.StatusForbidden, what, "The owner of the bench decides on the page of devices what each may do.")
			return
		}
		if !writes(r) || s.config.Store == nil || slices.Contains(personal, r.URL.Path) || slices.Contains(askings, r.URL.Path) {
			next.ServeHTTP(w, r)
			return
		}
		seen := &statusWriter{ResponseWriter: w}
		next.ServeHTTP(seen, r)
		if !changedSomething(r, seen.status) {
			return
		}
		at, err := s.config.Store.As(s.config.Store.Shop(), deviceOf(r))
		if err == nil {
			ctx, done := context.WithTimeout(context.WithoutCancel(r.Context()), 10*time.Second)
			defer done()
			err = at.AddChange(ctx, store.Change{Address: short(r.URL.Path, 400), Made: short(w.Header().Get("Location"), 400)})
		}
		if err != nil {
			s.log.Error("a change was not recorded", "path", r.URL.Path, "device", deviceOf(r), "error", err)
		}
	})
}

// changedSomething tells whether an answer stands for a change: a page that follows
// its form does not, being refused or shown again, but for the few that keep
// something and answer at once.
func changedSomething(r *http.Request, status int) bool {
	switch {
	case status != http.StatusOK:
		return status < http.StatusBadRequest
	case strings.HasSuffix(r.URL.Path, "/events"):
		return true
	}
	return r.MultipartForm != nil && slices.Contains(r.MultipartForm.Value["keep"], "yes")
}

// statusWriter remembers the status of an answer.
type statusWriter struct {
	http.ResponseWriter
	status int
}

func (w *statusWriter) WriteHeader(status int) {
	if w.status == 0 {
		w.status = status
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *statusWriter) Write(b []byte) (int, error) {
	if w.status == 0 {
		w.status = http.StatusOK
	}
	return w.ResponseWriter.Write(b)
}

// Unwrap lets deadlines through.
func (w *statusWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

type changesPage struct {
	frame
	Lines []changeLine
}

type changeLine struct {
	At      time.Time
	Who     string
	Address string
	Made    string
}

// mostChanges is how many lines of the record are shown.
const mostChanges = 300

// changesShow shows who changed what.
func (s *Server) changesShow(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	devices, err := s.config.Store.Devices(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	names := map[string]string{localDevice: "the bench computer"}
	for _, d := range devices {
		names[d.ID] = d.Name
	}
	lines, err := s.config.Store.Changes(r.Context(), mostChanges)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page := changesPage{frame: s.frame(r, "Who changed what", "")}
	for _, c := range lines {
		who := names[c.Device]
		if who == "" {
			who = c.Device
		}
		page.Lines = append(page.Lines, changeLine{c.CreatedAt, who, c.Address, back(c.Made)})
	}
	s.show(w, r, http.StatusOK, "changes", page)
}

// deviceRole changes what a device may do.
func (s *Server) deviceRole(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	err := s.config.Store.SetRole(r.Context(), r.PathValue("id"), store.Role(r.PostForm.Get("role")))
	switch store.CodeOf(err) {
	case store.Invalid, store.NotFound:
		s.fail(w, r, http.StatusUnprocessableEntity, "Nothing was changed", "Choose owner, member or viewer for a device that is paired.")
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
}
