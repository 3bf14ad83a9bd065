package unit

import (
	"math"
	"testing"
)

// Fixed points: NIST SP 811, B.8 and its worked figures (from memory): 32 °F is 0 °C,
// 212 °F is 100 °C, 68 °F is 20 °C (the reference temperature of ISO 1), -40 is both.
func TestParseTemperature(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{
		{"20C", 20},
		{"68F", 20},
		{"212 °F", 100},
		{"32f", 0},
		{"-40F", -40},
		{"-40 °C", -40},
		{"31,5 °c", 31.5},
		{"−5C", -5},
	} {
		got, err := ParseTemperature(c.text)
		if err != nil || math.Abs(float64(got)-c.want) > 1e-9 {
			t.Errorf("%s: %g, %v; want %g", c.text, float64(got), err, c.want)
		}
	}
	for _, text := range []string{"", "20", "C", "°C", "warm", "20K", "nanC", "1e999F", "1234567890123456789012C"} {
		if got, err := ParseTemperature(text); err == nil {
			t.Errorf("%q is taken as %g", text, float64(got))
		}
	}
	if got, err := ParseTemperatureError("1.8F"); err != nil || math.Abs(float64(got)-1) > 1e-9 {
		t.Errorf("a difference of 1.8F: %g, %v", float64(got), err)
	}
}

func FuzzParseTemperature(f *testing.F) {
	for _, s := range []string{"20C", "68 °F", "-40F", "31,5 °c", "−5C", "°", "ⱥF"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseTemperature(s); err == nil && (math.IsNaN(float64(v)) || math.IsInf(float64(v), 0)) {
			t.Errorf("%q gives %g", s, float64(v))
		}
	})
}
