package made

import (
	"errors"
	"fmt"

	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
	"thrum/vibe"
)

// Setup is a thread to be cut on a plain bar.
type Setup struct {
	Material string           // as in cut.FindMaterial: "1018"
	Tool     cut.ToolMaterial //
	Diameter unit.Length      // of the bar
	Out      unit.Length      // how far it stands out of the chuck
	Centre   bool             // its end runs in the tailstock's centre
	At       unit.Length      // where the tool is, from the chuck
	Chuck    shaft.Joint      // zero: 50 N/um and 8e4 N m/rad, a small three-jaw chuck
	Tail     unit.Stiffness   // of the centre; zero: 8 N/um
	Post     shaft.Tool       // the tool side; zero: 20 N/um radially, 15 along the thread
	Damping  float64          // of the work, fraction of critical; zero: the usual

	Pitch    unit.Length     // of a 60 degree thread
	Depth    unit.Length     // of the finished groove
	NoseFlat unit.Length     // of the tool
	Depths   []unit.Length   // after each pass; empty: Passes of equal area
	Passes   int             //
	Infeed   cut.Infeed      //
	Speeds   []unit.Rotation // of each pass; the last one holds for all that follow
	Turns    float64         //
	PerTurn  int             // steps of time in a turn; zero leaves it to vibe.Simulate

	Rub      unit.Stiffness // C of the edge's rubbing
	Unsteady float64        // of the cutting force
	RunIn    float64        // turns
	Starters []vibe.Starter
	Seed     uint64
}

// thirty is half of the angle of the thread.
const thirty = 30 * unit.Degree

// Chips returns the chip of each pass, the force at the first pass's speed, and the edge.
func (s Setup) Chips() ([]cut.Chip, *cut.Force, cut.EdgeType, error) {
	edge, err1 := cut.FindEdge("", s.Tool)
	m, err2 := cut.FindMaterial(s.Material)
	tool := cut.Tool{Leading: thirty, Trailing: thirty, NoseFlat: s.NoseFlat, Edge: edge}
	g, err3 := tool.Groove(s.Pitch, s.Depth)
	if err := errors.Join(err1, err2, err3); err != nil {
		return nil, nil, edge, err
	}
	depths := s.Depths
	if len(depths) == 0 {
		depths = cut.EqualArea(s.Depth, s.Passes, thirty, thirty, s.NoseFlat)
	}
	c, err := cut.NewCutter(g)
	if err != nil {
		return nil, nil, edge, err
	}
	at, err := c.Positions(depths, s.Infeed)
	if err != nil {
		return nil, nil, edge, err
	}
	chips, _, err := c.Cut(at)
	if err != nil {
		return nil, nil, edge, err
	}
	f, err := cut.NewForce(m, tool, s.Speed(0).Surface(s.Diameter))
	return chips, f, edge, err
}

// Speed is the spindle speed of pass k, counted from zero.
func (s Setup) Speed(k int) unit.Rotation {
	if len(s.Speeds) == 0 {
		return 0
	}
	return s.Speeds[min(k, len(s.Speeds)-1)]
}

// Holding holds the bar.
func (s Setup) Holding() (*vibe.Holding, error) {
	m, err := cut.FindMaterial(s.Material)
	if err != nil {
		return nil, err
	}
	w := shaft.Work{
		Sections: []shaft.Section{{Length: s.Out, Diameter: s.Diameter}}, Stuff: m.Stuff(),
		Head: s.Chuck, Tail: shaft.Free(), Tool: s.Post, Damping: s.Damping,
	}
	if s.Chuck == (shaft.Joint{}) {
		w.Head = shaft.Joint{Radial: 50 * unit.NewtonPerMicrometre, Tilt: 8e4 * unit.NewtonMetrePerRadian}
	}
	if s.Post.Radial == 0 && len(s.Post.Modes) == 0 {
		w.Tool = shaft.Tool{Radial: 20 * unit.NewtonPerMicrometre, Tangential: 20 * unit.NewtonPerMicrometre, Axial: 15 * unit.NewtonPerMicrometre}
	}
	if s.Centre {
		w.Tail = shaft.Joint{Radial: 8 * unit.NewtonPerMicrometre}
		if s.Tail > 0 {
			w.Tail.Radial = s.Tail
		}
	}
	b, err := shaft.New(w)
	if err != nil {
		return nil, err
	}
	return vibe.Prepare(b, []unit.Length{s.At})
}

// Cutting puts the cut together for vibe.Simulate.
func (s Setup) Cutting() (vibe.Cutting, error) {
	chips, f, edge, err := s.Chips()
	if err != nil {
		return vibe.Cutting{}, err
	}
	h, err := s.Holding()
	if err != nil {
		return vibe.Cutting{}, err
	}
	in := vibe.Cutting{
		Holding: h, Force: f, Edge: edge, Diameter: s.Diameter, Turns: s.Turns,
		Rub: s.Rub, Unsteady: s.Unsteady, RunIn: s.RunIn, Starters: s.Starters, Seed: s.Seed,
	}
	fastest := unit.Rotation(0)
	for k, c := range chips {
		in.Passes = append(in.Passes, vibe.Pass{Chip: c, Speed: s.Speed(k)})
		fastest = max(fastest, s.Speed(k))
	}
	in.Rate = unit.Frequency(s.PerTurn) * fastest.Hz()
	return in, nil
}

// Cut follows the cut through time, and keeps movement and force of every step if
// they are to be heard.
func (s Setup) Cut(record bool) (*vibe.Simulation, error) {
	in, err := s.Cutting()
	if err != nil {
		return nil, err
	}
	in.Record = record
	sim, err := vibe.Simulate(in)
	if err != nil {
		return nil, fmt.Errorf("%s, %s out: %w", s.Material, s.Out, err)
	}
	return sim, nil
}
