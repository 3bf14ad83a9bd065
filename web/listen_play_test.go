package web

import (
	"bytes"
	"math"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thrum/sound"
	"thrum/unit"
)

// What is wrong with a recording is said with what helps.
func TestListenSaysWhatIsWrong(t *testing.T) {
	s, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name     string
		loudness float64
		status   int
		want     string
	}{
		{"good", 0.2, http.StatusOK, ""},
		{"clipped", 3, http.StatusOK, "The recording is clipped"},
		{"quiet", 0.001, http.StatusOK, "The recording is very quiet"},
		{"silent", 0, http.StatusUnprocessableEntity, "holds nothing but silence"},
	} {
		r := &sound.Recording{Rate: 8000}
		for i := range 8000 * 4 {
			r.Samples = append(r.Samples, c.loudness*math.Sin(2*math.Pi*430*float64(i)/8000))
		}
		var b bytes.Buffer
		if err := r.WriteWAV(&b); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "cut.wav")
		if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		w := post(t, s, "/listen", url.Values{"rpm": {"200"}}, map[string]string{"cut": file})
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.want) {
			t.Errorf("%s: %d, no %q", c.name, w.Code, c.want)
		}
		for _, other := range []string{"is clipped", "very quiet"} {
			if strings.Contains(w.Body.String(), other) != strings.Contains(c.want, other) {
				t.Errorf("%s: %q is out of place", c.name, other)
			}
		}
	}
}

// A tone is raised alike in all passes, from the loudest of them.
func TestRaise(t *testing.T) {
	res := &ListenResult{Passes: []ListenPass{
		{Tones: []ListenTone{{Freq: 412, Level: -50}}},
		{Tones: []ListenTone{{Freq: 1000, Level: -90}, {Freq: 414, Level: -40}}},
	}}
	for tone, want := range map[float64]float64{413: 26, 1000: 50, 700: 0} {
		if got := res.raise(unit.Frequency(tone)); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g Hz is raised by %g dB, not %g", tone, got, want)
		}
	}
	if rows := plays("x/y", res); len(rows) != 1 || len(rows[0].Links) != 2 || rows[0].Links[1].Address != "/listen/x%2Fy/play?pass=2" {
		t.Errorf("the rows are %v", rows)
	}
}
