package web

import (
	"encoding/json"
	"strings"
	"testing"

	"thrum/plan"
)

// tenAir keeps a set of air passes, each so many inches past the mark.
func (s shop) tenAir(reading ...string) {
	s.Helper()
	const at = "/lathes/inch-bench/air"
	pairs := []string{"id", entryID.FindStringSubmatch(s.get(at).Body.String())[1], "operator", "Bea", "thread", "1/2-13 UNC", "rpm", "200"}
	for i, r := range reading {
		pairs = append(pairs, "r"+string(rune('1'+i)), r)
	}
	s.wantRedirect(s.post(at, pairs...), at+"#said")
}

// Air passes measured while a piece is in work are offered, and taken up change what
// an ending needs, and no dial reading and nothing that is cut.
func TestPieceTakesNewerAirPasses(t *testing.T) {
	s := newShop(t)
	at := s.begin()
	s.confirm(at, "pass-11") // stop and measure first
	before := s.get(at).Body.String()
	if strings.Contains(before, "Newer air passes") {
		t.Fatal("newer air passes are offered before there are any")
	}
	s.tenAir(".05", ".06", ".055", ".045", ".052", ".058", ".049", ".051")
	s.want(s.get(at), 200, "Newer air passes were measured", "Bea", "8 air passes", "assumed timing, nothing measured")
	for range 2 { // sent twice it is taken once
		s.wantRedirect(s.post(at+"/timing"), at)
	}
	after := s.get(at).Body.String()
	s.want(s.get(at), 200, "The room to end a pass is worked out from 8 air passes", "Stop and measure first")
	if strings.Contains(after, "Newer air passes were measured") {
		t.Error("they are offered again")
	}
	dials := func(page string) string {
		var out []string
		for _, part := range strings.Split(page, `<dl class="pc-dials">`)[1:] {
			dl, _, _ := strings.Cut(part, "</dl>")
			out = append(out, dl)
		}
		return strings.Join(out, "\n")
	}
	if dials(before) != dials(after) || !strings.Contains(dials(after), "COMPOUND") {
		t.Error("dial readings changed")
	}
	if view, step := s.at(at); view != "step" || step != "pass-11" {
		t.Errorf("it stands at %s of %s", view, step)
	}
	s.want(s.get(at+"/log"), 200, "newer air passes taken: 8 air passes", "pass 10 cut")

	// A measurement afterwards keeps them, and the speed.
	s.wantRedirect(s.enter(at, "kind", "measure", "reading", ".5305"), at)
	s.want(s.get(at), 200, "Pass 11 of 15", "The room to end a pass is worked out from 8 air passes", "200 rpm")

	// Air passes that leave too little room are not taken, and the reason is said.
	s.tenAir(".3", ".5", ".2", ".6", ".4", ".1", ".55", ".35")
	s.want(s.post(at+"/timing"), 422, "with these air passes the set-up is blocked")
	s.want(s.get(at), 200, "Pass 11 of 15", "Newer air passes were measured")
}

// Taken before pass 1 they change what the gates say; the plan kept for the piece
// holds them, and that of the part does not.
func TestPieceTakesAirPassesBeforeTheFirst(t *testing.T) {
	s := newShop(t)
	at := s.begin()
	s.tenAir(".05", ".06", ".055", ".045")
	s.wantRedirect(s.post(at+"/timing"), at)
	if view, step := s.at(at); view != "step" || step != "setup" {
		t.Errorf("it stands at %s of %s", view, step)
	}
	s.confirm(at, "pass-2")
	s.want(s.get(at), 200, "Pass 2 of 13", "4 air passes")
	parts, err := s.store.Parts(t.Context(), false)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range parts {
		kept, err := s.store.LatestPlan(t.Context(), p.ID)
		var r plan.Request
		if err == nil {
			err = json.Unmarshal([]byte(kept.Request), &r)
		}
		if err != nil || r.Timing != nil {
			t.Errorf("part %d: the plan of the whole part took them: %v, %v", i, r.Timing, err)
		}
	}
}
