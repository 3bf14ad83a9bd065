package web

import (
	"net/http"
	"strings"
	"testing"

	"thrum/store"
)

// Each role may do what is said of it and no more, and what is done is written down
// with who did it.
func TestRoles(t *testing.T) {
	s := newLan(t)
	s.server.config.Queue = nil
	cookies := map[store.Role]string{}
	for _, role := range store.Roles() {
		cookies[role] = s.pair(string(role)).Value
		devices, err := s.store.Devices(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		d := devices[len(devices)-1]
		if d.Role != store.Member {
			t.Errorf("a newly paired device is %s, want member", d.Role)
		}
		s.wantRedirect(s.post("/devices/"+d.ID+"/role", "role", string(role)), "/devices")
	}
	const query = "callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in"
	begin := func(name string) []string { return []string{"name", name, "from", "inch-bench"} }
	for _, c := range []struct {
		address string
		form    []string
		may     map[store.Role]bool
	}{
		{"/parts", []string{"name", "screw", "query", query}, map[store.Role]bool{store.Owner: true, store.Member: true}},
		{"/lathes", begin("x"), map[store.Role]bool{store.Owner: true, store.Member: true}},
		{"/lathes/owner/remove", []string{"revision", "1"}, map[store.Role]bool{store.Owner: true}},
		{"/devices/code", []string{"x", "1"}, map[store.Role]bool{store.Owner: true}},
		{"/devices/nobody/role", []string{"role", "owner"}, map[store.Role]bool{store.Owner: true}},
		{"/devices/nobody/revoke", []string{"x", "1"}, map[store.Role]bool{store.Owner: true}},
		{"/looks", []string{"theme", "dark"}, map[store.Role]bool{store.Owner: true, store.Member: true, store.Viewer: true}},
	} {
		for _, role := range store.Roles() {
			form := c.form
			if c.address == "/lathes" {
				form = begin(string(role))
			}
			w := s.from(http.MethodPost, c.address, cookies[role], form...)
			if forbidden := w.Code == http.StatusForbidden; forbidden == c.may[role] {
				t.Errorf("%s as %s: status %d", c.address, role, w.Code)
			}
		}
	}
	for _, role := range store.Roles() {
		s.want(s.from(http.MethodGet, "/sheet?"+query, cookies[role]), 200, "200 rpm")
	}

	for role, want := range map[store.Role]int{store.Owner: 200, store.Member: 403, store.Viewer: 403} {
		w := s.from(http.MethodGet, "/export", cookies[role])
		if w.Code != want || want == 200 && !strings.HasPrefix(w.Body.String(), "PK") {
			t.Errorf("everything, asked for by a %s: status %d", role, w.Code)
		}
	}
	w := s.from(http.MethodGet, "/changes", cookies[store.Viewer])
	s.want(w, 200, "/parts", "/lathes/owner/remove", "the bench computer")
	changes, err := s.store.Changes(t.Context(), 100)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range changes {
		if c.Address == "/looks" || c.Address == "/pair" {
			t.Errorf("%s was written down", c.Address)
		}
	}
	if n := len(changes); n < 8 {
		t.Errorf("%d changes were written down", n)
	}
	for i := 1; i < len(changes); i++ {
		if changes[i].CreatedAt.After(changes[i-1].CreatedAt) {
			t.Error("the record is not the newest first")
		}
	}
	if strings.Contains(w.Body.String(), cookies[store.Owner]) {
		t.Error("a secret is on the page")
	}
}
