package plan

import (
	"fmt"
	"math"

	"thrum/shaft"
	"thrum/unit"
)

// Stiffnesses used where the lathe file has none. Orders of magnitude only, from
// memory of published ranges for small lathes: three-jaw chuck 20 to 80 N/um,
// tailstock with live centre 3 to 20 N/um, tool post and slides 10 to 40 N/um.
const (
	usualChuck     = 40 * unit.NewtonPerMicrometre
	usualChuckTilt = 5e4 * unit.NewtonMetrePerRadian
	usualTailstock = 8 * unit.NewtonPerMicrometre
	usualTool      = 20 * unit.NewtonPerMicrometre
	stationCount   = 9
)

// slender is the stick-out in diameters beyond which a part without a centre bends
// and whips. Common practice, no source.
const slender = 3.0

// holding says how the part is held and what that means for it.
func (b *builder) holding() error {
	w := &b.plan.Work
	w.Centre = b.req.Centre
	w.Stickout = b.req.Stickout
	if w.Stickout == 0 {
		w.Stickout = w.Length + w.ReliefWidth + unit.Length(10)
		b.assume("stick-out", "measure it from the jaws to the end of the part: --stickout", true, "the part stands %s out of the chuck", b.len(w.Stickout))
	} else if need := w.Length + w.ReliefWidth; w.Stickout < need && !b.internal() { // a bore may run on between the jaws
		b.hazard(Forbidden, fmt.Sprintf("thread %s and relief %s do not fit in front of the jaws: the part stands out only %s; the tool would run into the chuck",
			b.len(w.Length), b.len(w.ReliefWidth), b.len(w.Stickout)), "let the part stand out at least "+b.len(need+5))
	}
	b.capacity()
	d := b.th.Nominal
	w.LengthOverDia = float64(w.Stickout / d)
	w.Holding = append(w.Holding, "draw a witness line across jaw and work: a part that slips loses the thread's place")
	switch {
	case b.internal():
		w.Holding = append(w.Holding, "the boring bar reaches as far as the thread: as thick and as short as the bore lets it be")
	case w.Centre:
		w.Holding = append(w.Holding, "centre-drill the end, centre snug and oiled; check that tool and holder pass the tailstock at the start")
	case w.LengthOverDia > slender:
		b.hazard(Warning, fmt.Sprintf("the part stands out %.1f diameters without a centre: it bends away from the tool, and can whip", w.LengthOverDia),
			"use the tailstock centre", "shorten the stick-out", b.restWords())
	default:
		w.Holding = append(w.Holding, fmt.Sprintf("stands out %.1f diameters: no centre needed for bending", w.LengthOverDia))
	}
	if b.req.Bore > 0 {
		b.wall()
		w.Holding = append(w.Holding, "thin wall: light jaws or a plug, and measure again after taking it out of the chuck")
	}
	return nil
}

// capacity forbids work that does not go onto this lathe.
func (b *builder) capacity() {
	bed, w := b.la.Bed, b.plan.Work
	if !b.internal() && bed.SwingOverCross > 0 && b.surface > bed.SwingOverCross {
		b.hazard(Forbidden, fmt.Sprintf("a blank of %s does not pass over the cross slide of this lathe, which clears %s", b.len(b.surface), b.len(bed.SwingOverCross)), "use a larger lathe")
	}
	if b.internal() && bed.Swing > 0 && b.surface >= bed.Swing {
		b.hazard(Forbidden, fmt.Sprintf("a part with a bore of %s does not turn over the bed of this lathe, which clears %s", b.len(b.surface), b.len(bed.Swing)), "use a larger lathe")
	}
	if bed.Centres > 0 && max(w.Stickout, w.Length) > bed.Centres {
		b.hazard(Forbidden, fmt.Sprintf("the part stands out %s, and this lathe takes %s between centres", b.len(max(w.Stickout, w.Length)), b.len(bed.Centres)), "use a longer lathe")
	}
	if dia := b.req.BarDiameter; b.internal() && dia > 0 && dia+b.tipDepth >= b.surface {
		b.hazard(Forbidden, fmt.Sprintf("a bar of %s leaves no room in a bore of %s to draw the tool out of a groove %s deep", b.len(dia), b.len(b.surface), b.len(b.tipDepth)),
			"use a bar thinner than "+b.len(b.surface-b.tipDepth)+"; two thirds of the bore is usual")
	}
}

// How thick a wall must stand under a thread, in depths of the thread: thinner than thinWall
// it is pressed out of round by the jaws and pushed away by the tool, thinner than foil it
// tears. Common practice, no source.
const (
	thinWall = 1
	foil     = 0.25
)

// slack is the mean radius of a tube in walls beyond which it counts as thin: it bends as
// a ring under the jaws. Source: the limit of thin-walled tubes in strength of materials.
const slack = 10

// wall says what is left of a hollow part under its thread.
func (b *builder) wall() {
	m := b.plan.Limits.Member()
	deepest, where := m.Minor.Target, "thread"
	if w := b.plan.Work; w.ReliefWidth > 0 && w.ReliefDia < deepest {
		deepest, where = w.ReliefDia, "relief"
	}
	left := (deepest - b.req.Bore) / 2
	switch {
	case left <= 0:
		b.hazard(Forbidden, fmt.Sprintf("the %s cuts through into the hole: its root stands at %s and the hole is %s", where, b.len(deepest), b.len(b.req.Bore)), "make the hole after the thread, or a smaller one")
	case left < foil*b.tipDepth:
		b.hazard(Forbidden, fmt.Sprintf("only %s of wall would be left under the %s: the part comes apart in the cut", b.len(left), where), "bore the hole after the thread, or make it smaller")
	case left < thinWall*b.tipDepth:
		b.hazard(Warning, fmt.Sprintf("only %s of wall is left under the %s, less than the thread is deep: the jaws press it out of round, and it can give way under the cut", b.len(left), where),
			"bore the hole after the thread", "fit a plug into the hole, take light passes")
	case deepest/2-left/2 > slack*left:
		b.hazard(Warning, fmt.Sprintf("the wall under the %s is %s, on a radius of %s: three jaws press such a tube out of round, and the thread with it once it is let go", where, b.len(left), b.len(deepest/2-left/2)),
			"fit a plug into the hole where the jaws grip", "a collet, or soft jaws bored to the diameter", "bore the hole after the thread")
	}
}

// restWords says which rest helps where a centre cannot.
func (b *builder) restWords() string {
	if to := b.la.Rests.Follow; to >= b.surface {
		return "where neither is possible: the follow rest of this lathe, which takes up to " + b.len(to)
	}
	return "where neither is possible: a follow rest; the lathe file lists none for this diameter"
}

// yielding returns how much work and tool give per newton at each station.
func (b *builder) yielding(at []unit.Length) ([]shaft.Compliance, error) {
	tool := b.stiffness(b.la.Stiffness.Tool, usualTool, "stiffness.tool", "tool post and slides")
	if !b.internal() {
		bar, err := b.bar(tool, b.req.Centre)
		if err != nil {
			return nil, err
		}
		return bar.AtTool(at)
	}
	bar, err := b.boringBar(tool)
	if err != nil {
		return nil, err
	}
	tip, err := bar.AtTool([]unit.Length{bar.Length()})
	if err != nil {
		return nil, err
	}
	give := make([]shaft.Compliance, len(at)) // the work is stout: only the bar springs
	for i := range give {
		give[i] = tip[0]
	}
	return give, nil
}

// stiffness returns the measured figure, or the usual one as an assumption.
func (b *builder) stiffness(measured, usual unit.Stiffness, key, what string) unit.Stiffness {
	if measured > 0 {
		return measured
	}
	b.assume("stiffness", "measure it with a spring balance and an indicator and add "+key, false, "%s %s, a usual figure", what, usual.Format(b.req.Units))
	return usual
}

// barShare of the bore is what a boring bar usually fills. Common practice, no source.
const barShare = 0.65

// boringBar is what springs when an internal thread is cut.
func (b *builder) boringBar(tool unit.Stiffness) (*shaft.Bar, error) {
	dia, reach := b.req.BarDiameter, b.req.BarOverhang
	if dia == 0 {
		dia = unit.Length(math.Floor(float64(barShare * b.surface)))
		dia = max(dia, b.surface/2)
		b.assume("boring bar", "measure it: --bar-diameter", false, "a steel bar of %s, about two thirds of the bore", b.len(dia))
	}
	if reach == 0 {
		reach = b.plan.Work.Length + b.plan.Work.ReliefWidth + dia
		b.assume("boring bar", "measure it: --bar-overhang", false, "the bar stands %s out of its holder", b.len(reach))
	}
	steel := shaft.Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre}
	return shaft.New(shaft.Work{
		Sections: []shaft.Section{{Length: reach, Diameter: dia}}, Stuff: steel, Head: shaft.Clamped(), Tail: shaft.Free(), Tool: shaft.Tool{Radial: tool},
	})
}

// joints are factors on the stiffness of chuck and tailstock.
type joints struct{ chuck, tail float64 }

var asHeld = joints{1, 1}

// bar describes an external part as it yields: thread, relief and shank on chuck and centre.
func (b *builder) bar(tool unit.Stiffness, centre bool) (*shaft.Bar, error) {
	return shaft.New(b.work(tool, centre, asHeld))
}

// work is the part as it is held, with the centre or without.
func (b *builder) work(tool unit.Stiffness, centre bool, j joints) shaft.Work {
	st := b.la.Stiffness
	chuck := b.stiffness(st.Chuck, usualChuck, "stiffness.chuck", "chuck")
	tilt := st.ChuckTilt
	if tilt == 0 {
		tilt = usualChuckTilt
	}
	chuck, tilt = chuck*unit.Stiffness(j.chuck), tilt*unit.AngularStiffness(j.chuck)
	w := shaft.Work{Stuff: b.mat.Stuff(), Head: shaft.Joint{Radial: chuck, Tilt: tilt}, Tail: shaft.Free(), Tool: shaft.Tool{Radial: tool}}
	if centre {
		w.Tail = shaft.Joint{Radial: unit.Stiffness(j.tail) * b.stiffness(st.Tailstock, usualTailstock, "stiffness.tailstock", "tailstock and centre")}
	}
	wk := b.plan.Work
	shank := wk.Stickout - wk.Length - wk.ReliefWidth
	if shank > 0 {
		w.Sections = append(w.Sections, shaft.Section{Length: shank, Diameter: b.surface, Bore: b.req.Bore})
	}
	if wk.ReliefWidth > 0 {
		w.Sections = append(w.Sections, shaft.Section{Length: wk.ReliefWidth, Diameter: max(wk.ReliefDia, b.req.Bore+1), Bore: b.req.Bore})
	}
	w.Sections = append(w.Sections, shaft.Section{Length: wk.Length, Diameter: b.plan.Limits.Member().Pitch.Target - b.tipDepth/2, Bore: b.req.Bore})
	return w
}

// stations are places along the thread, measured from the chuck.
func (b *builder) stations() []unit.Length {
	w := b.plan.Work
	start := max(w.Stickout-w.Length, 0)
	if b.internal() {
		start = 0
	}
	at := make([]unit.Length, stationCount)
	for i := range at {
		at[i] = start + w.Length*unit.Length(float64(i)/(stationCount-1))
		at[i] = min(at[i], w.Stickout)
	}
	return at
}
