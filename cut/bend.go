package cut

import (
	"fmt"
	"math"

	"thrum/shaft"
	"thrum/unit"
)

// Bend is the outcome of passes cut by a springy tool and work.
type Bend struct {
	Stations []unit.Length
	Achieved [][]unit.Length // by pass, by station: the depth really cut so far
	Radial   [][]unit.Force  // by pass, by station: the force that bent it
	Error    []unit.Length   // by station: what the pitch diameter still lacks after the last pass, as a diameter
}

// Follow works out the depth really cut in each pass at each station, where
// give[i] is the radial compliance of work and tool there. The dial says at[k];
// the force pushes work and tool apart by give times Radial; so the depth d cut
// is the solution of
//
//	d + give x Radial(d) = dialled depth
//
// where Radial depends on d through the chip's thickness, which is measured from
// what earlier passes really cut. In the next pass the spring still in the work
// adds to the chip. A pass that leaves the dial as it was is a spring pass.
//
// Bending along the axis and in the direction of cutting is left out: the first
// is the saddle's, the second changes the depth only in second order.
func (c *Cutter) Follow(f *Force, at []Position, stations []unit.Length, give []shaft.Compliance) (*Bend, error) {
	if err := checkPositions(at); err != nil {
		return nil, err
	}
	if len(stations) != len(give) || len(give) > 1000 {
		return nil, &unit.InputError{
			Field: "stations", Value: fmt.Sprintf("%d places, %d compliances", len(stations), len(give)), Reason: "do not belong together",
		}
	}
	b := &Bend{Stations: append([]unit.Length(nil), stations...), Error: make([]unit.Length, len(give))}
	for range at {
		b.Achieved = append(b.Achieved, make([]unit.Length, len(give)))
		b.Radial = append(b.Radial, make([]unit.Force, len(give)))
	}
	h := newHistory(c, f)
	for i, g := range give {
		if !(g >= 0) || math.IsInf(float64(g), 0) {
			return nil, &unit.InputError{Field: "compliance", Value: fmt.Sprint(g), Reason: "is not a compliance"}
		}
		h.reset()
		for k, p := range at {
			d, force := h.pass(p, float64(g))
			b.Achieved[k][i], b.Radial[k][i] = unit.Length(d), unit.Force(force)
		}
		b.Error[i] = 2 * (deepest(at) - unit.Length(h.reached))
	}
	return b, nil
}

func deepest(at []Position) unit.Length {
	d := unit.Length(0)
	for _, p := range at {
		d = max(d, p.Depth)
	}
	return d
}

// Springs is how passes at an unchanged dial work off the last error.
type Springs struct {
	Passes   int         // needed to bring the error within the tolerance; the most tried when Reached is false
	Reached  bool        //
	Left     unit.Length // error of the diameter that remains
	Rubs     bool        // the last spring passes take less than this edge cuts: do not count on them
	Thinnest unit.Length // chip of the last spring pass
}

const mostSprings = 30

// SpringPasses counts the passes at the final dial reading that bring the pitch
// diameter within the tolerance of what is dialled, where work and tool give by
// give. Each leaves Kc/(Kc+k) of the error, Kc being the stiffness of the cut and
// k = 1/give, until the chip is thinner than the edge can cut.
func (c *Cutter) SpringPasses(f *Force, at []Position, give shaft.Compliance, e EdgeType, tolerance unit.Length) (Springs, error) {
	if err := checkPositions(at); err != nil {
		return Springs{}, err
	}
	if !(tolerance > 0) || !(give >= 0) {
		return Springs{}, &unit.InputError{Field: "tolerance of the pitch diameter", Value: tolerance.String(), Reason: "is not a tolerance"}
	}
	h := newHistory(c, f)
	h.reset()
	for _, p := range at {
		h.pass(p, float64(give))
	}
	want := deepest(at).MM()
	var s Springs
	for {
		s.Left = unit.Length(2 * (want - h.reached))
		s.Reached = s.Left <= tolerance
		if s.Reached || s.Passes == mostSprings {
			return s, nil
		}
		before := h.reached
		h.pass(at[len(at)-1], float64(give))
		s.Passes++
		s.Thinnest = unit.Length((h.reached - before) * c.thinnest())
		s.Rubs = s.Rubs || s.Thinnest < e.MinLo
	}
}

// thinnest is the thickness on the thinner flank per depth, straight in.
func (c *Cutter) thinnest() float64 { return min(c.leading.Sin(), c.trailing.Sin()) }
