package thread

import "thrum/unit"

// Target is the size to aim at within a pair of limits, and why.
type Target struct {
	Size   unit.Length
	Reason string
}

// Targets are the sizes to aim at for the three diameters.
type Targets struct{ Major, Pitch, Minor Target }

// Targets returns the sizes to aim at.
func (t Thread) Targets() Targets { return Targets{} }

// Depth returns the depth of the finished groove, square to the axis, at the
// target sizes.
func (t Thread) Depth() unit.Length { return 0 }

// Groove returns the outline of the finished groove at the target sizes.
func (t Thread) Groove() Groove { return nil }

// BeforePlating returns the limits to cut so that a coating of the given
// thickness, the same everywhere, brings the thread to its Limits.
func (t Thread) BeforePlating(coating unit.Length) (Limits, error) { return t.Limits, nil }
