package cut

import (
	"errors"

	"thrum/shaft"
	"thrum/thread"
	"thrum/unit"
)

var errSoon = errors.New("not yet computed")

// Position is where the tool's tip stands relative to the finished groove: Depth
// below the crest (radially, 0 when it touches the blank), Along the axis in the
// direction of cutting, 0 in the middle of the finished groove.
type Position struct{ Depth, Along unit.Length }

// Method is a way of feeding in.
type Method int

// The infeed methods. Straight: square to the axis. OneFlank: along the trailing
// flank, so that the leading edge does all the cutting. Modified: a little less
// than that, by a compound set inside the flank angle. Alternating: now along one
// flank, now along the other.
const (
	Straight Method = iota
	OneFlank
	Modified
	Alternating
)

// Infeed is a method, its angle from the square-in direction, and the number of
// last passes that go straight in whatever the method.
type Infeed struct {
	Method        Method
	Angle         unit.Angle // for Modified and Alternating; OneFlank takes the trailing flank's own
	FinalStraight int
}

// Part is one of the edges that share a chip.
type Part int

// The edges, and the crest-forming part of a full-profile tool.
const (
	LeadingFlank Part = iota
	Nose
	TrailingFlank
	Crest
)

// EdgeChip is what one edge takes in one pass.
type EdgeChip struct {
	Length    unit.Length // of edge in the cut
	Thickness unit.Length // largest, square to the edge
	Mean      unit.Length // over the length: Length x Mean is this edge's share of the area
	Area      unit.Area
}

// Chip is what one pass takes off.
type Chip struct {
	At    Position
	Area  unit.Area
	Edges [4]EdgeChip // by Part
}

// Cutter is a tool's outline made ready to cut one groove.
type Cutter struct{}

// NewCutter makes a cutter of the outline of the finished groove, as a
// full-form tool has it.
func NewCutter(g thread.Groove) (*Cutter, error) { return nil, errSoon }

// Positions returns where the tool stands in each pass.
func (c *Cutter) Positions(depths []unit.Length, in Infeed) ([]Position, error) { return nil, errSoon }

// Cut returns the chip of each pass and the outline of the groove after it.
func (c *Cutter) Cut(at []Position) ([]Chip, []thread.Groove, error) { return nil, nil, errSoon }

// Forces on the tool in one pass. Radial pushes it out of the work; axial pushes
// it back against the direction of travel.
type Forces struct {
	Tangential, Radial, Axial unit.Force
	Uncertainty               float64 // one part in which the figures may be off, either way: 0.25
}

// Power returns the power at the cut.
func (f Forces) Power(v unit.Velocity) unit.Power {
	return unit.Power(f.Tangential.N() * v.MMPerS() / 1000)
}

// Torque returns the torque on the spindle at the diameter of the cut.
func (f Forces) Torque(d unit.Length) unit.Torque { return unit.Torque(f.Tangential.N() * d.MM() / 2) }

// Force is the force model of one material, tool and speed.
type Force struct{}

// NewForce puts the model together with the default factors.
func NewForce(m Material, t Tool, v unit.Velocity) (*Force, error) { return nil, errSoon }

// Of returns the forces for a chip.
func (f *Force) Of(c Chip) Forces { return Forces{} }

// Bend is the outcome of passes cut by a springy tool and work.
type Bend struct {
	Stations []unit.Length
	Achieved [][]unit.Length // by pass, by station: the depth really cut
	Error    []unit.Length   // by station: pitch diameter above what was dialled, after the last pass
}

// Follow works out the depth really cut in each pass at each station, where
// give[i] is the radial compliance of work and tool there.
func (c *Cutter) Follow(f *Force, at []Position, stations []unit.Length, give []shaft.Compliance) (*Bend, error) {
	return nil, errSoon
}
