package photo

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"thrum/unit"
)

// exiftool wrote these settings into the file (testdata/files/make.sh).
var written = Exposure{Camera: "Workshop 3", Time: 1.0 / 120, FNumber: 1.8, ISO: 64}

func TestExposureIsRead(t *testing.T) {
	_, m, err := Decode(bytes.NewReader(picture(t, "exposed.jpg")), Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if d := m.Exposure.Differs(written); len(d) > 0 || m.Exposure.Camera == "" || m.Exposure.Time == 0 || m.Exposure.FNumber == 0 || m.Exposure.ISO == 0 {
		t.Errorf("read %+v, exiftool wrote %+v", m.Exposure, written)
	}
	if _, m, _ = Decode(bytes.NewReader(picture(t, "grey.png")), Limits{}); m.Exposure != (Exposure{}) {
		t.Errorf("a file that does not say: %+v", m.Exposure)
	}
}

func TestIndexesOfOneSession(t *testing.T) {
	shot := func(index, marks float64, session string, change func(*Exposure)) Shot {
		s := Shot{Meta: Meta{Exposure: written}, Reading: &Reading{Verdict: Accepted, MarksPerTurn: marks, Index: &Index{Value: index, Session: session}}}
		change(&s.Meta.Exposure)
		return s
	}
	same := func(*Exposure) {}
	a := shot(2, 100, "one", same)
	c, err := CompareIndex([]Shot{a}, []Shot{shot(2, 200, "one", func(e *Exposure) { *e = Exposure{} })})
	// At equal slope twice as many marks are half as high: h = 2 r slope/N.
	if err != nil || math.Abs(c.Index-1) > 1e-12 || math.Abs(c.Height-0.5) > 1e-12 {
		t.Errorf("%+v, %v", c, err)
	}
	for _, x := range []struct {
		other Shot
		want  string
	}{
		{shot(1, 100, "two", same), "are two sessions"},
		{shot(1, 100, "", same), "not declared"},
		{shot(1, 100, "one", func(e *Exposure) { e.Time = 1.0 / 60 }), "exposure time 1/120 s and 1/60 s"},
		{shot(1, 100, "one", func(e *Exposure) { e.FNumber = 2.8 }), "f-number 1.8 and 2.8"},
		{shot(1, 100, "one", func(e *Exposure) { e.ISO = 80 }), "ISO 64 and 80"},
		{shot(1, 100, "one", func(e *Exposure) { e.Camera = "Bench 1" }), "camera Workshop 3 and Bench 1"},
		{Shot{Reading: &Reading{Verdict: Refused}}, "one side only"},
	} {
		_, err := CompareIndex([]Shot{a}, []Shot{x.other})
		var in *unit.InputError
		if !errors.As(err, &in) || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%+v: %v, want %q", x.other.Meta.Exposure, err, x.want)
		}
	}
}
