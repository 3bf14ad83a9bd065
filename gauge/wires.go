package gauge

import (
	"thrum/thread"
	"thrum/unit"
)

// Choice says which wires (or balls) there are to choose from.
type Choice struct {
	Use   unit.Length   // this size and no other; zero to choose
	Owned []unit.Length // sizes at hand; empty means that the best size is assumed
}

// Wires is the measurement of one thread over wires (over balls for an internal
// thread), ready for the sheet.
type Wires struct {
	Thread   thread.Thread
	Best     unit.Length // touches the flanks at the pitch diameter
	Usable   thread.Band // least that stands proud of the crest, greatest that still seats on the straight flank
	Size     unit.Length // the wire chosen
	Over     thread.Band // readings at the limits of pitch diameter, exact seat
	Root     thread.Band // the same by the square-root formula
	Simple   thread.Band // the same without lead correction
	Tilt     unit.Angle  // how far the wires lean from square
	Seats    unit.Length // radial depth of groove below the full blank from which readings count
	Depth    unit.Length // full radial depth of groove at the middle of the limits
	Geometry unit.Length // radial depth at which the wire first touches flank and not corner
	Notes    []thread.Note
}

// ForThread chooses wires for a thread and gives the readings for its limits.
func ForThread(t thread.Thread, c Choice) (*Wires, error) { return nil, errNotYet }

// Reading returns the reading over these wires at pitch diameter e.
func (w *Wires) Reading(e unit.Length) (unit.Length, error) { return 0, errNotYet }

// PitchDiameter returns the pitch diameter for a reading m. It refuses readings
// taken before the wires seat.
func (w *Wires) PitchDiameter(m unit.Length) (unit.Length, error) { return 0, errNotYet }
