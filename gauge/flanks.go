package gauge

import (
	"errors"

	"thrum/thread"
	"thrum/unit"
)

var errNotYet = errors.New("gauge: not implemented yet")

// Flanks is what a wire or a ball in a groove can feel of a thread: the two flank
// angles, the pitch (from which the groove is half a pitch wide at the pitch
// diameter), the lead, and the half angle of a taper.
type Flanks struct {
	Side     thread.Side
	Leading  unit.Angle // between flank and the normal to the axis
	Trailing unit.Angle
	Pitch    unit.Length
	Lead     unit.Length // pitch x starts
	Taper    unit.Angle  // between the pitch cone's side and the axis; zero when parallel
}

// FlanksOf takes the flanks from a thread.
func FlanksOf(t thread.Thread) Flanks { return Flanks{} }

// Seat is where a wire or a ball comes to rest between the flanks.
type Seat struct {
	Over     unit.Length // reading over three wires (over the balls, for an internal thread), exact
	Root     unit.Length // the same by the square-root formula of the handbooks
	Simple   unit.Length // the same without regard to the lead
	Tilt     unit.Angle  // between the wire and the normal to the axis
	Leading  unit.Length // diameter at which the leading flank is touched
	Trailing unit.Length // diameter at which the trailing flank is touched
}

// SeatOf returns the seat of wires (balls) of diameter w at pitch diameter e.
func (f Flanks) SeatOf(e, w unit.Length) (Seat, error) { return Seat{}, errNotYet }

// PitchDiameter returns the pitch diameter for a reading m over wires (balls) of diameter w.
func (f Flanks) PitchDiameter(m, w unit.Length) (unit.Length, error) { return 0, errNotYet }

// BestWire returns the wire (ball) that touches the flanks at the pitch diameter e.
func (f Flanks) BestWire(e unit.Length) (unit.Length, error) { return 0, errNotYet }
