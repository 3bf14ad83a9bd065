package unit

import (
	"math"
	"strconv"
	"strings"
)

// Length is a length in millimetres.
type Length float64

// Units of length; multiply a number by one of them.
const (
	Micrometre Length = 1e-3
	Millimetre Length = 1
	Thou       Length = 0.0254
	Inch       Length = 25.4 // exact by definition
)

// MM returns the length in millimetres.
func (l Length) MM() float64 { return float64(l) }

// Inches returns the length in inches.
func (l Length) Inches() float64 { return float64(l) / 25.4 }

// Abs returns the length without its sign.
func (l Length) Abs() Length { return Length(math.Abs(float64(l))) }

// System is the system of units in which lengths are read and printed.
type System int

// The two systems a lathe is built in.
const (
	Metric System = iota
	Inches
)

// ParseSystem reads "mm" or "in".
func ParseSystem(s string) (System, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "mm", "metric":
		return Metric, nil
	case "in", "inch":
		return Inches, nil
	}
	return 0, &InputError{Field: "units", Value: s, Reason: "is not a system of units", Hint: `write "mm" or "in"`}
}

// String prints "mm" or "in".
func (s System) String() string {
	if s == Inches {
		return "in"
	}
	return "mm"
}

// Other returns the other system.
func (s System) Other() System { return 1 - s }

// MarshalText writes what ParseSystem reads.
func (s System) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what ParseSystem accepts.
func (s *System) UnmarshalText(b []byte) error {
	v, err := ParseSystem(string(b))
	if err == nil {
		*s = v
	}
	return err
}

// In returns the length as a number in the given system.
func (l Length) In(sys System) float64 {
	if sys == Inches {
		return l.Inches()
	}
	return l.MM()
}

// Number prints the length in the given system with a fixed number of decimal
// places and no unit. Exact ties round to even, as tables of standards do.
func (l Length) Number(sys System, places int) string {
	s := strconv.FormatFloat(snap(l.In(sys), places), 'f', places, 64)
	if strings.Trim(s, "-0.") == "" { // no negative zero on a dial
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// Format prints the length with its unit: "12.700 mm", "0.5000 in".
func (l Length) Format(sys System, places int) string {
	return l.Number(sys, places) + " " + sys.String()
}

// String prints the length in millimetres to the tenth of a micrometre.
func (l Length) String() string {
	return strconv.FormatFloat(snap(float64(l), 4), 'f', -1, 64) + " mm"
}

// snap rounds to the given number of places after removing the noise of binary
// arithmetic, so that 0.0105/2 in, printed to four places, is a tie and not luck.
func snap(v float64, places int) float64 {
	p := math.Pow(10, float64(places))
	x := v * p
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return v
	}
	if half := math.Floor(x) + 0.5; math.Abs(x-half) < 1e-7 {
		x = half
	}
	return math.RoundToEven(x) / p
}

var lengthUnits = []struct {
	suffix string
	num    int64
	den    int64
}{
	{"millimetres", 1, 1},
	{"millimeters", 1, 1},
	{"inches", 127, 5},
	{"inch", 127, 5},
	{"thou", 127, 5000},
	{"mm", 1, 1},
	{"cm", 10, 1},
	{"um", 1, 1000},
	{"µm", 1, 1000},
	{"μm", 1, 1000},
	{"in.", 127, 5},
	{"in", 127, 5},
	{"''", 127, 5},
	{"\"", 127, 5},
	{"″", 127, 5},
	{"”", 127, 5},
}

// ParseExact reads a length and returns it as an exact number of millimetres:
// 12.7mm, 0.5in, 1/2", 1-3/8in, 1 3/8", .040", 40 thou, 25um. A number without a
// unit is taken in the given system.
func ParseExact(s string, sys System) (Ratio, error) {
	t := strings.TrimSpace(s)
	scale := MustRatio(1, 1)
	if sys == Inches {
		scale = MustRatio(127, 5)
	}
	if len(t) <= 60 {
		low := strings.ToLower(t)
		for _, u := range lengthUnits {
			if strings.HasSuffix(low, u.suffix) && len(low) == len(t) {
				t = strings.TrimSpace(t[:len(t)-len(u.suffix)])
				scale = MustRatio(u.num, u.den)
				break
			}
		}
	}
	r, err := ParseRatio(t)
	if err == nil {
		r, err = r.Mul(scale)
	}
	if err != nil {
		reason := "is not a length"
		var in *InputError
		if asInput(err, &in) && in.Reason != "is not a number" {
			reason = in.Reason
		}
		return Ratio{}, &InputError{Field: "length", Value: s, Reason: reason, Hint: `write 12.7mm, 0.5in, 1/2", 1-3/8in or .040"`}
	}
	return r, nil
}

// ParseLength is ParseExact, rounded to the nearest Length.
func ParseLength(s string, sys System) (Length, error) {
	r, err := ParseExact(s, sys)
	return r.Length(), err
}

// ParsePitch reads a pitch as a length, or as threads per inch: 13tpi, 11.5 tpi.
func ParsePitch(s string, sys System) (Length, error) {
	low := strings.ToLower(strings.TrimSpace(s))
	n, ok := strings.CutSuffix(low, "tpi")
	if !ok {
		return ParseLength(s, sys)
	}
	r, err := ParseRatio(n)
	if err != nil || r.Sign() <= 0 {
		return 0, &InputError{Field: "pitch", Value: s, Reason: "is not a number of threads per inch", Hint: "write 13tpi or 1.5mm"}
	}
	p, err := MustRatio(127, 5).Quo(r)
	return p.Length(), err
}
