package render

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"thrum/plan"
	"thrum/unit"
)

// width of the text sheet in characters: it fits a terminal and a printed page.
const width = 80

// TextOptions say how the text looks.
type TextOptions struct {
	Bold bool // use a terminal's bold type for headings and for what is pressing
}

// text writes lines; the first error sticks and is returned at the end.
type text struct {
	w    *bufio.Writer
	bold bool
	sys  unit.System
	n    int // sections so far
}

// Sheet writes the whole set-up sheet in the order in which the work is done; the
// reasons and assumptions follow as its second page.
func Sheet(w io.Writer, p *plan.Plan, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: p.Request.Units}
	t.head(p)
	t.hazards(p)
	t.stopBox(p)
	t.drive(p)
	t.work(p)
	t.toolAndSwing(p)
	t.speed(p)
	t.routine(p)
	t.passes(p)
	t.vibration(p)
	t.finish(p)
	t.pageTwo(p)
	return t.w.Flush()
}

// line writes one line without blanks at its end.
func (t *text) line(format string, args ...any) {
	t.w.WriteString(strings.TrimRight(fmt.Sprintf(format, args...), " "))
	t.w.WriteByte('\n')
}

func (t *text) strong(s string) string {
	if t.bold {
		return "\x1b[1m" + s + "\x1b[0m"
	}
	return s
}

func (t *text) section(title string) {
	t.n++
	h := fmt.Sprintf("%d  %s ", t.n, strings.ToUpper(title))
	t.line("")
	t.line("%s", t.strong(h)+strings.Repeat("─", max(width-utf8.RuneCountInString(h), 3)))
}

// fact prints a label and a wrapped text beside it.
func (t *text) fact(label, body string) {
	const indent = 16
	for i, l := range wrap(body, width-indent) {
		if i > 0 {
			label = ""
		}
		t.line("%-*s%s", indent, label, l)
	}
}

// item prints a wrapped text behind a mark.
func (t *text) item(mark, body string) {
	indent := utf8.RuneCountInString(mark) + 1
	for i, l := range wrap(body, width-indent) {
		if i > 0 {
			mark = strings.Repeat(" ", indent-1)
		}
		t.line("%s %s", mark, l)
	}
}

// wrap breaks a text at spaces so that no line is longer than n characters.
func wrap(s string, n int) []string {
	var lines []string
	cur := ""
	for _, word := range strings.Fields(s) {
		switch {
		case cur == "":
			cur = word
		case utf8.RuneCountInString(cur)+1+utf8.RuneCountInString(word) <= n:
			cur += " " + word
		default:
			lines = append(lines, cur)
			cur = word
		}
	}
	return append(lines, cur)
}

// len prints a length with its unit in the places that suit the sheet's system.
func (t *text) len(l unit.Length) string { return length(l, t.sys) }

// Length prints a length with its unit in the places that suit a drawing.
func Length(l unit.Length, sys unit.System) string { return length(l, sys) }

func length(l unit.Length, sys unit.System) string {
	return number(l, sys) + " " + sys.String()
}

func number(l unit.Length, sys unit.System) string {
	if sys == unit.Inches {
		return l.Number(unit.Inches, 4)
	}
	return l.Number(unit.Metric, 3)
}

func (t *text) head(p *plan.Plan) {
	title, right := "Set-up sheet", p.Thread.Designation
	pad := max(width-len(title)-utf8.RuneCountInString(right), 2)
	t.line("%s%s%s", title, strings.Repeat(" ", pad), t.strong(right))
	t.line("%s", strings.Repeat("═", width))
	t.fact("thread", p.Thread.Form+"; "+p.Thread.Words)
	lead := t.len(p.Thread.Lead)
	if p.Thread.Starts > 1 {
		lead += fmt.Sprintf(" = %d x pitch %s", p.Thread.Starts, t.len(p.Thread.Pitch))
	}
	if p.Thread.PerInch.IsWhole() {
		lead += fmt.Sprintf(" (%s threads per inch)", p.Thread.PerInch)
	}
	t.fact("lead", lead+fmt.Sprintf("; helix %s at the pitch diameter", p.Thread.LeadAngle.Format(2)))
	if p.Size.Headline != "" {
		t.fact("finished size", t.strong(p.Size.Headline))
	}
	t.limitTable(p)
}

// limitTable prints the limits of the three diameters with the size to aim at.
func (t *text) limitTable(p *plan.Plan) {
	m := p.Limits.Member()
	if m == nil {
		return
	}
	t.line("")
	t.line("%-16s%12s%12s%12s   %s", t.sys.String(), "least", "greatest", "aim at", "")
	for _, r := range []struct {
		name string
		l    plan.Limit
	}{{"major diameter", m.Major}, {"pitch diameter", m.Pitch}, {"minor diameter", m.Minor}} {
		t.line("%-16s%12s%12s%12s   %s", r.name, t.orDash(r.l.Min), t.orDash(r.l.Max), t.orDash(r.l.Target), clip(r.l.Why, width-55))
	}
}

func clip(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return ""
}

func (t *text) orDash(l unit.Length) string {
	if l == 0 {
		return "-"
	}
	return number(l, t.sys)
}

func (t *text) hazards(p *plan.Plan) {
	t.section("What can go wrong here")
	for _, level := range []plan.Level{plan.Forbidden, plan.Warning, plan.Caution} {
		for _, h := range p.Hazards {
			if h.Level == level {
				t.hazard(h)
			}
		}
	}
}

func (t *text) hazard(h plan.Hazard) {
	mark := map[plan.Level]string{plan.Forbidden: t.strong("BLOCKED:"), plan.Warning: " !", plan.Caution: " ·"}[h.Level]
	t.item(mark, h.Text)
	for _, c := range h.Cures {
		t.item("   →", c)
	}
}

func (t *text) stopBox(p *plan.Plan) {
	s := p.Stopping
	if s.Method == "" {
		return
	}
	t.section("How each pass ends")
	t.item(" ", t.strong(s.Words))
	room := fmt.Sprintf("%s = %.2f s = %.1f turns", t.len(s.Room), s.Seconds.S(), s.Turns)
	if s.Room == 0 {
		room = "none needed"
	}
	if s.Assumed {
		room += "  (ASSUMED timing, see page two)"
	}
	t.fact("room needed", room)
	if s.Available > 0 {
		t.fact("room there is", fmt.Sprintf("%s = %.2f s at %s", t.len(s.Available), s.AvailableTime.S(), unit.Velocity(s.Carriage).Travel(t.sys)))
	}
	if s.Risk > 0 {
		t.fact("chance", t.risk(s))
	}
	t.fact("start", s.Start)
	t.fact("return", s.Return)
	for _, o := range s.Others {
		state := "no"
		if o.Usable {
			state = "yes"
		}
		t.fact("or: "+o.Method, state+": "+o.Reason)
	}
}

// risk says how likely an overrun is and how far that can be trusted.
func (t *text) risk(s plan.Stopping) string {
	body := "at most " + chance(s.Risk) + " that one pass of the part overruns"
	if s.Assumed {
		return body + ", if the assumed timing is yours"
	}
	return body + fmt.Sprintf(" by your spread; your air passes cannot rule out a missed end in up to %.0f of 100 passes", math.Ceil(100*s.FloorPerPass))
}

// chance prints a small probability as "1 in N".
func chance(p float64) string {
	switch {
	case p >= 0.995:
		return "certain"
	case p >= 0.1:
		return fmt.Sprintf("%.0f in 100", p*100)
	case p < 1e-9:
		return "below 1 in a thousand million"
	}
	n := 1 / p
	step := math.Pow(10, math.Max(math.Floor(math.Log10(n))-1, 0))
	return fmt.Sprintf("1 in %.0f", math.Round(n/step)*step)
}

func (t *text) drive(p *plan.Plan) {
	t.section("Levers, gears, dial")
	for i, g := range p.Gears {
		label := "gears"
		if i > 0 {
			label = fmt.Sprintf("or (%d)", i+1)
		}
		var parts []string
		if g.Levers != "" {
			parts = append(parts, "levers "+g.Levers)
		}
		if len(g.Words) > 0 {
			parts = append(parts, strings.Join(g.Words, " · "))
		}
		if g.Note != "" {
			parts = append(parts, g.Note)
		}
		parts = append(parts, leadWords(g))
		body := strings.Join(parts, "; ")
		if i == 0 {
			body = t.strong(body)
		}
		t.fact(label, body)
	}
	t.fact("threading dial", t.strong(p.Dial.Rule))
	if p.Dial.Detail != "" {
		t.fact("", p.Dial.Detail)
	}
}

func (t *text) work(p *plan.Plan) {
	w := p.Work
	t.section("Blank and holding")
	name := "blank diameter"
	if p.Thread.Internal {
		name = "bore"
	}
	t.fact(name, fmt.Sprintf("%s  (%s)", t.strong(t.len(w.Blank.Target)), blankRange(w.Blank, t.sys)))
	t.fact("thread length", fmt.Sprintf("%s; part stands out %s", t.len(w.Length), t.len(w.Stickout)))
	t.fact("chamfer", fmt.Sprintf("%s to diameter %s before threading", w.ChamferAngle.Format(0), t.len(w.ChamferTo)))
	if w.ReliefWidth > 0 {
		t.fact("relief", fmt.Sprintf("%s wide, diameter %s, corner radius about %s", t.len(w.ReliefWidth), t.len(w.ReliefDia), t.len(w.ReliefCorner)))
	}
	for i, h := range w.Holding {
		label := ""
		if i == 0 {
			label = "holding"
		}
		t.fact(label, h)
	}
}

func blankRange(l plan.Limit, sys unit.System) string {
	switch {
	case l.Min > 0 && l.Max > 0:
		return number(l.Min, sys) + " to " + number(l.Max, sys)
	case l.Max > 0:
		return "not above " + number(l.Max, sys)
	case l.Min > 0:
		return "not below " + number(l.Min, sys)
	}
	return l.Why
}

func (t *text) toolAndSwing(p *plan.Plan) {
	t.section("Tool and compound")
	end := fmt.Sprintf("flat %s at the tip", t.len(p.Tool.Flat))
	if p.Tool.Radius > 0 {
		end = fmt.Sprintf("radius %s at the tip", t.len(p.Tool.Radius))
	}
	material := strings.ToUpper(p.Tool.Material)
	if p.Tool.Material == "carbide" {
		material = "carbide"
	}
	t.fact("tool", fmt.Sprintf("%s, %s profile, %s included, %s", material, p.Tool.Profile, p.Tool.Included.Format(1), end))
	for _, s := range p.Tool.Steps {
		t.item("  ·", s)
	}
	if p.Swing.ScaleReads != "" {
		t.fact("compound", t.strong(p.Swing.ScaleReads))
	} else {
		t.fact("compound", p.Swing.Method+" in")
	}
	t.fact("", p.Swing.Direction)
}

func (t *text) speed(p *plan.Plan) {
	s := p.Speed
	if s.RPM == 0 {
		return
	}
	t.section("Speed and oil")
	t.fact("spindle", fmt.Sprintf("%s  %s", t.strong(fmt.Sprintf("%.4g rpm", s.RPM.RPM())), s.Setting))
	t.fact("surface speed", fmt.Sprintf("%s; range for this material %s to %s", s.Surface.Format(t.sys, 0), s.Low.Format(t.sys, 0), s.High.Format(t.sys, 0)))
	t.fact("governed by", s.Governed)
	if s.Finish > 0 {
		t.fact("last passes", fmt.Sprintf("%.4g rpm  %s", s.Finish.RPM(), s.FinishHow))
	}
	if s.Oil != "" {
		t.fact("oil", s.Oil)
	}
	if s.Note != "" {
		t.fact("finish", s.Note)
	}
}

func (t *text) steps(title string, steps []plan.Step) {
	t.line("%s", t.strong(title))
	for i, s := range steps {
		t.item(fmt.Sprintf("%3d.", i+1), s.Do)
		if s.Check != "" {
			t.item("     check:", s.Check)
		}
	}
}

func (t *text) routine(p *plan.Plan) {
	t.section("Before the first chip")
	t.steps("zero", p.Routine.Zero)
	t.steps("air pass", p.Routine.Air)
	t.steps("scratch pass", p.Routine.Scratch)
	t.steps("picking the thread up again", p.Routine.Again)
}

func (t *text) passes(p *plan.Plan) {
	t.section("Passes")
	t.passTable(p)
}

// passTable prints each pass as readings of the dials.
func (t *text) passTable(p *plan.Plan) {
	if len(p.Passes) == 0 {
		t.item(" ", "none: this set-up is blocked")
		return
	}
	compound := p.Swing.Method != "straight"
	dial, other := "CROSS to", "compound stays at 0"
	kind := p.Passes[0].Cross.Kind
	if compound {
		dial, other = "COMPOUND to", "CROSS back to 0 before each pass"
		kind = p.Passes[0].Compound.Kind
	}
	t.line("%s (%s); %s", t.strong(dial), kind, other)
	t.line("%4s  %-18s%10s%10s%8s  %s", "pass", strings.ToLower(dial), "depth", "takes", "force", "governed by")
	for i, s := range p.Passes {
		r, prefix := s.Cross, ""
		switch {
		case compound && s.Cross.Slide > 0: // a last pass straight in: the compound stays
			prefix = "CROSS "
			if i > 0 && p.Passes[i-1].Cross.Slide == 0 {
				t.item("      ▪", "from here straight in: compound stays, CROSS goes beyond its 0 ("+r.Kind+")")
			}
		case compound:
			r = s.Compound
		}
		note := s.GovernedBy
		if p.Speed.Finish > 0 {
			note += fmt.Sprintf(" · %.4g rpm", s.RPM.RPM())
		}
		t.line("%4d  %s%10s%10s%8s  %s", s.N, t.strong(fmt.Sprintf("%-18s", prefix+strings.TrimSuffix(r.Text, " ("+r.Kind+")"))), number(s.Depth, t.sys), number(s.Infeed, t.sys), s.Force.Format(t.sys), note)
		if s.Measure && i < len(p.Passes)-1 {
			t.item("      ▪", "STOP AND MEASURE: clean, read over wires, work out what is left before going on")
		}
	}
	t.item("      ▪", "MEASURE: "+p.Finish[0].Check)
	if p.Bend != nil && p.Bend.Words != "" {
		t.fact("bending", p.Bend.Words)
	}
	t.fact("governed by", "the bound that would let the pass go deeper if it were a tenth wider; \"round figure\": a figure that is easy to hit; \"even load\": the work spread over the passes")
}

// vibration says what swings and what the passes make of it.
func (t *text) vibration(p *plan.Plan) {
	if p.Vibration == nil {
		return
	}
	t.section("Finish")
	for _, w := range p.Vibration.Words {
		t.item("  ·", w)
	}
	t.outlook(p.Vibration.Outlook)
	t.remedies(p.Vibration)
}

func (t *text) outlook(o *plan.Outlook) {
	if o == nil {
		return
	}
	t.line("%s", t.strong("how sure"))
	for _, w := range o.Words {
		t.item("  ·", w)
	}
}

// remedies prints what would help, cheapest first, then what would not.
func (t *text) remedies(v *plan.Vibration) {
	if len(v.Remedies) == 0 {
		return
	}
	useful, others := plan.Useful(v.Remedies)
	t.item("  ·", v.AsPlanned())
	for _, l := range []struct {
		title string
		all   []plan.Remedy
	}{{"what would help, cheapest first", useful}, {"what would not", others}} {
		if len(l.all) > 0 {
			t.line("%s", t.strong(l.title))
		}
		for _, r := range l.all {
			t.remedy(r)
		}
	}
}

func (t *text) remedy(r plan.Remedy) {
	head := r.Do
	for _, s := range r.Settings {
		head += "  " + s.Flag()
	}
	t.item("  ▪", head)
	if w := r.Words(); w != "" {
		t.item("     ", w)
	}
	t.item("     ", "torn flanks are then "+r.Tearing)
	if r.Size != "" {
		t.item("     ", "size: "+r.Size)
	}
	if r.Warning != "" {
		t.item("    !", r.Warning)
	}
}

func (t *text) finish(p *plan.Plan) {
	t.section("Ends, burrs, final checks")
	for i, s := range p.Finish {
		t.item(fmt.Sprintf("%3d.", i+1), s.Do)
		if s.Check != "" {
			t.item("     check:", s.Check)
		}
	}
	for _, m := range p.Size.Methods {
		t.item("  ·", m)
	}
}

// speedSteps lists every speed of the lathe with what it would mean here.
func (t *text) speedSteps(p *plan.Plan) {
	if len(p.Speed.Steps) == 0 {
		return
	}
	t.line("%s", t.strong("Every speed of this lathe, for this thread"))
	t.line("%6s  %-20s%10s%9s  %s", "rpm", "setting", "surface", "room", "ending a pass")
	for _, s := range p.Speed.Steps {
		why, _, _ := strings.Cut(s.Why, ";")
		verdict := s.Ending + ": " + why
		switch {
		case s.Usable && s.Fastest:
			verdict = s.Ending + "; fastest at the risk chosen"
		case s.Usable:
			verdict = s.Ending
		}
		switch {
		case s.InRange:
		case s.Surface > p.Speed.High:
			verdict += "; above the range"
		default:
			verdict += "; below the range"
		}
		head := fmt.Sprintf("%6.4g  %-20s%10s%9s  ", s.RPM.RPM(), s.Setting, s.Surface.Format(t.sys, 0), number(s.Room, t.sys))
		for i, l := range wrap(verdict, max(width-utf8.RuneCountInString(head), 22)) {
			if i > 0 {
				head = strings.Repeat(" ", utf8.RuneCountInString(head))
			}
			t.line("%s%s", head, l)
		}
	}
}

func (t *text) pageTwo(p *plan.Plan) {
	t.line("")
	t.line("%s", t.strong("Page two: reasons and assumptions"))
	t.line("%s", strings.Repeat("═", width))
	t.speedSteps(p)
	t.line("%s", t.strong("Assumed, to be replaced by a measurement"))
	for _, a := range p.Assumptions {
		mark := "  ·"
		if a.Harm {
			mark = t.strong("  !")
		}
		body := a.About + ": " + a.Text
		if a.Replace != "" {
			body += " → " + a.Replace
		}
		t.item(mark, body)
	}
	t.line("%s", t.strong("Reasons"))
	for _, r := range p.Reasons {
		body := r.About + ": " + r.Text
		if r.Source != "" {
			body += " [" + r.Source + "]"
		}
		t.item("  ·", body)
	}
}
