package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"
)

// newLan is a shop whose bench is open to the network.
func newLan(t *testing.T) shop {
	s := newShop(t)
	s.server.config.Pair = true
	s.server.config.Net = Net{
		Addresses: func() []string { return []string{"http://192.168.7.5:8470"} }, Secure: func() []string { return []string{"https://192.168.7.5:8471"} },
		Knows: func(h string) bool { return h == "192.168.7.5" }, Authority: []byte("certificate"),
	}
	return s
}

// from asks as another computer of the network does, with a cookie if it has one.
func (s shop) from(method, address, cookie string, pairs ...string) *httptest.ResponseRecorder {
	s.Helper()
	q := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		q.Set(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest(method, address, strings.NewReader(q.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Host, r.RemoteAddr = "192.168.7.5:8470", "192.168.7.44:50112"
	if cookie != "" {
		r.AddCookie(&http.Cookie{Name: deviceCookie, Value: cookie})
	}
	w := httptest.NewRecorder()
	s.server.ServeHTTP(w, r)
	return w
}

// here asks as the bench computer itself does.
func (s shop) here(method, address string) *httptest.ResponseRecorder {
	s.Helper()
	r := httptest.NewRequest(method, address, strings.NewReader("x=1"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.RemoteAddr = "127.0.0.1:50000"
	return s.ask(r)
}

func (s shop) code() string {
	s.Helper()
	s.wantRedirect(s.here(http.MethodPost, "/devices/code"), "/devices")
	m := regexp.MustCompile(`<b>(\d{4}) (\d{4})</b>`).FindStringSubmatch(s.here(http.MethodGet, "/devices").Body.String())
	if m == nil {
		s.Fatal("no code on the page")
	}
	return m[1] + m[2]
}

// pair pairs a phone and returns its cookie.
func (s shop) pair(name string) *http.Cookie {
	s.Helper()
	w := s.from(http.MethodPost, "/pair", "", "code", s.code(), "name", name)
	for _, c := range w.Result().Cookies() {
		if c.Name == deviceCookie {
			return c
		}
	}
	s.Fatalf("no cookie: %d %.300s", w.Code, w.Body)
	return nil
}

func TestPairing(t *testing.T) {
	s := newLan(t)
	for _, p := range []string{"/", "/parts", "/pieces", "/devices", "/lathes/inch-bench", "/sheet.json", "/offline.js", "/pairs", "/assetsx"} {
		s.want(s.from(http.MethodGet, p, ""), 401, "Pair this device")
	}
	s.want(s.from(http.MethodPost, "/parts", "", "name", "x"), 401, "not paired")
	s.want(s.from(http.MethodGet, "/", "made-up"), 401)
	s.want(s.from(http.MethodGet, "/pair?code=12345678", ""), 200, `value="12345678"`)
	s.want(s.from(http.MethodGet, s.server.assets.style, ""), 200)
	s.want(s.from(http.MethodGet, "/authority.cer", ""), 200, "certificate")

	c := s.pair("Anna’s phone")
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || len(c.Value) < 40 {
		t.Errorf("the cookie is %+v", c)
	}
	devices, err := s.store.Devices(t.Context())
	if err != nil || len(devices) != 1 || devices[0].Hash != hashOf(c.Value) || strings.Contains(fmt.Sprint(devices), c.Value) {
		t.Errorf("kept of the device: %+v, %v", devices, err)
	}
	s.want(s.from(http.MethodGet, "/pieces", c.Value), 200, "At the lathe")
	s.want(s.from(http.MethodGet, "/devices", c.Value), 200, "Anna’s phone", "(this one)", "https://192.168.7.5:8471", "keeping the screen on")
	s.want(s.from(http.MethodPost, "/devices/code", c.Value, "x", "1"), 403)

	// What a phone enters carries its name.
	s.server.config.Pair = false
	at := s.begin()
	s.server.config.Pair = true
	id := entryID.FindStringSubmatch(s.from(http.MethodGet, at, c.Value).Body.String())[1]
	s.wantRedirect(s.from(http.MethodPost, at+"/log", c.Value, "id", id, "kind", "note", "text", "hums"), at)
	s.want(s.from(http.MethodGet, at+"/log", c.Value), 200, "Anna’s phone", "hums")

	other := s.pair("Ben’s phone")
	all, err := s.store.Devices(t.Context())
	if err != nil || len(all) != 2 {
		t.Fatalf("%d devices, %v", len(all), err)
	}
	s.want(s.from(http.MethodPost, "/devices/"+all[0].ID+"/revoke", other.Value, "x", "1"), 403)
	s.wantRedirect(s.here(http.MethodPost, "/devices/"+all[0].ID+"/revoke"), "/devices")
	s.want(s.from(http.MethodGet, "/pieces", c.Value), 401)
	s.want(s.from(http.MethodGet, "/pieces", other.Value), 200)
}

// A code is good once, for ten minutes, and for ten wrong guesses.
func TestPairingCode(t *testing.T) {
	s := newLan(t)
	try := func(code string) int {
		return s.from(http.MethodPost, "/pair", "", "code", code, "name", "phone").Code
	}
	if got := try(""); got != 403 {
		t.Errorf("no code was made, an empty one gives %d", got)
	}
	code := s.code()
	if got := try(code[:4] + " " + code[4:]); got != 303 {
		t.Errorf("the right code gives %d", got)
	}
	if got := try(code); got != 403 {
		t.Errorf("a code used twice gives %d", got)
	}
	code = s.code()
	for range codeTries {
		if got := try("0000"); got != 403 {
			t.Errorf("a wrong code gives %d", got)
		}
	}
	if got := try(code); got != 403 {
		t.Errorf("the right code after %d wrong ones gives %d", codeTries, got)
	}
	code = s.code()
	s.server.config.Now = func() time.Time { return time.Now().Add(codeLasts + time.Second) }
	if got := try(code); got != 403 {
		t.Errorf("a code that has run out gives %d", got)
	}
}

// Only this computer's own names are answered to.
func TestLanNames(t *testing.T) {
	s := newLan(t)
	for host, status := range map[string]int{"192.168.7.5:8470": 401, "192.168.7.6:8470": 421, "evil.example": 421, "localhost:8470": 401} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Host = host
		w := httptest.NewRecorder()
		s.server.ServeHTTP(w, r)
		if w.Code != status {
			t.Errorf("%s: status %d, want %d", host, w.Code, status)
		}
	}
}
