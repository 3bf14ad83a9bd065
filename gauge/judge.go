package gauge

import (
	"thrum/thread"
	"thrum/unit"
)

// Method says how the reading was taken.
type Method int

// Ways of taking a pitch diameter.
const (
	ThreeWires Method = iota
	TwoWires
	OneWire          // wire on one side, anvil on the crest on the other
	ThreadMicrometer // reads the pitch diameter directly
	Balls            // internal, T-probe over two balls
)

// Reading is one measured thread.
type Reading struct {
	Method Method
	Value  unit.Length   // what the micrometer showed (mean of Repeats when zero)
	Repeat []unit.Length // readings of the same place, if more than one was taken
	Wire   unit.Length   // wire or ball diameter
	Major  unit.Length   // measured major diameter, for one wire

	ReadError   unit.Length // the micrometer is right within +/- this
	WireError   unit.Length // the wires are right within +/- this
	MajorError  unit.Length // for one wire: major diameter within +/- this, its runout against the thread included
	FlankError  unit.Angle  // each flank angle is right within +/- this
	Part        Warmth      // zero value: at 20 degrees
	Wires       Warmth
	Micrometer  Warmth
	Temperature unit.Temperature // temperatures are right within +/- this

	Lead            unit.Length // lead error over the engagement, for the functional size
	LeadingFlankOff unit.Angle  // measured flank angle less nominal
	TrailingFlnkOff unit.Angle
}

// Warmth is a temperature and how much the material grows with it.
type Warmth struct {
	At        unit.Temperature
	Expansion Expansion
	Known     bool // false: taken as 20 degrees
}

// Expansion is a coefficient of linear expansion per kelvin.
type Expansion float64

// Standing says where the pitch diameter stands with regard to its limits.
type Standing int

// The standings, from metal still to come off to too much off.
const (
	MetalLeft       Standing = iota // outside on the side where cutting on helps
	PerhapsLeft                     // outside by less than can be claimed
	InsideUnclaimed                 // inside but within the guard band
	Inside                          // inside and can be claimed
	PerhapsOver                     // outside on the scrap side by less than can be claimed
	Over                            // too much has come off
)

// Part of the uncertainty budget, GUM clause 4.
type Contribution struct {
	Name        string
	HalfWidth   unit.Length // as given, in its own terms
	Sensitivity float64     // change of pitch diameter per change of the quantity
	Standard    unit.Length // its share of the standard uncertainty of the pitch diameter
	Source      string
	Assumed     bool
}

// Verdict is a judged reading.
type Verdict struct {
	Pitch      unit.Length // pitch diameter at 20 degrees
	Functional unit.Length // with lead and flank errors
	Standard   unit.Length // standard uncertainty u
	Expanded   unit.Length // U = 2u
	Budget     []Contribution
	Limits     thread.Band
	Accept     thread.Band // limits drawn in by the guard band
	Conforms   float64     // probability that the true pitch diameter is inside
	Standing   Standing
	Words      string
	TakeOff    TakeOff
	Notes      []thread.Note
}

// TakeOff says how much more metal has to go, on the pitch diameter; half of it
// is the radial depth. Values are zero when nothing has to go.
type TakeOff struct {
	AtLeast unit.Length // to where the size can be claimed
	Middle  unit.Length // to the middle of the limits
	AtMost  unit.Length // beyond this it can no longer be claimed
}

// Radial returns a pitch-diameter change as a radial depth.
func Radial(d unit.Length) unit.Length { return d / 2 }

// Judge turns a reading into a verdict.
func Judge(t thread.Thread, r Reading) (*Verdict, error) { return nil, errNotYet }
