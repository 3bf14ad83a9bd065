package shaft

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"sync"

	"gonum.org/v1/gonum/mat"

	"thrum/unit"
)

// Mass is a mass in tonnes, which goes with millimetre, newton and second.
type Mass float64

// Kg returns the mass in kilograms.
func (m Mass) Kg() float64 { return float64(m) * 1000 }

// Mode is one natural lateral vibration of the work.
type Mode struct {
	Frequency unit.Frequency // natural frequency, without damping
	Damping   float64        // fraction of critical
	Measured  bool           // frequency or damping comes from a knock test

	computed float64   // angular frequency as computed
	v        []float64 // deflections and slopes at the nodes; v' M v = 1
	most     float64   // largest deflection along the bar
	g        *mesh
}

// Shape returns the mode's deflection at a position, scaled so that the largest
// along the work is 1.
func (m Mode) Shape(at unit.Length) float64 { return m.g.at(m.clip(at), m.v) / m.most }

// Mass returns the modal mass that a force at a position moves. It is infinite
// where the mode stands still.
func (m Mode) Mass(at unit.Length) Mass {
	y := m.g.at(m.clip(at), m.v)
	return Mass(1 / (y * y))
}

// Stiffness returns the modal stiffness at a position: mass times the square of
// the angular frequency.
func (m Mode) Stiffness(at unit.Length) unit.Stiffness {
	w := 2 * math.Pi * m.Frequency.Hz()
	return unit.Stiffness(float64(m.Mass(at)) * w * w)
}

func (m Mode) clip(at unit.Length) float64 {
	return min(max(at.MM(), 0), m.g.x[len(m.g.x)-1])
}

// DefaultDamping returns the fraction of critical damping usual for the way the
// work is held: 0.02 for a bar in a chuck (0.01 to 0.03), 0.045 with a centre or
// a steady as well (0.03 to 0.06).
//
// Source: orders of magnitude, from memory, after Rivin, Tobias, and Koenigsberger
// and Tlusty. A knock test is worth more.
func (w Work) DefaultDamping() float64 {
	if w.Tail.Radial > 0 || len(w.Rests) > 0 {
		return 0.045
	}
	return 0.02
}

const (
	mostModes  = 12
	usualModes = 4    // modes in a frequency response; the rest enter as a static remainder
	fineness   = 32   // least number of elements in the bar
	mostSweeps = 100  // of the subspace iteration
	modeChange = 1e-9 // relative change of the squares of frequencies at which it has settled
)

var errStiffness = errors.New("the stiffness of the work cannot be solved for: sections or supports differ too much in stiffness")

// Modes returns the n lowest lateral modes, n from 1 to 12. A follow rest is left
// out; it acts at the tool's place only and enters the Response.
//
// The bar is cut into at least 32 elements. The two lowest frequencies are then
// within 0.02 % of the exact solution of the beam's equation, the fourth within
// 0.2 % for a bar five diameters long and better for slender ones.
func (b *Bar) Modes(n int) ([]Mode, error) {
	if n < 1 || n > mostModes {
		return nil, &unit.InputError{Field: "number of modes", Value: strconv.Itoa(n), Reason: fmt.Sprintf("is not between 1 and %d", mostModes)}
	}
	if n <= usualModes {
		ms, err := b.modes()
		return slices.Clone(ms[:min(n, len(ms))]), err
	}
	return b.solveModes(n)
}

func (b *Bar) onceModes() func() ([]Mode, error) {
	return sync.OnceValues(func() ([]Mode, error) { return b.solveModes(usualModes) })
}

// solveModes finds the n lowest solutions of K v = w^2 M v by subspace iteration:
// a block of shapes is repeatedly replaced by the static deflections under their
// own inertia, and made orthogonal. A small shift, K + s M, keeps a bar that sways
// on soft springs from drowning all other shapes; s is taken off again.
//
// Source: Bathe, Finite Element Procedures, section 11.6 (from memory).
func (b *Bar) solveModes(n int) ([]Mode, error) {
	g := b.mesh(nil, max(fineness, 6*n))
	shift := b.shift()
	shifted := slices.Clone(g.k.RawSymBand().Data)
	for i, m := range g.m.RawSymBand().Data {
		shifted[i] += shift * m
	}
	var ch mat.BandCholesky
	if !ch.Factorize(mat.NewSymBandDense(2*len(g.x), reach, shifted)) {
		return nil, errStiffness
	}
	x := mat.NewDense(2*len(g.x), n+4, nil)
	for i, z := range g.x {
		for j := range n + 4 { // any independent shapes will do
			x.Set(2*i, j, math.Sin((float64(j)+0.5)*math.Pi*z/b.length)+0.1*float64(j%3))
		}
	}
	mx := g.inertia(x)
	last := make([]float64, n)
	for range mostSweeps {
		values, turn, err := g.sweep(&ch, x, mx)
		if err != nil {
			return nil, err
		}
		change := 0.0
		for i := range last {
			change = max(change, math.Abs(values[i]-last[i])/values[i])
			last[i] = values[i]
		}
		if change < modeChange {
			x.Mul(mat.DenseCopyOf(x), turn)
			for i := range last {
				last[i] = max(last[i]-shift, 0)
			}
			return b.makeModes(g, x, last), nil
		}
		mx.Mul(g.inertia(x), turn)
	}
	return nil, errors.New("the vibration modes of the work were not found: the iteration did not settle")
}

// shift is a hundredth of the square of the lowest angular frequency of a bar of
// the mean stiffness and mass between two centres.
func (b *Bar) shift() float64 {
	var ei, mass float64
	for i, e := range b.sects {
		l := b.ends[i+1] - b.ends[i]
		ei += l * e.ei
		mass += l * e.mass
	}
	return 0.01 * math.Pow(math.Pi/b.length, 4) * ei / mass
}

// sweep replaces the shapes x by the static deflections under the inertia mx. It
// returns the squares of the angular frequencies in rising order and the matrix
// that turns the new shapes into modes with v' M v = 1.
func (g *mesh) sweep(ch *mat.BandCholesky, x, mx *mat.Dense) ([]float64, *mat.Dense, error) {
	if err := ch.SolveTo(x, mx); err != nil {
		return nil, nil, fmt.Errorf("vibration of the work: %w", err)
	}
	var kr, mr mat.Dense
	kr.Mul(x.T(), mx)           // x' K x, for K x = mx
	mr.Mul(x.T(), g.inertia(x)) // x' M x
	var mc mat.Cholesky
	if !mc.Factorize(symmetric(&mr)) {
		return nil, nil, errors.New("vibration of the work: the shapes fell together")
	}
	var l mat.TriDense
	mc.LTo(&l)
	var a, li mat.Dense
	if err := li.Inverse(&l); err != nil {
		return nil, nil, fmt.Errorf("vibration of the work: %w", err)
	}
	a.Product(&li, &kr, li.T())
	var eig mat.EigenSym
	if !eig.Factorize(symmetric(&a), true) {
		return nil, nil, errors.New("vibration of the work: no modes found")
	}
	var vec, turn mat.Dense
	eig.VectorsTo(&vec)
	turn.Mul(li.T(), &vec)
	return eig.Values(nil), &turn, nil
}

// inertia returns M x.
func (g *mesh) inertia(x *mat.Dense) *mat.Dense {
	r, c := x.Dims()
	out := mat.NewDense(r, c, nil)
	in, res := make([]float64, r), make([]float64, r)
	for j := range c {
		mat.Col(in, j, x)
		mul(g.m, in, res)
		out.SetCol(j, res)
	}
	return out
}

func symmetric(a *mat.Dense) *mat.SymDense {
	n, _ := a.Dims()
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			s.SetSym(i, j, (a.At(i, j)+a.At(j, i))/2)
		}
	}
	return s
}

func (b *Bar) makeModes(g *mesh, x *mat.Dense, values []float64) []Mode {
	z := b.work.Damping
	if z == 0 {
		z = b.work.DefaultDamping()
	}
	out := make([]Mode, len(values))
	for i, v := range values {
		m := Mode{computed: math.Sqrt(v), Damping: z, v: mat.Col(nil, i, x), g: g}
		m.Frequency = unit.Frequency(m.computed / (2 * math.Pi))
		for j := 0; j < len(m.v); j += 2 {
			if math.Abs(m.v[j]) > math.Abs(m.most) {
				m.most = m.v[j]
			}
		}
		if i < len(b.work.Measured) {
			k := b.work.Measured[i]
			m.Measured = k.Frequency > 0 || k.Damping > 0
			if k.Frequency > 0 {
				m.Frequency = k.Frequency
			}
			if k.Damping > 0 {
				m.Damping = k.Damping
			}
		}
		out[i] = m
	}
	return out
}
