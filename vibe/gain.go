package vibe

import (
	"fmt"
	"math"

	"thrum/cut"
	"thrum/unit"
)

// Gain is how stiffly the cut of one pass answers a movement between tool and
// work. Each piece of edge of length L, whose normal has the parts nx (radial) and
// nz (axial), answers a movement along its normal with Kn L, square to it; Kn is
// the thrust ratio times the slope dF/dh of the cutting force at its chip.
//
//	Radial = sum Kn L nx^2,  Axial = sum Kn L nz^2,  Cross = sum Kn L nx nz
//
// Straight infeed on two 60 degree flanks of length L with a flat nose w comes to
// Kn (0.5 L + w) radially and 1.5 Kn L axially with no cross term; a cut on one
// flank is Kn L along that flank's normal, which sees 1/4 of the radial and 3/4
// of the axial compliance.
//
// The factor for colliding chips is left out: it is not known to change with
// the thickness.
type Gain struct {
	Radial, Axial, Cross unit.Stiffness
	TangentialRadial     unit.Stiffness // cutting force per radial movement
	TangentialAxial      unit.Stiffness // cutting force per axial movement
	Width                unit.Length    // of edge that cuts
	Rubs                 unit.Length    // of edge whose chip is too thin to cut: it only rubs
	Kn                   unit.Stress    // mean over the edge that cuts
	Doubt                float64        // the part by which the cutting force may be off, either way

	rub [3]float64 // sum of L nx^2, L nz^2, L nx nz over all edge in contact, mm
}

// even is the part of a sum below which a cross term is rounding.
const even = 1e-9

// thin is the chip thickness in mm below which the slope is kept: by Kienzle's law
// it would grow without bound, while thin chips are found to follow a straight line,
// F = Ke b + Kc b h (Altintas, Manufacturing Automation, from memory).
const thin = 0.03

// NewGain returns the gain of a pass. A piece of edge whose chip is thinner than
// the edge is sure to cut (MinHi of the edge) is taken to rub: it has no cutting
// stiffness. Such a flank, the trailing one of a compound set close to the flank
// angle, is cut by one half of each wave only.
func NewGain(c cut.Chip, f *cut.Force, e cut.EdgeType) (Gain, error) {
	var g Gain
	if f == nil {
		return g, &unit.InputError{Field: "cutting force", Reason: "is missing", Hint: "take it from cut.NewForce"}
	}
	if len(c.Elements) == 0 && c.Area > 0 {
		return g, &unit.InputError{Field: "chip", Value: fmt.Sprintf("%.4f mm2", c.Area.MM2()), Reason: "has no elements of edge", Hint: "take chips from Cutter.Cut"}
	}
	for _, el := range c.Elements {
		g.add(el, f, e)
	}
	if math.Abs(float64(g.Cross)) < even*float64(g.Radial+g.Axial) {
		g.Cross = 0
	}
	if math.Abs(float64(g.TangentialAxial)) < even*float64(g.TangentialRadial) {
		g.TangentialAxial = 0
	}
	if math.Abs(g.rub[2]) < even*(g.rub[0]+g.rub[1]) {
		g.rub[2] = 0
	}
	if g.Width > 0 {
		g.Kn = unit.Stress(float64(g.Radial+g.Axial) / g.Width.MM()) // nx^2 + nz^2 = 1
	}
	g.Doubt = f.Of(c).Uncertainty
	return g, nil
}

func (g *Gain) add(el cut.Element, f *cut.Force, e cut.EdgeType) {
	l, nx, nz := el.Length.MM(), el.Radial, el.Axial
	g.rub[0] += l * nx * nx
	g.rub[1] += l * nz * nz
	g.rub[2] += l * nx * nz
	if el.Thickness <= 0 || el.Thickness < e.MinHi {
		g.Rubs += el.Length
		return
	}
	slope := float64(f.Slope(max(el.Thickness, thin))) * l
	kn := unit.Stiffness(f.Thrust * slope)
	g.Width += el.Length
	g.Radial += kn * unit.Stiffness(nx*nx)
	g.Axial += kn * unit.Stiffness(nz*nz)
	g.Cross += kn * unit.Stiffness(nx*nz)
	g.TangentialRadial += unit.Stiffness(slope * nx)
	g.TangentialAxial += unit.Stiffness(slope * nz)
}

// Spring tells whether the pass cuts nothing.
func (g Gain) Spring() bool { return g.Width == 0 }

// square is a 2x2 matrix over the radial and the axial direction, by rows.
type square struct{ xx, xz, zx, zz complex128 }

// scale is one trial of the uncertain factors: 1 is as likely. give holds for work
// and tool alike, tool for the tool side alone.
type scale struct{ damping, cut, give, tool float64 }

var likely = scale{1, 1, 1, 1}

// loop returns the cut's stiffness A and its rubbing i w D, both led back through
// the compliance p: the movement per movement. rub is C/v in N s/mm^2 times the
// angular frequency.
//
// A force dF on an edge element pushes the tool back along the normal and, by
// the cutting force, the way the surface moves; hence the minus of the
// tangential terms.
func (g *Gain) loop(p compliance, cut, rub float64) (a, m square) {
	xx, zz, xz := complex(cut*float64(g.Radial), 0), complex(cut*float64(g.Axial), 0), complex(cut*float64(g.Cross), 0)
	a = square{p.xx*xx + p.xz*xz, p.xx*xz + p.xz*zz, p.xz*xx + p.zz*xz, p.xz*xz + p.zz*zz}
	if p.xy != 0 || p.zy != 0 {
		yx, yz := complex(cut*float64(g.TangentialRadial), 0), complex(cut*float64(g.TangentialAxial), 0)
		a.xx -= p.xy * yx
		a.xz -= p.xy * yz
		a.zx -= p.zy * yx
		a.zz -= p.zy * yz
	}
	dx, dz, dc := complex(0, rub*g.rub[0]), complex(0, rub*g.rub[1]), complex(0, rub*g.rub[2])
	m = square{
		1 + a.xx + p.xx*dx + p.xz*dc, a.xz + p.xx*dc + p.xz*dz,
		a.zx + p.xz*dx + p.zz*dc, 1 + a.zz + p.xz*dc + p.zz*dz,
	}
	return a, m
}

// plain tells whether the radial and the axial direction go their own ways.
func (g *Gain) plain(p compliance) bool {
	return g.Cross == 0 && g.rub[2] == 0 && p.xz == 0 && p.xy == 0 && p.zy == 0
}

// carryOver returns the larger eigenvalue of T = (I + G(A + iwD))^-1 G A.
func (g *Gain) carryOver(p compliance, cut, rub float64) complex128 {
	a, m := g.loop(p, cut, rub)
	if g.plain(p) {
		x, z := a.xx/m.xx, a.zz/m.zz
		if size(z) > size(x) {
			return z
		}
		return x
	}
	inv := inverse(m.xx*m.zz - m.xz*m.zx)
	half := (m.zz*a.xx - m.xz*a.zx - m.zx*a.xz + m.xx*a.zz) * inv / 2
	return larger(half, (a.xx*a.zz-a.xz*a.zx)*inv)
}

// ownWave is what a pass leaves of the wave that a starter moves the tool along,
// in the direction of the larger carry-over t. The edge rubs on that movement too:
//
//	(1 + G(A + iwD))^-1,   which is 1 - T without rubbing
//
// Where the directions are coupled and the edge rubs it is taken as 1 - t.
func (g *Gain) ownWave(p compliance, cut, rub float64, t complex128) complex128 {
	if rub == 0 || !g.plain(p) {
		return 1 - t
	}
	a, m := g.loop(p, cut, rub)
	if size(a.zz/m.zz) > size(a.xx/m.xx) {
		return 1 / m.zz
	}
	return 1 / m.xx
}

// part is |T|^2 of a single direction: k phi / (1 + (k + i r) phi).
func part(phi complex128, k, r float64) float64 {
	re, im := real(phi), imag(phi)
	mr, mi := 1+k*re-r*im, k*im+r*re
	return k * k * (re*re + im*im) / (mr*mr + mi*mi)
}

// inverse is 1/c without the library's care for infinities.
func inverse(c complex128) complex128 {
	s := 1 / size(c)
	return complex(real(c)*s, -imag(c)*s)
}

// larger returns the larger root of t^2 - 2 half t + product = 0.
func larger(half, product complex128) complex128 {
	root := sqrt(half*half - product)
	if real(half)*real(root)+imag(half)*imag(root) < 0 {
		root = -root
	}
	return half + root
}

// sqrt is a complex square root without the care for infinities of the library's.
func sqrt(c complex128) complex128 {
	r := math.Sqrt(size(c))
	if r == 0 {
		return 0
	}
	re := math.Sqrt((r + math.Abs(real(c))) / 2)
	im := imag(c) / (2 * re)
	if real(c) < 0 {
		return complex(math.Abs(im), math.Copysign(re, imag(c)))
	}
	return complex(re, im)
}

// size is the square of the absolute value.
func size(c complex128) float64 { return real(c)*real(c) + imag(c)*imag(c) }

// margin returns by how much the gain may rise before waves grow at this
// frequency, rubbing left out: |T| = 1 where an eigenvalue of G A has the real part
// -1/2.
func (g *Gain) margin(p *compliance) float64 {
	var least float64
	if g.plain(*p) {
		least = min(float64(g.Radial)*real(p.xx), float64(g.Axial)*real(p.zz))
	} else {
		a, _ := g.loop(*p, 1, 0)
		half := (a.xx + a.zz) / 2
		root := sqrt(half*half - (a.xx*a.zz - a.xz*a.zx))
		least = min(real(half+root), real(half-root))
	}
	if least >= 0 {
		return math.Inf(1)
	}
	return -1 / (2 * least)
}
