package unit

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseLengthSpellings(t *testing.T) {
	for _, c := range []struct {
		text     string
		sys      System
		num, den int64 // millimetres, exactly
	}{
		{"12.7mm", Metric, 127, 10},
		{"12.7 MM", Inches, 127, 10},
		{"0.5in", Metric, 127, 10},
		{"0.5 inch", Metric, 127, 10},
		{"2 inches", Metric, 254, 5},
		{`1/2"`, Metric, 127, 10},
		{`1-3/8in`, Metric, 1397, 40},
		{`1 3/8"`, Metric, 1397, 40},
		{`.040"`, Metric, 127, 125},
		{"1½ in", Metric, 381, 10},
		{"40 thou", Metric, 127, 125},
		{"40thou", Inches, 127, 125},
		{"25um", Inches, 1, 40},
		{"25 µm", Metric, 1, 40},
		{"25μm", Metric, 1, 40},
		{"2cm", Inches, 20, 1},
		{"1''", Metric, 127, 5},
		{"1″", Metric, 127, 5},
		{"1”", Metric, 127, 5},
		{"1 in.", Metric, 127, 5},
		{"3 millimetres", Inches, 3, 1},
		{"3 millimeters", Inches, 3, 1},
		{"12,7", Metric, 127, 10},
		{"0,5", Inches, 127, 10},
		{"1", Inches, 127, 5},
		{"1", Metric, 1, 1},
		{"-0.5mm", Metric, -1, 2},
		{"0", Metric, 0, 1},
	} {
		r, err := ParseExact(c.text, c.sys)
		if err != nil || r.Num() != c.num || r.Den() != c.den {
			t.Errorf("%q in %v = %v mm (%v), want %d/%d", c.text, c.sys, r, err, c.num, c.den)
		}
		l, err := ParseLength(c.text, c.sys)
		if want := float64(c.num) / float64(c.den); err != nil || l.MM() != want {
			t.Errorf("%q in %v = %v (%v), want %v mm", c.text, c.sys, l, err, want)
		}
	}
	for _, text := range []string{
		"", "mm", "in", `"`, "1 furlong", "1mmm", "1 mm mm", "one inch", "NaN", "Inf", "1e3mm", "1/0in", "0x1", "1m", strings.Repeat("9", 200) + "mm", "\x00", "1\x00mm",
	} {
		_, err := ParseExact(text, Metric)
		var in *InputError
		if !errors.As(err, &in) {
			t.Errorf("%q: error %v is no InputError", text, err)
			continue
		}
		if in.Field != "length" || in.Value != text || in.Hint == "" {
			t.Errorf("%q: %+v", text, in)
		}
		if len(err.Error()) > 300 {
			t.Errorf("%q: the message has %d bytes", text, len(err.Error()))
		}
	}
}

// TestLengthRoundTrip: what Format writes, ParseLength reads, to the places printed.
func TestLengthRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Length(rapid.Float64Range(-5000, 5000).Draw(t, "mm"))
		sys := rapid.SampledFrom([]System{Metric, Inches}).Draw(t, "system")
		places := rapid.IntRange(0, 6).Draw(t, "places")
		text := l.Format(sys, places)
		got, err := ParseLength(text, sys.Other()) // the unit in the text decides
		half := 0.5 * math.Pow10(-places)
		if err != nil || math.Abs(got.In(sys)-l.In(sys)) > half*(1+1e-6)+1e-9 {
			t.Fatalf("%v prints %q, which reads as %v (%v)", float64(l), text, float64(got), err)
		}
		if again := got.Format(sys, places); again != text {
			t.Fatalf("%q prints again as %q", text, again)
		}
		bare, err := ParseLength(l.Number(sys, places), sys)
		if err != nil || bare != got {
			t.Fatalf("%q without its unit reads as %v (%v), want %v", text, bare, err, got)
		}
	})
}

// TestLengthConversionExact: inches are 25.4 mm exactly, so whole thousandths
// survive any number of changes of system.
func TestLengthConversionExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		thou := rapid.Int64Range(-100000, 100000).Draw(t, "thou")
		r, err := MustRatio(thou, 1000).Mul(MustRatio(127, 5))
		if err != nil {
			t.Fatal(err)
		}
		text := r.Length().Number(Inches, 3)
		back, err := ParseExact(text, Inches)
		if err != nil || back != r {
			t.Fatalf("%d thou prints %q, which is %v mm, want %v", thou, text, back, r)
		}
	})
}

func TestLengthNumber(t *testing.T) {
	for _, c := range []struct {
		l      Length
		sys    System
		places int
		want   string
	}{
		{12.7, Metric, 3, "12.700"},
		{12.7, Inches, 4, "0.5000"},
		{Inch * 0.0105 / 2, Inches, 4, "0.0052"}, // a tie, to the even digit
		{Inch * 0.01055, Inches, 4, "0.0106"},    // a tie, to the even digit
		{Inch * 0.01045, Inches, 4, "0.0104"},    // a tie, to the even digit
		{-0.0004, Metric, 3, "0.000"},            // no negative zero on a dial
		{-0.0006, Metric, 3, "-0.001"},           //
		{0.1 + 0.2, Metric, 1, "0.3"},            // binary noise
		{Length(math.Inf(1)), Metric, 3, "+Inf"}, // never a panic
		{Length(math.NaN()), Metric, 3, "NaN"},   //
	} {
		got := c.l.Number(c.sys, c.places)
		if got != c.want {
			t.Errorf("%v in %v to %d places: %q, want %q", float64(c.l), c.sys, c.places, got, c.want)
		}
	}
	if s := Length(9.99999).String(); s != "10 mm" {
		t.Errorf("String: %q", s)
	}
	if s := (Inch / 2).Format(Inches, 4); s != "0.5000 in" {
		t.Errorf("Format: %q", s)
	}
}

func TestSystemText(t *testing.T) {
	for text, want := range map[string]System{"mm": Metric, " MM ": Metric, "metric": Metric, "in": Inches, "Inch": Inches} {
		var s System
		if err := s.UnmarshalText([]byte(text)); err != nil || s != want {
			t.Errorf("%q = %v (%v)", text, s, err)
		}
	}
	var s System
	if err := s.UnmarshalText([]byte("furlong")); err == nil {
		t.Error("furlong is a system")
	}
	if Metric.Other() != Inches || Inches.Other() != Metric || Metric.String() != "mm" || Inches.String() != "in" {
		t.Error("system names")
	}
	if b, err := Inches.MarshalText(); string(b) != "in" || err != nil {
		t.Errorf("MarshalText: %q, %v", b, err)
	}
}

func FuzzParseExact(f *testing.F) {
	for _, s := range []string{"12.7mm", `1-3/8"`, ".040in", "40 thou", "25 µm", "1½", "-1/2 inch", "1/0in", "mm", "\xff", "9e9mm", "1,000.5 mm", "  "} {
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, s string, inch bool) {
		sys := Metric
		if inch {
			sys = Inches
		}
		r, err := ParseExact(s, sys)
		if err != nil {
			var in *InputError
			if !errors.As(err, &in) || in.Value != s || len(err.Error()) > 1000 {
				t.Fatalf("%q: %v", s, err)
			}
			return
		}
		if again, err := ParseExact(r.String()+" mm", Inches); err != nil || again != r {
			t.Fatalf("%q = %v mm, which reads as %v (%v)", s, r, again, err)
		}
		l, err := ParseLength(s, sys)
		if err != nil || l != r.Length() || math.IsNaN(float64(l)) || math.IsInf(float64(l), 0) {
			t.Fatalf("%q: length %v (%v), exact %v", s, float64(l), err, r)
		}
	})
}
