package plan

import (
	"fmt"
	"math"

	"thrum/cut"
	"thrum/thread"
	"thrum/unit"
)

// side clearance below the cutting edge beyond the lead angle.
// Common practice, no source: three degrees is the least that does not rub, five
// leaves the edge strong.
const sideClearance = 5 * unit.Degree

// tool settles the tool: material, tip, profile, clearances, and from them how
// deep the tip stands at the size aimed at.
func (b *builder) tool() error {
	t := &b.plan.Tool
	t.Material, t.Profile = "hss", "partial"
	if b.req.ToolMaterial != "" {
		t.Material = b.req.ToolMaterial
	}
	if b.req.ToolProfile != "" {
		t.Profile = b.req.ToolProfile
	}
	t.Included = b.th.Form.Included()
	t.Flat, t.Radius = b.tipSizes()

	tm := cut.HSS
	if t.Material == "carbide" {
		tm = cut.Carbide
	}
	edge, err := cut.FindEdge(b.req.Edge, tm)
	if err != nil {
		return err
	}
	b.profile = cut.Tool{
		Leading: b.th.Form.Leading, Trailing: b.th.Form.Trailing, NoseRadius: t.Radius, NoseFlat: t.Flat,
		FullProfile: t.Profile == "full", Edges: cut.BothEdges, Edge: edge,
	}

	minor := b.th.Basic.Minor
	if minor <= 0 {
		minor = b.th.Basic.Pitch
	}
	lambda := unit.Angle(math.Atan(float64(b.th.Lead().Length()) / (math.Pi * float64(minor))))
	t.LeadingRelief, t.TrailRelief = sideClearance+lambda, sideClearance-lambda
	b.reason("tool", "geometry", "the helix stands at %s at the minor diameter, so the leading side needs that much more clearance and the trailing side that much less",
		lambda.Format(1))
	t.Steps = b.toolSteps(lambda)
	return nil
}

// tipSizes returns the flat or the radius of the tip: as asked, else that of the
// form's root.
func (b *builder) tipSizes() (flat, radius unit.Length) {
	if b.req.TipFlat > 0 || b.req.TipRadius > 0 {
		return b.req.TipFlat, b.req.TipRadius
	}
	p := b.th.Pitch.Length()
	f := b.th.Form
	switch {
	case f.RootRadius > 0 && !b.internal():
		radius = p * unit.Length(f.RootRadius)
		b.assume("tool", "measure the tip and give --tip-radius or --tip-flat", false,
			"the tip has the radius of the form's root, %s", b.len(radius))
	case b.internal() && f.Symmetric() && f.Leading == 30*unit.Degree:
		flat = p / 16
		b.assume("tool", "measure the flat and give --tip-flat", false,
			"the tip of the internal tool has a flat of a sixteenth of the pitch, %s, so that the screw's crest clears", b.len(flat))
	case f.Leading == 30*unit.Degree && f.Symmetric():
		flat = p / 8
		b.assume("tool", "measure the flat and give --tip-flat", false, "the tip has a flat of an eighth of the pitch, %s", b.len(flat))
	case f.CrestRadius > 0:
		radius = p * unit.Length(f.CrestRadius)
		b.assume("tool", "measure the tip and give --tip-radius", false, "the tip has the radius of the form, %s", b.len(radius))
	default:
		flat = p * unit.Length(f.RootFlat)
		b.assume("tool", "measure the flat and give --tip-flat", false, "the tip has the flat of the form's root, %s", b.len(flat))
	}
	return flat, radius
}

func (b *builder) toolSteps(lambda unit.Angle) []string {
	t := b.plan.Tool
	lead, trail := "towards the chuck", "towards the tailstock"
	if b.fromChuck() {
		lead, trail = trail, lead
	}
	steps := []string{
		"tip exactly at centre height: too low narrows the form and digs in, too high rubs",
		"square to the axis of the work, not to the blank's surface: set it with a thread gauge against the cylinder or the tailstock quill",
		clearances(t.LeadingRelief, t.TrailRelief, lead, trail),
	}
	if t.TrailRelief < unit.Degree {
		steps = append(steps, fmt.Sprintf("the helix angle of %s is large: tilt the tool or its seat to it", lambda.Format(1)))
	}
	if t.Material == "hss" {
		steps = append(steps, "no top rake, or correct the form for it; stone both flanks")
	} else {
		steps = append(steps, "insert seat tilted to the helix as its maker asks; the holder's own rake is part of the form")
	}
	if t.Flat > 0 {
		steps = append(steps, "measure the tip's flat with a magnifier: it decides the depth")
	}
	return steps
}

// clearances words how the sides of the tool are ground. On a steep helix the trailing
// side needs none of its own: it may even lean out under its edge and still clear.
func clearances(leading, trailing unit.Angle, lead, trail string) string {
	s := fmt.Sprintf("clearance %s on the side %s (leads)", leading.Format(1), lead)
	if trailing < 0 {
		return s + fmt.Sprintf("; the side %s may lean outwards by up to %s and still clears", trail, (-trailing).Format(1))
	}
	return s + fmt.Sprintf(", %s on the side %s", trailing.Format(1), trail)
}

// fromChuck tells whether the tool travels away from the chuck. With the spindle
// forward a left-hand thread does so by itself; a right-hand one only in reverse.
func (b *builder) fromChuck() bool { return b.th.Hand == thread.Left || b.req.Away }

// needsReverse tells whether the spindle has to run backwards while cutting.
func (b *builder) needsReverse() bool { return b.th.Hand == thread.Right && b.req.Away }

// blank settles the diameter before threading, chamfer and relief diameter.
func (b *builder) blank() error {
	w := &b.plan.Work
	m := b.plan.Limits.Member()
	w.Length = b.req.Length
	p := b.th.Pitch.Length()
	below, err := b.belowPitchLine()
	if err != nil {
		return b.tipTooWide()
	}
	pitch := m.Pitch.Target
	full := b.plan.Tool.Profile == "full"

	if b.internal() {
		w.Blank = m.Minor
		b.surface = m.Minor.Target
		if full {
			// Common practice, no source: the insert tops the crest.
			b.surface -= p / 20
			w.Blank = Limit{Max: m.Minor.Min, Target: b.surface, Why: "undersize bore: the full-profile tool forms the crest"}
		}
		b.tipDepth = (pitch-b.surface)/2 + below
		w.ChamferTo = max(m.Major.Min, b.surface+2*b.tipDepth) + p/10
		w.ReliefDia = b.surface + 2*b.tipDepth + p/5
	} else {
		w.Blank = m.Major
		b.surface = m.Major.Target
		if full {
			b.surface = m.Major.Max + p/20
			w.Blank = Limit{Min: m.Major.Max, Target: b.surface, Why: "oversize blank: the full-profile tool forms the crest"}
		}
		b.tipDepth = (b.surface-pitch)/2 + below
		w.ChamferTo = b.surface - 2*b.tipDepth - p/10
		w.ReliefDia = b.surface - 2*b.tipDepth - p/5
	}
	if g := b.th.Gauge; !b.th.Taper.IsZero() && g != nil { // the limits hold in the gauge plane, chamfer and relief lie at the ends
		there := b.th.DiametersAt(g.Plane).Major
		w.ChamferTo += b.th.DiametersAt(0).Major - there
		w.ReliefDia += b.th.DiametersAt(b.req.Length).Major - there
	}
	w.ChamferAngle = 45 * unit.Degree
	if err := b.askedRelief(); err != nil {
		return err
	}
	w.ReliefCorner = p / 2
	b.reason("depth", "geometry: the groove is half a pitch wide at the pitch diameter",
		"with this tip the full depth is %s from the blank's surface of %s to reach a pitch diameter of %s", b.len(b.tipDepth), b.len(b.surface), b.len(pitch))
	return b.checkDepth(pitch, below)
}

// askedRelief takes the relief's diameter from the drawing: one that the tip would run
// into is no relief.
func (b *builder) askedRelief() error {
	w, asked := &b.plan.Work, b.req.ReliefDiameter
	if asked == 0 {
		return nil
	}
	clear := b.th.Pitch.Length() / 5 // of the usual relief, on the diameter
	bad := func(reason, hint string, root unit.Length) error {
		return &unit.InputError{
			Field: "relief diameter", Value: asked.Format(b.req.Units, 3), Reason: fmt.Sprintf("is %s than the root of the thread, %s: the tool would run into it", reason, b.len(root)),
			Hint: hint + b.len(root) + "; usual is " + b.len(w.ReliefDia),
		}
	}
	if root := w.ReliefDia + clear; !b.internal() && asked > root+1e-9 {
		return bad("larger", "at most ", root)
	}
	if root := w.ReliefDia - clear; b.internal() && asked < root-1e-9 {
		return bad("smaller", "at least ", root)
	}
	w.ReliefDia = asked
	return nil
}

// tipName is what the tip's size is called in messages.
func (b *builder) tipName() string {
	if b.plan.Tool.Radius > 0 {
		return "tip radius"
	}
	return "tip flat"
}

func (b *builder) tipTooWide() error {
	return &unit.InputError{
		Field: b.tipName(), Value: max(b.plan.Tool.Flat, b.plan.Tool.Radius).Format(b.req.Units, 4),
		Reason: "is wider than the groove at the pitch line (half a pitch)",
		Hint:   "for this thread it must be well under " + (b.th.Pitch.Length()/2).Format(b.req.Units, 4),
	}
}

// checkDepth compares where the tip stands at size with the limits of the root,
// and refuses a tip that cannot make the thread.
func (b *builder) checkDepth(pitch, below unit.Length) error {
	tipName := b.tipName()
	if b.tipDepth <= 0 {
		return b.tipTooWide()
	}
	m := b.plan.Limits.Member()
	if b.internal() {
		if root := pitch + 2*below; root < m.Major.Min-0.0005 {
			b.hazard(Warning, fmt.Sprintf("at size the root of the groove stands at %s, inside the least major diameter %s: the %s is too wide",
				b.len(root), b.len(m.Major.Min), tipName), "use a narrower tip")
		}
		return nil
	}
	root := pitch - 2*below
	if root <= 0 {
		return &unit.InputError{
			Field: "thread", Value: b.req.Callout, Reason: "leaves no core: the root would reach the axis",
			Hint: "check diameter and pitch",
		}
	}
	if b.req.Bore > 0 && b.req.Bore >= root {
		return &unit.InputError{
			Field: "bore", Value: b.req.Bore.Format(b.req.Units, 4), Reason: "is larger than the root diameter " + b.len(root),
			Hint: "the thread would cut into the hole",
		}
	}
	if m.Minor.Max > 0 && root > m.Minor.Max+0.0005 {
		b.hazard(Warning, fmt.Sprintf("at size the root stands at %s, above the greatest minor diameter %s: the %s is too wide",
			b.len(root), b.len(m.Minor.Max), tipName), "use a narrower tip")
	}
	return nil
}
