package render

import (
	"fmt"
	"strings"

	"thrum/draw"
	"thrum/plan"
	"thrum/unit"
)

// The blocks of page one. Each is set into a box from its top and returns where
// it ends.

// head sets what is cut and the size that it must have, to be read at arm's length.
func (pg *page) head(b draw.Box) unit.Length {
	t := pg.s.p.Thread
	left, right := b.Left(b.W * 0.53)
	right = right.Trim(6, 0, 0, 0)
	name := fit(draw.Style{Size: 15, Bold: true}, t.Designation, left.W)
	c := pg.column(left)
	if name.Size < 7 {
		name.Size = 7
	}
	c.say(t.Designation, name)
	c.y += 0.5
	pg.hand(c)
	c.say(pg.leadWords(), draw.Style{Size: 3.6})
	c.say(t.Form+"; "+t.Words, pg.fine())
	return max(c.y, pg.finished(right))
}

// hand writes the hand and starts; what is not usual stands white on black.
func (pg *page) hand(c *column) {
	t := pg.s.p.Thread
	words := []string{"RIGHT HAND"}
	odd := t.LeftHand || t.Starts > 1 || t.Internal
	if t.LeftHand {
		words[0] = "LEFT HAND"
	}
	if t.Starts > 1 {
		words = append(words, fmt.Sprint(t.Starts, " STARTS"))
	}
	if t.Internal {
		words = append(words, "INTERNAL")
	}
	st := draw.Style{Size: 4.8, Bold: true, Rise: draw.Half}
	text := strings.Join(words, " · ")
	at := draw.Pt{X: c.X, Y: c.y + 3.4}
	if odd {
		c.Fill(draw.Rect(draw.Box{X: c.X, Y: c.y, W: st.Width(text) + 4, H: 6.8}), draw.Ink)
		st.Colour = draw.Paper
		at.X += 2
	}
	c.Text(at, text, st)
	c.y += 7.6
}

// leadWords says how far the carriage goes in a turn.
func (pg *page) leadWords() string {
	t := pg.s.p.Thread
	w := "lead " + pg.s.len(t.Lead)
	if t.Starts > 1 {
		w += fmt.Sprintf(" = %d × pitch %s", t.Starts, pg.s.len(t.Pitch))
	}
	if t.PerInch.IsWhole() {
		w += fmt.Sprintf(" (%s threads per inch)", t.PerInch)
	}
	return w + "; helix " + t.LeadAngle.Format(2)
}

// finished sets the size of the finished thread.
func (pg *page) finished(b draw.Box) unit.Length {
	c := pg.column(b.Trim(3, 0, 3, 0))
	c.y += 1.5
	p := pg.s.p
	c.say("finished size", draw.Style{Size: 3.2, Colour: draw.Grey})
	if w := p.Wires; w != nil {
		label := draw.Style{Size: 4.2, Bold: true}
		c.say("over "+pg.s.len(w.Use)+" "+wireName(p.Thread.Internal), label)
		text := number(w.Over.Min, pg.s.sys) + " – " + number(w.Over.Max, pg.s.sys)
		c.one(text, draw.Style{Size: 10.5, Bold: true, Colour: draw.Accent})
		if w.Over.Target > 0 {
			c.say("aim at "+pg.s.len(w.Over.Target), draw.Style{Size: 5, Bold: true})
		}
	} else {
		text := p.Size.Headline
		if text == "" {
			text = "see how to check it, overleaf"
		}
		c.say(text, draw.Style{Size: 5, Bold: true, Colour: draw.Accent})
	}
	if p.Limits.Plating > 0 {
		c.say("before "+pg.s.len(p.Limits.Plating)+" of plating per surface", draw.Style{Size: 3.2, Bold: true})
	}
	c.y += 1
	pg.Stroke(draw.Rect(draw.Box{X: b.X, Y: b.Y, W: b.W, H: c.y - b.Y}), draw.Visible)
	return c.y
}

// hazardBox sets what can go wrong here: blocked in a heavy box, warnings with
// their sign, and the cautions of every day.
func (pg *page) hazardBox(b draw.Box) unit.Length {
	c := pg.column(b)
	title := "What can go wrong here"
	for _, h := range pg.s.p.Hazards {
		if pg.curesLater() && h.Level == plan.Warning && len(h.Cures) > 0 {
			title = "What can go wrong here (cures: see “What cures the warnings”)"
		}
	}
	c.title(1, title)
	var warn []plan.Hazard
	var daily []string
	for _, h := range pg.s.p.Hazards {
		switch h.Level {
		case plan.Forbidden:
			c.y = pg.blocked(below(b, c.y+0.5), h) + 1
		case plan.Warning:
			warn = append(warn, h)
		default:
			daily = append(daily, h.Text)
		}
	}
	c.y = pg.warnings(below(b, c.y), warn)
	if len(daily) > 0 {
		c.y += 0.6
		c.say(strings.Join(daily, " · "), pg.fine())
	}
	return c.y
}

// blocked sets a hazard that forbids the set-up into a heavy box.
func (pg *page) blocked(b draw.Box, h plan.Hazard) unit.Length {
	const border = 1.2
	tag := draw.Style{Size: 5, Bold: true, Colour: draw.Paper, Rise: draw.Half}
	w := tag.Width("BLOCKED") + 5
	c := pg.column(b.Trim(w+3, 0, 3, 0))
	c.y += 1.4
	c.say(pg.once(h.Text), draw.Style{Size: 3.8, Bold: true})
	for _, cure := range h.Cures {
		c.item("→", cure, 4, draw.Style{Size: 3.2})
	}
	c.y = max(c.y+1.2, b.Y+8)
	box := draw.Box{X: b.X, Y: b.Y, W: b.W, H: c.y - b.Y}
	pg.Fill(draw.Rect(draw.Box{X: b.X, Y: b.Y, W: w, H: box.H}), draw.Ink)
	pg.Text(draw.Pt{X: b.X + 2.5, Y: box.Mid().Y}, "BLOCKED", tag)
	pg.Stroke(draw.Rect(box.Inset(border/2)), draw.Visible.Wider(border))
	return c.y
}

// warnings sets the warnings in two columns of about the same height.
func (pg *page) warnings(b draw.Box, all []plan.Hazard) unit.Length {
	cols := b.Columns(2, 6)
	if len(all) == 1 {
		cols = []draw.Box{b, b}
	}
	set := func(p *page, box draw.Box, hs []plan.Hazard) unit.Length {
		c := p.column(box)
		for _, h := range hs {
			p.warning(c, h)
		}
		return c.y
	}
	low, cut := unit.Length(1e6), 0
	for k := range len(all) + 1 {
		trial := *pg
		trial.List = draw.New(pg.Size(0), "")
		if y := max(set(&trial, cols[0], all[:k]), set(&trial, cols[1], all[k:])); y < low-0.1 || (y < low+0.1 && 2*k <= len(all)+1) {
			low, cut = y, k
		}
	}
	return max(set(pg, cols[0], all[:cut]), set(pg, cols[1], all[cut:]))
}

func (pg *page) warning(c *column, h plan.Hazard) {
	st := pg.body()
	st.Bold = true
	sign := st.Size * 1.05
	warningSign(c.List, draw.Pt{X: c.X, Y: c.y + (leading(st)-sign)/2 - 0.2}, sign)
	c.sayAt(5, h.Text, st)
	for _, cure := range h.Cures {
		if pg.curesLater() {
			break
		}
		in := *c
		in.X, in.W = c.X+5, c.W-5
		in.item("→", cure, 4, pg.body())
		c.y = in.y
	}
	c.y += 0.8
}

// ending sets the stop box: how a pass ends and the room for it.
func (pg *page) ending(b draw.Box) unit.Length {
	c := pg.column(b)
	c.title(2, "How each pass ends")
	s := pg.s.p.Stopping
	if pg.blockedPlan() {
		c.say("BLOCKED: what follows is what was asked for, not what may be done", pg.strong())
	}
	if s.Method == "" {
		c.say("no way to end a pass here: see above", pg.strong())
		return c.y
	}
	c.say(upperFirst(s.Words), draw.Style{Size: max(3.3, pg.body().Size), Bold: true})
	c.y += 0.8
	pg.room(c)
	if s.Available > 0 {
		words := fmt.Sprintf("there is %s = %.2f s at %s", pg.s.len(s.Available), s.AvailableTime.S(), unit.Velocity(s.Carriage).Travel(pg.s.sys))
		c.say(words, pg.strong())
	}
	if s.Assumed {
		sign := pg.body().Size * 1.05
		warningSign(c.List, draw.Pt{X: c.X, Y: c.y + (leading(pg.body())-sign)/2 - 0.2}, sign)
		c.sayAt(5, "ASSUMED timing: measure your own, see the assumptions", pg.strong())
	}
	if !pg.terse() {
		if s.Risk > 0 {
			c.say("chance: "+(&text{}).risk(s), pg.body())
		}
		c.say("start: "+s.Start, pg.body())
	}
	c.say("return: "+s.Return, pg.body())
	return c.y
}

func (pg *page) strong() draw.Style { st := pg.body(); st.Bold = true; return st }

// room sets the room needed in length, seconds and turns, large.
func (pg *page) room(c *column) {
	s := pg.s.p.Stopping
	cells := [][2]string{{"room needed", "none"}}
	if s.Room > 0 {
		cells = [][2]string{
			{"room needed (" + pg.s.sys.String() + ")", number(s.Room, pg.s.sys)},
			{"seconds", fmt.Sprintf("%.2f", s.Seconds.S())},
			{"turns", fmt.Sprintf("%.1f", s.Turns)},
		}
	}
	const high = 12.4
	box := draw.Box{X: c.X, Y: c.y, W: c.W, H: high}
	pg.Stroke(draw.Rect(box), draw.Visible)
	widths := []unit.Length{0.44, 0.28, 0.28}
	if len(cells) == 1 {
		widths = []unit.Length{1}
	}
	x := c.X
	for i, cell := range cells {
		w := widths[i] * c.W
		mid := x + w/2
		pg.Text(draw.Pt{X: mid, Y: c.y + 3.5}, cell[0], draw.Style{Size: 2.7, Colour: draw.Grey, Anchor: draw.Middle})
		big := fit(draw.Style{Size: 8, Bold: true, Anchor: draw.Middle}, cell[1], w-2)
		pg.Text(draw.Pt{X: mid, Y: c.y + high - 2}, cell[1], big)
		x += w
		if i < len(cells)-1 {
			pg.Stroke(draw.Segment(draw.Pt{X: x, Y: c.y}, draw.Pt{X: x, Y: c.y + high}), draw.Thin)
		}
	}
	c.y += high + 0.8
}

// drive sets levers, wheels and the lines of the dial, with the train beside.
func (pg *page) drive(b draw.Box) unit.Length {
	c := pg.column(b)
	c.title(3, "Levers, gears, threading dial")
	p := pg.s.p
	if len(p.Gears) == 0 {
		c.say("no train", pg.body())
	} else {
		pg.train(c, p.Gears[0])
	}
	c.y += 0.6
	head, more := sentences(pg.once(p.Dial.Rule), 90)
	c.say("Dial: "+head, draw.Style{Size: max(3.3, pg.body().Size), Bold: true})
	c.say(strings.TrimSpace(more+" "+p.Dial.Detail), pg.body())
	return c.y
}

func (pg *page) train(c *column, g plan.GearChoice) {
	text := *c
	low := c.y
	drawn := pg.s.gearDrawing()
	if len(drawn) > 0 {
		box := draw.Box{X: c.X + c.W*0.4, Y: c.y, W: c.W * 0.6, H: 24 + pg.f.extra/2}
		box.H = legible(drawn[0], box, 0.84)
		pg.place(drawn[0], box, 0.84)
		text.W = c.W*0.4 - 2
		low = box.Bottom()
	}
	if g.Levers != "" {
		text.say("levers", draw.Style{Size: 2.7, Colour: draw.Grey})
		text.one(g.Levers, draw.Style{Size: 8, Bold: true})
	}
	if len(drawn) == 0 {
		for _, w := range g.Words {
			text.one(w, draw.Style{Size: 3.6, Bold: true})
		}
	}
	text.say(pg.s.gearNote(g), pg.body())
	c.y = max(text.y, low)
}

// sentences cuts a text after whole sentences, the first part as short as may be
// beyond least characters; a short rest stays with it.
func sentences(s string, least int) (head, rest string) {
	for i := range s {
		if i >= least && strings.HasPrefix(s[i:], ". ") {
			return s[:i+1], s[i+2:]
		}
	}
	return s, ""
}

// once leaves out of a text what stands word for word among the warnings.
func (pg *page) once(s string) string {
	for _, h := range pg.s.p.Hazards {
		if h.Level != plan.Warning {
			continue
		}
		for _, said := range append([]string{h.Text}, h.Cures...) {
			if len(said) < len(s) && len(said) > 30 {
				s = strings.ReplaceAll(s, said, "")
			}
		}
	}
	s = strings.Join(strings.Fields(s), " ")
	return strings.TrimSuffix(s, ":")
}

// speed sets revolutions and oil.
func (pg *page) speed(b draw.Box) unit.Length {
	s := pg.s.p.Speed
	if s.RPM == 0 {
		return b.Y
	}
	c := pg.column(b)
	c.title(6, "Speed and oil")
	rpm := fmt.Sprintf("%.4g rpm", s.RPM.RPM())
	big := draw.Style{Size: 9, Bold: true, Colour: draw.Accent}
	w := big.Width(rpm) + 3
	side := *c
	side.X, side.W = c.X+w, c.W-w
	c.say(rpm, big)
	side.y += 0.8
	side.say(s.Setting, draw.Style{Size: 4, Bold: true})
	if s.Oil != "" {
		side.one(s.Oil, draw.Style{Size: 4, Bold: true})
	}
	if s.Finish > 0 {
		text := fmt.Sprintf("last passes %.4g rpm %s", s.Finish.RPM(), s.FinishHow)
		side.one(text, draw.Style{Size: 3.6, Bold: true})
	}
	c.y = max(c.y, side.y)
	c.say(s.Surface.Format(pg.s.sys, 0)+" at the surface; "+s.Governed, pg.body())
	return c.y + pg.gap()
}

// before sets what comes before the first chip, below y.
func (pg *page) before(b draw.Box, y unit.Length) unit.Length {
	r := pg.s.p.Routine
	if len(r.Zero)+len(r.Air)+len(r.Scratch) == 0 || pg.blockedPlan() {
		return y
	}
	c := pg.column(below(b, y))
	c.title(7, "Before the first chip")
	if pg.stepsLater() {
		c.say("holding, zero, air pass, scratch pass: next page; not before they are done", draw.Style{Size: 3.6, Bold: true})
		return c.y
	}
	var hold []plan.Step
	for _, h := range pg.s.p.Work.Holding {
		if pg.holdingLater() {
			break
		}
		hold = append(hold, plan.Step{Do: h})
	}
	for _, part := range []struct {
		name  string
		steps []plan.Step
	}{{"hold", hold}, {"zero", r.Zero}, {"air pass", r.Air}, {"scratch pass", r.Scratch}} {
		if len(part.steps) > 0 {
			pg.routine(c, part.name, part.steps)
		}
	}
	return c.y
}

// routine sets the steps of one part of the work; the name stands in the margin,
// or runs in where room is scarce.
func (pg *page) routine(c *column, name string, all []plan.Step) {
	if pg.runIn() {
		c.sayAfter(name+":", pg.strong(), runInSteps(all), pg.body())
		c.y += 0.6
		return
	}
	const margin unit.Length = 13
	in := *c
	in.X, in.W = c.X+margin, c.W-margin
	for _, line := range pg.strong().Wrap(name, margin-1) {
		c.say(line, pg.strong())
	}
	pg.steps(&in, all)
	c.y = max(c.y, in.y) + 0.8
}

// runInSteps puts steps into one paragraph.
func runInSteps(all []plan.Step) string {
	var b strings.Builder
	for i, s := range all {
		if i > 0 {
			b.WriteString("  ")
		}
		if len(all) > 1 {
			fmt.Fprintf(&b, "%d ", i+1)
		}
		b.WriteString(upperFirst(s.Do))
		if s.Check != "" {
			b.WriteString(" → " + s.Check)
		}
		b.WriteString(".")
	}
	return b.String()
}

// steps sets numbered steps with their checks.
func (pg *page) steps(c *column, all []plan.Step) {
	for i, s := range all {
		c.item(fmt.Sprint(i+1, "."), upperFirst(s.Do), 4.6, pg.body())
		if s.Check != "" {
			in := *c
			in.X, in.W = c.X+4.6, c.W-4.6
			in.item("→", s.Check, 4, pg.strong())
			c.y = in.y
		}
	}
}

// checks sets what is done when the last pass is cut.
func (pg *page) checks(b draw.Box) unit.Length {
	if len(pg.s.p.Finish) == 0 {
		return b.Y
	}
	c := pg.column(b)
	c.title(9, "Ends, burrs, final checks")
	if pg.runIn() {
		c.say(runInSteps(pg.s.p.Finish), pg.body())
		return c.y
	}
	pg.steps(c, pg.s.p.Finish)
	return c.y
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
