package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"thrum/plan"
)

const livelyQuery = "callout=M10x1.5-6g&lathe=metric-geared&length=30mm&material=304&open-end=yes&stickout=100mm&tool=carbide"

// The page about vibration names what the plan's own study names; the sheet leads to it
// with the same query, and each change proposed leads to a sheet that can be planned.
func TestFinishPage(t *testing.T) {
	s := server(t)
	q, err := url.ParseQuery(livelyQuery)
	if err != nil {
		t.Fatal(err)
	}
	sheet := get(s, "/sheet?"+livelyQuery).Body.String()
	to := "/sheet/finish?" + strings.ReplaceAll(q.Encode(), "&", "&amp;")
	if !strings.Contains(sheet, `<a href="`+to+`"`) {
		t.Fatalf("the sheet does not lead to %s", to)
	}
	w := get(s, "/sheet/finish?"+livelyQuery)
	body := w.Body.String()
	st, _, err := s.study(httpGet(t), q)
	if err != nil || st == nil {
		t.Fatal(err)
	}
	v := st.Plan.Vibration
	for _, want := range []string{v.Mode, plan.TimesOf(v.Growth), "What would help, cheapest first", "spring passes", "plausible cases", "<svg"} {
		if !strings.Contains(body, want) {
			t.Errorf("status %d: %q is missing", w.Code, want)
		}
	}
	tried := 0
	for _, part := range strings.Split(body, `href="`)[1:] {
		link, _, _ := strings.Cut(part, `"`)
		link = strings.ReplaceAll(link, "&amp;", "&")
		if strings.HasPrefix(link, "/sheet?") && !strings.Contains(link, "#") {
			tried++
			if w := get(s, link); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), `id="finish"`) {
				t.Errorf("%s: status %d", link, w.Code)
			}
		}
	}
	if tried < 3 {
		t.Errorf("only %d changes to try", tried)
	}
}

func httpGet(t *testing.T) *http.Request {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// What cannot be planned, and what is blocked, is said and not worked out.
func TestFinishFaults(t *testing.T) {
	s := server(t)
	if w := get(s, "/sheet/finish?callout=nonsense"); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "Nothing can be said") {
		t.Errorf("nonsense: status %d", w.Code)
	}
	blocked := "/sheet/finish?callout=M10x1.5-6g&lathe=metric-geared&material=304&length=30mm&stickout=31mm&relief=6mm"
	if w := get(s, blocked); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "nothing is cut") {
		t.Errorf("blocked: status %d", w.Code)
	}
	if w := get(s, strings.Replace(blocked, "/sheet/finish", "/sheet", 1)); strings.Contains(w.Body.String(), "/sheet/finish") {
		t.Error("a blocked sheet leads to what vibrates")
	}
	if w := get(s, "/compare/finish"); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "nothing to compare") {
		t.Errorf("nothing to compare: status %d", w.Code)
	}
}

// With and without the centre, two speeds and two infeeds stand side by side.
func TestCompareFinish(t *testing.T) {
	s := server(t)
	q := url.Values{"a": {livelyQuery}, "b": {livelyQuery + "&centre=yes"}, "c": {livelyQuery + "&rpm=225"}, "d": {livelyQuery + "&infeed=straight"}}
	body := get(s, "/compare/finish?"+q.Encode()).Body.String()
	for _, want := range []string{"Set-up B is quieter", "Set-up C is quieter", "set-up D", "<svg", "first bending of the work"} {
		if !strings.Contains(body, want) {
			t.Errorf("%q is missing", want)
		}
	}
	if page := get(s, "/compare?"+q.Encode()).Body.String(); !strings.Contains(page, "/compare/finish?") {
		t.Error("the comparison does not lead to what vibrates")
	}
}
