package vibe

import (
	"math"

	"thrum/unit"
)

// Range is a figure with its doubt: what it may be at the least, what is likely,
// what it may be at the most.
type Range struct{ Low, Likely, High float64 }

// Process is the damping that comes from the edge's rubbing on the waves it cuts:
// a force against the movement of
//
//	F = C b / v x movement per second
//
// Units: C in newtons per millimetre (unit.Stiffness; 1 N/mm = 1000 N/m), b length
// of edge, v surface speed.
//
// Valid: for waves that are small beside the land of the edge. A fresh sharp edge
// with much relief has a small C, a worn one a large C.
type Process struct{ Low, Likely, High unit.Stiffness }

// DefaultProcess returns the range found in print, 3e4 to 6e5 N/m, and its
// middle on a scale of ratios, 1.3e5 N/m.
//
// Source: Altintas, Eynian and Onozuka, CIRP Annals 57 (2008) 371, about 6.1e5 N/m
// for a 0.45 % carbon steel; indentation figures after Shawky and Elbestawi and
// Chiou and Liang with lands of 0.02 to 0.08 mm (all from memory). The published
// values scatter by more than ten.
func DefaultProcess() Process { return Process{Low: 30, Likely: 130, High: 600} }

// CriticalWavelength returns the length of a mark along the helix below which
// rubbing keeps waves from growing whatever the width of cut: 2 pi C / K, with
// the cutting stiffness K square to the edge in N/mm^2.
func CriticalWavelength(c unit.Stiffness, k unit.Stress) unit.Length {
	return unit.Length(2 * math.Pi * float64(c) / float64(k))
}

// CriticalSpeed returns the surface speed below which a vibration of frequency f
// cannot grow from pass to pass: 2 pi f C / K.
func CriticalSpeed(c unit.Stiffness, k unit.Stress, f unit.Frequency) unit.Velocity {
	return unit.Velocity(f.Hz() * CriticalWavelength(c, k).MM())
}

// Wavelength returns the length of a mark along the helix: v / f.
func Wavelength(v unit.Velocity, f unit.Frequency) unit.Length {
	return unit.Length(v.MMPerS() / f.Hz())
}
