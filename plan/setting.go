package plan

import (
	"fmt"
	"math"

	"thrum/gauge"
	"thrum/unit"
)

// How far off a careful hand sets a tool. Common practice, no source.
const (
	squareness   = 0.5 * unit.Degree // against a thread gauge held to the light
	heightMiss   = 10 * unit.Thou    // against a centre point; on metric sheets a round quarter of a millimetre
	usualTopRake = 5 * unit.Degree   // rake that is often ground on for steel
)

// setting says what a badly set tool does to the form, in figures of this thread.
func (b *builder) setting() error {
	add := func(text string) { b.plan.Tool.Steps = append(b.plan.Tool.Steps, text) }
	tol := b.th.Limits.Pitch.Width()
	if b.th.Form.Leading > 0 && b.th.Form.Trailing > 0 {
		de, err := gauge.AngleEffect(b.th, squareness, -squareness)
		if err == nil && tol > 0 {
			add(fmt.Sprintf("%s out of square makes the thread feel %s too big: %.0f %% of the pitch diameter's tolerance",
				squareness.Format(1), b.len(de.Abs()), 100*math.Abs(float64(de/tol))))
		}
	}
	crest, root := b.surface/2, b.surface/2-b.tipDepth
	if b.internal() {
		crest, root = b.surface/2+b.tipDepth, b.surface/2
	}
	half := b.th.Form.Included() / 2
	if half > 0 {
		miss := heightMiss
		if b.req.Units == unit.Metric {
			miss = unit.Millimetre / 4
		}
		off := unit.Angle(math.Abs(float64(heightAngle(half, crest, root, miss) - half)))
		opens := "opens each flank by " + off.Format(2)
		if off < unit.Degree/200 {
			opens = "changes the flanks by less than a hundredth of a degree"
		}
		add(fmt.Sprintf("%s off centre height %s; a tool that springs down does the same", b.short(miss), opens))
		if b.plan.Tool.Material == "hss" {
			rake := rakeAngle(half, crest, root, usualTopRake) - half
			add(fmt.Sprintf("a top rake of %s would open each flank by %s: grind the tool narrower by that, or leave it flat", usualTopRake.Format(0), rake.Format(2)))
		}
	}
	return nil
}

// heightAngle returns the flank angle that a flat-topped tool of flank angle a
// leaves in the axial plane when it stands h above or below the axis:
//
//	tan a' = tan a [ (R^2 - h^2)^1/2 - (r^2 - h^2)^1/2 ] / (R - r)
//
// R and r are the radii at crest and root. Source: geometry; the tool's point at
// radius r lies (r^2 - h^2)^1/2 from the axis along the tool's face.
// Valid: h below the root's radius; beyond it the angle asked for is returned.
func heightAngle(a unit.Angle, crest, root, h unit.Length) unit.Angle {
	R, r, y := float64(crest), float64(root), float64(h)
	if y >= r || R <= r {
		return a
	}
	return unit.Angle(math.Atan(a.Tan() * (math.Sqrt(R*R-y*y) - math.Sqrt(r*r-y*y)) / (R - r)))
}

// rakeAngle returns the flank angle in the axial plane left by a tool that is
// ground to flank angle a in its face and has top rake g, tip at centre height.
// The face meets radius R at distance s from the tip, with
//
//	(r cos g + s)^2 + (r sin g)^2 = R^2,   tan a' = s tan a / (R - r)
//
// Source: geometry. The tip is at the root of an external thread.
func rakeAngle(a unit.Angle, crest, root unit.Length, g unit.Angle) unit.Angle {
	R, r := float64(crest), float64(root)
	if R <= r || r <= 0 {
		return a
	}
	s := math.Sqrt(R*R-r*r*g.Sin()*g.Sin()) - r*g.Cos()
	return unit.Angle(math.Atan(a.Tan() * s / (R - r)))
}

// taperSteps says how a taper thread is cut: by the taper attachment or with the
// tailstock set over, the tool square to the axis of the work.
func (b *builder) taperSteps() error {
	if b.th.Taper.IsZero() {
		return nil
	}
	w := &b.plan.Work
	between := w.Stickout
	if b.internal() { // a bore cannot be reached between centres
		w.Holding = append(w.Holding, fmt.Sprintf("taper: set the taper attachment to %s from the axis", b.th.TaperAngle().Format(3)))
	} else if over, err := b.th.SetOver(between); err == nil {
		w.Holding = append(w.Holding, fmt.Sprintf("taper: set the taper attachment to %s from the axis, or between centres set the tailstock over by %s (for a part %s from centre to centre: measure yours)",
			b.th.TaperAngle().Format(3), b.len(over), b.len(between)))
		if have := b.la.Tailstock.SetOver; have > 0 && over > have {
			b.hazard(Warning, fmt.Sprintf("the tailstock of this lathe sets over only %s", b.len(have)), "use a taper attachment")
		}
	}
	w.Holding = append(w.Holding, "square the tool to the axis of the WORK, never to the tapered surface")
	if g := b.th.Gauge; g != nil {
		plane, places := "in the "+endOf(b.internal()), ""
		at := func(x unit.Length) string {
			return b.len(w.Blank.Target + b.th.DiametersAt(x).Major - b.th.DiametersAt(g.Plane).Major)
		}
		if g.Plane > 0 {
			plane = b.len(g.Plane) + " from the " + endOf(b.internal())
			places = ", " + at(g.Plane) + " in the gauge plane"
		}
		w.Holding = append(w.Holding, "limits and readings hold in the gauge plane, "+plane,
			fmt.Sprintf("%s to the taper first: %s at the %s%s, %s after %s", turnOrBore(b.internal()), at(0), endOf(b.internal()), places, at(w.Length), b.len(w.Length)))
	}
	return nil
}

func turnOrBore(internal bool) string {
	if internal {
		return "bore"
	}
	return "turn the blank"
}

func endOf(internal bool) string {
	if internal {
		return "face"
	}
	return "small end"
}
