package gauge

import (
	"math"

	"thrum/thread"
	"thrum/unit"
)

// Fouls returns how far a long straight wire, lying in its seat at pitch diameter
// e, would cut into the flanks elsewhere, between the seat and the crest of
// diameter crest; zero when it lies clear.
//
// A flank curves away from a wire's straight line on one side of the seat and
// towards it on the other, with the third power of the distance. Sloping flanks
// also recede as the wire climbs out of the groove, and win; a steep flank at a
// large lead angle does not recede fast enough, and the wire rides on the edge of
// the crest before it seats. With flanks of 3° that begins below a lead angle of
// 10°; with 7° it does not happen up to 25°.
func (f Flanks) Fouls(e, w, crest unit.Length) (unit.Length, error) {
	if err := f.checkSizes(e, w); err != nil {
		return 0, err
	}
	if f.Side == thread.Internal { // a ball is too short to foul
		return 0, nil
	}
	c1, c2, err := f.settle(float64(e), float64(w))
	if err != nil {
		return 0, err
	}
	lean, turn := f.lie(c1, c2)
	leading, trailing := f.sides(float64(e), float64(w))
	worst := 0.0
	for i, s := range []side{leading, trailing} {
		c, sign := []contact{c1, c2}[i], []float64{1, -1}[i]
		l := lying{side: s, sign: sign, lean: lean, y0: c.rc * math.Sin(turn), radius: c.rc * math.Cos(turn)}
		// The height of the wire's axis, from its contact with this flank.
		theta := turn - sign*c.delta
		l.z0 = s.p*theta + sign*(s.s+(c.r-s.half)*s.t-s.rho/c.k)
		for step := 1; step <= 4; step++ {
			r := c.r + (float64(crest)/2-c.r)*float64(step)/4
			worst = math.Min(worst, l.leastRoom(r))
		}
	}
	return unit.Length(0 - worst), nil // 0 - 0 is 0, -0 would be -0
}

// lying is a wire in its seat, with one of the flanks.
type lying struct {
	side
	sign   float64 // +1 for the flank at +z
	lean   float64
	radius float64 // of the wire's axis, along the direction of measurement
	y0, z0 float64 // a point of the axis
}

// room is how far, along the thread's axis, the wire could still slide towards
// the point of the flank at (r, theta).
func (l lying) room(r, theta float64) float64 {
	sin, cos := math.Sincos(theta)
	x, y := r*cos, r*sin
	reach := l.rho*l.rho - (x-l.radius)*(x-l.radius)
	if reach < 0 {
		return math.Inf(1)
	}
	flank := l.p*theta + l.sign*(l.s+(r-l.half)*l.t)
	axis := l.z0 + (y-l.y0)*math.Tan(l.lean)
	return l.sign*(flank-axis) - math.Sqrt(reach)/math.Cos(l.lean)
}

// leastRoom searches the turn at radius r for the least room: a coarse walk, then
// the lowest place by halving the step.
func (l lying) leastRoom(r float64) float64 {
	if r <= l.radius-l.rho {
		return 0
	}
	span := math.Acos(math.Max(-1, (l.radius-l.rho)/r))
	const steps = 64
	at, least := 0.0, math.Inf(1)
	for i := range steps + 1 {
		theta := span * (2*float64(i)/steps - 1)
		if room := l.room(r, theta); room < least {
			at, least = theta, room
		}
	}
	for h := span / steps; h > 1e-9; h /= 2 {
		for _, theta := range []float64{at - h, at + h} {
			if room := l.room(r, theta); room < least {
				at, least = theta, room
			}
		}
	}
	return least
}
