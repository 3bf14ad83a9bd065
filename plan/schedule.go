package plan

import (
	"fmt"
	"math"
	"strings"

	"thrum/cut"
	"thrum/lathe"
	"thrum/shaft"
	"thrum/unit"
)

// Caps that no calculation gives. Common practice, no source.
const (
	tipPerRootPitch = 0.10 // first pass, mm per square root of mm of pitch: the sharp tip carries it alone
	largestHSS      = unit.Length(0.20)
	largestCarbide  = unit.Length(0.25)
	roughBend       = unit.Length(0.05) // yielding of work and tool while roughing
	roughBendPitch  = 0.03              // the same for coarse threads, in pitches: what one pass leaves the next takes, if enough is left
	finishShare     = 0.5               // share of what is still left that work and tool may yield before the last pass
)

// Bounds by what the lathe can drive.
const (
	motorPower    = "motor power"
	spindleTorque = "spindle torque"
)

// infeeder is the slide that does the feeding: how far the tip goes in for one
// division of its dial.
type infeeder struct {
	dial lathe.Dial
	cos  float64     // of the angle between slide and infeed
	step unit.Length // depth for one division
}

func (b *builder) infeeder() infeeder {
	f := infeeder{dial: b.la.CrossSlide.Dial, cos: 1}
	if b.plan.Swing.Method != "straight" {
		f.dial, f.cos = b.la.Compound.Dial, b.plan.Swing.Angle.Cos()
	}
	f.step = f.dial.Step() * unit.Length(f.cos)
	return f
}

// schedule works out the passes.
func (b *builder) schedule() error {
	b.plan.Passes = []Pass{}
	if b.train == nil || len(b.plan.Blocked()) > 0 {
		return nil
	}
	if b.cutTo >= b.tipDepth {
		return nil // a thread in work that is already at size
	}
	v := b.plan.Speed.Surface
	force, err := cut.NewForce(b.mat, b.profile, v)
	if err != nil {
		return err
	}
	at := b.stations()
	give, err := b.yielding(at)
	if err != nil {
		return err
	}
	worst := shaft.Compliance(0)
	for _, g := range give {
		worst = max(worst, g)
	}
	f := b.infeeder()
	l := b.ladder(f, force, worst)
	found := l.solve()
	depths := make([]unit.Length, len(found.ends))
	for i, e := range found.ends {
		depths[i] = min(b.cutTo+unit.Length(e)*f.step, b.tipDepth)
	}
	depths[len(depths)-1] = b.tipDepth
	b.tooHeavy(found.broken)
	if b.yieldsAway(force, worst) {
		return nil
	}
	return b.fillPasses(f, depths, found, l, force, at, give)
}

// tooHeavy warns of bounds that even the lightest pass that the dial can set goes beyond,
// and names what would help against each.
func (b *builder) tooHeavy(broken []string) {
	var bends, stalls bool
	for _, name := range broken {
		switch {
		case strings.HasPrefix(name, "bending"):
			bends = true
		case name == motorPower || name == spindleTorque:
			stalls = true
		}
	}
	if stalls {
		b.hazard(Warning, "even the lightest pass that the dial can set asks for more than the motor gives at this speed: it can stall",
			"a slower step has more torque", "sharpen the tool", "a tip with a smaller flat or radius cuts a narrower chip")
	}
	if !bends {
		return
	}
	const size = "even the lightest passes that the dial can set bend %s by more than an eighth of the pitch diameter's tolerance: the last reading alone does not give the size; measure, and take spring passes"
	switch {
	case b.internal():
		b.hazard(Warning, fmt.Sprintf(size, "the boring bar"), "a thicker bar, or one that stands out less", "sharpen the tool")
	case b.req.Centre:
		b.hazard(Warning, fmt.Sprintf(size, "part and tool"), "a follow rest", "sharpen the tool", "let it stand out less")
	default:
		b.hazard(Warning, fmt.Sprintf(size, "part and tool"), "use the tailstock centre", "let it stand out less", "sharpen the tool")
	}
}

// yieldsAway blocks a set-up in which even the lightest pass bends the part by
// more than the thread is deep: nothing would be cut, and the part may climb the tool.
func (b *builder) yieldsAway(force *cut.Force, worst shaft.Compliance) bool {
	chip := b.roughChip(b.tipDepth-b.infeeder().step, b.tipDepth)
	bends := unit.Length(math.Abs(force.Of(chip).Radial.N()) * worst.MMPerN())
	if bends <= b.tipDepth/2 {
		return false
	}
	b.hazard(Forbidden, fmt.Sprintf("the part bends away by %s under the lightest pass at full depth, against a thread %s deep: it would not be cut, and could climb the tool or whip",
		b.len(bends), b.len(b.tipDepth)), "use the tailstock centre", "let it stand out less", "a follow rest")
	return true
}

// ladder states the schedule as a problem over the divisions of the dial.
func (b *builder) ladder(f infeeder, force *cut.Force, worst shaft.Compliance) ladder {
	n := max(int(math.Round(float64((b.tipDepth-b.cutTo)/f.step))), 1)
	depth := func(i int) unit.Length { return b.cutTo + unit.Length(i)*f.step }
	p := float64(b.th.Pitch.Length())

	firstMost := unit.Length(tipPerRootPitch * math.Sqrt(p))
	stepMost := largestHSS
	if b.plan.Tool.Material == "carbide" {
		stepMost = largestCarbide
	}
	if b.req.MaxDepth > 0 {
		stepMost = b.req.MaxDepth
	}
	// The chip on a flank is thinner than the infeed; twice the edge's least chip
	// keeps both flanks cutting with straight infeed.
	least := b.profile.Edge.MinHi * 2
	// within returns the deepest division that keeps a growing quantity below most:
	// strides that double, then halving.
	within := func(i int, most float64, of func(i, j int) float64) int {
		fits := func(j int) bool { return of(i, j) <= most*(1+1e-9) }
		lo, stride := i, 1
		for lo < n && fits(min(lo+stride, n)) {
			lo = min(lo+stride, n)
			stride *= 2
		}
		hi := min(lo+stride, n+1)
		for hi-lo > 1 {
			if mid := (lo + hi) / 2; fits(mid) {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	known := make([]cut.Forces, (n+1)*(n+1)) // every bound asks for the same steps
	forces := func(i, j int) cut.Forces {
		f := &known[i*(n+1)+j]
		if f.Tangential == 0 {
			*f = force.Of(b.roughChip(depth(i), depth(j)))
		}
		return *f
	}
	infeed := func(i, j int) float64 { return float64(depth(j) - depth(i)) }
	bend := func(i, j int) float64 { return math.Abs(forces(i, j).Radial.N()) * worst.MMPerN() }
	v := b.plan.Speed.Surface

	first := int(math.Round(float64((b.cutTo + b.dialAhead) / f.step))) // divisions that the dial shows at the start
	l := ladder{n: n, round: func(i int) bool { return (first+i)%5 == 0 }}
	add := func(name string, most float64, of func(i, j int) float64) {
		if most <= 0 || math.IsInf(most, 1) {
			return
		}
		l.bounds = append(l.bounds, bound{name, func(i int, relax float64) int { return within(i, most*relax, of) }})
	}
	add("first pass: tip strength", float64(firstMost), func(i, j int) float64 {
		if i > 0 || b.cutTo > 0 {
			return 0
		}
		return infeed(i, j)
	})
	add("largest infeed", float64(stepMost), infeed)
	if w := b.motorPower(); w > 0 {
		add(motorPower, w.W(), func(i, j int) float64 { return forces(i, j).Power(v).W() })
	}
	if tq := b.spindleTorque(); tq > 0 {
		add(spindleTorque, tq.NM(), func(i, j int) float64 { return forces(i, j).Torque(b.surface).NM() })
	}
	if most, ok := b.usualArea(); ok {
		add("chip area", most, func(i, j int) float64 { return b.roughChip(depth(i), depth(j)).Area.MM2() })
	}
	add("bending while roughing", max(float64(roughBend), roughBendPitch*p), bend)
	finish := float64(max(b.th.Limits.Pitch.Width()/8, 0.002))
	// Measure while between about a thirtieth and a twelfth of the pitch is left.
	lo, hi := n-max(int(math.Round(0.08*p/float64(f.step))), 3), n-max(int(math.Round(0.03*p/float64(f.step))), 2)
	if lo > 1 && lo < hi && n > 6 {
		l.window = [2]int{lo, hi}
		// What a pass leaves is cut by the next one, so only the last must be true: the
		// allowance shrinks with what is left.
		add("bending while finishing", 1, func(i, j int) float64 {
			if i < lo {
				return 0
			}
			left := float64(depth(n) - depth(j))
			return bend(i, j) / (finish + finishShare*left)
		})
	} else {
		l.window = [2]int{0, -1}
	}
	steps := max(int(math.Ceil(float64(least/f.step))), 1)
	l.least = func(int) int { return steps }
	ref := math.Max(forces(0, n).Tangential.N()/10, 1e-9)
	l.load = func(i, j int) float64 { return forces(i, j).Tangential.N() / ref }
	return l
}

// usualArea returns the greatest chip area of a pass in mm2: what the tool makers' rule
// (cut.ToolMakersRule) takes from its third pass on, A/(n-1), in the least number of passes
// that they recommend for the pitch. False where they recommend none.
func (b *builder) usualArea() (float64, bool) {
	usual, ok := cut.UsualPasses(b.th.Pitch.Length(), b.th.Form.Included() < 45*unit.Degree)
	if !ok || b.parallel() {
		return 0, false
	}
	return b.roughChip(0, b.tipDepth).Area.MM2() / float64(usual.Lo-1), true
}

// roughChip is the chip between two depths in the closed forms of a V with a tip:
// flanks of length d/cos(a), thickness by the direction of infeed. The exact chips
// follow once the passes are known.
func (b *builder) roughChip(from, to unit.Length) cut.Chip {
	d := float64(to - from)
	mid := float64(from+to) / 2
	a1, a2 := b.th.Form.Leading, b.th.Form.Trailing
	t := b.plan.Swing.Angle.Tan()
	if b.plan.Swing.Method == "alternating" {
		t = 0
	}
	width := float64(b.plan.Tool.Flat)
	if r := float64(b.plan.Tool.Radius); r > 0 {
		width = r * (a1.Cos() + a2.Cos())
	}
	edge := func(length, thick float64) cut.EdgeChip {
		thick = math.Max(thick, 0)
		return cut.EdgeChip{
			Length: unit.Length(length), Thickness: unit.Length(thick), Mean: unit.Length(thick), Area: unit.Area(length * thick),
		}
	}
	var c cut.Chip
	c.Edges[cut.LeadingFlank] = edge(mid/a1.Cos(), d*(a1.Sin()+t*a1.Cos()))
	c.Edges[cut.TrailingFlank] = edge(mid/a2.Cos(), d*(a2.Sin()-t*a2.Cos()))
	c.Edges[cut.Nose] = edge(width, d)
	for _, e := range c.Edges {
		c.Area += e.Area
	}
	return c
}

// motorPower is what reaches the spindle.
func (b *builder) motorPower() unit.Power {
	m := b.la.Motor
	if m.Power <= 0 {
		b.assume("power", "add motor.power to the lathe file", false, "the motor is strong enough: its power is not in the lathe file")
		return 0
	}
	eff := 0.75
	if !m.Efficiency.IsZero() {
		eff = m.Efficiency.Float()
	} else {
		b.assume("power", "add motor.efficiency to the lathe file", false, "three quarters of the motor's power reach the spindle")
	}
	return m.Power * unit.Power(eff)
}

func (b *builder) spindleTorque() unit.Torque {
	for _, s := range b.la.Speeds {
		if s.RPM == b.plan.Speed.RPM {
			return s.Torque
		}
	}
	return 0
}

// fillPasses turns depths into passes: dial readings, exact chips, forces, and
// what the yielding part leaves.
func (b *builder) fillPasses(f infeeder, depths []unit.Length, found schedule, l ladder, force *cut.Force,
	at []unit.Length, give []shaft.Compliance,
) error {
	g, err := b.groove()
	if err != nil {
		return err
	}
	cutter, err := cut.NewCutter(g)
	if err != nil {
		return err
	}
	all := depths
	if b.cutTo > 0 { // what is already cut counts as one pass that came before
		all = append([]unit.Length{b.cutTo}, depths...)
	}
	pos, err := cutter.Positions(all, b.infeed())
	if err != nil {
		return err
	}
	chips, _, err := cutter.Cut(pos)
	if err != nil {
		return err
	}
	bend, err := cutter.Follow(force, pos, at, give)
	if err != nil {
		return err
	}
	chips, bend.Achieved = chips[len(all)-len(depths):], bend.Achieved[len(all)-len(depths):]
	b.force, b.chips = force, chips
	measured := false
	previous := b.cutTo
	for i, d := range depths {
		p := Pass{N: b.done + i + 1, Depth: d, Infeed: d - previous, GovernedBy: found.governed[i], RPM: b.plan.Speed.RPM}
		previous = d
		p.Cross, p.Compound = b.readings(f, d+b.dialAhead)
		if last := len(depths) - b.req.FinalStraight - 1; i > last && last >= 0 && b.plan.Swing.Method != "straight" {
			_, p.Compound = b.readings(f, depths[last]+b.dialAhead)
			p.Cross = b.straightIn(d - depths[last])
		}
		fs := force.Of(chips[i])
		p.Area = chips[i].Area.MM2()
		p.Chip = chips[i].Edges[cut.LeadingFlank].Thickness
		p.Trailing = chips[i].Edges[cut.TrailingFlank].Thickness
		p.Force, p.Radial, p.Axial, p.Power = fs.Tangential, fs.Radial, fs.Axial, fs.Power(b.plan.Speed.Surface)
		p.Achieved = leastOf(bend.Achieved[i])
		if b.plan.Speed.Finish > 0 && measured {
			p.RPM = b.plan.Speed.Finish
		}
		p.Measure = l.measures(found.ends, i)
		measured = measured || p.Measure
		b.plan.Passes = append(b.plan.Passes, p)
	}
	b.plan.Passes[len(depths)-1].Measure = true
	b.fillBend(bend)
	b.cautions(chips)
	if err := b.springs(cutter, force, pos, give); err != nil {
		return err
	}
	b.tearing()
	return nil
}

func leastOf(l []unit.Length) unit.Length {
	m := unit.Length(math.Inf(1))
	for _, v := range l {
		m = min(m, v)
	}
	if math.IsInf(float64(m), 0) {
		return 0
	}
	return m
}

// readings gives where both dials stand for a depth of the tip: on a division, since
// nobody sets a tenth of one twenty times. The full depth seldom lies on one, and half a
// division is a good part of the tolerance: there it is set on a line or midway between two.
func (b *builder) readings(f infeeder, depth unit.Length) (cross, compound Reading) {
	zero := func(d lathe.Dial) Reading { return Reading{Text: "0", Kind: d.Words()} }
	cross, compound = zero(b.la.CrossSlide.Dial), zero(b.la.Compound.Dial)
	travel := unit.Length(float64(depth) / f.cos)
	if depth == b.tipDepth+b.dialAhead {
		travel = f.dial.RoundHalf(travel)
	} else {
		travel = f.dial.Round(travel)
	}
	r := f.dial.Reading(travel)
	shown := Reading{Text: r.Text, Turns: r.Turns, Part: r.Shows, Slide: travel, Kind: f.dial.Words()}
	if b.plan.Swing.Method == "straight" {
		cross = shown
	} else {
		compound = shown
	}
	return cross, compound
}

// springs says how many passes at the final reading bring the pitch diameter to
// size where the part gives most, and when they no longer cut.
func (b *builder) springs(cutter *cut.Cutter, force *cut.Force, pos []cut.Position, give []shaft.Compliance) error {
	worst := shaft.Compliance(0)
	for _, g := range give {
		worst = max(worst, g)
	}
	tol := b.th.Limits.Pitch.Width() / 4
	if tol <= 0 || b.plan.Bend == nil {
		return nil
	}
	s, err := cutter.SpringPasses(force, pos, worst, b.profile.Edge, tol)
	if err != nil {
		return err
	}
	b.plan.Bend.Spring = s.Passes
	switch {
	case s.Passes == 0:
	case !s.Reached:
		b.plan.Bend.Words += fmt.Sprintf("; spring passes alone do not bring it within a quarter of the tolerance, %s remains", b.len(s.Left))
	default:
		b.plan.Bend.Words += fmt.Sprintf("; spring passes to within a quarter of the tolerance: %d", s.Passes)
		if s.Rubs {
			b.plan.Bend.Words += ", the last of which only rub: take a light cut and measure instead"
		}
	}
	return nil
}

// tearing says how likely the flanks are to tear at the speed of the last passes.
func (b *builder) tearing() {
	v := b.plan.Passes[len(b.plan.Passes)-1].RPM.Surface(b.surface)
	t := b.tears(b.plan.Speed.Oil)
	b.plan.Speed.Note = "torn flanks are " + t.Chance.String() + ": "
	if t.Band.Given() {
		sys := b.req.Units
		b.plan.Speed.Note += fmt.Sprintf("%s sticks to the edge between about %s and %s (worst %s to %s) at this chip; this is %s",
			b.mat.Name, t.Band.Low.Format(sys, 0), t.Band.High.Format(sys, 0), t.Worst.Low.Format(sys, 0), t.Worst.High.Format(sys, 0), v.Format(sys, 0))
	} else {
		b.plan.Speed.Note += t.Why
	}
	if cure := t.Cure(b.req.Units); cure != "" {
		b.plan.Speed.Note += "; " + cure
	}
	b.reason("finish", t.Source, "built-up edge: %s", t.Confidence)
}

// tears judges the built-up edge in the last pass with a fluid.
func (b *builder) tears(fluid string) cut.Tearing {
	last := b.plan.Passes[len(b.plan.Passes)-1]
	return cut.BuiltUpEdge(b.mat, b.profile.Edge.Material, last.RPM.Surface(b.surface), last.Chip, cut.KindOfFluid(fluid))
}

// straightIn is where the cross slide stands when it goes in from its zero.
func (b *builder) straightIn(depth unit.Length) Reading {
	dial := b.la.CrossSlide.Dial
	travel := dial.RoundHalf(depth)
	r := dial.Reading(travel)
	return Reading{Text: r.Text, Turns: r.Turns, Part: r.Shows, Slide: travel, Kind: dial.Words()}
}

// cautions passes on what the chips give cause to mind: it never forbids.
func (b *builder) cautions(chips []cut.Chip) {
	for _, c := range cut.Cautions(chips, b.profile, b.mat) {
		text := c.Text
		if n := b.done + c.Pass; n > 1 {
			text = fmt.Sprintf("from pass %d on: %s", n, text)
		}
		b.hazard(Warning, text, c.Cure)
		if c.Source != "" {
			b.reason("edge", c.Source, "%s", c.Text)
		}
	}
}

func (b *builder) fillBend(bend *cut.Bend) {
	out := &Bend{At: bend.Stations, PitchError: bend.Error}
	if len(bend.Error) == 0 {
		return
	}
	lo, hi := bend.Error[0], bend.Error[0]
	for _, e := range bend.Error {
		lo, hi = min(lo, e), max(hi, e)
	}
	out.Taper = hi - lo
	tol := b.th.Limits.Pitch.Width()
	switch {
	case tol > 0 && out.Taper > tol/2:
		out.Words = fmt.Sprintf("the pitch diameter varies by %s along the thread, more than half its tolerance: support the part or take spring passes", b.len(out.Taper))
		b.hazard(Warning, out.Words, "use a centre or a shorter stick-out", "spring passes at the final reading")
	default:
		out.Words = fmt.Sprintf("the pitch diameter varies by %s along the thread", b.len(out.Taper))
	}
	b.plan.Bend = out
}
