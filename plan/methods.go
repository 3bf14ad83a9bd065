package plan

import (
	"fmt"

	"thrum/unit"
)

// MethodSummary is what one infeed method would mean for the same thread.
type MethodSummary struct {
	Method   string      `json:"method"`
	Angle    unit.Angle  `json:"angle_rad"`
	Passes   int         `json:"passes"`
	Force    unit.Force  `json:"greatest_force_n"`  // tangential
	Radial   unit.Force  `json:"greatest_radial_n"` // bends the work
	Axial    unit.Force  `json:"greatest_axial_n"`  // pushes carriage and half nuts
	Trailing unit.Length `json:"thinnest_trailing_chip_mm"`
	Bend     unit.Length `json:"pitch_diameter_variation_mm"`
	Words    string      `json:"words"`
	Chosen   bool        `json:"chosen"`
}

// InfeedMethods plans the same request with every infeed method, so that they can
// be compared. A method that the request does not allow is left out.
func InfeedMethods(r Request) ([]MethodSummary, error) {
	first, err := Make(r)
	if err != nil {
		return nil, err
	}
	var all []MethodSummary
	for _, m := range []string{"straight", "modified", "flank", "alternating"} {
		q := r
		q.Infeed = m
		if m != "modified" {
			q.Angle = 0
		}
		p, err := Make(q)
		if err != nil || len(p.Passes) == 0 {
			continue
		}
		s := MethodSummary{Method: m, Angle: p.Swing.Angle, Passes: len(p.Passes), Trailing: p.Passes[0].Trailing, Chosen: m == first.Swing.Method}
		for _, c := range p.Passes {
			s.Force, s.Radial = max(s.Force, c.Force), max(s.Radial, c.Radial)
			s.Axial = max(s.Axial, c.Axial, -c.Axial)
			s.Trailing = min(s.Trailing, c.Trailing)
		}
		if p.Bend != nil {
			s.Bend = p.Bend.Taper
		}
		s.Words = methodWords(m)
		all = append(all, s)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("no infeed method can be planned: %s", first.Blocked()[0].Text)
	}
	return all, nil
}

// methodWords says what speaks for and against a method. Common practice, no source.
func methodWords(m string) string {
	return map[string]string{
		"straight":    "both edges cut, chips meet at the root; easiest to set; both flanks alike",
		"modified":    "the leading edge cuts, the trailing edge keeps a thin chip; less radial force",
		"flank":       "the leading edge alone cuts; the trailing flank may rub and tear",
		"alternating": "the edges take turns; lost motion in carriage and screw shows as lead error",
	}[m]
}
