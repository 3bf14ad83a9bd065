package unit

import (
	"errors"
	"math"
	"strings"
	"testing"

	"thrum/internal/outside"
)

// TestConversions holds factors against the values of the SI brochure and NIST
// Special Publication 811, appendix B.8.
func TestConversions(t *testing.T) {
	const nist = "NIST Special Publication 811, appendix B.8 (from memory)"
	for _, c := range []struct {
		what            string
		published, ours float64
		unit            string
		tolerance       float64
	}{
		{"inch", 25.4, Inch.MM(), "mm", 0},
		{"mil (thousandth of an inch)", 0.0254, Thou.MM(), "mm", 0},
		{"foot per minute", 5.08, FootPerMinute.MMPerS(), "mm/s", 1e-12},
		{"horsepower (550 ft lbf/s)", 745.6999, Horsepower.W(), "W", 0.00005},
		{"degree", 0.01745329, Degree.Rad(), "rad", 5e-9},
	} {
		outside.Check(t, outside.Claim{
			What: c.what, Source: nist, Status: outside.Memory, Published: c.published, Ours: c.ours, Unit: c.unit, Tolerance: c.tolerance,
		})
	}
}

func TestQuantities(t *testing.T) {
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
			t.Errorf("%s = %v, want %v", what, got, want)
		}
	}
	// By hand: 1 in at 100 rev/min has pi x 100 / 12 = 26.18 ft/min; 13 tpi feeds 100/13 in a minute.
	near("surface speed", Rotation(100).Surface(Inch).FtPerMin(), math.Pi*100/12)
	near("feed", Rotation(100).Feed(Inch/13).MMPerS(), 25.4*100/13/60)
	near("frequency", Rotation(90).Hz().Hz(), 1.5)
	near("metres per minute", MetrePerMinute.MMPerS(), 1000.0/60)
	near("m/min back", (30 * MetrePerMinute).MPerMin(), 30)
	near("sine", (30 * Degree).Sin(), 0.5)
	near("cosine", (60 * Degree).Cos(), 0.5)
	near("tangent", (45 * Degree).Tan(), 1)
	near("degrees", (29.5 * Degree).Degrees(), 29.5)
	near("steel", (7850 * KilogramPerCubicMetre).KgPerM3(), 7850)
	near("steel in tonnes", float64(7850*KilogramPerCubicMetre), 7.85e-9)
	near("newton metre", (2 * NewtonMetre).NM(), 2)
	near("gigapascal", (200 * Gigapascal).MPa(), 200000)
	near("newton per micrometre", NewtonPerMicrometre.NPerMM(), 1000)
	near("joint", NewtonMetrePerRadian.NMMPerRad(), 1000)
	near("absolute", Length(-3).Abs().MM(), 3)
	near("kilowatt", Kilowatt.W(), 1000)
	// A consistent set: 1000 N/mm on a tonne swings at sqrt(1000) / 2 pi Hz.
	near("mass", math.Sqrt(float64(1000*NewtonPerMillimetre)/1)/(2*math.Pi), 5.032921210448704)
	if s := (29.5 * Degree).Format(2); s != "29.50°" {
		t.Errorf("angle prints %q", s)
	}
	if s := (100 * FootPerMinute).Format(Inches, 0); s != "100 ft/min" {
		t.Errorf("speed prints %q", s)
	}
	if s := (30 * MetrePerMinute).Format(Metric, 1); s != "30.0 m/min" {
		t.Errorf("speed prints %q", s)
	}
}

func TestInputError(t *testing.T) {
	long := strings.Repeat("é", 5_000_000)
	err := error(&InputError{Field: "thread", Value: long, Reason: "is too long", Hint: "write M10"})
	s := err.Error()
	if len(s) > 200 || !strings.Contains(s, "(10000000 bytes)") || !strings.HasSuffix(s, "is too long; write M10") || strings.Contains(s, "\ufffd") {
		t.Errorf("message of %d bytes: %.200q", len(s), s)
	}
	if s := (&InputError{Field: "length", Value: "a\x00b", Reason: "is not a length"}).Error(); s != `length "a\x00b": is not a length` {
		t.Errorf("message %q", s)
	}
	var in *InputError
	if !asInput(errors.Join(errors.New("x"), err), &in) || in.Field != "thread" {
		t.Error("an InputError inside joined errors is not found")
	}
}
