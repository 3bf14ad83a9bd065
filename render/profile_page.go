package render

import (
	"fmt"

	"thrum/draw"
	"thrum/thread"
	"thrum/unit"
)

// TipProfile returns the tool that fills a thread's groove at its target sizes, as
// a gauge for grinding: the outline in the plane of the axis, with a flat top.
func TipProfile(t thread.Thread) Profile {
	p := ThreadProfile(t)
	p.Name, p.Tool, p.Pitch, p.Internal = "tool for "+t.Designation, true, 0, false
	for _, s := range p.Outline {
		if s.Radius <= 0 && s.From.X == s.To.X && s.From.X > 0 {
			p.Flat = (s.To.Z - s.From.Z).Abs()
		}
	}
	p.Notes = []string{"In the plane of the axis, for a tool without top rake; it cuts the groove at its target size."}
	return p
}

// Profiles sets profiles true to scale, one below the other, each with the bar by
// which the print is checked. A scale of zero gives 10:1 and 20:1, or the usual
// scales below where the paper is too small for those. A scale that is asked for
// and does not fit is an error.
func Profiles(paper draw.Size, all []Profile, scale float64) (*draw.List, error) {
	if len(all) == 0 {
		return nil, &unit.InputError{Field: "profile", Reason: "is missing", Hint: "give at least one"}
	}
	if scale == 0 {
		l := ProfileSheet(paper, all[0])
		for _, p := range all[1:] {
			l.Page(paper)
			o := ProfileSheet(paper, p)
			l.Place(o, 0, draw.Pt{}, 1)
		}
		return l, nil
	}
	if !(scale >= 1 && scale <= 100) {
		return nil, &unit.InputError{Field: "scale", Value: fmt.Sprint(scale), Reason: "is not an enlargement from 1 to 100", Hint: "write 10 or 20"}
	}
	l := draw.New(paper, all[0].Name)
	l.Meta.Desc = "Profile true to scale, with a bar of 10 mm to check the print by."
	box := paper.Box(15)
	box = box.Trim(0, l.Paragraph(box, all[0].Name+", "+scaleWords(scale), draw.Style{Size: draw.LargeText, Bold: true})+2, 0, 0)
	box = box.Trim(0, l.Paragraph(box, "Print at 100 %, not fitted to the page, and measure the bars: each must be 10.0 mm long.", draw.Style{})+4, 0, 0)
	for i, p := range all {
		part := box
		part.H = (box.H - 6*unit.Length(len(all)-1)) / unit.Length(len(all))
		part.Y += unit.Length(i) * (part.H + 6)
		if !ToolProfile(l, part, p, scale) {
			return nil, &unit.InputError{
				Field: "scale", Value: fmt.Sprint(scale), Reason: fmt.Sprintf("makes %s larger than the paper", p.Name),
				Hint: "write a smaller one, or leave --scale out",
			}
		}
	}
	return l, nil
}
