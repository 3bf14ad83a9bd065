package vibe

import (
	"errors"

	"thrum/shaft"
	"thrum/unit"
)

var errNotYet = errors.New("not ready")

// Holding is a way of holding the work.
type Holding struct{}

// Prepare samples.
func Prepare(b *shaft.Bar, at []unit.Length) (*Holding, error) { return nil, errNotYet }

// Gain is the stiffness of the cut of a pass.
type Gain struct{}

// Mode is what swings.
type Mode struct {
	Name      string
	Frequency unit.Frequency
	Measured  bool
}

// InPass tells of growth inside one pass.
type InPass struct {
	Grows     bool
	Frequency unit.Frequency
}

// Starter is something that sets off waves.
type Starter struct {
	Name      string
	Kind      Kind
	Waves     float64
	Amplitude unit.Length
}

// Kind says how a starter comes back.
type Kind int

// Outcome is what becomes of a starter.
type Outcome struct {
	Starter
	Growth float64
	Left   unit.Length
}

// StepResult is the last passes at one speed.
type StepResult struct {
	Step
	CleanUp float64
	Growth  float64
}

// Centre compares with and without.
type Centre struct {
	Matters bool
	With    float64
	Without float64
	Why     string
}

// ProcessResult tells of rubbing.
type ProcessResult struct {
	Wavelength unit.Length
}

// Doubt is one cause of uncertainty.
type Doubt struct {
	Name  string
	Range Range
}

// LobePoint is a point of a lobe.
type LobePoint struct {
	Speed unit.Rotation
	Limit float64
}
