package plan

import (
	"strings"
	"testing"

	"thrum/photo"
	"thrum/unit"
)

// At equal height twice as many marks are twice as steep: N marks of height h round a bar
// of radius r have the slope N h/(2 r) (geometry). So where a mode keeps its frequency and the speed
// is halved, an index twice as strong is no higher a mark.
func TestCompareFlanks(t *testing.T) {
	sample := func(index, marks, rpm float64, session string, verdict photo.Verdict) *Flanks {
		r := &photo.Reading{Verdict: verdict, MarksPerTurn: marks, Uncertainty: 0.01 * marks, Index: &photo.Index{Value: index, Session: session}}
		return &Flanks{
			Request: FlankRequest{Speed: unit.Rotation(rpm)},
			Photos:  []FlankPhoto{{Reading: r, Meta: photo.Meta{Exposure: photo.Exposure{ISO: 64}}}},
			All:     &photo.Combined{Verdict: verdict, MarksPerTurn: marks, Uncertainty: 0.01 * marks},
		}
	}
	before := sample(2, 100, 200, "one", photo.Accepted)
	harsher := sample(4, 200, 100, "one", photo.Accepted)
	harsher.Photos[0].Meta.Exposure.ISO = 200
	for _, c := range []struct {
		name  string
		after *Flanks
		oneGo bool
		want  []string
		never string
	}{
		{"half the speed", sample(4, 200, 100, "one", photo.Accepted), true, []string{"from 100 to 200 per turn", "2.00 times as strongly", "At 100 rpm instead of 200 rpm", "with height: 1.00 times"}, ""},
		{"same count", sample(1, 100, 200, "one", photo.Accepted), true, []string{"is the same", "0.50 times as strongly"}, "with height"},
		{"not declared", sample(1, 100, 200, "one", photo.Accepted), false, []string{"is not compared"}, "times as strongly"},
		{"another session", sample(1, 100, 200, "two", photo.Accepted), true, []string{"is not compared", "two sessions"}, "times as strongly"},
		{"another sensitivity", harsher, true, []string{"is not compared", "ISO 64 and 200"}, "times as strongly"},
		{"none after", sample(0, 0, 200, "one", photo.Refused), true, []string{"none after", "does not say that they are gone", "would have shown"}, "times as strongly"},
		{"none after, not declared", sample(0, 0, 200, "", photo.Refused), false, []string{"none after"}, "would have shown"},
	} {
		all := strings.Join(CompareFlanks(before, c.after, c.oneGo), " ")
		for _, w := range c.want {
			if !strings.Contains(all, w) {
				t.Errorf("%s: no %q in %s", c.name, w, all)
			}
		}
		if c.never != "" && strings.Contains(all, c.never) {
			t.Errorf("%s: %q in %s", c.name, c.never, all)
		}
	}
}
