package shaft

import (
	"math"

	"thrum/unit"
)

// Stuff holds the elastic properties of the work's material.
type Stuff struct {
	E       unit.Stress  // Young's modulus
	Poisson float64      // Poisson's ratio, 0 to 0.5
	Density unit.Density //
}

// G returns the shear modulus E / 2(1 + nu).
func (s Stuff) G() unit.Stress { return unit.Stress(float64(s.E) / (2 * (1 + s.Poisson))) }

// Section is a length of the work with one outside diameter and one bore.
type Section struct {
	Length   unit.Length
	Diameter unit.Length // for a threaded length: between root and pitch diameter
	Bore     unit.Length // zero when solid
	Shear    float64     // shear coefficient; zero means Cowper's for a round section
}

// Joint is how one end is held: stiffness against sideways movement and against
// tilting. Zero stiffness leaves that movement free; an infinite one prevents it.
type Joint struct {
	Radial unit.Stiffness
	Tilt   unit.AngularStiffness
}

// Clamped returns the joint of a perfectly rigid chuck.
func Clamped() Joint {
	return Joint{Radial: unit.Stiffness(math.Inf(1)), Tilt: unit.AngularStiffness(math.Inf(1))}
}

// Pinned returns the joint of a perfectly rigid centre: no sideways movement,
// free to tilt.
func Pinned() Joint { return Joint{Radial: unit.Stiffness(math.Inf(1))} }

// Free returns the joint of an end that nothing holds.
func Free() Joint { return Joint{} }

// Rest is a steady that bears on the work at a fixed place.
type Rest struct {
	At     unit.Length
	Radial unit.Stiffness
}

// Work is a part as it is held in the lathe.
type Work struct {
	Sections []Section // from the headstock to the tailstock
	Stuff    Stuff
	Head     Joint          // chuck or headstock centre
	Tail     Joint          // tailstock centre; Free() without one
	Rests    []Rest         // steadies
	Follow   unit.Stiffness // follow rest, which bears on the work opposite the tool; zero without one
	Tool     Tool           // what the tool side gives
	Damping  float64        // fraction of critical damping of the work; zero means DefaultDamping
	Measured []Knock        // Measured[i] replaces frequency and damping of the i-th mode
}

// Knock is what a knock test told of one mode. A zero is "not measured".
type Knock struct {
	Frequency unit.Frequency
	Damping   float64 // fraction of critical
}

// Direction is a weight or a component in the three directions at the tool:
// radial (square to the axis, into the work), tangential (the way the work's
// surface moves) and axial (along the thread).
type Direction struct{ Radial, Tangential, Axial float64 }

// Tool holds the stiffness of the tool side: tool, post, slides, saddle and, in
// the axial direction, half nuts and leadscrew. A zero means that it is left out
// of account. Modes are vibrations of the tool side that were measured there;
// they take the place of the static figures in the same direction.
type Tool struct {
	Radial, Tangential, Axial unit.Stiffness
	Modes                     []ToolMode
}

// ToolMode is one measured vibration of the tool side.
type ToolMode struct {
	Frequency unit.Frequency
	Stiffness unit.Stiffness // modal stiffness at the tool's tip along Along
	Damping   float64        // fraction of critical
	Along     Direction      // direction of movement; need not be of length one
}

// Compliance is a deflection per force in millimetres per newton.
type Compliance float64

// MMPerN returns the compliance in millimetres per newton.
func (c Compliance) MMPerN() float64 { return float64(c) }

// UmPerN returns the compliance in micrometres per newton.
func (c Compliance) UmPerN() float64 { return float64(c) * 1000 }

// Stiffness returns the inverse, infinite for a compliance of zero.
func (c Compliance) Stiffness() unit.Stiffness { return unit.Stiffness(1 / float64(c)) }

// Receptance is a complex compliance in millimetres per newton: the amplitude
// and phase of the deflection under a force that swings at one frequency.
type Receptance complex128
