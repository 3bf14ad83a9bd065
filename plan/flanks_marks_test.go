package plan

import (
	"testing"

	"thrum/cause"
	"thrum/photo"
)

// TestMarksOfPhotographs: what a photograph shows goes on to the causes, and no more. Above
// all, a reading without regular marks is not a clean thread.
func TestMarksOfPhotographs(t *testing.T) {
	band := func(name photo.BandName, marks float64) photo.Band {
		return photo.Band{Name: name, Found: marks > 0, Marks: photo.Count{Value: marks, Doubt: 1}}
	}
	bands := func(a, b, root float64) []photo.Band {
		return []photo.Band{band(photo.LeadingFlank, a), band(photo.TrailingFlank, b), band(photo.Root, root)}
	}
	counted := func(v photo.Verdict, b []photo.Band) *photo.Reading {
		return &photo.Reading{Verdict: v, MarksPerTurn: 126, Uncertainty: 1.5, Bands: b, Appearance: photo.Appearance{Look: photo.Wavy}}
	}
	refused := func(l photo.Look) *photo.Reading {
		return &photo.Reading{Verdict: photo.Refused, Bands: bands(0, 0, 0), Appearance: photo.Appearance{Look: l}}
	}
	for _, c := range []struct {
		name     string
		readings []*photo.Reading
		ok       bool
		perTurn  float64
		pattern  cause.Pattern
	}{
		{"on both flanks and the root", []*photo.Reading{counted(photo.Accepted, bands(126, 125, 127))}, true, 126, cause.Together},
		{"on the flanks, the root not read", []*photo.Reading{counted(photo.Accepted, bands(126, 125, 0))}, true, 126, cause.PatternUnknown},
		{"another number at the root", []*photo.Reading{counted(photo.Accepted, bands(126, 125, 80))}, true, 126, cause.PatternUnknown},
		{"torn", []*photo.Reading{refused(photo.Torn)}, true, 0, cause.Ragged},
		{"torn in one of two", []*photo.Reading{refused(photo.Torn), refused(photo.Unclear)}, false, 0, cause.PatternUnknown},
		{"smooth in this light", []*photo.Reading{refused(photo.Smooth)}, false, 0, cause.PatternUnknown},
		{"nothing to be made out", []*photo.Reading{refused(photo.Unclear)}, false, 0, cause.PatternUnknown},
	} {
		f := &Flanks{All: photo.Combine(c.readings)}
		for _, r := range c.readings {
			f.Photos = append(f.Photos, FlankPhoto{Reading: r})
		}
		m, ok := f.Marks()
		if ok != c.ok || (m.PerTurn > 0) != (c.perTurn > 0) || m.Pattern != c.pattern {
			t.Errorf("%s: %+v, %v", c.name, m, ok)
		}
		if m.Pattern == cause.Clean {
			t.Errorf("%s: taken for a clean thread", c.name)
		}
	}
}

// The marks on a finished thread are those of the last pass: their number a turn times
// ITS revolutions is the frequency, where roughing went at another speed (kinematics).
func TestMarkSpeed(t *testing.T) {
	r := exampleRequest(t)
	p, err := Make(r)
	if err != nil {
		t.Fatal(err)
	}
	if p.MarkSpeed() != p.Speed.RPM {
		t.Errorf("one speed: %v, want %v", p.MarkSpeed(), p.Speed.RPM)
	}
	r.FinishRPM = 115 // on the chart of the example lathe
	if p, err = Make(r); err != nil {
		t.Fatal(err)
	}
	if len(p.Passes) == 0 || p.MarkSpeed() != 115 || p.Speed.RPM == 115 {
		t.Errorf("the last passes at 115: %v, roughing at %v, %d passes", p.MarkSpeed(), p.Speed.RPM, len(p.Passes))
	}
}

// A second sample at another speed: what is told of it is as uncertain in proportion.
func TestFlankRequestAt(t *testing.T) {
	r := FlankRequest{Speed: 200, Doubt: 4}
	if got := r.At(50); got.Speed != 50 || got.Doubt != 1 {
		t.Errorf("at 50: %+v", got)
	}
	if got := r.At(0); got.Speed != 200 || got.Doubt != 4 {
		t.Errorf("no other speed: %+v", got)
	}
	if got := (FlankRequest{}).At(50); got.Speed != 50 || got.Doubt != 0 {
		t.Errorf("without a first speed: %+v", got)
	}
}
