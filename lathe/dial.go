package lathe

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"thrum/unit"
)

// counts returns what the dial counts for one unit of the slide's travel.
func (d Dial) counts() float64 {
	if d.Reads == Diameter {
		return 2
	}
	return 1
}

// Turn returns the travel of the slide for one turn of the dial: the lead of its
// screw. On a dial that reads diameter it is half of what the dial counts.
func (d Dial) Turn() unit.Length {
	return d.Division.Length() * unit.Length(float64(d.Divisions)/d.counts())
}

// Step returns the travel of the slide for one division.
func (d Dial) Step() unit.Length { return d.Division.Length() / unit.Length(d.counts()) }

// Round returns the travel nearest to the given one that falls on a division.
func (d Dial) Round(travel unit.Length) unit.Length {
	return unit.Length(math.Round(float64(travel/d.Step()))) * d.Step()
}

// RoundHalf returns the nearest travel that ends on a division or midway between two: as
// near as the eye sets a dial.
func (d Dial) RoundHalf(travel unit.Length) unit.Length { return d.Round(2*travel) / 2 }

// Words returns "direct dial" or "diameter dial", to stand by every figure.
func (d Dial) Words() string { return string(d.Reads) + " dial" }

// Places returns how many decimal places the figures of the dial have.
func (d Dial) Places() int {
	for p := 0; p < 6; p++ {
		v := d.Division.Length().In(d.Units) * math.Pow(10, float64(p))
		if math.Abs(v-math.Round(v)) < 1e-6 {
			return p
		}
	}
	return 6
}

// DialReading is where a dial stands after its slide has travelled from zero.
type DialReading struct {
	Turns int         // whole turns made
	Shows unit.Length // figure under the mark, as the dial counts it
	Total unit.Length // all that the dial has counted, whole turns included
	Back  bool        // the slide went outwards, so the figures ran down
	Exact bool        // the mark stands on a division
	Text  string      // "1 turn + .031 in (direct dial)"
}

// Reading returns where the dial stands after the slide has travelled from its
// zero; a negative travel is one away from the work's axis for a dial that counts
// upwards on the way in. The figure is exact to a tenth of a division. For a
// backward travel the text gives the amount moved and the figure that then shows,
// because a dial figured one way only has to be read from its other end.
func (d Dial) Reading(travel unit.Length) DialReading {
	divs := math.Abs(float64(travel / d.Step()))
	if n := math.Round(divs); math.Abs(divs-n) < 1e-6 {
		divs = n
	}
	turns := math.Floor(divs / float64(d.Divisions))
	rest := divs - turns*float64(d.Divisions)
	r := DialReading{
		Turns: int(turns), Total: unit.Length(divs) * d.Division.Length(),
		Back: travel < 0 && divs > 0, Exact: math.Abs(divs-math.Round(divs)) < 0.05,
	}
	moved := unit.Length(rest) * d.Division.Length()
	r.Shows = moved
	if r.Back && rest > 0 {
		r.Shows = unit.Length(float64(d.Divisions)-rest) * d.Division.Length()
	}
	r.Text = d.text(r, moved)
	return r
}

func (d Dial) text(r DialReading, moved unit.Length) string {
	var b strings.Builder
	if r.Turns > 0 {
		b.WriteString(turns(r.Turns) + " + ")
	}
	b.WriteString(d.figure(moved, r.Exact))
	if r.Back {
		b.WriteString(" back")
		if r.Shows != moved {
			b.WriteString(", the dial then shows " + d.figure(r.Shows, r.Exact))
		}
	}
	return b.String() + " (" + d.Words() + ")"
}

// figure prints a figure of the dial with its unit: ".031 in", "0.62 mm".
func (d Dial) figure(v unit.Length, exact bool) string {
	places := d.Places()
	if !exact {
		places++
	}
	s := v.Number(d.Units, places)
	if d.Units == unit.Inches && strings.HasPrefix(s, "0.") {
		s = s[1:] // as inch dials are engraved and spoken
	}
	return s + " " + d.Units.String()
}

func turns(n int) string {
	if n == 1 {
		return "1 turn"
	}
	return strconv.Itoa(n) + " turns"
}

// ScaleReading is what a compound's protractor shows.
type ScaleReading struct {
	FromCross unit.Angle // angle from the line of the cross slide, as asked
	Reads     unit.Angle // figure on this lathe's scale
	Known     bool       // false when the file does not say what the scale's zero means
	Beyond    bool       // the scale stops short of it
	Text      string
}

// Reading returns what the protractor shows when the compound is swung away from
// the line of the cross slide by the given angle, 0 to 90 degrees. A scale whose
// zero lies parallel to the bed shows 90 degrees less the angle, so 29.5 and 60.5
// are the same setting on two lathes. A scale may stop short of the setting; then
// the compound has to be set by other means.
func (p Protractor) Reading(fromCross unit.Angle) ScaleReading {
	r := ScaleReading{FromCross: fromCross, Reads: fromCross, Known: p.Zero != ""}
	asked := degrees(fromCross) + " from the cross-slide line"
	if !r.Known {
		r.Text = asked + "; what the zero of this protractor means is not known: check with a square against the chuck face"
		return r
	}
	if p.Zero == ZeroBed {
		r.Reads = 90*unit.Degree - fromCross
	}
	if r.Reads > p.End+1e-9 {
		r.Beyond = true
		r.Text = fmt.Sprintf("%s would be %s on your scale, which stops at %s: set it with a protractor or a sine bar against the chuck face",
			asked, degrees(r.Reads), degrees(p.End))
		return r
	}
	r.Text = asked + " = your scale reads " + degrees(r.Reads)
	if p.Printed == ClockwiseOnly || p.Printed == AnticlockwiseOnly {
		r.Text += " (the scale is printed " + string(p.Printed) + " of its zero only; when swung the other way, use a protractor)"
	}
	return r
}

// degrees prints an angle with at most two decimals and none that are zero.
func degrees(a unit.Angle) string {
	s := strings.TrimSuffix(a.Format(2), "°")
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s + "°"
}
