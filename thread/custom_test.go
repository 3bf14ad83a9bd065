package thread

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
	"thrum/unit"
)

const thury = `
name = "Thury 0"
diameter = "6mm"
pitch = "1mm"
angle = 47.5
depth = 0.6
root_radius = 0.2       # of the pitch
source = "drawing 17-204"

[limits]
pitch = { min = "5.32mm", max = "5.40mm" }

[limits.major]
min = "5.85 mm"
max = "6 mm"
`

func TestCustom(t *testing.T) {
	th, err := FromTOML("thury.toml", strings.NewReader(thury))
	if err != nil {
		t.Fatal(err)
	}
	laws(t, th)
	grooveLaws(t, th)
	if th.Form.Included().Degrees() != 47.5 || th.Limits.Pitch != (Band{5.32, 5.4}) || th.Limits.Minor.Max != th.Basic.Minor || th.Side != External {
		t.Errorf("%+v", th)
	}
	// The crest flat that makes crest and root alike puts the pitch line in the middle of the depth.
	claimNumber(t, "form file, 6 x 1, depth 0.6, pitch diameter", "geometry: d - 0.6 p", outside.Computed, "5.4", th.Basic.Pitch.MM(), "mm", "", 1e-9)
	if !strings.Contains(th.Designation, "Thury 0") || th.Callout != "Thury 0" || th.Family != CustomFamily {
		t.Errorf("%q, %q, %q", th.Designation, th.Callout, th.Family)
	}
}

// TestCustomRebuilds describes known threads in form files and compares the basic sizes.
func TestCustomRebuilds(t *testing.T) {
	for _, c := range []struct{ callout, file string }{
		{"1/2 BSW close bolt", "name='b'\ndiameter='1/2in'\ntpi='12'\nangle=55\ndepth=0.640327"},
		{"Tr20x4-7e", "name='t'\ndiameter='20mm'\npitch='4mm'\nangle=30\ncrest_flat=0.366025\ndepth='2.25mm'"},
		{"S48x8-7e", "name='s'\ndiameter='48mm'\npitch='8mm'\nleading_flank=30\ntrailing_flank=3\ncrest_flat=0.26384\ndepth=0.86777"},
		{"S48x8-7H", "name='s'\nside='internal'\ndiameter='48mm'\npitch='8mm'\nleading_flank=30\ntrailing_flank=3\ncrest_flat=0.26384\ndepth=0.75"},
		{"Sq 20x4 EXTERNAL", "name='q'\ndiameter='20mm'\npitch='4mm'\nangle=0\ndepth=0.5\ncrest_flat=0.5"},
	} {
		want := mustParse(t, c.callout, External)
		got, err := FromTOML("x.toml", strings.NewReader(c.file))
		if err != nil {
			t.Errorf("%s: %v", c.callout, err)
			continue
		}
		for i, pair := range [][2]unit.Length{{want.Basic.Major, got.Basic.Major}, {want.Basic.Pitch, got.Basic.Pitch}, {want.Basic.Minor, got.Basic.Minor}} {
			if (pair[0] - pair[1]).Abs() > 0.003 {
				t.Errorf("%s: diameter %d is %v by its standard and %v by its form file", c.callout, i, pair[0], pair[1])
			}
		}
	}
}

func TestCustomFaults(t *testing.T) {
	const file = `name = "x"
diameter = 6
pitch = "1"
angel = 60
leading_flank = "45"
depth = 0.6
side = "outside"
starts = 2.5
taper = "5"
[limits.pitch]
min = "5.6mm"
max = "5.4mm"
colour = "red"
`
	_, err := FromTOML("bad.toml", strings.NewReader(file))
	if err == nil {
		t.Fatal("no fault is found")
	}
	for _, want := range []string{
		"bad.toml:2: diameter", "bad.toml:3: pitch", "has no unit", "bad.toml:4: angel", "perhaps angle", "bad.toml:5: leading_flank",
		"bad.toml: trailing_flank", "bad.toml:7: side", "bad.toml:8: starts", "bad.toml:9: taper", "bad.toml:13: limits.pitch.colour",
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is missing in:\n%v", want, err)
		}
	}
	if n := len(strings.Split(err.Error(), "\n")); n != 9 {
		t.Errorf("%d faults:\n%v", n, err)
	}
	var in *unit.InputError
	if !errors.As(err, &in) {
		t.Errorf("%T", err)
	}
	for _, c := range []struct{ file, want string }{
		{"", "name"},
		{"name = ", "the file must be TOML"},
		{"name='a'\nname='b'", "the file must be TOML"},
		{"name='a'\ndiameter='6mm'\npitch='1mm'\nangle=60\ndepth=2.5", "more than flanks"},
		{"name='a'\ndiameter='6mm'\npitch='1mm'\nangle=60\ndepth=0.6\ncrest_flat=0.9", "no room"},
		{"name='a'\ndiameter='6mm'\npitch='1mm'\nangle=60\ndepth=0.6\ncrest_flat=0.1\nroot_flat=0.5", "does not fit"},
		{"name='a'\ndiameter='2mm'\npitch='2mm'\nangle=0\ndepth=0.6", "no core"},
		{"name='a'\ndiameter='6mm'\npitch='1mm'\ntpi='26'\nangle=60\ndepth=0.6", "together with tpi"},
		{"name='a'\ndiameter='6mm'\npitch='1mm'\nangle=60\ndepth=0.6\n[limits.pitch]\nmax='8mm'", "lie in order"},
		{"name='a'\ndiameter='6mm'\npitch='1mm'\nangle=60\ndepth=0.6\n[limits.pitch]\nmin='5.4mm'\nmax='5.3mm'", "above the maximum"},
		{"[[limits]]\na=1", "list of tables"},
		{"name='" + strings.Repeat("a", 70000) + "'", "too long"},
	} {
		if _, err := FromTOML("f.toml", strings.NewReader(c.file)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.60q: %v, want %q", c.file, err, c.want)
		}
	}
}

func TestCustomAnyForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lead, trail := rapid.Float64Range(0, 50).Draw(t, "leading"), rapid.Float64Range(0, 50).Draw(t, "trailing")
		depth := rapid.Float64Range(0.1, 0.9).Draw(t, "depth")
		side := rapid.SampledFrom([]string{"external", "internal"}).Draw(t, "side")
		text := "name='x'\ndiameter='60mm'\npitch='4mm'\nleading_flank=" + fixed(lead) + "\ntrailing_flank=" + fixed(trail) + "\ndepth=" + fixed(depth) + "\nside='" + side + "'"
		th, err := FromTOML("x.toml", strings.NewReader(text))
		if err != nil {
			if strings.Contains(err.Error(), "more than flanks") {
				t.Skip()
			}
			t.Fatalf("%s\n%v", text, err)
		}
		grooveLaws(t, th)
		slope := th.Form.Leading.Tan() + th.Form.Trailing.Tan()
		if got := th.Form.CrestFlat + th.Form.RootFlat + th.Form.Depth*slope; math.Abs(got-1) > 1e-9 {
			t.Fatalf("%s\nflats and flanks make %v pitches", text, got)
		}
	})
}

func fixed(v float64) string { return numberText(unit.MustRatio(int64(math.Round(v*1e4)), 10000)) }

func FuzzCustom(f *testing.F) {
	f.Add(thury)
	f.Add("name='x'\ndiameter='1in'\ntpi='8'\nangle=29\ndepth=0.5\nhand='left'\nstarts=3\ntaper='1:16'\ngauge_length='10mm'")
	f.Add("limits.pitch = [1,2]\n[limits.pitch]\n")
	f.Add("a=1e400\nangle=nan\ndepth=-0x1\ntaper=''\n\"\"=1\n[\"limits\".'pitch']\nmin=2001-01-01")
	f.Fuzz(func(t *testing.T, text string) {
		th, err := FromTOML("f.toml", strings.NewReader(text))
		if err != nil {
			var in *unit.InputError
			if !errors.As(err, &in) {
				t.Fatalf("%q: %T: %v", text, err, err)
			}
			return
		}
		laws(t, th)
		for _, s := range th.Groove() {
			if math.IsNaN(float64(s.From.Z + s.From.X + s.To.Z + s.To.X)) {
				t.Fatalf("%q: groove %+v", text, th.Groove())
			}
		}
	})
}
