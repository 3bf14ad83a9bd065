package vibe

import (
	"math"
	"math/cmplx"

	"thrum/shaft"
	"thrum/unit"
)

// Oscillator is a single mode of vibration: the plainest thing that can chatter.
// The frequencies and factors of a real set-up come from Assess; the closed forms
// here say what to expect of them.
type Oscillator struct {
	Frequency unit.Frequency // natural, without damping
	Stiffness unit.Stiffness // modal, at the tool
	Damping   float64        // fraction of critical, above 0 and below 0.7
}

// Receptance returns the compliance under a swinging force:
//
//	Phi(f) = (1/k) / (1 - r^2 + 2 i z r),   r = f / f_n
func (o Oscillator) Receptance(f unit.Frequency) shaft.Receptance {
	r := float64(f / o.Frequency)
	return shaft.Receptance(complex(1/float64(o.Stiffness), 0) / complex(1-r*r, 2*o.Damping*r))
}

// CarryOver returns T = g Phi / (1 + g Phi), amplitude and phase of what a pass
// leaves of a wave that the last pass left, where g = K b is the gain of the cut
// in newtons per millimetre of chip.
//
// Source: the repetitive process h = h0 + y[n-1] - y[n]; Edwards, Proc. IEE 121
// (1974) 1425 for the general theory (from memory).
func CarryOver(g unit.Stiffness, phi shaft.Receptance) complex128 {
	l := complex(float64(g), 0) * complex128(phi)
	return l / (1 + l)
}

// Limit returns the width of chip at which one pass just copies the waves of the
// last, and the frequency at which it does so:
//
//	b = 2 k z (1 + z) / K,   f = f_n sqrt(1 + 2 z)
//
// It is the limit below which plain turning is stable at every speed.
//
// Units: K cutting stiffness in N/mm^2 (Kn of a Gain). Source: Tlusty's absolute
// limit, as in any text on chatter (from memory).
func (o Oscillator) Limit(k unit.Stress) (unit.Length, unit.Frequency) {
	b := 2 * float64(o.Stiffness) * o.Damping * (1 + o.Damping) / float64(k)
	return unit.Length(b), unit.Frequency(o.Frequency.Hz() * math.Sqrt(1+2*o.Damping))
}

// Peak returns the largest carry-over of any wave and the frequency where it
// stands. With x = (f/f_n)^2 and q = g/k,
//
//	1/|T|^2 = (1 + (1-x)/q)^2 + 4 z^2 x / q^2
//
// is a parabola in x with its lowest point at x = 1 + q - 2 z^2.
func (o Oscillator) Peak(g unit.Stiffness) (float64, unit.Frequency) {
	if !(g > 0) {
		return 0, 0
	}
	x := 1 + float64(g/o.Stiffness) - 2*o.Damping*o.Damping
	f := unit.Frequency(o.Frequency.Hz() * math.Sqrt(x))
	return cmplx.Abs(CarryOver(g, o.Receptance(f))), f
}

// Band is a range of frequencies.
type Band struct{ Low, High unit.Frequency }

// Band returns the frequencies between which waves grow from pass to pass, |T| > 1,
// and false when there are none. Edges are where Re Phi = -1/(2 g):
//
//	x^2 - x (2 + q - 4 z^2) + 1 + q = 0,   x = (f/f_n)^2,   q = 2 g/k
//
// solved here with the q of the loop, g/k, doubled.
func (o Oscillator) Band(g unit.Stiffness) (Band, bool) {
	q := 2 * float64(g/o.Stiffness)
	// Re(1/(1-x+2iz sqrt x)) = (1-x)/((1-x)^2+4z^2 x) = -1/q
	p := 2 + q - 4*o.Damping*o.Damping
	disc := p*p/4 - (1 + q)
	if !(g > 0) || disc < 0 {
		return Band{}, false
	}
	root := math.Sqrt(disc)
	hz := o.Frequency.Hz()
	return Band{unit.Frequency(hz * math.Sqrt(p/2-root)), unit.Frequency(hz * math.Sqrt(p/2+root))}, true
}
