package cut

import (
	"fmt"

	"thrum/unit"
)

// Caution is something about the passes that a machinist should know before he
// cuts. It never forbids: the cure is there to be weighed.
type Caution struct {
	Pass   int    // the first pass it concerns, counted from 1
	Text   string // what is the matter
	Cure   string // what would mend it
	Source string
}

// Cautions looks through the chips of a schedule: for edges that rub because
// their chip is thinner than they can cut, and for edges that are asked to cut
// without having been sharpened.
//
// A flank that stands square to the axis is left out: it is made by the corner
// and has no chip of its own.
func Cautions(chips []Chip, t Tool, m Material) []Caution {
	var out []Caution
	for _, part := range []Part{LeadingFlank, TrailingFlank} {
		if c, ok := rubbing(chips, t, part); ok {
			out = append(out, c)
		}
		if c, ok := unsharpened(chips, t, part); ok {
			out = append(out, c)
		}
	}
	if c, ok := hardening(chips, m); ok {
		out = append(out, c)
	}
	return out
}

// least is a thickness below which a flank counts as not meant to cut, in
// millimetres: a ten-thousandth of a usual infeed.
const least = 1e-5

// rubbing finds the first pass in which a flank in contact takes less than the
// edge can cut. Passes that take nothing at all (spring passes) are left out.
func rubbing(chips []Chip, t Tool, part Part) (Caution, bool) {
	angle, name := t.Leading, "leading"
	if part == TrailingFlank {
		angle, name = t.Trailing, "trailing"
	}
	if angle < unit.Degree || t.Edge.MinHi == 0 {
		return Caution{}, false
	}
	first, thin, surely := 0, unit.Length(0), false
	for i, c := range chips {
		h := c.Edges[part].Thickness
		// The first pass cuts on both edges whatever the angle, and until the groove is
		// deeper than the rounding of the tip the flank is not in the cut at all.
		if i == 0 || c.Area <= 0 || c.Edges[part].Length <= 0 || h >= t.Edge.MinHi {
			continue
		}
		if first == 0 {
			first, thin = i+1, h
		}
		thin = min(thin, h)
		surely = surely || h < t.Edge.MinLo
	}
	if first == 0 {
		return Caution{}, false
	}
	does := "may rub"
	if surely {
		does = "will rub"
	}
	um := func(l unit.Length) float64 { return float64(l / unit.Micrometre) }
	uin := func(l unit.Length) float64 { return float64(l / unit.Inch * 1e6) }
	return Caution{
		Pass: first,
		Text: fmt.Sprintf("the %s flank's chip is down to %.1f µm (%.0f millionths of an inch); %s cuts from about %.0f to %.0f µm (%.0f to %.0f millionths) upwards, so this edge %s and may tear. Good threads have been cut so all the same",
			name, um(thin), uin(thin), t.Edge.Name, um(t.Edge.MinLo), um(t.Edge.MinHi), uin(t.Edge.MinLo), uin(t.Edge.MinHi), does),
		Cure: fmt.Sprintf("set the compound one to three degrees inside the flank, here %.4g to %.4g degrees from the cross-slide line; where it stands so, take the last one to three passes straight in, 0.02 to 0.04 mm (.001 to .0015 in) each",
			angle.Degrees()-3, angle.Degrees()-1),
		Source: t.Edge.Source,
	}, true
}

// unsharpened finds an edge without clearance that is asked to cut.
func unsharpened(chips []Chip, t Tool, part Part) (Caution, bool) {
	blunt := t.Edges == LeadingEdgeOnly && part == TrailingFlank || t.Edges == TrailingEdgeOnly && part == LeadingFlank
	for i, c := range chips {
		if blunt && i > 0 && c.Edges[part].Thickness.MM() > least && c.Edges[part].Thickness >= t.Edge.MinLo {
			return Caution{
				Pass: i + 1,
				Text: fmt.Sprintf("the %s takes a chip, but the tool is sharpened on the other edge only: it will rub and push the work away", part),
				Cure: "grind both edges, or feed in along the flank of the edge that does not cut", Source: "common practice, no source",
			}, true
		}
	}
	return Caution{}, false
}

// hardening warns of chips too thin for a material that hardens under a rubbing
// edge.
func hardening(chips []Chip, m Material) (Caution, bool) {
	if m.Hardens == 0 {
		return Caution{}, false
	}
	for i, c := range chips {
		h := unit.Length(0)
		for _, e := range c.Edges {
			h = max(h, e.Thickness)
		}
		if c.Area > 0 && h < m.Hardens {
			return Caution{
				Pass:   i + 1,
				Text:   fmt.Sprintf("%s hardens under a rubbing edge; this pass takes %.3f mm at most, less than %.2f mm", m.Name, h.MM(), m.Hardens.MM()),
				Cure:   "fewer and deeper passes, no spring passes, a keen edge",
				Source: m.Sources.Edge,
			}, true
		}
	}
	return Caution{}, false
}
