package gauge

import (
	"fmt"
	"math"

	"thrum/thread"
	"thrum/unit"
)

// Seat is where a wire or a ball comes to rest between the flanks.
type Seat struct {
	Over     unit.Length // reading square to the axis over two or three wires (internal: over the balls), exact
	OnCone   unit.Length // taper only: reading when two wires of three lie along the cone; equal to Over when parallel
	Approx   unit.Length // Over by the square-root formula of the handbooks; zero where there is none
	Simple   unit.Length // Over without regard to the lead
	Lean     unit.Angle  // between the wire and the normal to the axis; zero for a ball
	Leading  unit.Length // diameter at which the leading flank is touched
	Trailing unit.Length // diameter at which the trailing flank is touched
	Centre   unit.Length // diameter of the wire's (ball's) own axis: twice its distance from the thread's axis
}

// contact is one flank seen from the wire that touches it. The centre of the
// wire's section at the place of contact lies off the contact point along the
// flank's normal; seen along the thread's axis it is turned on by delta.
type contact struct {
	r     float64 // radius of the contact point
	rc    float64 // radius of the centre
	drc   float64 // d rc/dr
	delta float64 // angle from the contact point to the centre
	room  float64 // axial half width of the groove left for the centre, from its middle line
	droom float64 // d room/dr
	k     float64 // length of the flank's normal vector (opens tan a, p/r, 1)
}

// side is one flank with its constants: t = tan a, p = lead/2pi, rho = half the wire.
type side struct{ t, p, rho, s, half, opens float64 }

// at places the contact at radius r. The flank is the helicoid that is straight
// in the axial plane, z = p theta +/- [s + opens (r - E/2) tan a], and with
// G = sqrt(r²(1+t²) + p²) its unit normal has the components t r/G outwards,
// p/G along the turn and r/G along the axis.
func (f side) at(r float64) contact {
	g := math.Sqrt(r*r*(1+f.t*f.t) + f.p*f.p)
	g3 := g * g * g
	a := r * (1 + f.opens*f.rho*f.t/g) // the centre, outwards
	da := 1 + f.opens*f.rho*f.t*f.p*f.p/g3
	b := f.rho * f.p / g // and along the turn
	db := -f.rho * f.p * r * (1 + f.t*f.t) / g3
	rc := math.Hypot(a, b)
	delta := math.Atan2(b, a)
	return contact{
		r: r, rc: rc, drc: (a*da + b*db) / rc, delta: delta, k: g / r,
		room:  f.s + f.opens*(r-f.half)*f.t - f.rho*r/g - f.p*delta,
		droom: f.opens*f.t - f.rho*f.p*f.p/g3 - f.p*(db*a-da*b)/(rc*rc),
	}
}

// sides prepares both flanks for pitch diameter e and wire w.
func (f Flanks) sides(e, w float64) (leading, trailing side) {
	leading = side{
		t: f.Leading.Tan(), p: float64(f.Lead) / (2 * math.Pi), rho: w / 2,
		s: float64(f.Pitch) / 4, half: e / 2, opens: f.opens(),
	}
	trailing = leading
	trailing.t = f.Trailing.Tan()
	return leading, trailing
}

// noSeat reports a wire that finds no place; the reason is nearly always a size
// or a lead far outside what threads have.
func noSeat(w float64) error {
	return &unit.InputError{
		Field: "wire", Value: unit.Length(w).String(),
		Reason: "does not come to rest on both flanks of this thread", Hint: "try the best size",
	}
}

// settle finds the pair of contacts that leaves the wire no room: both centres at
// the same radius, room on both sides adding up to nothing. Newton's method from
// the seat without lead; two unknowns, one for equal flanks.
func (f Flanks) settle(e, w float64) (contact, contact, error) {
	l, t := f.sides(e, w)
	cot, _ := f.sums()
	fromApex := w / 2 / ((f.Leading + f.Trailing) / 2).Tan() // along the flank, no lead
	start := func(a unit.Angle) float64 {
		return e/2 + f.opens()*(fromApex*a.Cos()-float64(f.Pitch)/4*cot)
	}
	r1, r2 := start(f.Leading), start(f.Trailing)
	for range 50 {
		if !(r1 > 0) || !(r2 > 0) {
			break
		}
		c1, c2 := l.at(r1), t.at(r2)
		miss, gap := c1.rc-c2.rc, c1.room+c2.room
		det := c1.drc*c2.droom + c2.drc*c1.droom
		d1 := -(miss*c2.droom + gap*c2.drc) / det
		d2 := (miss*c1.droom - gap*c1.drc) / det
		r1, r2 = r1+d1, r2+d2
		if math.Abs(d1)+math.Abs(d2) < 1e-12*e {
			c1, c2 = l.at(r1), t.at(r2)
			if c1.droom*f.opens() <= 0 || c2.droom*f.opens() <= 0 {
				return contact{}, contact{}, noSeat(w) // would fall through or ride out
			}
			return c1, c2, nil
		}
	}
	return contact{}, contact{}, noSeat(w)
}

// lie returns how the wire lies when it touches at c1 and c2: its lean, and the
// angle about the thread's axis by which the pair of contacts is turned so that
// the wire is square to the direction of measurement. For equal flanks that
// angle is zero: the arrangement is its own image when turned over.
func (f Flanks) lie(c1, c2 contact) (lean, turn float64) {
	n := func(c contact, s, tan float64) (x, y, z float64) {
		out, along := f.opens()*tan/c.k, s*f.lead2pi()/c.r/c.k
		sin, cos := math.Sincos(-s * c.delta)
		return out*cos - along*sin, out*sin + along*cos, -s / c.k
	}
	x1, y1, z1 := n(c1, +1, f.Leading.Tan())
	x2, y2, z2 := n(c2, -1, f.Trailing.Tan())
	dx, dy, dz := y1*z2-z1*y2, z1*x2-x1*z2, x1*y2-y1*x2 // the wire is square to both normals
	if dy < 0 {
		dx, dy, dz = -dx, -dy, -dz
	}
	turn = math.Atan2(dx, dy)
	return math.Atan2(dz, math.Hypot(dx, dy)), turn
}

func (f Flanks) lead2pi() float64 { return float64(f.Lead) / (2 * math.Pi) }

// SeatOf returns the seat of wires (balls, for an internal thread) of diameter w
// at pitch diameter e, exact for any lead angle.
//
// The flanks are straight in the axial plane, as a tool set at centre height cuts
// them. A wire is a straight cylinder that leans as the groove wants; the flat
// anvils keep it square to the direction of measurement. It then touches each
// flank at one point, and both contacts face the same point of its axis (else
// they would turn it further), which reduces the seat to one equation in one
// unknown, or two in two for unequal flanks. Elastic deformation is left out.
//
// On a taper the lead correction of the parallel thread of the same size is
// added to the plane geometry of the taper (see taperReadings).
//
// Source: derived here; compared with a numerical search that assumes nothing
// about the contacts, docs/validation/over_wires.py.
func (f Flanks) SeatOf(e, w unit.Length) (Seat, error) {
	if err := f.checkSizes(e, w); err != nil {
		return Seat{}, err
	}
	c1, c2, err := f.settle(float64(e), float64(w))
	if err != nil {
		return Seat{}, err
	}
	s := Seat{
		Leading: unit.Length(2 * c1.r), Trailing: unit.Length(2 * c2.r), Centre: unit.Length(2 * c1.rc),
		Approx: unit.Length(f.approx(float64(e), float64(w))), Simple: unit.Length(f.simple(float64(e), float64(w))),
	}
	if f.Side == thread.External {
		lean, turn := f.lie(c1, c2)
		s.Lean = unit.Angle(lean)
		s.Centre = unit.Length(2 * c1.rc * math.Cos(turn))
	}
	s.Over = s.Centre + w
	s.OnCone = s.Over
	if f.Taper != 0 {
		f.taperReadings(&s, e, w)
	}
	return s, nil
}

// taperReadings replaces the readings of a parallel thread by those of a taper
// thread with half angle y whose pitch diameter, midway between the wires, is e:
//
//	square to the axis   M = E - (P/2)(cot a - tan² y tan a) + W (1 + cosec a)
//	two wires on a cone  M = [E - (P/2)(cot a - tan² y tan a) + W cosec a] cos y + W
//
// each with the lead correction of the parallel thread. With unequal flanks, the
// leading one facing the large end, the wire also lies off the middle of the
// groove along the axis, by z, where the cone has another diameter.
//
// Source: plane geometry; NBS Handbook H28 (from memory) has the same two forms.
func (f Flanks) taperReadings(s *Seat, e, w unit.Length) {
	t1, t2, y := f.Leading.Tan(), f.Trailing.Tan(), f.opens()*f.Taper.Tan()
	half, skew := (f.Leading+f.Trailing)/2, (f.Leading-f.Trailing)/2
	width := float64(f.Pitch) / 2
	up := -(width - width/2*y*(t1-t2)) / (t1 + t2) // where the flanks meet, from the pitch line at the groove's middle
	z := width/2*(1-y*t1) + up*t1 + float64(w)/2*skew.Sin()/half.Sin()
	shift := unit.Length(f.opens() * (width*y*(t1-t2)/(t1+t2) - 2*y*z))
	lead := s.Over - s.Simple
	s.Simple += shift
	s.Over += shift
	s.Centre += shift
	if s.Approx != 0 {
		s.Approx += shift
	}
	s.OnCone = (s.Simple-w)*unit.Length(f.Taper.Cos()) + w + lead
}

func (f Flanks) checkSizes(e, w unit.Length) error {
	if err := f.check(); err != nil {
		return err
	}
	if !(e > 0) || !(e < 1e5) {
		return &unit.InputError{Field: "pitch diameter", Value: e.String(), Reason: "is not a size that can be measured"}
	}
	if !(w > 0) || !(w < 4*f.Pitch) {
		return &unit.InputError{
			Field: "wire", Value: w.String(), Reason: "cannot seat in this thread",
			Hint: fmt.Sprintf("for a pitch of %v wires are about half a pitch thick", f.Pitch),
		}
	}
	return nil
}

// PitchDiameter returns the pitch diameter for which the reading over wires (over
// balls) of diameter w is m: the inverse of SeatOf. The reading is square to the
// axis.
func (f Flanks) PitchDiameter(m, w unit.Length) (unit.Length, error) {
	if err := f.checkSizes(max(m, 0), w); err != nil {
		return 0, err
	}
	e := m - unit.Length(f.simple(0, float64(w)))
	for range 50 {
		if !(e > 0) {
			return 0, noSeat(float64(w))
		}
		s, err := f.SeatOf(e, w)
		if err != nil {
			return 0, err
		}
		// M grows by very nearly one for each unit of E, so this converges fast.
		step := m - s.Over
		e += step
		if math.Abs(float64(step)) < 1e-13*math.Max(1, float64(m)) {
			return e, nil
		}
	}
	return 0, noSeat(float64(w))
}
