package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"thrum/examples"
	"thrum/unit"
)

// Recordings by an independent generator: the tone stays where it is when the speed
// changes, the bare tone proves nothing, and slips are said beside their fields.
func TestListenPage(t *testing.T) {
	s, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	const folder = "../sound/testdata/listen/"
	for _, c := range []struct {
		name   string
		values url.Values
		files  map[string]string
		status int
		wants  []string
	}{
		{"a form", nil, nil, http.StatusUnprocessableEntity, []string{"record a cut here, or choose a recording"}},
		{"a bare tone", url.Values{"rpm": {"200"}}, map[string]string{"cut": folder + "tone.opus"}, http.StatusOK, []string{"cannot tell", "<svg"}},
		{"one speed, with the gears", url.Values{"rpm": {"200"}, "lathe": {"inch-bench"}, "callout": {"1/2-13 UNC-2A"}}, map[string]string{"cut": folder + "slow.opus"}, http.StatusOK, []string{"Causes, likeliest first", "To be surer", "Each pass with its strongest tones"}},
		{"two speeds", url.Values{"rpm": {"200"}, "second-rpm": {"320"}}, map[string]string{"cut": folder + "slow.opus", "second": folder + "fast.opus"}, http.StatusOK, []string{"two speeds", "slow.opus", "fast.opus"}},
		{"a second without its speed", url.Values{"rpm": {"200"}}, map[string]string{"cut": folder + "slow.opus", "second": folder + "fast.opus"}, http.StatusUnprocessableEntity, []string{"are needed together", `value="200"`}},
		{"no sound", url.Values{"rpm": {"200"}}, map[string]string{"cut": "listen_test.go"}, http.StatusUnprocessableEntity, []string{"listen_test.go"}},
		{"no speed", url.Values{"rpm": {"fast"}}, map[string]string{"cut": folder + "slow.opus"}, http.StatusUnprocessableEntity, []string{"is not a number"}},
		{"the sheet that was cut by", url.Values{"rpm": {"200"}, "for": {"callout=1/2-13+UNC-2A&lathe=inch-bench&material=1018&length=1in&stickout=4in"}}, map[string]string{"cut": folder + "slow.opus"}, http.StatusOK, []string{"Causes, likeliest first"}},
	} {
		w := post(t, s, "/listen", c.values, c.files)
		body := w.Body.String()
		if w.Code != c.status {
			t.Errorf("%s: status %d", c.name, w.Code)
		}
		for _, want := range c.wants {
			if !strings.Contains(body, want) {
				t.Errorf("%s: no %q in the answer", c.name, want)
			}
		}
	}
}

// Each recording is heard against the gears of its own speed: levers that stand
// otherwise turn other wheels.
func TestListenTakesTheGearsOfEachSpeed(t *testing.T) {
	text, _ := examples.Lathe("inch-bench")
	a := ListenAsk{Lathe: text, Callout: "1/2-13 UNC-2A", Mains: 50}
	names := func(rpm unit.Rotation) string {
		lines, err := a.lines(rpm)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, l := range lines {
			out = append(out, l.Name)
		}
		return strings.Join(out, "; ")
	}
	open, geared := names(200), names(53)
	if strings.Contains(open, "headstock") || !strings.Contains(geared, "headstock") {
		t.Errorf("at 200 rpm %q\nat 53 rpm, back gear in, %q", open, geared)
	}
}
