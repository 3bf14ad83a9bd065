package cut

import (
	"fmt"
	"math"

	"thrum/thread"
	"thrum/unit"
)

// Part is one of the edges that share a chip.
type Part int

// The edges, and the crest-forming part of a full-profile tool.
const (
	LeadingFlank Part = iota
	Nose
	TrailingFlank
	Crest
)

// String prints the edge's name.
func (p Part) String() string {
	return []string{"leading flank", "nose", "trailing flank", "crest"}[p]
}

// EdgeChip is what one edge takes in one pass.
type EdgeChip struct {
	Length    unit.Length // of edge in the cut
	Thickness unit.Length // largest, square to the edge
	Mean      unit.Length // over the length: Length x Mean is this edge's share of the area
	Area      unit.Area
}

// Element is a short piece of edge with one direction and one thickness of chip.
type Element struct {
	Part          Part
	Length        unit.Length
	Thickness     unit.Length
	Radial, Axial float64 // unit vector square to the edge, from the tool into the work: into the depth, and along the direction of cutting
}

// Chip is what one pass takes off.
type Chip struct {
	At       Position
	Area     unit.Area
	Edges    [4]EdgeChip // by Part
	Elements []Element   // the same edge by edge element; what forces are reckoned from
}

// edgePiece is a piece of the tool's edge in its place in the finished groove.
type edgePiece struct {
	curve
	part    Part
	nz, nx  float64 // square to a straight edge, from the tool into the work
	upright bool    // a flank square to the axis: no width along it, top and bottom in x0 and b
}

// Cutter is a tool's outline made ready to cut one groove. It does not change
// after NewCutter.
type Cutter struct {
	edge              []edgePiece
	depth             float64 // of the deepest point
	left, right       float64 // ends of the groove at the crest
	leading, trailing unit.Angle
	press             []pressed // the same edge in short elements, for Follow
}

// NewCutter makes a cutter of the outline of the finished groove, as a
// full-form tool has it. What the tool reaches outside the groove's own width
// belongs to the neighbouring grooves and is left out.
func NewCutter(g thread.Groove) (*Cutter, error) {
	c := &Cutter{}
	if len(g) == 0 || len(g) > 100 {
		return nil, &unit.InputError{Field: "outline of the groove", Value: fmt.Sprintf("%d pieces", len(g)), Reason: "is not an outline"}
	}
	c.left, c.right = g[0].From.Z.MM(), g[len(g)-1].To.Z.MM()
	at := g[0].From
	for i, s := range g {
		gap := math.Hypot(float64(s.From.Z-at.Z), float64(s.From.X-at.X))
		if !(gap < 1e-6) || !(s.To.Z-s.From.Z > -1e-9) || !(s.From.X >= -1e-9) || !(s.To.X >= -1e-9) {
			return nil, &unit.InputError{
				Field: "outline of the groove", Value: fmt.Sprintf("piece %d", i+1),
				Reason: "does not join the one before, runs backwards, or stands out of the work",
			}
		}
		at = s.To
		if err := c.addPiece(i, s); err != nil {
			return nil, err
		}
	}
	if !(c.depth > 0) || !(c.right > c.left) {
		return nil, &unit.InputError{Field: "outline of the groove", Value: unit.Length(c.depth).String(), Reason: "has no depth or no width"}
	}
	c.name()
	c.press = c.pressedElements()
	return c, nil
}

// addPiece takes one segment over.
func (c *Cutter) addPiece(i int, s thread.Segment) error {
	dz, dx := (s.To.Z - s.From.Z).MM(), (s.To.X - s.From.X).MM()
	l := math.Hypot(dz, dx)
	if l < 1e-12 {
		return nil
	}
	e := edgePiece{curve: curve{z0: s.From.Z.MM(), z1: s.To.Z.MM(), x0: s.From.X.MM()}}
	switch {
	case s.Radius > 0:
		e.r, e.cz, e.cx = s.Radius.MM(), s.Centre.Z.MM(), s.Centre.X.MM()
		e.side = 1
		if (s.From.X+s.To.X).MM()/2 < e.cx {
			e.side = -1
		}
		for _, p := range []thread.Point{s.From, s.To} {
			if math.Abs(math.Hypot(p.Z.MM()-e.cz, p.X.MM()-e.cx)-e.r) > 1e-6*(1+e.r) {
				return &unit.InputError{Field: "outline of the groove", Value: fmt.Sprintf("piece %d", i+1), Reason: "is an arc whose ends do not lie on its circle"}
			}
		}
		if e.z1-e.z0 < 1e-12 {
			return nil
		}
		if e.side > 0 && e.z0 < e.cz && e.cz < e.z1 {
			c.depth = max(c.depth, e.cx+e.r)
		}
	case dz < 1e-9*l:
		e.upright, e.b = true, s.To.X.MM()
		e.z1 = e.z0
	default:
		e.b = dx / dz
	}
	e.nz, e.nx = -dx/l, dz/l
	c.depth = max(c.depth, s.From.X.MM(), s.To.X.MM())
	c.edge = append(c.edge, e)
	return nil
}

// name tells flanks, nose and crest apart. Arcs that bulge into the work and
// level lines at the bottom are nose; arcs that bulge out of it and level lines
// at the top are crest; the rest are flanks. The longest line of each side gives
// that side's flank angle.
func (c *Cutter) name() {
	const level = 0.02 // slope of a line that counts as level
	long := [2]float64{}
	for i := range c.edge {
		e := &c.edge[i]
		middle := (e.at(e.z0) + e.at(e.z1)) / 2
		switch {
		case e.r > 0 && e.side > 0:
			e.part = Nose
		case e.r > 0:
			e.part = Crest
		case !e.upright && math.Abs(e.b) < level && middle > c.depth/2:
			e.part = Nose
		case !e.upright && math.Abs(e.b) < level:
			e.part = Crest
		case e.nz > 0:
			e.part = LeadingFlank
			if l := e.span(); l > long[0] {
				long[0], c.leading = l, unit.Angle(math.Atan2(e.nx, e.nz))
			}
		default:
			e.part = TrailingFlank
			if l := e.span(); l > long[1] {
				long[1], c.trailing = l, unit.Angle(math.Atan2(e.nx, -e.nz))
			}
		}
	}
}

// span is the length of a piece of edge.
func (e edgePiece) span() float64 {
	if e.upright {
		return math.Abs(e.b - e.x0)
	}
	return e.length(e.z0, e.z1)
}

// normal returns the direction square to the edge at the middle of a to b, from
// the tool into the work.
func (e edgePiece) normal(a, b float64) (nz, nx float64) {
	if e.r == 0 {
		return e.nz, e.nx
	}
	u := min(max(((a+b)/2-e.cz)/e.r, -1), 1)
	return e.side * u, math.Sqrt(1 - u*u)
}

// Depth returns the depth of the finished groove.
func (c *Cutter) Depth() unit.Length { return unit.Length(c.depth) }

// Area returns the area of the finished groove's cross-section.
func (c *Cutter) Area() unit.Area {
	sum := 0.0
	for _, e := range c.edge {
		if !e.upright {
			sum += e.area(e.z0, e.z1)
		}
	}
	return unit.Area(sum)
}
