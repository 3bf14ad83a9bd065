package cause

import (
	"thrum/sound"
	"thrum/unit"
)

// Kind is one of the causes that are weighed against each other.
type Kind string

// The causes.
const (
	Waves   Kind = "waves"   // pass to pass: each pass cuts the waves of the last one deeper
	Gears   Kind = "gears"   // teeth in mesh, or anything else that turns with the spindle
	Ringing Kind = "ringing" // a natural frequency, rung by shocks or by the cut; it does not feed on itself
	Motor   Kind = "motor"   // motor, belt or mains
	Tearing Kind = "tearing" // torn metal, built-up edge
	Quiet   Kind = "quiet"   // nothing out of the way
	Other   Kind = "other"   // something that is not on this list
)

// Kinds lists the causes in the order in which ties are printed.
func Kinds() []Kind { return []Kind{Waves, Gears, Ringing, Motor, Tearing, Quiet, Other} }

// Words names the cause for a reader.
func (k Kind) Words() string {
	switch k {
	case Waves:
		return "waves that grow from pass to pass (chatter)"
	case Gears:
		return "the gears, or what else turns with the spindle"
	case Ringing:
		return "a natural frequency that shocks or the cut itself set ringing"
	case Motor:
		return "the motor, its belt or the mains"
	case Tearing:
		return "torn metal or a built-up edge"
	case Quiet:
		return "nothing out of the way"
	}
	return "something that is not on this list"
}

// Case is everything that is known about one set-up.
type Case struct {
	Cuts      []Cut        // one or more recordings of cutting, at one or more speeds
	Air       *sound.Heard // the machine running at the speed of the first cut, without cutting; nil when there is none
	Lines     []sound.Line // what comes round with the spindle on this lathe; used for marks and in words
	Modes     []Mode       // natural frequencies, computed or knocked
	Marks     []Marks      // from photographs or counted by hand
	CarryOver *CarryOver   // what the model expects; nil when it was not asked
	Diameter  unit.Length  // of the work at the cut; zero when not known
}

// Cut is one recording of cutting.
type Cut struct {
	Name  string // the file, or "pass 4 of part 17"
	Heard *sound.Heard
	Lines []sound.Line // what comes round at this speed, when the levers stand otherwise than for Case.Lines; nil for those
}

// speed returns the spindle speed of the cut and how far off it may be, as a
// fraction: heard, or else as given.
func (c Cut) speed() (unit.Rotation, float64) {
	s := c.Heard.Speed
	if s.Heard.Value > 0 {
		return s.Heard.Value, float64(s.Heard.SE / s.Heard.Value)
	}
	return s.Given, givenSpread
}

// Mode is a natural frequency of the part, the tool or the machine.
type Mode struct {
	Name   string         // "first bending of the work"
	Freq   unit.Frequency //
	Spread float64        // standard error as a fraction: 0.01 when knocked, 0.15 when computed; 0 means 0.15
}

// Pattern says how the marks of a thread lie.
type Pattern string

// The patterns that a photograph, or a loupe, can show.
const (
	PatternUnknown Pattern = ""
	Together       Pattern = "together" // both flanks and the root: radial movement
	Opposed        Pattern = "opposed"  // the flanks against each other, none at the root: axial movement
	Ragged         Pattern = "ragged"   // no even spacing
	Clean          Pattern = "clean"    // no marks
)

// Marks are what is seen on a thread.
type Marks struct {
	PerTurn float64       // waves once around; 0 when not counted or not even
	SE      float64       // its standard error
	Pattern Pattern       //
	Speed   unit.Rotation // at which it was cut; 0 means the speed of the first recording
}

// countedWithin is how far a count by hand may be off, as a fraction (one standard
// deviation): one mark in a hundred. From memory; nobody measured it.
const countedWithin = 0.01

// Counted are marks that were counted by hand once around the thread.
func Counted(n float64) Marks { return Marks{PerTurn: n, SE: countedWithin * n} }

// CarryOver is what the model of the set-up expects: what a pass leaves of the
// waves of the last, at the worst frequency.
type CarryOver struct {
	Freq              unit.Frequency
	Low, Likely, High float64
}

// Finding is the answer.
type Finding struct {
	Told       bool        `json:"told"`              // false: the evidence does not decide
	Cause      Kind        `json:"cause"`             // the likeliest, also when it is not told
	Confidence float64     `json:"confidence"`        // probability of Cause, 0 to 1
	Sentence   string      `json:"sentence"`          // the answer in one sentence
	Because    string      `json:"because,omitempty"` // what limits the confidence
	Causes     []Candidate `json:"causes"`            // all, likeliest first; probabilities add up to 1
	Tones      []Voice     `json:"tones"`             // the tones that were weighed, loudest first, of all cuts
	Speeds     *Speeds     `json:"speeds,omitempty"`  // the comparison of two speeds; nil without two
	Test       *Test       `json:"test,omitempty"`    // the cheapest test that would part the best two
	Notes      []string    `json:"notes,omitempty"`
}

// Candidate is one cause with what speaks for and against it.
type Candidate struct {
	Kind        Kind     `json:"kind"`
	Words       string   `json:"words"` // the cause in words, with the gear's name where one is meant
	Probability float64  `json:"probability"`
	For         []Reason `json:"for,omitempty"` // strongest first
	Against     []Reason `json:"against,omitempty"`
	Remedy      string   `json:"remedy"` // what to do when this is it
}

// Reason is one piece of evidence in words.
type Reason struct {
	Text   string  `json:"text"`
	Weight float64 `json:"log_odds"` // natural logarithm of the odds it moves, against the average of the other causes
}

// Voice is one tone of a recording with what it is taken for.
type Voice struct {
	Cut     string                        `json:"cut"` // name of the recording
	Freq    unit.Frequency                `json:"freq_hz"`
	SE      unit.Frequency                `json:"se_hz"`
	Share   float64                       `json:"share"`              // of the sound while cutting, 0 to 1
	Line    string                        `json:"line,omitempty"`     // known line it lies on; empty when free
	PerTurn float64                       `json:"per_turn,omitempty"` // waves per turn; 0 when the speed is not known
	InAir   InAir                         `json:"in_air"`             // whether it is there without cutting
	Growth  *sound.Estimate[sound.Factor] `json:"growth,omitempty"`   // from pass to pass, in level or against the hiss, whichever is more; nil with fewer than two passes
	Weight  float64                       `json:"weight"`             // its part in the answer, 0 to 1
	Likely  Kind                          `json:"likely"`             // what this tone alone points to
}

// InAir says whether a tone is also there without cutting.
type InAir string

// The answers.
const (
	AirUnknown InAir = "not known"
	AirSame    InAir = "as loud without cutting"
	AirLess    InAir = "weaker without cutting"
	AirNone    InAir = "only while cutting"
)

// Speeds compares the tones of two spindle speeds.
type Speeds struct {
	Slow     unit.Rotation `json:"slow_rpm"`
	Fast     unit.Rotation `json:"fast_rpm"`
	Ratio    float64       `json:"ratio"` // of the speeds
	Pairs    []Pair        `json:"pairs,omitempty"`
	Sentence string        `json:"sentence"`
	Enough   bool          `json:"enough"` // the speeds lie far enough apart to tell
}

// Pair is one tone at both speeds.
type Pair struct {
	Slow          unit.Frequency `json:"slow_hz"`
	Fast          unit.Frequency `json:"fast_hz"`
	SameFrequency bool           `json:"same_frequency"` // constant frequency
	SamePerTurn   bool           `json:"same_per_turn"`  // constant marks per turn
	Ratio         float64        `json:"ratio"`
	RatioSE       float64        `json:"ratio_se"`
}

// Test is something cheap to do next.
type Test struct {
	Do      string    `json:"do"`      // what to do
	Caution string    `json:"caution"` // what can go wrong doing it
	Between [2]Kind   `json:"between"`
	Expect  [2]string `json:"expect"`    // what to see if the first, and if the second is true
	Minutes float64   `json:"minutes"`   // about how long it takes
	Gain    float64   `json:"gain_bits"` // expected gain in bits about these two
}
