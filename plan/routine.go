package plan

import (
	"fmt"

	"thrum/unit"
)

// routine writes what comes before the first chip.
func (b *builder) routine() error {
	clear := "out"
	if b.internal() {
		clear = "in, away from you"
	}
	r := &b.plan.Routine
	r.Zero = []Step{
		{Do: "compound: wind " + compoundWay(b.internal()) + " until its lost motion is out, set its dial to 0"},
		{Do: "spindle running, touch the blank with the tip, coming from the " + sideFrom(b.internal()) + " without winding back", Check: "the faintest line shows"},
		{Do: "set the cross-slide dial to 0; from now on the cross slide comes back to 0 for every pass unless the pass table says otherwise"},
		{Do: "overshot a dial? back half a turn and come up again"},
	}
	r.Air = []Step{
		{Do: "cross slide one turn " + clear + ", tool clear; " + b.plan.Stopping.Start},
		{Do: "run one pass without cutting and end it: " + b.plan.Stopping.Words, Check: b.airCheck()},
	}
	count, over := b.scratchCount()
	slide, reading := b.scratchReading()
	r.Scratch = []Step{
		{Do: fmt.Sprintf("%s to %s and take a scratch pass", slide, reading)},
		{
			Do:    "stop; count the lines against a rule or a pitch gauge",
			Check: fmt.Sprintf("%d turns of the helix over %s, %s hand; no pass 1 before this is right", count, b.len(over), handWords(b.plan.Thread.LeftHand)),
		},
		{Do: "wrong? levers, wheels and tumbler first; then the dial line", Check: "scratch again beside the first line: it must fall into it"},
	}
	r.Again = []Step{
		{Do: "tool reground, insert turned, or part back in the chuck: half nuts closed, turn the spindle forward by hand until lost motion is out; never back"},
		{Do: "with the spindle at rest move compound and cross slide until the tip sits on both flanks", Check: "light shows on neither side"},
		{Do: "set both dials to 0 there; take the remaining passes from a fresh plan: thrum passes --fresh-zero"},
	}
	return nil
}

// compoundWay is the way in which the compound feeds the tool into the work: its
// lost motion must be out on that side.
func compoundWay(internal bool) string {
	if internal {
		return "back, towards you,"
	}
	return "forward"
}

// airCheck says where the tool must stand when an air pass has ended.
func (b *builder) airCheck() string {
	switch {
	case b.plan.Stopping.Method == EndAway && b.req.Centre:
		return "the tool has left the thread, and neither it nor its holder has come near the centre; do it until it is easy"
	case b.plan.Stopping.Method == EndAway || b.req.OpenEnd:
		return "the tool has run clear of the end of the thread with nothing in its way; do it until it is easy"
	}
	return "the tool ends inside the relief with room to spare; do it until it is easy"
}

func sideFrom(internal bool) string {
	if internal {
		return "middle of the bore"
	}
	return "outside"
}

func handWords(left bool) string {
	if left {
		return "left"
	}
	return "right"
}

// scratchReading is a mark deep enough to be seen and shallow enough to be turned away.
func (b *builder) scratchReading() (slide, reading string) {
	f := b.infeeder()
	n := max(1, int(0.03/float64(f.step)+0.5))
	cross, compound := b.readings(f, unit.Length(n)*f.step)
	if b.plan.Swing.Method == "straight" {
		return "cross slide", cross.Text
	}
	return "compound", compound.Text
}

// scratchCount says what to count: whole turns of one helix over a length that a
// rule shows exactly.
func (b *builder) scratchCount() (turns int, over unit.Length) {
	lead := b.plan.Thread.LeadExact
	perInch, err := unit.MustRatio(127, 5).Quo(lead)
	if err == nil && perInch.IsWhole() && b.req.Length >= unit.Inch {
		return int(perInch.Num()), unit.Inch
	}
	if err == nil && perInch.IsWhole() && perInch.Num()%2 == 0 && b.req.Length >= unit.Inch/2 {
		return int(perInch.Num() / 2), unit.Inch / 2
	}
	turns = max(1, min(10, int(float64(b.req.Length)/lead.Float())))
	return turns, lead.Length() * unit.Length(turns)
}

// finish writes what comes after the last pass.
func (b *builder) finish() error {
	m := b.plan.Limits.Member()
	check := "pitch diameter inside " + b.num(m.Pitch.Min) + " to " + b.len(m.Pitch.Max)
	if b.plan.Wires != nil {
		check = b.plan.Size.Headline
	}
	measure := "clean the thread, let it cool, measure at three places along it"
	first := "break the sharp crest with a fine file while the spindle turns slowly: left hand on the handle, no rag, no loose sleeve"
	if b.internal() {
		first = "break the sharp crest with a scraper or a light bore pass at standstill"
	}
	b.plan.Finish = []Step{
		{Do: measure, Check: check},
		{Do: first},
		{Do: "take the first, thin part-turn of thread away at both ends, so that it cannot cross or cut a hand"},
		{Do: "try the gauge or the mating part", Check: "goes on freely over the whole length, no shake"},
	}
	return nil
}

// hazards adds what is dangerous about this lathe and every lathe.
func (b *builder) hazards() {
	for _, h := range b.la.Hazards() {
		b.hazard(Warning, h.Text, h.Do)
	}
	if b.needsReverse() {
		if ok, why := b.la.CanReverse(); !ok {
			b.hazard(Forbidden, "cutting away from the chuck turns the spindle backwards: "+why)
		} else if why != "" {
			b.hazard(Warning, why)
		}
	}
	switch {
	case b.fromChuck() && b.req.Centre:
		b.hazard(Warning, "the tool travels towards the tailstock: it runs into the centre if the pass is not ended in time", "a half centre, a centre that stands well out, or no centre")
	case b.fromChuck():
		b.hazard(Warning, "the tool travels away from the chuck and pulls the part out of the jaws", "grip long and hard, mark the part at the jaws")
	}
	if b.plan.Speed.BackGear {
		b.hazard(Caution, "back gear in: never pull the locking pin or reach for the gears before the motor is off and the spindle stands still")
	}
	for _, text := range []string{
		"eye protection; no gloves, no loose clothing, no rings; hair tied; chuck key out before the switch",
		"guards closed over the change gears; never reach past a turning chuck; chips are cleared with a hook at standstill",
		"never reverse before the spindle has stopped",
		"run the first pass in air; know where the stop switch is without looking",
		"check against your machine's manual and local rules; for pressure, lifting or vehicle parts ask a qualified person",
	} {
		b.hazard(Caution, text)
	}
	if len(b.plan.Blocked()) > 0 {
		b.plan.Passes = []Pass{}
	}
}
