package shaft

import (
	"math"

	"thrum/unit"
)

// Response is the frequency response of work and tool at one position: what a
// force that swings at the tool does to the distance between tool and work.
type Response struct {
	at     unit.Length
	terms  []term  // the work's modes
	rest   float64 // static compliance of all higher modes
	column float64 // axial compliance of the work between chuck and tool
	follow float64
	tool   Tool
}

type term struct{ weight, omega, damping float64 } // weight: square of the mass-normalised deflection

// Response prepares the frequency response at a position.
//
// The work's four lowest modes are summed; all higher ones enter as what they add
// to the static deflection, so that at zero frequency the response is exactly
// the static compliance. A mode that was measured keeps its computed mass and
// takes the measured frequency: mass follows from the drawing, stiffness of the
// joints does not.
//
//	Phi(w) = sum_r y_r^2 / (w_r^2 - w^2 + 2 i z_r w_r w) + remainder
func (b *Bar) Response(at unit.Length) (*Response, error) {
	f, err := b.bare(at)
	if err != nil {
		return nil, err
	}
	modes, err := b.modes()
	if err != nil {
		return nil, err
	}
	r := &Response{at: at, rest: f, follow: float64(b.work.Follow), tool: b.work.Tool, column: b.column(at.MM())}
	for _, m := range modes {
		y := m.g.at(m.clip(at), m.v)
		r.rest -= y * y / (m.computed * m.computed)
		r.terms = append(r.terms, term{y * y, 2 * math.Pi * m.Frequency.Hz(), m.Damping})
	}
	r.rest = max(r.rest, 0) // what rounding leaves at a support is not stiffness
	return r, nil
}

// bare is the static compliance at one place without a follow rest.
func (b *Bar) bare(at unit.Length) (float64, error) {
	y, err := b.Deflection(1, at, []unit.Length{at})
	if err != nil {
		return 0, err
	}
	return y[0].MM(), nil
}

// column is the compression of the work per axial force at x against the chuck.
func (b *Bar) column(x float64) float64 {
	sum := 0.0
	for i, s := range b.work.Sections {
		l := min(x, b.ends[i+1]) - b.ends[i]
		if l <= 0 {
			break
		}
		d, h := s.Diameter.MM(), s.Bore.MM()
		sum += l / (float64(b.work.Stuff.E) * math.Pi / 4 * (d*d - h*h))
	}
	return sum
}

// Position returns where the response holds.
func (r *Response) Position() unit.Length { return r.at }

// At returns the receptances in the three directions at a frequency. Round work
// gives alike in the radial and the tangential direction; axially it is a column
// against the chuck.
func (r *Response) At(f unit.Frequency) (radial, tangential, axial Receptance) {
	x, y, z := Direction{Radial: 1}, Direction{Tangential: 1}, Direction{Axial: 1}
	return r.Between(f, x, x), r.Between(f, y, y), r.Between(f, z, z)
}

// Oriented returns the sum of the three receptances, each times its weight. For a
// flank whose normal has the components n the weights are the squares of n: 1/4
// radial and 3/4 axial for one flank of a 60 degree thread. Where the tool side
// has a mode that moves aslant, Between with n for both is exact.
func (r *Response) Oriented(f unit.Frequency, weight Direction) Receptance {
	x, y, z := r.At(f)
	return Receptance(complex(weight.Radial, 0)*complex128(x) + complex(weight.Tangential, 0)*complex128(y) + complex(weight.Axial, 0)*complex128(z))
}

// Between returns the movement along one direction per force along another, both
// between tool and work: motion' Phi force.
func (r *Response) Between(f unit.Frequency, force, motion Direction) Receptance {
	w := 2 * math.Pi * f.Hz()
	phi := complex(r.rest, 0)
	for _, t := range r.terms {
		phi += complex(t.weight, 0) / complex(t.omega*t.omega-w*w, 2*t.damping*t.omega*w)
	}
	if r.follow > 0 { // a follow rest is a spring at the tool's own place
		phi /= 1 + complex(r.follow, 0)*phi
	}
	across := force.Radial*motion.Radial + force.Tangential*motion.Tangential
	along := force.Axial * motion.Axial
	return Receptance(phi*complex(across, 0) + complex(r.column*along, 0) + r.tool.receptance(w, force, motion))
}

// receptance returns the tool side's share: the modes that were measured, and the
// static stiffness in the directions in which none was.
func (t Tool) receptance(w float64, force, motion Direction) complex128 {
	var sum complex128
	var measured Direction
	for _, m := range t.Modes {
		wn, n := 2*math.Pi*m.Frequency.Hz(), m.Along.norm()
		phi := complex(wn*wn/float64(m.Stiffness), 0) / complex(wn*wn-w*w, 2*m.Damping*wn*w)
		sum += phi * complex(m.Along.dot(force)*m.Along.dot(motion)/(n*n), 0)
		measured.Radial += math.Abs(m.Along.Radial)
		measured.Tangential += math.Abs(m.Along.Tangential)
		measured.Axial += math.Abs(m.Along.Axial)
	}
	static := func(k unit.Stiffness, measured, force, motion float64) {
		if k > 0 && measured == 0 {
			sum += complex(force*motion/float64(k), 0)
		}
	}
	static(t.Radial, measured.Radial, force.Radial, motion.Radial)
	static(t.Tangential, measured.Tangential, force.Tangential, motion.Tangential)
	static(t.Axial, measured.Axial, force.Axial, motion.Axial)
	return sum
}

func (d Direction) dot(e Direction) float64 {
	return d.Radial*e.Radial + d.Tangential*e.Tangential + d.Axial*e.Axial
}
