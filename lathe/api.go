package lathe

import (
	"errors"

	"thrum/unit"
)

var errUnwritten = errors.New("not available")

// Parse reads a lathe file.
func Parse(name string, text []byte) (*Lathe, error) { return nil, errUnwritten }

// Describe returns a plain-text summary.
func Describe(l *Lathe) string { return "" }

// CanReverse tells whether a thread may be cut, or a pass ended, with the spindle in reverse.
func (l *Lathe) CanReverse() (bool, string) { return false, "" }

// Hazard is a danger that this lathe's construction brings.
type Hazard struct {
	Blocks string // what must not be done: "reverse the spindle"
	Why    string
	Do     string // what to do instead
}

// Hazards lists what this lathe's construction makes dangerous.
func (l *Lathe) Hazards() []Hazard { return nil }

// ScaleReading is what a protractor shows.
type ScaleReading struct {
	Angle  unit.Angle // from the cross-slide line, as asked
	Reads  unit.Angle // figure on this lathe's scale
	Beyond bool       // the scale stops short
	Text   string
}

// Reading returns what the protractor shows when the compound is swung by the
// given angle from the cross-slide line.
func (p Protractor) Reading(fromCross unit.Angle) ScaleReading { return ScaleReading{} }

// DialReading is where a dial stands after a travel of its slide from zero.
type DialReading struct {
	Turns int         // whole turns
	Shows unit.Length // figure after the whole turns, as the dial counts it
	Back  bool        // the slide went the other way: the figures run down
	Text  string      // "1 turn + .031 (direct dial)"
}

// Reading returns where the dial stands after the slide has travelled from zero.
func (d Dial) Reading(travel unit.Length) DialReading { return DialReading{} }

// Round returns the travel nearest to the given one that falls on a division.
func (d Dial) Round(travel unit.Length) unit.Length { return 0 }

// Turn returns the travel of the slide for one turn of the dial.
func (d Dial) Turn() unit.Length { return 0 }

// Options govern a search for gear trains.
type Options struct {
	Hand      Hand
	MaxStages int     // 1 to 3; 0 means 3
	MaxPPM    float64 // largest lead error accepted; 0 means 5000
	Keep      int     // how many trains to return; 0 means 50
}

// Wheel is a wheel of a train laid out as a circle.
type Wheel struct {
	Teeth  int
	Place  string      // "stud", "banjo 1 driven", "banjo 1 driver", "banjo 1 idler", "screw"
	Shaft  int         // 0 stud, 1.. banjo studs, last the screw
	Plane  int         // 1 outermost
	X, Y   unit.Length // centre, the screw at the origin
	Radius unit.Length // pitch radius
}

// Shaft is a shaft of the layout.
type Shaft struct {
	Name   string
	X, Y   unit.Length
	Radius unit.Length
}

// Train is one way of gearing the screw to the spindle.
type Train struct {
	Wheels       []Wheel
	Shafts       []Shaft
	Stages       int
	Idlers       int
	Ratio        unit.Ratio // turns of the last wheel per turn of the first
	Position     *Position  // gearbox position, nil without a gearbox
	Lead         unit.Ratio // lead cut, millimetres, exact
	LeadErrorPPM float64    // (cut - wanted) / wanted x 1e6
	Exact        bool
	Hand         Hand
	Tumbler      string // tumbler position to set, as engraved
	Swing        unit.Angle
	Moved        int // wheels to be moved from the present set-up
}

// PitchDiameterEffect returns the change of functional pitch diameter that the
// lead error causes over a length of engagement.
func (t Train) PitchDiameterEffect(engagement unit.Length, flank unit.Angle) unit.Length { return 0 }

// Trains finds gear trains for a lead.
func Trains(l *Lathe, lead unit.Ratio, opt Options) ([]Train, error) { return nil, errUnwritten }

// NoTrain says why a train cannot be set up.
type NoTrain struct {
	Reason Reason
	Detail string
}

// Reason is the kind of obstacle.
type Reason string

// Error prints the reason.
func (e *NoTrain) Error() string { return e.Detail }

// CheckTrain checks one given train.
func CheckTrain(l *Lathe, wheels ...int) (*Train, error) { return nil, errUnwritten }

// DialKind is the kind of rule.
type DialKind string

// The rules.
const (
	DialAnywhere DialKind = "anywhere"
	DialAnyLine  DialKind = "any line"
	DialLines    DialKind = "lines"
	DialSameLine DialKind = "same line"
	DialNone     DialKind = "no line"
)

// DialRule is the rule for one wheel of the threading dial.
type DialRule struct {
	Wheel DialWheel
	Kind  DialKind
	Step  int        // usable lines lie this many lines apart
	Sets  [][]string // the sets of lines that may be mixed; "" names are given as "plain line after 1"
	Turns int        // for DialNone: the same line is right every so many turns of the dial
	Text  string
}

// DialRules returns the rule for every wheel of the threading dial, the most
// convenient first.
func DialRules(l *Lathe, lead unit.Ratio) []DialRule { return nil }

// IndexMethod is one way of going from one start to the next.
type IndexMethod struct {
	Name      string
	Possible  bool
	Text      string   // what to do, with this lathe's figures
	Conflicts []string // what it excludes, or why it is not possible
}

// IndexMethods returns the ways of indexing a multi-start thread on this lathe.
func IndexMethods(l *Lathe, lead unit.Ratio, starts int, t *Train) []IndexMethod { return nil }
