package render

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"thrum/lathe"
	"thrum/plan"
	"thrum/thread"
	"thrum/unit"
)

// Limits writes the limits of size of one callout, both members where the callout
// names neither.
func Limits(w io.Writer, s *plan.Sizes, sys unit.System, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: sys}
	for i, f := range s.Threads {
		if i > 0 {
			t.line("")
		}
		t.line("%s  %s, %s", t.strong(f.Designation), f.Form, f.Words)
		m := s.Limits.External
		if f.Internal {
			m = s.Limits.Internal
		}
		t.limitTable(&plan.Plan{Limits: plan.LimitTable{External: m}})
	}
	t.notes(s.Assumptions, s.Reasons)
	return t.w.Flush()
}

// notes prints assumptions and sources, each once.
func (t *text) notes(as []plan.Assumption, rs []plan.Reason) {
	seen := map[string]bool{}
	once := func(mark, body string) {
		if !seen[body] {
			seen[body] = true
			t.item(mark, body)
		}
	}
	if len(as)+len(rs) > 0 {
		t.line("")
	}
	for _, a := range as {
		once("  assumed:", a.Text)
	}
	for _, r := range rs {
		body := r.Text
		if r.Source != "" {
			body += " [" + r.Source + "]"
		}
		once("  ·", body)
	}
}

// Gears writes the ways to gear a lathe for a lead, and the dial's lines for each.
func Gears(w io.Writer, la *lathe.Lathe, lead unit.Ratio, trains []lathe.Train, sys unit.System, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: sys}
	t.line("%s: lead %s = %s mm exactly", t.strong(la.Name), t.len(lead.Length()), lead)
	last := ""
	for i, g := range trains {
		t.line("")
		head := "exact"
		if !g.Exact {
			head = fmt.Sprintf("lead %s mm, out by %+.1f ppm", g.Lead, g.LeadErrorPPM)
		}
		t.line("%s  %s", t.strong(fmt.Sprintf("%2d", i+1)), head)
		if g.Position != nil {
			t.fact("    levers", g.Position.Levers)
		}
		if len(g.Wheels) > 0 {
			var words []string
			for _, wh := range g.Wheels {
				words = append(words, fmt.Sprintf("%s %d", wh.Place, wh.Teeth))
			}
			t.fact("    wheels", strings.Join(words, " · "))
		}
		if g.Tumbler != "" {
			t.fact("    tumbler", g.Tumbler)
		}
		rules, err := la.Rules(g.Lead)
		if err != nil {
			return err
		}
		last = t.dialRules(rules, last)
	}
	return t.w.Flush()
}

// dialRules prints each rule once for the wheels that share it, and returns what
// it printed, so that a rule that repeats from train to train is not printed again.
func (t *text) dialRules(rules []lathe.DialRule, last string) string {
	var all []string
	for i := 0; i < len(rules); {
		teeth := []string{fmt.Sprint(rules[i].Wheel.Teeth)}
		j := i + 1
		for ; j < len(rules) && rules[j].Text == rules[i].Text; j++ {
			teeth = append(teeth, fmt.Sprint(rules[j].Wheel.Teeth))
		}
		all = append(all, strings.Join(teeth, " and ")+"-tooth wheel: "+rules[i].Text)
		i = j
	}
	text := strings.Join(all, "\n")
	if text == last && text != "" {
		t.fact("    dial", "as above")
		return last
	}
	for _, r := range all {
		t.fact("    dial", r)
	}
	return text
}

// Wires writes which wires to use and what to read over them.
func Wires(w io.Writer, p *plan.WirePlan, th thread.Thread, sys unit.System, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: sys}
	name := "wires"
	if th.Side == thread.Internal {
		name = "balls"
	}
	t.line("%s", t.strong(th.Designation))
	t.fact("best "+name, t.len(p.Best))
	t.fact("usable", fmt.Sprintf("%s to %s", number(p.Least, sys), t.len(p.Greatest)))
	t.fact("use", t.strong(t.len(p.Use)))
	t.fact("read", t.strong(fmt.Sprintf("%s to %s, aim at %s", number(p.Over.Min, sys), t.len(p.Over.Max), number(p.Over.Target, sys))))
	if d := p.Over.Max - p.UsualOver.Max; d.Abs() >= 0.0005 {
		t.fact("usual formula", fmt.Sprintf("%s to %s: without regard to the helix, %s off", number(p.UsualOver.Min, sys), t.len(p.UsualOver.Max), t.len(d)))
	}
	t.fact("seats", fmt.Sprintf("only below a groove depth of %s; earlier readings mean nothing", t.len(p.SeatsBelow)))
	if p.Note != "" {
		t.fact("note", p.Note)
	}
	return t.w.Flush()
}

// Passes writes the passes alone, with what they stand on.
func Passes(w io.Writer, p *plan.Plan, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: p.Request.Units}
	t.line("%s  blank %s, full depth %s", t.strong(p.Thread.Designation), t.len(p.Work.Blank.Target), t.depthOf(p))
	if p.Swing.ScaleReads != "" {
		t.fact("compound", p.Swing.ScaleReads)
	}
	if len(p.Passes) == 0 && len(p.Blocked()) == 0 {
		t.item("  ·", "the thread is at size: nothing is left to cut")
	} else {
		t.passTable(p)
	}
	for _, h := range p.Hazards {
		if h.Level != plan.Caution {
			t.item(" !", h.Text)
		}
	}
	for _, r := range p.Reasons {
		if r.About == "passes" {
			t.item("  ·", r.Text)
		}
	}
	return t.w.Flush()
}

func (t *text) depthOf(p *plan.Plan) string {
	if n := len(p.Passes); n > 0 {
		return t.len(p.Passes[n-1].Depth)
	}
	return "reached"
}

// Methods writes the infeed methods side by side.
func Methods(w io.Writer, all []plan.MethodSummary, sys unit.System, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: sys}
	t.line("%-13s%7s%8s%10s%10s%10s%12s%11s", "infeed", "angle", "passes", "force", "radial", "axial", "trailing", "varies by")
	for _, m := range all {
		name := fmt.Sprintf("%-13s", m.Method)
		if m.Chosen {
			name = t.strong(name)
		}
		t.line("%s%7s%8d%10s%10s%10s%9.1f um%11s", name, m.Angle.Format(1), m.Passes, m.Force.Format(sys), m.Radial.Format(sys), m.Axial.Format(sys), m.Trailing.MM()*1000, number(m.Bend, sys))
		t.item("            ", m.Words)
	}
	t.line("")
	t.item("  ·", "greatest forces of any pass; thinnest chip on the trailing flank; variation of the pitch diameter along the thread ("+sys.String()+")")
	return t.w.Flush()
}
