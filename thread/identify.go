package thread

import (
	"thrum/unit"
)

// Readings are what can be measured on an unknown thread with a caliper and a
// pitch gauge or a rule. Zero means "not measured"; diameter and one way of
// telling the pitch are needed.
type Readings struct {
	Side          Side
	Diameter      unit.Length // outside diameter of a screw, smallest diameter of a nut
	DiameterError unit.Length // largest error of that reading, to either side; zero: DefaultDiameterError
	Pitch         unit.Length // by pitch gauge
	Threads       int         // or counted: this many pitches ...
	Over          unit.Length // ... take up this length
	PitchError    unit.Length // largest error of Pitch, or of Over when counting; zero: DefaultPitchError, DefaultOverError
	Angle         unit.Angle  // included angle of the form, when it was measured
	AngleError    unit.Angle  // zero: DefaultAngleError
}

// Candidate is one thread that the readings may come from.
type Candidate struct {
	Row         SeriesRow
	Thread      Thread
	Probability float64 // of all candidates together 1
	Why         string  // how the readings compare, in words
}

// Test is one further measurement and what it shows in either case.
type Test struct {
	Measure string // what to measure
	First   string // what the first thread shows
	Second  string // what the second shows
}

// Identify ranks the standard threads that the readings may come from, most
// probable first.
func Identify(r Readings) ([]Candidate, error) { return nil, nil }

// Separate names the one further measurement that best tells two threads apart.
func Separate(a, b Thread) Test { return Test{} }
