package thread

import "thrum/unit"

// Family names a system of screw threads: one form, one way of designating, one
// set of tolerances.
type Family string

// Side says whether a thread is on a shaft or in a hole.
type Side int

// A thread is external (a screw) or internal (a nut).
const (
	External Side = iota
	Internal
)

// String prints "external" or "internal".
func (s Side) String() string {
	if s == Internal {
		return "internal"
	}
	return "external"
}

// Hand is the direction of the helix.
type Hand int

// A right-hand thread advances when turned clockwise.
const (
	Right Hand = iota
	Left
)

// String prints "right hand" or "left hand".
func (h Hand) String() string {
	if h == Left {
		return "left hand"
	}
	return "right hand"
}

// Band is a pair of limits. A limit that the standard does not give is zero:
// the minor diameter of an external thread has no minimum, the major diameter of
// an internal thread no maximum.
type Band struct{ Min, Max unit.Length }

// Mean returns the middle of the band; when only one limit exists, that one.
func (b Band) Mean() unit.Length {
	switch {
	case b.Min == 0:
		return b.Max
	case b.Max == 0:
		return b.Min
	}
	return (b.Min + b.Max) / 2
}

// Width returns the tolerance, or zero when one limit does not exist.
func (b Band) Width() unit.Length {
	if b.Min == 0 || b.Max == 0 {
		return 0
	}
	return b.Max - b.Min
}

// Diameters are the three diameters of a thread, ISO 5408: major (d, D), pitch
// (d2, D2) and minor (d1 or d3, D1).
type Diameters struct{ Major, Pitch, Minor unit.Length }

// Limits are the limits of size of one member. On a taper thread they hold at
// the gauge plane.
type Limits struct{ Major, Pitch, Minor Band }

// Note is a remark that belongs on the sheet: where a figure comes from, or what
// was assumed because the callout did not say.
type Note struct {
	Text    string
	Source  string // standard, table or clause; empty for an assumption
	Assumed bool   // true when the user should confirm it
}

// Thread is one screw thread with everything that its callout and the standards
// say of it. Parse makes it; it is a value and never changes afterwards.
type Thread struct {
	Callout     string      // as the user wrote it
	Designation string      // the same in the standard's own form: "1/2-13 UNC-2A-LH"
	Family      Family      // "UN", "M", ...
	Series      string      // "UNC", "coarse"; empty for a special
	Class       string      // "2A", "6g", "4g6g"
	Side        Side        //
	Hand        Hand        //
	Starts      int         // at least 1
	System      unit.System // the system in which the drawing is dimensioned
	Nominal     unit.Length // d, D: the size in the designation, as a diameter
	Pitch       unit.Ratio  // P in millimetres, exact
	Form        Form        // the basic profile
	Taper       unit.Ratio  // growth of diameter per length, 1/16 for pipe; zero when parallel
	Gauge       *TaperGauge // where a taper thread has which size; nil when parallel
	Engagement  unit.Length // length of engagement that the tolerances assume
	Basic       Diameters   // the sizes without allowance or tolerance
	Limits      Limits      // limits of size of this member, before plating
	Deviation   unit.Length // es (external, <= 0) or EI (internal, >= 0): the allowance with its sign
	Notes       []Note      //
}

// Lead returns the exact advance per turn in millimetres: starts x pitch.
func (t Thread) Lead() unit.Ratio {
	l, err := t.Pitch.Mul(unit.Whole(int64(max(t.Starts, 1))))
	if err != nil { // Parse bounds both factors, so this is a broken invariant
		panic(err)
	}
	return l
}

// LeadAngle returns the lead angle at the basic pitch diameter: tan = lead / (pi d2).
func (t Thread) LeadAngle() unit.Angle { return leadAngle(t.Lead().Length(), t.Basic.Pitch) }
