package vibe

// lone is what an oscillator does to a single edge.
type lone struct {
	a11, a12, a21, a22 float64
	b0, b1, d0, d1     float64
	onto               float64 // movement along the edge's normal per movement
	off                float64 // force per mass per force square to the edge
	q, v, g            float64
}

// single tells whether one edge meets the last pass, does not rub and is not
// disturbed.
func (m *march) single() bool {
	return len(m.sides) == 1 && !m.rub && m.sides[0].meets == lastPass && m.sides[0].noise == 0 && m.sides[0].jitter == 0 && m.sides[0].k > 0
}

// alone is run for the linear case of a single edge that does not rub: the same sums
// along that edge's normal only.
func (m *march) alone(p *path) {
	s := &m.sides[0]
	swings := make([]lone, len(m.swings))
	gives := 0.0 // how the edge's place answers to the force square to it
	for i := range 3 {
		gives += s.n[i] * m.rest[i] * s.back[i]
	}
	for i, w := range m.swings {
		swings[i] = lone{
			a11: w.a11, a12: w.a12, a21: w.a21, a22: w.a22, b0: w.b0, b1: w.b1, d0: w.d0, d1: w.d1,
			onto: s.n.dot(w.along), off: w.per.dot(s.back),
		}
		gives += swings[i].onto * w.b1 * swings[i].off
	}
	k := s.k / (1 - s.k*gives)
	for i, old := range s.surface[:p.steps] {
		u := 0.0
		for j := range swings {
			w := &swings[j]
			q := w.a11*w.q + w.a12*w.v + w.b0*w.g
			w.v = w.a21*w.q + w.a22*w.v + w.d0*w.g
			w.q = q
			u += w.onto * q
		}
		gap := s.at - old + u
		force := k * gap
		for j := range swings {
			w := &swings[j]
			w.g = w.off * force
			w.q += w.b1 * w.g
			w.v += w.d1 * w.g
		}
		s.surface[i] = old + gap + gives*force
	}
}
