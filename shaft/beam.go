package shaft

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// reach is how many places beside the diagonal a beam's matrices reach: an
// element ties two nodes of two freedoms (deflection, slope) each.
const reach = 3

// element is a piece of the bar between two nodes.
type element struct {
	l, ei, phi  float64 // length, bending stiffness, 12 EI / (k G A l^2)
	mass, inert float64 // rho A, rho I
}

// mesh is the bar cut at nodes.
type mesh struct {
	x    []float64
	els  []element
	k, m *mat.SymBandDense
}

// merge is how close two nodes may be before they count as one.
const merge = 1e-9

// mesh cuts the bar at the ends of its sections, at its steadies, at the places
// in extra, and, with fine > 0, so that no piece is longer than the bar's length
// divided by fine.
func (b *Bar) mesh(extra []float64, fine int) *mesh {
	x := append(append([]float64(nil), b.ends...), extra...)
	for _, r := range b.work.Rests {
		x = append(x, r.At.MM())
	}
	slices.Sort(x)
	x = slices.CompactFunc(x, func(a, c float64) bool { return math.Abs(c-a) < merge*b.length })
	if fine > 0 {
		x = refine(x, b.length/float64(fine))
	}
	g := &mesh{x: x, els: make([]element, len(x)-1)}
	s := 0
	for i := range g.els {
		for s < len(b.sects)-1 && (x[i]+x[i+1])/2 > b.ends[s+1] {
			s++
		}
		e := b.sects[s]
		e.l = x[i+1] - x[i]
		e.phi /= e.l * e.l
		g.els[i] = e
	}
	g.assemble(b)
	return g
}

func refine(x []float64, longest float64) []float64 {
	var out []float64
	for i := 0; i+1 < len(x); i++ {
		n := math.Ceil((x[i+1] - x[i]) / longest * (1 - 1e-9))
		for j := 0.0; j < n; j++ {
			out = append(out, x[i]+(x[i+1]-x[i])*j/n)
		}
	}
	return append(out, x[len(x)-1])
}

// node returns the node at place x.
func (g *mesh) node(x float64) int {
	i, _ := slices.BinarySearch(g.x, x)
	if i > 0 && (i == len(g.x) || x-g.x[i-1] < g.x[i]-x) {
		i--
	}
	return i
}

// assemble adds the elements and the springs of the supports, and fixes what
// rigid supports hold.
func (g *mesh) assemble(b *Bar) {
	n := 2 * len(g.x)
	g.k, g.m = mat.NewSymBandDense(n, reach, nil), mat.NewSymBandDense(n, reach, nil)
	kd, md := g.k.RawSymBand().Data, g.m.RawSymBand().Data
	for i, e := range g.els {
		ke, me := e.stiffness(), e.massMatrix()
		for r := range 4 {
			for c := r; c < 4; c++ {
				at := (2*i+r)*(reach+1) + c - r
				kd[at] += ke[r][c]
				md[at] += me[r][c]
			}
		}
	}
	last := len(g.x) - 1
	g.spring(0, float64(b.work.Head.Radial))
	g.spring(1, float64(b.work.Head.Tilt))
	g.spring(2*last, float64(b.work.Tail.Radial))
	g.spring(2*last+1, float64(b.work.Tail.Tilt))
	for _, r := range b.work.Rests {
		g.spring(2*g.node(r.At.MM()), float64(r.Radial))
	}
}

// spring adds a stiffness to one freedom; an infinite one fixes it.
func (g *mesh) spring(i int, k float64) {
	if !math.IsInf(k, 1) {
		g.k.SetSymBand(i, i, g.k.At(i, i)+k)
		return
	}
	for j := max(0, i-reach); j <= min(2*len(g.x)-1, i+reach); j++ {
		g.k.SetSymBand(i, j, 0)
		g.m.SetSymBand(i, j, 0)
	}
	g.k.SetSymBand(i, i, 1)
}

// stiffness is the exact matrix of a uniform Timoshenko beam loaded at its ends.
//
// Source: Przemieniecki, Theory of Matrix Structural Analysis, section 5.6 (from memory).
func (e element) stiffness() [4][4]float64 {
	l, p := e.l, e.phi
	c := e.ei / (l * l * l * (1 + p))
	return [4][4]float64{
		{12 * c, 6 * l * c, -12 * c, 6 * l * c},
		{0, (4 + p) * l * l * c, -6 * l * c, (2 - p) * l * l * c},
		{0, 0, 12 * c, -6 * l * c},
		{0, 0, 0, (4 + p) * l * l * c},
	}
}

// massMatrix is the consistent mass matrix with rotary inertia.
//
// Source: Friedman and Kosmatka, Computers & Structures 47 (1993) 473 (from memory).
func (e element) massMatrix() [4][4]float64 {
	l, p := e.l, e.phi
	t := e.mass * l / (210 * (1 + p) * (1 + p))
	r := e.inert / (30 * l * (1 + p) * (1 + p))
	p2 := p * p
	a, b := (70*p2+147*p+78)*t+36*r, (35*p2+77*p+44)*l/4*t-(15*p-3)*l*r
	c, d := (35*p2+63*p+27)*t-36*r, -(35*p2+63*p+26)*l/4*t-(15*p-3)*l*r
	f, h := (7*p2+14*p+8)*l*l/4*t+(10*p2+5*p+4)*l*l*r, -(7*p2+14*p+6)*l*l/4*t+(5*p2-5*p-1)*l*l*r
	return [4][4]float64{{a, b, c, d}, {0, f, -d, h}, {0, 0, a, -b}, {0, 0, 0, f}}
}

// shape returns the share of the four end freedoms in the deflection at the
// fraction z of the element.
func (e element) shape(z float64) [4]float64 {
	l, p := e.l, e.phi
	s := 1 / (1 + p)
	return [4]float64{
		(1 - 3*z*z + 2*z*z*z + p*(1-z)) * s,
		l * (z - 2*z*z + z*z*z + p*(z-z*z)/2) * s,
		(3*z*z - 2*z*z*z + p*z) * s,
		l * (-z*z + z*z*z - p*(z-z*z)/2) * s,
	}
}

// at interpolates the deflection at place x from the freedoms v.
func (g *mesh) at(x float64, v []float64) float64 {
	i, _ := slices.BinarySearch(g.x, x)
	i = min(max(i-1, 0), len(g.els)-1)
	n := g.els[i].shape((x - g.x[i]) / g.els[i].l)
	sum := 0.0
	for j, w := range n {
		sum += w * v[2*i+j]
	}
	return sum
}

// mul sets y to a x.
func mul(a *mat.SymBandDense, x, y []float64) {
	n := len(x)
	blas64.Sbmv(1, blas64.SymmetricBand{Uplo: blas.Upper, N: n, K: reach, Data: a.RawSymBand().Data, Stride: reach + 1},
		blas64.Vector{N: n, Inc: 1, Data: x}, 0, blas64.Vector{N: n, Inc: 1, Data: y})
}
