package cut

import "thrum/unit"

// ToolMaterial is what the cutting edge is made of.
type ToolMaterial int

// The two kinds of tool used for threading on a manual lathe.
const (
	HSS ToolMaterial = iota
	Carbide
)

// String prints "HSS" or "carbide".
func (t ToolMaterial) String() string {
	if t == Carbide {
		return "carbide"
	}
	return "HSS"
}

// Edges says which edges of the tool are sharpened with clearance to cut.
type Edges int

// A tool for straight infeed cuts on both edges; one ground for compound infeed
// only may cut on its leading edge alone.
const (
	BothEdges Edges = iota
	LeadingEdgeOnly
	TrailingEdgeOnly
)

// Tool is a threading tool. The flank angles are those between the flank and the
// normal to the work's axis, as in thread.Form.
type Tool struct {
	Leading, Trailing unit.Angle
	NoseRadius        unit.Length // zero when the nose is flat or sharp
	NoseFlat          unit.Length // width of the flat; zero when the nose is round
	FullProfile       bool        // also forms the crest
	Edges             Edges
	Edge              EdgeType
	Rake              unit.Angle // top rake; zero for a form tool that keeps its angle
}
