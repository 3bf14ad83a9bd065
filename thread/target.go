package thread

import "thrum/unit"

// Target is the size to aim at within a pair of limits, and why.
type Target struct {
	Size   unit.Length
	Reason string
}

// Targets are the sizes to aim at for the three diameters.
type Targets struct{ Major, Pitch, Minor Target }

// Targets returns the sizes to aim at: what the tool leaves when the pitch
// diameter ends in the middle of its limits and the crest is turned or bored to
// the middle of its own.
//
// The crest is turned before threading (the major diameter of a screw, the minor
// diameter of a nut). The root follows from the tool: a tool whose point has the
// form's own root, cut in until the pitch diameter is right, leaves the root
// where this returns it. Middle sizes leave the same room for error to either
// side; coming from the side of too much metal, the thread fits soonest at the
// near limit.
func (t Thread) Targets() Targets {
	const middle = "middle of the limits: equal room for error to either side"
	pitch := Target{t.Limits.Pitch.Mean(), middle}
	root := Target{Reason: "left by a tool with the form's own root, fed in until the pitch diameter is in the middle of its limits"}
	if t.Side == Internal {
		minor := Target{t.Limits.Minor.Mean(), middle + "; the bore to thread"}
		root.Size = minor.Size + 2*t.Depth()
		return Targets{Major: root, Pitch: pitch, Minor: minor}
	}
	major := Target{t.Limits.Major.Mean(), middle + "; the blank to thread"}
	root.Size = major.Size - 2*t.Depth()
	return Targets{Major: major, Pitch: pitch, Minor: root}
}

// crest returns the diameter at the crest to aim at: the major diameter of an
// external thread, the minor diameter of an internal one.
func (t Thread) crest() unit.Length {
	if t.Side == Internal {
		return t.Limits.Minor.Mean()
	}
	return t.Limits.Major.Mean()
}
