package shaft

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"thrum/unit"
)

// Bar is a Work made ready for calculation. It does not change after New, and
// may be used by several goroutines.
type Bar struct {
	work   Work
	length float64
	ends   []float64 // places where sections begin and end
	sects  []element // one to each section; phi still lacks 1/l^2
	modes  func() ([]Mode, error)
}

// New checks the work and makes it ready.
func New(w Work) (*Bar, error) {
	if err := w.check(); err != nil {
		return nil, err
	}
	b := &Bar{work: w, ends: []float64{0}}
	for _, s := range w.Sections {
		b.length += s.Length.MM()
		b.ends = append(b.ends, b.length)
		b.sects = append(b.sects, section(s, w.Stuff))
	}
	b.modes = b.onceModes()
	return b, nil
}

// section returns the section's stiffness and mass per length.
//
//	I = pi (D^4 - d^4) / 64,   A = pi (D^2 - d^2) / 4
func section(s Section, m Stuff) element {
	outer, inner := s.Diameter.MM(), s.Bore.MM()
	a := math.Pi / 4 * (outer*outer - inner*inner)
	i := math.Pi / 64 * (math.Pow(outer, 4) - math.Pow(inner, 4))
	ei := float64(m.E) * i
	return element{
		ei:    ei,
		phi:   12 * ei / (s.ShearCoefficient(m.Poisson) * float64(m.G()) * a),
		mass:  float64(m.Density) * a,
		inert: float64(m.Density) * i,
	}
}

// ShearCoefficient returns the section's own figure, or Cowper's for a round bar
// or tube with m = bore / diameter:
//
//	k = 6 (1+nu) (1+m^2)^2 / ((7+6 nu)(1+m^2)^2 + (20+12 nu) m^2)
//
// Source: Cowper, J. Applied Mechanics 33 (1966) 335 (from memory).
func (s Section) ShearCoefficient(poisson float64) float64 {
	if s.Shear > 0 {
		return s.Shear
	}
	m := float64(s.Bore / s.Diameter)
	q := (1 + m*m) * (1 + m*m)
	return 6 * (1 + poisson) * q / ((7+6*poisson)*q + (20+12*poisson)*m*m)
}

// Length returns the length of the bar from the face of the chuck.
func (b *Bar) Length() unit.Length { return unit.Length(b.length) }

// Tool returns what gives on the tool side.
func (b *Bar) Tool() Tool { return b.work.Tool }

// Compliances returns the deflection of the work per radial force at each
// position, at the place of the force: how far the work gives under the tool. A
// follow rest counts, the tool's own share does not. At most 1000 positions.
func (b *Bar) Compliances(at []unit.Length) ([]Compliance, error) {
	g, ch, err := b.solver(at)
	if err != nil || len(at) == 0 {
		return nil, err
	}
	// One right-hand side to each position: the diagonal of the flexibility matrix.
	rhs := mat.NewDense(2*len(g.x), len(at), nil)
	for j, p := range at {
		rhs.Set(2*g.node(p.MM()), j, 1)
	}
	y := new(mat.Dense)
	if err := ch.SolveTo(y, rhs); err != nil {
		return nil, fmt.Errorf("bending of the work: %w", err)
	}
	out := make([]Compliance, len(at))
	for j, p := range at {
		if !b.held(p) {
			out[j] = Compliance(b.followed(y.At(2*g.node(p.MM()), j)))
		}
	}
	return out, nil
}

// held tells whether a rigid support keeps the bar from moving sideways at p: there
// a force bends nothing.
func (b *Bar) held(p unit.Length) bool {
	near := func(x float64) bool { return math.Abs(p.MM()-x) <= merge*b.length }
	return math.IsInf(float64(b.work.Head.Radial), 1) && near(0) || math.IsInf(float64(b.work.Tail.Radial), 1) && near(b.length)
}

// followed adds a follow rest of stiffness k, a spring at the tool's own place:
// 1/f' = 1/f + k.
func (b *Bar) followed(f float64) float64 { return f / (1 + float64(b.work.Follow)*f) }

// AtTool returns Compliances plus the static radial compliance of the tool side:
// what the depth of cut loses per newton of radial force.
func (b *Bar) AtTool(at []unit.Length) ([]Compliance, error) {
	out, err := b.Compliances(at)
	x := Direction{Radial: 1}
	tool := real(b.work.Tool.receptance(0, x, x))
	for i := range out {
		out[i] += Compliance(tool)
	}
	return out, err
}

// Deflection returns the deflection of the work at each position under one
// radial force somewhere else. A follow rest is left out, for it bears at the tool only.
func (b *Bar) Deflection(load unit.Force, where unit.Length, at []unit.Length) ([]unit.Length, error) {
	g, ch, err := b.solver(append([]unit.Length{where}, at...))
	if err != nil {
		return nil, err
	}
	rhs := mat.NewVecDense(2*len(g.x), nil)
	if !b.held(where) {
		rhs.SetVec(2*g.node(where.MM()), load.N())
	}
	y := new(mat.VecDense)
	if err := ch.SolveVecTo(y, rhs); err != nil {
		return nil, fmt.Errorf("bending of the work: %w", err)
	}
	out := make([]unit.Length, len(at))
	for i, p := range at {
		out[i] = unit.Length(y.AtVec(2 * g.node(p.MM())))
	}
	return out, nil
}

const mostStations = 1000

// solver cuts the bar at the positions and factors its stiffness.
func (b *Bar) solver(at []unit.Length) (*mesh, *mat.BandCholesky, error) {
	if len(at) > mostStations {
		return nil, nil, &unit.InputError{Field: "positions along the work", Value: fmt.Sprint(len(at)), Reason: fmt.Sprintf("are more than %d", mostStations)}
	}
	extra := make([]float64, len(at))
	for i, p := range at {
		if !(p >= 0) || p.MM() > b.length*(1+merge) {
			return nil, nil, b.outside(p)
		}
		extra[i] = min(p.MM(), b.length)
	}
	g := b.mesh(extra, 0)
	ch := new(mat.BandCholesky)
	if !ch.Factorize(g.k) {
		return nil, nil, errStiffness
	}
	return g, ch, nil
}

func (b *Bar) outside(p unit.Length) error {
	return &unit.InputError{
		Field: "position along the work", Value: p.String(), Reason: "is not on the work",
		Hint: "it reaches from 0 to " + b.Length().String(),
	}
}
