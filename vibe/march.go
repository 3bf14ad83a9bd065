package vibe

import (
	"math"
	"math/rand/v2"
)

// path is where the edge is commanded to go besides the pass's depth, the same in
// every pass: the run-in and the starters that repeat.
type path struct {
	perTurn int
	steps   int
	runIn   float64 // steps over which the depth comes up
	ripple  [2][]float64
	speed   [2][]float64 // of the ripple, mm per step
	random  *rand.Rand
	linear  bool
	keep    *Series
	off     int // steps in which no edge was in the metal
	lost    int // steps in which the set of edges did not settle
}

// blow is how long the knock of an entering tool lasts, in seconds at the fastest
// pass: half a wave of 1000 Hz.
const blow = 0.0005

// starters adds up the movements that come back in every pass.
func (p *path) starters(in *Cutting, rate float64) {
	for _, s := range in.Starters {
		if s.Amplitude == 0 || s.Kind == Noise {
			continue
		}
		if p.ripple[0] == nil {
			for d := range p.ripple {
				p.ripple[d], p.speed[d] = make([]float64, p.steps), make([]float64, p.steps)
			}
		}
		d := 0
		if s.Axial {
			d = 1
		}
		a, r, v := s.Amplitude.MM(), p.ripple[d], p.speed[d]
		per, last := 2*math.Pi*s.Waves/float64(p.perTurn), p.steps
		if s.Kind == Shock {
			per = math.Pi / (blow * rate)
			last = min(int(blow*rate)+1, p.steps)
		}
		for i := range last {
			sin, cos := math.Sincos(per * float64(i))
			if s.Kind == Shock {
				sin, cos = -cos, sin
			}
			r[i] += a * cos
			v[i] -= a * per * sin
		}
	}
}

// plain tells whether a linear pass has nothing random in it and nothing to be kept.
func (p *path) plain() bool {
	return p.linear && p.keep == nil && p.ripple[0] == nil && p.runIn == 0
}

// ramp is the part of the depth reached at a step.
func (p *path) ramp(i int) float64 {
	if t := float64(i) + 0.5; t < p.runIn {
		return t / p.runIn
	}
	return 1
}

// mostTries is how often a step is solved again with other edges in the metal.
const mostTries = 8

// plane is a movement, radial and axial; the tangential one makes no chip.
type plane struct{ x, z float64 }

// run marches through the pass. In every step the force at its end, the movement
// under it and the set of edges in the metal are found together: all three depend
// on each other, and taking any of them from the step before would add or take
// away damping.
func (m *march) run(p *path) {
	m.now = m.solve(m.mask)
	for i := range p.steps {
		free, speed := m.coast()
		m.gaps(p, i, free)
		var move plane
		for try := 0; ; try++ {
			move = m.press(p, i, free, speed)
			in := m.inMetal()
			if p.linear || in == m.mask {
				break
			}
			if try == mostTries {
				p.lost++
				break
			}
			m.mask, m.now = in, m.solve(in)
		}
		m.settle()
		m.cut(p, i)
		if m.mask == 0 {
			p.off++
		}
		if p.keep != nil {
			p.keep.add(move, m.force)
		}
	}
}

// coast moves the oscillators to the end of the step but for the new force, and
// returns where that brings the tool and how fast.
func (m *march) coast() (free, speed plane) {
	for i := range m.swings {
		s := &m.swings[i]
		q := s.a11*s.q + s.a12*s.v + s.b0*s.g
		v := s.a21*s.q + s.a22*s.v + s.d0*s.g
		s.q, s.v = q, v
		free.x += s.along[0] * q
		free.z += s.along[2] * q
		speed.x += s.along[0] * v
		speed.z += s.along[2] * v
	}
	if m.rub { // of what gives at once, by differences of the second order
		speed.x += m.rest[0] * (m.before[0] - 4*m.force[0]) / (2 * m.dt)
		speed.z += m.rest[2] * (m.before[2] - 4*m.force[2]) / (2 * m.dt)
	}
	return free, speed
}

// gaps finds how thick each chip would be without the new force.
func (m *march) gaps(p *path, i int, free plane) {
	ramp := p.ramp(i)
	for e := range m.sides {
		s := &m.sides[e]
		s.gap = s.at*ramp + s.n[0]*free.x + s.n[2]*free.z
		if p.ripple[0] != nil {
			s.gap += s.n[0]*p.ripple[0][i] + s.n[2]*p.ripple[1][i]
		}
		switch s.meets {
		case lastPass:
			s.gap -= s.surface[i]
		case lastTurn:
			s.gap += s.feed * float64(i) / float64(p.perTurn)
			if i < p.perTurn {
				s.gap -= s.surface[i]
			} else {
				s.gap -= s.surface[i-p.perTurn]
			}
		}
		if s.jitter > 0 {
			s.gap += s.crumble(i, p.random)
		}
		if s.noise > 0 {
			s.hiss = s.noise * p.random.NormFloat64()
		}
	}
}

// crumble is what a built-up edge adds to the tool: random figures as far apart as
// waves of noiseTop let them be, and straight lines between.
func (s *side) crumble(i int, random *rand.Rand) float64 {
	k := i % s.every
	if k == 0 {
		s.from, s.to = s.to, s.jitter*random.NormFloat64()
	}
	return s.from + (s.to-s.from)*float64(k+1)/float64(s.every)
}

// press finds the force with the edges of the mask in the metal, and the movement
// under it.
func (m *march) press(p *path, i int, free, speed plane) plane {
	var f0, f1, f2 float64
	for e := range m.sides {
		s := &m.sides[e]
		if m.mask>>e&1 == 0 {
			continue
		}
		l := s.k*s.gap + s.hiss
		if m.rub {
			v := s.n[0]*speed.x + s.n[2]*speed.z
			if p.ripple[0] != nil {
				v += (s.n[0]*p.speed[0][i] + s.n[2]*p.speed[1][i]) / m.dt
			}
			f0 -= s.n[0] * s.d * v
			f2 -= s.n[2] * s.d * v
		}
		f0 += s.back[0] * l
		f1 += s.back[1] * l
		f2 += s.back[2] * l
	}
	a := &m.now.m
	n0 := a[0][0]*f0 + a[0][1]*f1 + a[0][2]*f2
	n1 := a[1][0]*f0 + a[1][1]*f1 + a[1][2]*f2
	n2 := a[2][0]*f0 + a[2][1]*f1 + a[2][2]*f2
	m.next = vector{n0, n1, n2}
	move := plane{m.rest[0] * n0, m.rest[2] * n2}
	for k := range m.swings {
		s := &m.swings[k]
		s.next = s.per[0]*n0 + s.per[1]*n1 + s.per[2]*n2
		q := s.b1 * s.next
		move.x += s.along[0] * q
		move.z += s.along[2] * q
	}
	for e := range m.sides {
		s := &m.sides[e]
		s.chip = s.gap + s.n[0]*move.x + s.n[2]*move.z
	}
	return plane{free.x + move.x, free.z + move.z}
}

// inMetal is the set of edges whose chip has a thickness.
func (m *march) inMetal() uint32 {
	var in uint32
	for e := range m.sides {
		if m.sides[e].chip > 0 {
			in |= 1 << e
		}
	}
	return in
}

// settle takes the new force over.
func (m *march) settle() {
	for i := range m.swings {
		s := &m.swings[i]
		s.g = s.next
		s.q += s.b1 * s.g
		s.v += s.d1 * s.g
	}
	m.before, m.force = m.force, m.next
}

// cut takes the chips off: the surface is the deepest that any edge went, but in the
// linear case what the last one left.
func (m *march) cut(p *path, i int) {
	for e := range m.sides {
		s := &m.sides[e]
		if s.meets == lastTurn && i >= p.perTurn {
			s.surface[i] = s.surface[i-p.perTurn]
		}
		if s.k == 0 || s.meets == nobody || !p.linear && (m.mask>>e&1 == 0 || s.chip <= s.skip) {
			continue
		}
		s.surface[i] += s.chip
	}
}
