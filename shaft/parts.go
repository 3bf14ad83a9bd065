package shaft

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Swing is one oscillator of a Response. In a force F the movement q along Along
// follows
//
//	q" + 2 z w q' + w^2 q = (Along . F) / Mass
//
// and moves the tool against the work by q Along.
type Swing struct {
	Omega   float64 // natural angular frequency, rad/s
	Damping float64 // fraction of critical
	Mass    Mass
	Along   Direction // of length one
	OfTool  bool      // the tool side swings, not the work
}

// Give is a compliance in each of the three directions.
type Give struct{ Radial, Tangential, Axial Compliance }

// Parts takes the response apart: the oscillators, and what gives at once. Their sum
//
//	Phi(w) = sum Along Along' / (Mass (w_r^2 - w^2 + 2 i z w_r w)) + give
//
// is what Between returns. Modes that stand still at this place are left out. A
// follow rest changes the work's modes at this place; of their damping, what would
// couple one to the other is then left out, which changes the response by a few
// parts in a thousand.
func (r *Response) Parts() ([]Swing, Give) {
	terms, rest := r.terms, r.rest
	if r.follow > 0 {
		terms, rest = r.rested()
	}
	g := Give{Radial: Compliance(rest), Tangential: Compliance(rest), Axial: Compliance(r.column)}
	var out []Swing
	for _, t := range terms {
		if t.weight*1e12 <= t.omega*t.omega { // less than 1e-12 mm/N
			continue
		}
		for _, along := range [2]Direction{{Radial: 1}, {Tangential: 1}} {
			out = append(out, Swing{t.omega, t.damping, Mass(1 / t.weight), along, false})
		}
	}
	return r.tool.parts(out, g)
}

// parts adds the tool side.
func (t Tool) parts(out []Swing, g Give) ([]Swing, Give) {
	var measured Direction
	for _, m := range t.Modes {
		w, n := 2*math.Pi*m.Frequency.Hz(), m.Along.norm()
		along := Direction{m.Along.Radial / n, m.Along.Tangential / n, m.Along.Axial / n}
		out = append(out, Swing{w, m.Damping, Mass(float64(m.Stiffness) / (w * w)), along, true})
		measured.Radial += math.Abs(along.Radial)
		measured.Tangential += math.Abs(along.Tangential)
		measured.Axial += math.Abs(along.Axial)
	}
	if t.Radial > 0 && measured.Radial == 0 {
		g.Radial += Compliance(1 / float64(t.Radial))
	}
	if t.Tangential > 0 && measured.Tangential == 0 {
		g.Tangential += Compliance(1 / float64(t.Tangential))
	}
	if t.Axial > 0 && measured.Axial == 0 {
		g.Axial += Compliance(1 / float64(t.Axial))
	}
	return out, g
}

// rested returns the work's modes with a follow rest at the same place. The rest
// takes the force s x of the movement x = y'q + rest (F - s x), so that with
// c = 1 + s rest
//
//	q" + diag(w^2) q + (s/c) y y'q = y F/c,   x = y'q/c + rest F/c
func (r *Response) rested() ([]term, float64) {
	n, c := len(r.terms), 1+r.follow*r.rest
	y := make([]float64, n)
	for i, t := range r.terms {
		y[i] = math.Sqrt(t.weight)
	}
	k := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			v := r.follow / c * y[i] * y[j]
			if i == j {
				v += r.terms[i].omega * r.terms[i].omega
			}
			k.SetSym(i, j, v)
		}
	}
	var e mat.EigenSym
	if n == 0 || !e.Factorize(k, true) {
		return r.terms, r.rest
	}
	var v mat.Dense
	e.VectorsTo(&v)
	out := make([]term, n)
	for j, w2 := range e.Values(nil) {
		along, damp := 0.0, 0.0
		for i, t := range r.terms {
			along += v.At(i, j) * y[i] / c
			damp += v.At(i, j) * v.At(i, j) * 2 * t.damping * t.omega
		}
		w := math.Sqrt(w2)
		out[j] = term{along * along, w, damp / (2 * w)}
	}
	return out, r.rest / c
}
