package thread

import (
	"math"

	"thrum/unit"
)

// Form is the basic profile of a thread in the axial plane, all lengths as
// fractions of the pitch P. Flank angles are measured between the flank and the
// normal to the axis (ISO 5408); for a symmetrical form both are half the
// included angle.
//
// The leading flank is the one that faces the way the tool travels when it cuts
// towards the headstock; the trailing flank is the other. Which of a buttress
// thread's flanks leads depends on how the part is held; forms are given with the
// pressure flank as trailing, and Mirror swaps them.
type Form struct {
	Name         string     // "60° Unified", "30° trapezoidal"
	Source       string     // standard and clause
	Leading      unit.Angle // flank angle of the leading flank
	Trailing     unit.Angle // flank angle of the trailing flank
	H            float64    // height of the fundamental triangle / P; zero for a square form
	Depth        float64    // depth of the basic profile (external) / P
	CrestFlat    float64    // width of the flat at the crest of the thread / P (before rounding)
	RootFlat     float64    // width of the flat at the root of the groove / P (before rounding)
	CrestRadius  float64    // radius at the crest / P; zero when flat
	RootRadius   float64    // design root radius / P; zero when flat
	RootRadiusLo float64    // least root radius that the standard asks for / P; zero when none
	RootCorner   float64    // radius in the two corners of a flat root / P; zero when they are sharp
}

// Symmetric reports whether both flank angles are equal.
func (f Form) Symmetric() bool { return math.Abs(float64(f.Leading-f.Trailing)) < 1e-12 }

// Included returns the included angle of the form.
func (f Form) Included() unit.Angle { return f.Leading + f.Trailing }

// Mirror returns the form with its flanks exchanged.
func (f Form) Mirror() Form {
	f.Leading, f.Trailing = f.Trailing, f.Leading
	return f
}

// Point is a point of an axial section. Z runs along the axis in the direction
// of cutting, from the middle of the root; X is the depth below the crest,
// measured square to the axis and towards the root, so that the finished groove
// lies between X = 0 and X = depth for external and internal threads alike.
type Point struct{ Z, X unit.Length }

// Segment is one piece of a groove's outline: a straight line, or a circular arc
// about Centre when Radius is not zero. Arcs turn by less than half a turn.
type Segment struct {
	From, To Point
	Centre   Point
	Radius   unit.Length
}

// Groove is the outline of one finished groove in the axial plane, from the edge
// of the crest behind the tool (trailing side, Z < 0) down to the root and up to
// the edge of the crest before it (leading side, Z > 0). Neighbouring segments
// share their end points, and Z never decreases along the outline.
type Groove []Segment

func leadAngle(lead, d2 unit.Length) unit.Angle {
	if d2 <= 0 {
		return 0
	}
	return unit.Angle(math.Atan(float64(lead) / (math.Pi * float64(d2))))
}
