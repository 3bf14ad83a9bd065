package vibe

import (
	"math"

	"thrum/shaft"
)

// vector has a radial, a tangential and an axial component.
type vector [3]float64

func (a vector) dot(b vector) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func (p *place) swings() []shaft.Swing {
	s, _ := p.response.Parts()
	return s
}

// swing is an oscillator with its exact step. Over a step in which the force per
// mass goes in a straight line from g0 to g1,
//
//	q1 = a11 q0 + a12 v0 + b0 g0 + b1 g1
//	v1 = a21 q0 + a22 v0 + d0 g0 + d1 g1
//
// is the solution of q" + 2 z w q' + w^2 q = g, not an approximation.
type swing struct {
	along, per         vector // direction of movement; force per mass per force, the same direction over the mass
	a11, a12, a21, a22 float64
	b0, b1, d0, d1     float64
	q, v, g            float64
	next               float64 // g at the end of the step that is being solved
}

// step makes the oscillator ready for steps of dt.
func (s *swing) step(w, z, dt float64) {
	wd := w * math.Sqrt(1-z*z)
	e, sin, cos := math.Exp(-z*w*dt), math.Sin(wd*dt), math.Cos(wd*dt)
	s.a11, s.a12 = e*(cos+z*w/wd*sin), e*sin/wd
	s.a21, s.a22 = -w*w*s.a12, e*(cos-z*w/wd*sin)
	lag := 2 * z / (w * w * w)
	ramp := (dt/(w*w) - lag + s.a11*lag - s.a12/(w*w)) / dt
	rise := ((1-s.a22)/(w*w) + s.a21*lag) / dt
	s.b0, s.b1 = (1-s.a11)/(w*w)-ramp, ramp
	s.d0, s.d1 = -s.a21/(w*w)-rise, rise
}

// side is one edge in one pass as the march through time needs it.
type side struct {
	n, back vector  // normal into the work; force on the tool per force square to the edge
	k, d    float64 // N/mm of chip; N s/mm of speed
	at      float64 // commanded place, mm below the blank
	feed    float64 // mm it goes deeper in every turn
	meets   meets
	noise   float64 // N, rms of one step's random force
	jitter  float64 // mm, rms of a built-up edge's random figures
	every   int     // steps between them
	skip    float64 // mm of chip over which the edge slides
	surface []float64

	from, to        float64 // the built-up edge's last figure and its next
	gap, hiss, chip float64 // in this step: thickness before the force acts, random force, thickness
}

// meets is whose surface an edge meets.
type meets int

const (
	lastPass meets = iota
	lastTurn
	nobody // fresh metal
)

// march is one pass in time.
type march struct {
	swings []swing
	rest   vector // compliance of what gives at once
	sides  []side
	dt     float64
	rub    bool
	force  vector // of the last step
	before vector // of the one before
	next   vector // of the step that is being solved
	known  map[uint32]*answer
	mask   uint32  // edges that were in the metal in the last step
	now    *answer // for them
}

// answer is what the force comes to when given edges are in the metal:
//
//	F = M sum (back k (p - s + n . d*) - n D n . d*'),   M = (1 - A G - B H)^-1
//
// d* is where the tool would be without the new force and d*' its speed; G and H are
// how both answer to that force; A = sum k back n', B = - sum D n n'.
type answer struct{ m [3]vector }

// newMarch takes the pass k of the cutting, with the holding's oscillators.
func newMarch(in *Cutting, tracks []track, k int, dt float64) *march {
	m := &march{dt: dt, known: map[uint32]*answer{}, rub: in.Rub > 0}
	parts, give := in.Holding.places[in.Place].response.Parts()
	m.rest = vector{give.Radial.MMPerN(), give.Tangential.MMPerN(), give.Axial.MMPerN()}
	slanting := in.Holding.places[in.Place].aslant
	for _, p := range parts {
		along := vector{p.Along.Radial, p.Along.Tangential, p.Along.Axial}
		switch {
		case !slanting && along[0] == 0 && along[2] == 0: // nothing turns its movement into chip
		case !slanting && p.Omega > 2*math.Pi*swingsBelow:
			for i := range 3 { // at once
				m.rest[i] += along[i] * along[i] / (float64(p.Mass) * p.Omega * p.Omega)
			}
		default:
			s := swing{along: along}
			for i := range s.per {
				s.per[i] = along[i] / float64(p.Mass)
			}
			s.step(p.Omega, p.Damping, dt)
			m.swings = append(m.swings, s)
		}
	}
	for i := range tracks {
		if s := tracks[i].inPass[k]; s.length > 0 {
			m.sides = append(m.sides, newSides(in, &tracks[i], s, in.Passes[k], dt)...)
		}
	}
	m.mask = 1<<len(m.sides) - 1
	return m
}

// newSides makes the edge ready, in two where a part of it meets the last turn.
func newSides(in *Cutting, t *track, s stretch, p Pass, dt float64) []side {
	e := side{
		n: vector{t.nx, 0, t.nz}, back: vector{-t.nx, 1 / in.Force.Thrust, -t.nz},
		k: s.kn * s.length, at: s.at, skip: in.Edge.MinLo.MM(), surface: t.surface,
	}
	if in.Linear {
		e.skip = 0
		if s.rubs {
			e.k = 0
		}
	}
	if in.Rub > 0 {
		e.d = s.length * float64(in.Rub) / p.Speed.Surface(in.Diameter).MMPerS()
	}
	square := 0.0
	for _, st := range in.Starters {
		if st.Kind == Noise {
			square += st.Amplitude.MM() * st.Amplitude.MM()
		}
	}
	e.jitter, e.every = math.Sqrt(square), max(int(math.Round(0.5/dt/noiseTop)), 1)
	if e.every > 1 {
		e.jitter *= math.Sqrt(1.5) // straight lines between figures are on the average smaller than these
	}
	e.noise = in.Unsteady * s.kn * s.chip * math.Sqrt(0.5/dt/noiseTop)
	if in.Turning == 0 {
		return []side{e}
	}
	fresh, again := e, e
	part := func(e *side, u float64) {
		e.k, e.d, e.noise = e.k*u, e.d*u, e.noise*u
	}
	part(&again, in.Turning)
	part(&fresh, 1-in.Turning)
	again.meets, again.at, again.feed = lastTurn, 0, s.at
	fresh.meets = nobody
	return []side{again, fresh}
}

// solve returns the answer for a set of edges, and keeps it.
func (m *march) solve(mask uint32) *answer {
	if a := m.known[mask]; a != nil {
		return a
	}
	var g, h, sys [3]vector
	for i := range 3 {
		g[i][i] = m.rest[i]
		h[i][i] = m.rest[i] * 1.5 / m.dt
		sys[i][i] = 1
	}
	for _, s := range m.swings {
		for i := range 3 {
			for j := range 3 {
				g[i][j] += s.along[i] * s.per[j] * s.b1
				h[i][j] += s.along[i] * s.per[j] * s.d1
			}
		}
	}
	for e, s := range m.sides {
		if mask>>e&1 == 0 {
			continue
		}
		for j := range 3 {
			cuts, rubs := 0.0, 0.0 // force square to the edge per new force along j
			for i := range 3 {
				cuts += s.n[i] * s.k * g[i][j]
				rubs += s.n[i] * s.d * h[i][j]
			}
			for i := range 3 {
				sys[i][j] -= s.back[i]*cuts - s.n[i]*rubs
			}
		}
	}
	a := &answer{invert(sys)}
	m.known[mask] = a
	return a
}

// invert returns the inverse of a 3x3 matrix by cofactors.
func invert(a [3]vector) [3]vector {
	var r [3]vector
	cross := func(i, j int) float64 {
		i1, i2, j1, j2 := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return a[i1][j1]*a[i2][j2] - a[i1][j2]*a[i2][j1]
	}
	det := a[0][0]*cross(0, 0) + a[0][1]*cross(0, 1) + a[0][2]*cross(0, 2)
	for i := range 3 {
		for j := range 3 {
			r[j][i] = cross(i, j) / det
		}
	}
	return r
}
