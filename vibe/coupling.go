package vibe

import (
	"math"
	"math/cmplx"

	"thrum/shaft"
	"thrum/unit"
)

// InPass tells whether a vibration grows within one pass, whatever earlier passes
// left. It needs a tool side (an overhung tool, a slewed compound) that gives
// aslant, so that the cutting force drives the tool into or out of the chip. A change
// of speed is no cure; stiffening, lowering the overhang or turning the slanting
// direction is.
type InPass struct {
	Grows     bool
	Pass      int            // index of the first pass in which it does
	Frequency unit.Frequency // about where, to a tenth
}

// InPass tells whether waves grow inside a pass with this gain at the i-th place.
//
// The number of growing vibrations follows from how often det(I + G A) goes round
// zero as the frequency rises (Nyquist); all modes and both directions are in it.
// Rubbing is left out. Where the tool side does not give aslant the loop is
// symmetric and passive, and nothing can grow.
func (h *Holding) InPass(i int, g Gain) (bool, unit.Frequency) {
	p := &h.places[i]
	if !p.aslant || g.Spring() {
		return false, 0
	}
	det := func(f unit.Frequency) complex128 {
		_, m := g.loop(p.exact(f, likely), 1, 0)
		return m.xx*m.zz - m.xz*m.zx
	}
	last, turned := det(0), 0.0
	least, where := math.Inf(1), unit.Frequency(0)
	if real(last) < 0 { // it digs in without swinging at all
		return true, 0
	}
	from := unit.Frequency(0)
	for _, hz := range h.hz {
		f := unit.Frequency(hz)
		now := det(f)
		turned += turn(det, from, f, last, now, 12)
		_, m := g.loop(p.exact(f, likely), 1, 0)
		half := (m.xx + m.zz) / 2 // the eigenvalue of I + G A nearest to zero tells where
		far := larger(half, now)
		if a := size(now) / size(far); a < least {
			least, where = a, f
		}
		last, from = now, f
	}
	turned -= cmplx.Phase(last) // what is left to infinity, where det is real and positive
	return math.Abs(turned) > math.Pi/2, where
}

// turn is the change of phase of det from one frequency to the next, in steps
// small enough not to lose a revolution.
func turn(det func(unit.Frequency) complex128, a, b unit.Frequency, da, db complex128, depth int) float64 {
	d := cmplx.Phase(db / da)
	if math.Abs(d) < 0.5 || depth == 0 {
		return d
	}
	m := (a + b) / 2
	dm := det(m)
	return turn(det, a, m, da, dm, depth-1) + turn(det, m, b, dm, db, depth-1)
}

// Slanting is a pair of modes square to each other that share one mass, in the
// plane of the radial and the tangential direction: the classic case of coupling.
type Slanting struct {
	Mass   shaft.Mass
	First  unit.Stiffness
	Second unit.Stiffness
	Aslant unit.Angle // of the first mode, from the inward radial towards the way the surface moves
}

// Grows tells whether the pair swings by itself in a cut, without any damping, and
// at what frequency. normal and tangential are the gains K b of the force square to
// the chip and of the cutting force, per radial movement.
//
//	M q" + S q = 0,   S_ij = k_i (i = j) + d_i n_j
//
// with n the radial parts of the two directions and d the force's parts along
// them. S is not symmetric; a pair of complex eigenvalues is a swing that grows.
//
// Source: Tlusty's mode coupling, as in texts on chatter (from memory).
func (s Slanting) Grows(normal, tangentially unit.Stiffness) (bool, unit.Frequency) {
	c, n := s.Aslant.Cos(), s.Aslant.Sin()
	e := [2]float64{c, -n} // radial parts of the two directions (c, n) and (-n, c)
	d := [2]float64{
		float64(normal)*c - float64(tangentially)*n,
		-float64(normal)*n - float64(tangentially)*c,
	}
	m := float64(s.Mass)
	s11, s12 := (float64(s.First)+d[0]*e[0])/m, d[0]*e[1]/m
	s21, s22 := d[1]*e[0]/m, (float64(s.Second)+d[1]*e[1])/m
	half := complex((s11+s22)/2, 0)
	w2 := larger(half, complex(s11*s22-s12*s21, 0))
	w := cmplx.Sqrt(w2)
	return math.Abs(imag(w2)) > 1e-12*cmplx.Abs(w2), unit.Frequency(real(w) / (2 * math.Pi))
}
