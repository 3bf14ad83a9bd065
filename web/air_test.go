package web

import (
	"strings"
	"testing"
)

// Ten air passes read on an indicator change what a sheet says about the room, and
// say no more than ten can.
func TestAirPasses(t *testing.T) {
	s := newShop(t)
	const sheet = "/sheet.txt?callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=2in"
	s.want(s.get(sheet), 200, "ASSUMED timing")
	const at = "/lathes/inch-bench/air"
	page := s.get(at)
	s.want(page, 200, "indicator", "miss")
	id := entryID.FindStringSubmatch(page.Body.String())[1]
	// 13 to the inch at 200 rpm is 0.2564 in/s: .0513 in is 0.2 s.
	send := func() {
		s.wantRedirect(s.post(at, "id", id, "operator", "Anna", "thread", "1/2-13 UNC", "rpm", "200", "r1", ".0513", "r2", "+.064", "r3", "-.010", "r4", "0", "r5", "1mm",
			"r6", ".045", "r7", "miss", "r8", ".055", "r9", "−.002", "r10", ".061"), at+"#said")
	}
	send()
	send() // twice: kept once
	w := s.get(at)
	s.want(w, 200, "Anna", "0.20 s, 0.25 s, -0.04 s, 0.00 s, 0.15 s", "missed", "1 of 10 were missed", "below 40 in 100", "95 % confidence")
	if n := strings.Count(w.Body.String(), "Anna"); n != 1 {
		t.Errorf("%d sets are listed", n)
	}
	if text := s.get(sheet).Body.String(); strings.Contains(text, "ASSUMED timing") || !strings.Contains(text, "10 air passes") {
		t.Errorf("the sheet does not use them:\n%.1500s", text)
	}
	s.want(s.get(sheet+"&air-passes=0.3,0.31,0.29"), 200, "3 air passes") // the address has the last word
	s.want(s.get(strings.Replace(sheet, "inch-bench", "metric-geared", 1)), 200)

	for name, c := range map[string]struct {
		pairs []string
		words string
	}{
		"no thread":    {[]string{"rpm", "200", "r1", ".1"}, "is no thread"},
		"no speed":     {[]string{"thread", "M10", "r1", ".1"}, "is not a spindle speed"},
		"two passes":   {[]string{"thread", "M10", "rpm", "100", "r1", ".1", "r2", ".1"}, "fewer than three"},
		"not a length": {[]string{"thread", "M10", "rpm", "100", "r1", "far", "r2", ".1", "r3", ".2"}, "far"},
		"an hour late": {[]string{"thread", "M10", "rpm", "1", "r1", "900", "r2", "1", "r3", "2"}, "check reading"},
	} {
		w := s.post(at, c.pairs...)
		s.want(w, 422, c.words)
		if t.Failed() {
			t.Log(name)
		}
	}
	s.want(s.get("/lathes/nowhere/air"), 404)
	s.want(s.get("/lathes/inch-bench"), 200, "/lathes/inch-bench/air")
}
