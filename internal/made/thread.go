package made

import (
	"math"

	"thrum/cut"
	"thrum/unit"
	"thrum/vibe"
)

// threaded is the work's surface: a bar with one right-hand groove whose flanks and
// root carry the simulated waves. x runs along the axis to the right, where the
// tool came in; the tool went to the left. y is up, z towards the camera.
type threaded struct {
	radius, pitch, depth, flat float64
	entry                      float64 // x of the tool's middle at turn zero
	end                        float64 // of the bar on the right
	turns                      float64
	perTurn                    float64
	lead, root, trail          []float64 // depths along the radius, deviations from their mean, mm
	scratch                    []float64 // along the edge, the same all along the helix
}

// half of the axial width of a groove per depth: the tangent of 30 degrees.
var slope = math.Tan(math.Pi / 6)

func newThreaded(sim *vibe.Simulation, t Thread) *threaded {
	g := &threaded{
		radius: t.Diameter.MM() / 2, pitch: t.Pitch.MM(), depth: t.Depth.MM(), flat: t.NoseFlat.MM(),
		turns: sim.Turns, perTurn: float64(sim.PerTurn),
	}
	best := -1.0
	for _, s := range sim.Surfaces {
		switch {
		case s.Part == cut.LeadingFlank:
			g.lead = deviation(s.Height, s.Radial, sim.PerTurn)
		case s.Part == cut.TrailingFlank:
			g.trail = deviation(s.Height, s.Radial, sim.PerTurn)
		case s.Part == cut.Nose && s.Radial > best:
			best = s.Radial
			g.root = deviation(s.Height, s.Radial, sim.PerTurn)
		}
	}
	return g
}

// deviation turns heights along a normal into depths along the radius, less the mean
// behind the first turn.
func deviation(h []unit.Length, radial float64, perTurn int) []float64 {
	from, sum := min(perTurn, len(h)/4), 0.0
	for _, v := range h[from:] {
		sum += v.MM()
	}
	mean := sum / float64(len(h)-from)
	out := make([]float64, len(h))
	for i, v := range h {
		out[i] = (v.MM() - mean) / max(radial, 0.1)
	}
	return out
}

// at reads a deviation between two steps; beyond the ends there is none.
func at(d []float64, i float64) float64 {
	k := int(i)
	if i < 0 || k+1 >= len(d) {
		return 0
	}
	return d[k] + (i-float64(k))*(d[k+1]-d[k])
}

// r is the radius at a place along the axis and an angle round it from y to z.
func (g *threaded) r(x, angle float64) float64 {
	part := -angle / (2 * math.Pi) // turns since the tool came in, but for whole ones
	whole := math.Round((g.entry-x)/g.pitch - part)
	theta := part + whole
	if theta < 0 || theta > g.turns {
		return g.radius
	}
	w := g.entry - g.pitch*theta - x // along the direction of cutting, from the groove's middle
	step := theta * g.perTurn
	deep := g.depth + at(g.root, step)
	flank := g.depth - (math.Abs(w)-g.flat/2)/slope
	if w > 0 {
		flank += at(g.lead, step)
	} else {
		flank += at(g.trail, step)
	}
	deep = min(deep, flank)
	if deep <= 0 {
		return g.radius
	}
	if n := len(g.scratch); n > 0 {
		deep += g.scratch[min(int((w/g.pitch+0.5)*float64(n)), n-1)]
	}
	return g.radius - deep
}
