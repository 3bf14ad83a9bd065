package cut

import (
	"fmt"
	"math"

	"thrum/unit"
)

// Forces on the tool in one pass. Radial pushes it out of the work; axial pushes
// it back against the direction of travel, and is negative where it pulls it on.
type Forces struct {
	Tangential, Radial, Axial unit.Force
	Uncertainty               float64 // the part by which the figures may be off, either way: 0.25
}

// Power returns the power at the cut: force times surface speed.
func (f Forces) Power(v unit.Velocity) unit.Power {
	return unit.Power(f.Tangential.N() * v.MMPerS() / 1000)
}

// Torque returns the torque on the spindle at the diameter of the cut.
func (f Forces) Torque(d unit.Length) unit.Torque { return unit.Torque(f.Tangential.N() * d.MM() / 2) }

// Factor is one correction of the force, with its reason.
type Factor struct {
	Name   string
	Value  float64
	On     bool
	Why    string
	Source string
}

// Force is the force model of one material, tool and speed. For each element of
// edge, of length b and with a chip of thickness h,
//
//	F = K kc1.1 b h^(1-mc)  [+ Ke b],   K = product of the factors that are on
//
// acts in the direction of cutting, and Thrust times as much square to the edge.
//
// Source: Kienzle and Victor; the edge force after Altintas, Manufacturing Automation
// (both from memory).
// Valid: the tables hold for chips of 0.1 to 1 mm; threading chips are thinner,
// so count on a quarter either way, and on half below 0.03 mm.
type Force struct {
	Factors []Factor
	Thrust  float64   // force square to the edge / cutting force
	Edge    LineForce // Ke in force; zero unless asked for

	within            float64 // uncertainty for chips that are not thin
	kc, mc            float64 // with all factors but that of colliding chips
	collide           float64
	leading, trailing unit.Angle
}

// Below thinChip (mm) tables of cutting force are stretched beyond what they were
// made for.
const (
	thinChip   = 0.03
	withinThin = 0.5
)

// Choice changes a default of NewForce.
type Choice func(*settings)

type settings struct {
	off    map[string]bool
	wear   float64
	edge   bool
	thrust float64
}

// Names of the factors.
const (
	FactorRake    = "rake"
	FactorTool    = "tool material"
	FactorSpeed   = "speed"
	FactorWear    = "wear"
	FactorCollide = "colliding chips"
)

// Without switches factors off.
func Without(names ...string) Choice {
	return func(s *settings) {
		for _, n := range names {
			s.off[n] = true
		}
	}
}

// Worn sets the wear factor: 1 for a fresh edge (the default), 1.3 for normal
// wear, 1.5 for a blunt one. The ratio of thrust rises with it.
func Worn(factor float64) Choice { return func(s *settings) { s.wear = factor } }

// WithEdgeForce adds the rubbing force of the edge, which does not depend on the
// chip's thickness.
func WithEdgeForce() Choice { return func(s *settings) { s.edge = true } }

// ThrustRatio sets the ratio of the force square to the edge to the cutting force.
func ThrustRatio(r float64) Choice { return func(s *settings) { s.thrust = r } }

// NewForce puts the model together. On by default: rake, tool material or speed,
// wear of a fresh edge, colliding chips; thrust 0.5, more when worn; no separate
// edge force.
func NewForce(m Material, t Tool, v unit.Velocity, choose ...Choice) (*Force, error) {
	s := settings{off: map[string]bool{}, wear: 1}
	for _, c := range choose {
		c(&s)
	}
	if s.thrust == 0 {
		s.thrust = 0.5 + 0.6*max(s.wear-1, 0)
	}
	switch {
	case !(m.Specific > 0) || !(m.Exponent >= 0 && m.Exponent < 1):
		return nil, &unit.InputError{Field: "material", Value: m.Name, Reason: "has no cutting force", Hint: "kc11_n_mm2 and mc are needed"}
	case !(s.wear >= 1 && s.wear <= 3) || !(s.thrust > 0 && s.thrust <= 3):
		return nil, &unit.InputError{Field: "wear and thrust", Value: fmt.Sprintf("%g and %g", s.wear, s.thrust), Reason: "are not factors", Hint: "wear 1 to 1.5, thrust 0.3 to 1"}
	case math.Abs(t.Rake.Degrees()) > 45:
		return nil, &unit.InputError{Field: "rake", Value: t.Rake.Format(1), Reason: "is not between -45 and 45 degrees"}
	}
	f := &Force{Thrust: s.thrust, mc: m.Exponent, within: max(m.Within, usualWithin), leading: t.Leading, trailing: t.Trailing, collide: 1}
	f.Factors = factors(m, t, v, s)
	f.kc = float64(m.Specific)
	for _, k := range f.Factors {
		switch {
		case !k.On:
		case k.Name == FactorCollide:
			f.collide = k.Value
		default:
			f.kc *= k.Value
		}
	}
	if s.edge {
		f.Edge = m.EdgeForce
	}
	return f, nil
}

// factors lists every correction with its value, on or off.
func factors(m Material, t Tool, v unit.Velocity, s settings) []Factor {
	const handbooks = "from memory: Kienzle and Victor, as German handbooks give it"
	standard := 6.0
	if m.Kind != "" && isIron(m) {
		standard = 2
	}
	rake := 1 - (t.Rake.Degrees()-standard)/66.7
	tool, speed := 1.0, 1.0
	if t.Edge.Material == HSS {
		tool = 1.2
	} else if mv := v.MPerMin(); mv > 0 && mv < 100 {
		speed = math.Pow(100/max(mv, 5), 0.1)
	}
	list := []Factor{
		{Name: FactorRake, Value: rake, Why: fmt.Sprintf("rake %s against the tables' %.0f°: 1.5 %% a degree", t.Rake.Format(0), standard), Source: handbooks},
		{Name: FactorTool, Value: tool, Why: "high-speed steel needs about 1.2 times the force of carbide, its low speed included", Source: handbooks},
		{Name: FactorSpeed, Value: speed, Why: "the tables hold near 100 m/min; carbide run slower needs more: (100/v)^0.1", Source: handbooks},
		{Name: FactorWear, Value: s.wear, Why: "1 for a fresh edge, 1.3 normal wear, 1.5 blunt", Source: handbooks},
		{Name: FactorCollide, Value: 1.15, Why: "the chips of two flanks get in each other's way: 1.1 to 1.3 when both cut alike", Source: "from memory: trials of V-shaped chips"},
	}
	for i := range list {
		list[i].On = !s.off[list[i].Name]
	}
	return list
}

// Of returns the forces for a chip. A chip that was made by hand, without
// elements, is taken edge by edge with the tool's flank angles.
func (f *Force) Of(c Chip) Forces {
	var sum Forces
	var thick, flank [2]float64 // thickest and thinnest of the flanks
	thickest := 0.0
	add := func(part Part, length, h, nx, nz float64) {
		cutting := f.line(h) * length
		sum.Tangential += unit.Force(cutting)
		sum.Radial += unit.Force(f.Thrust * cutting * nx)
		sum.Axial += unit.Force(f.Thrust * cutting * nz)
		thickest = max(thickest, h)
		switch part {
		case LeadingFlank:
			flank[0] = max(flank[0], h)
		case TrailingFlank:
			flank[1] = max(flank[1], h)
		}
	}
	if len(c.Elements) > 0 {
		for _, e := range c.Elements {
			add(e.Part, e.Length.MM(), e.Thickness.MM(), e.Radial, e.Axial)
		}
	} else {
		for p, e := range c.Edges {
			nx, nz := f.normal(Part(p))
			add(Part(p), e.Length.MM(), e.Thickness.MM(), nx, nz)
		}
	}
	thick[0], thick[1] = max(flank[0], flank[1]), min(flank[0], flank[1])
	k := unit.Force(f.collision(thick[0], thick[1]))
	sum.Tangential, sum.Radial, sum.Axial = sum.Tangential*k, sum.Radial*k, sum.Axial*k
	sum.Uncertainty = f.within
	if thickest < thinChip {
		sum.Uncertainty = max(f.within, withinThin)
	}
	return sum
}

// line is the force per length of edge.
func (f *Force) line(h float64) float64 {
	if h <= 0 {
		return 0
	}
	return f.kc*math.Exp((1-f.mc)*math.Log(h)) + float64(f.Edge)
}

// collision is the factor for colliding chips: full when both flanks cut alike,
// none when one of them does all the work.
func (f *Force) collision(more, less float64) float64 {
	if more <= 0 {
		return 1
	}
	return 1 + (f.collide-1)*less/more
}

func (f *Force) normal(p Part) (nx, nz float64) {
	switch p {
	case LeadingFlank:
		return f.leading.Sin(), f.leading.Cos()
	case TrailingFlank:
		return f.trailing.Sin(), -f.trailing.Cos()
	}
	return 1, 0
}

// Line returns the cutting force per length of edge for a chip of thickness h:
// kc h.
func (f *Force) Line(h unit.Length) LineForce { return LineForce(f.line(h.MM())) }

// Slope returns dF/dh per length of edge, the stiffness of the cut: what the
// cutting force gains per thickness. It grows without bound as h goes to zero.
//
//	dF/dh = K kc1.1 (1-mc) h^-mc
func (f *Force) Slope(h unit.Length) unit.Stress {
	return unit.Stress(f.kc * (1 - f.mc) * math.Pow(h.MM(), -f.mc))
}
