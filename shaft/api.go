package shaft

import (
	"errors"

	"thrum/unit"
)

var errSoon = errors.New("not yet computed")

// Bar is a Work made ready for calculation. It does not change after New.
type Bar struct{ work Work }

// New checks the work and makes it ready.
func New(w Work) (*Bar, error) { return &Bar{w}, nil }

// Length returns the length of the bar from the face of the chuck.
func (b *Bar) Length() unit.Length { return 0 }

// Compliances returns the deflection of the work per radial force at each
// position, at the place of the force, without the tool's share.
func (b *Bar) Compliances(at []unit.Length) ([]Compliance, error) { return nil, errSoon }

// AtTool returns Compliances plus the radial compliance of the tool side: what
// the depth of cut loses per newton.
func (b *Bar) AtTool(at []unit.Length) ([]Compliance, error) { return nil, errSoon }

// Deflection returns the deflection at each position under one radial force.
func (b *Bar) Deflection(load unit.Force, where unit.Length, at []unit.Length) ([]unit.Length, error) {
	return nil, errSoon
}

// Mode is one natural vibration of the work.
type Mode struct {
	Frequency unit.Frequency
	Damping   float64 // fraction of critical
}

// Modes returns the n lowest lateral modes.
func (b *Bar) Modes(n int) ([]Mode, error) { return nil, errSoon }

// Response is the frequency response of work and tool at one position.
type Response struct{}

// Response prepares the frequency response at a position.
func (b *Bar) Response(at unit.Length) (*Response, error) { return nil, errSoon }

// At returns the receptances in the three directions at a frequency.
func (r *Response) At(f unit.Frequency) (radial, tangential, axial Receptance) { return 0, 0, 0 }

// Oriented returns the sum of the receptances, each times its weight.
func (r *Response) Oriented(f unit.Frequency, weight Direction) Receptance { return 0 }
