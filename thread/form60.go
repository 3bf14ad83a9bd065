package thread

import (
	"math"

	"thrum/unit"
)

// form60 is the 60 degree form of the Unified and the metric threads. They share
// one triangle, H = 0.8660254 P, truncated by H/8 at the major and H/4 at the
// minor diameter; they differ at the root of the screw:
//
//	root 0    UN: a flat; P/8 is left by a tool ground to the usual flat (common practice)
//	root 'M'  ISO metric: rounded, R = H/6 by design, at least 0.125 P
//	root 'R'  UNR: rounded, R = H/6, at least 0.10825 P
//	root 'J'  UNJ and MJ: rounded, R between 0.15011 P and 0.18042 P; the middle is aimed at
//
// The nut has a flat of P/8 at its root, the major diameter, and its crest, the
// minor diameter, is P/4 wide (0.3125 P for UNJ and MJ).
//
// Source: ISO 68-1, ASME B1.1 and B1.13M; UNJ and MJ from memory (the range of
// the radius is read in the abstract of ASME B1.15).
func form60(side Side, root byte) Form {
	h := math.Sqrt(3) / 2
	f := Form{
		Name: "60° Unified", Source: "ASME B1.1", Leading: 30 * unit.Degree, Trailing: 30 * unit.Degree,
		H: h, CrestFlat: 1.0 / 8, RootFlat: 1.0 / 8, Depth: 3 * h / 4,
	}
	rounded := func(radius, least float64) {
		f.RootFlat, f.RootRadius, f.RootRadiusLo = 0, radius, least
		f.Depth = 3*h/8 + h/2 - radius // a circle tangent to both flanks ends its radius above the sharp root
	}
	switch root {
	case 'M':
		f.Name, f.Source = "60° ISO metric", "ISO 68-1"
		rounded(h/6, 0.125)
	case 'R':
		f.Name = "60° Unified, rounded root"
		rounded(h/6, h/8)
	case 'J':
		f.Name, f.Source = "60°, controlled root radius", "ASME B1.15, ISO 5855-1"
		rounded((0.15011+0.18042)/2, 0.15011)
	}
	if side == Internal {
		f.CrestFlat, f.RootFlat, f.RootRadius, f.RootRadiusLo, f.Depth = 1.0/4, 1.0/8, 0, 0, 5*h/8
		if root == 'J' {
			f.CrestFlat, f.Depth = 5.0/16, 9*h/16
		}
	}
	return f
}
