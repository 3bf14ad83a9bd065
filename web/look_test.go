package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// fetch asks a bench without a store for an address.
func fetch(t *testing.T, address string) (int, string) {
	t.Helper()
	s, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodGet, address, nil)
	r.Host = "localhost"
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w.Code, w.Body.String()
}

// The pages that look something up give its figures, and keep what was typed when
// it cannot be used.
func TestLookUp(t *testing.T) {
	a := url.QueryEscape("callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in")
	b := url.QueryEscape("callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in&rpm=115")
	for _, c := range []struct {
		address string
		status  int
		want    []string
	}{
		{"/threads", 200, []string{"Which thread is this", "1/2-13"}},
		{"/threads?callout=M10", 200, []string{"9.732", "9.968", "internal", "<svg"}},
		{"/threads?callout=M10x1.6-6g", 422, []string{"special", `value="M10x1.6-6g"`}},
		{"/threads?callout=%3Cscript%3Ealert(1)%3C/script%3E", 422, []string{"&lt;script&gt;"}},
		{"/threads?diameter=9.9mm&pitch=1.5mm", 200, []string{"M10x1.5", "To tell the first two apart"}},
		{"/threads?diameter=wide&pitch=13tpi", 422, []string{"wide", "is not a length"}},
		{"/wires?callout=1/2-13+UNC-2A", 200, []string{"0.5102 to 0.5152", "0.0444"}},
		{"/wires?callout=1/2-13+UNC-2A&measured=.530&wire=.045&lathe=inch-bench", 200, []string{"take off", "direct dial"}},
		{"/wires?callout=1/2-13+UNC-2A&measured=tight", 422, []string{"tight"}},
		{"/wires?callout=M60x4-6g&measured=60.854%3B+60.858&wire=2.31&part-temperature=45C&made-of=free-cutting+brass&lead-error=20um", 200, []string{"mean of 2", "the mate feels", "part expansion", "<details open"}},
		{"/wires?callout=M60x4-6g&measured=60.854&part-temperature=45", 422, []string{"with its unit", "known are gauge steel", "<details open"}},
		{"/wires?callout=M60x4-6g&measured=60.854&part-temperature=900C&made-of=carbon+steel", 422, []string{"let warm parts cool", "<details open"}},
		{"/trials/gauge", 200, []string{"five bars"}},
		{"/trials/gauge?readings=bar+1,8%0Abar+2,7.5%0Abar+1,8.5%0Abar+2,7.5", 200, []string{"measured again", "/trials/new?spread=", "may be the same size"}},
		{"/trials/gauge?readings=ann,1,8%0Aann,1,8.1%0Aann,2,7%0Aann,2,7.2%0Abob,1,8%0Abob,1,8.3%0Abob,2,7%0Abob,2,7.1", 200, []string{"analysis of variance", "between people"}},
		{"/trials/gauge?readings=bar+1,8%0Abar+1,eight", 422, []string{"is not a number (line 2, column 7: reading)", "bar 1,eight"}},
		{"/wires?callout=M60x4-6g&wires=metric+series", 200, []string{"2.550"}},
		{"/compare", 200, []string{"side by side"}},
		{"/compare?a=" + a + "&b=" + b, 200, []string{"What differs", "115 rpm", "200 rpm", "What is the same"}},
		{"/compare?a=" + a + "&b=callout%3Dxx", 200, []string{"Set-up B"}},
		{"/nowhere", 404, []string{"no such page"}},
	} {
		status, body := fetch(t, c.address)
		if status != c.status {
			t.Errorf("%s: status %d, want %d", c.address, status, c.status)
		}
		for _, w := range c.want {
			if !strings.Contains(body, w) {
				t.Errorf("%s: %q is not on the page", c.address, w)
			}
		}
		if strings.Contains(body, "<script>alert") {
			t.Errorf("%s: what was typed came back as script", c.address)
		}
	}
}
