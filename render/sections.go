package render

import (
	"fmt"
	"strings"

	"thrum/plan"
	"thrum/unit"
)

// Section is one step of the work on a set-up sheet, in words and figures ready to
// be shown. Page and paper are set from it.
type Section struct {
	ID       string // short, of the trade: "passes"
	Title    string
	Alerts   []Alert
	Figures  []Value // the few figures that are read at arm's length
	Facts    []Value
	Table    *Table
	Lists    []Items
	Drawings []Drawing `json:"-"` // how to draw them is not data
}

// Value is one figure or statement with its label.
type Value struct {
	Key   string // stays the same from one plan to the next: "speed.rpm"
	Label string
	Text  string
	Note  string
}

// Alert is a hazard as it is shown.
type Alert struct {
	Level plan.Level
	Text  string
	Cures []string
}

// Items is a list under a title.
type Items struct {
	Title   string
	Ordered bool // steps, to be done one after the other
	Items   []Item
}

// Item is one entry: what to do, and the check that ends it.
type Item struct {
	Mark  string // a word that stands before it: "assumed", "can hurt"
	Text  string
	Check string
}

// Table holds rows of figures.
type Table struct {
	Caption string
	Head    []string
	Rows    []Row
}

// Row is one row; a note stands below it across the whole table.
type Row struct {
	Key    string
	Cells  []string
	Note   string
	Strong bool
}

// sheet gathers the sections of one plan.
type sheet struct {
	p   *plan.Plan
	sys unit.System
}

// Sections returns the set-up sheet in the order in which the work is done; reasons
// and assumptions come last.
func Sections(p *plan.Plan) []Section {
	s := sheet{p, p.Request.Units}
	all := []Section{
		s.thread(), s.hazards(), s.ending(), s.drive(), s.blank(), s.tool(),
		s.speed(), s.before(), s.passes(), s.finish(), s.checks(), s.reasons(),
	}
	out := all[:0]
	for _, sec := range all {
		if sec.ID != "" {
			out = append(out, sec)
		}
	}
	return out
}

func (s sheet) len(l unit.Length) string { return length(l, s.sys) }

func (s sheet) thread() Section {
	t := s.p.Thread
	sec := Section{ID: "thread", Title: "Thread and finished size", Drawings: s.formDrawing()}
	lead := s.len(t.Lead)
	if t.Starts > 1 {
		lead += fmt.Sprintf(" = %d × pitch %s", t.Starts, s.len(t.Pitch))
	}
	note := ""
	if t.PerInch.IsWhole() {
		note = t.PerInch.String() + " threads per inch"
	}
	if w := s.p.Wires; w != nil {
		sec.Figures = append(sec.Figures, Value{
			"wires.over", "over " + s.len(w.Use) + " " + wireName(t.Internal),
			number(w.Over.Min, s.sys) + " to " + s.len(w.Over.Max), "aim at " + number(w.Over.Target, s.sys),
		})
	} else if s.p.Size.Headline != "" {
		sec.Figures = append(sec.Figures, Value{"size.headline", "finished size", s.p.Size.Headline, ""})
	}
	sec.Figures = append(sec.Figures, Value{"thread.lead", "lead", lead, note})
	sec.Facts = []Value{
		{"thread.form", "form", t.Form + "; " + t.Words, ""},
		{"thread.helix", "helix", t.LeadAngle.Format(2) + " at the pitch diameter", ""},
	}
	if s.p.Limits.Plating > 0 {
		sec.Facts = append(sec.Facts, Value{"limits.plating", "plating to come", s.len(s.p.Limits.Plating) + " per surface", "the sizes are those before plating"})
	}
	if w := s.p.Wires; w != nil && w.Note != "" {
		sec.Facts = append(sec.Facts, Value{"wires.note", wireName(t.Internal), w.Note, ""})
	}
	sec.Table = LimitRows(s.p.Limits.Member(), s.sys)
	return sec
}

func wireName(internal bool) string {
	if internal {
		return "balls"
	}
	return "wires"
}

// LimitRows sets the limits of one member as a table; nil when there are none.
func LimitRows(m *plan.MemberLimits, sys unit.System) *Table {
	if m == nil {
		return nil
	}
	tab := &Table{Caption: "Limits of size, in " + unitWord(sys), Head: []string{"", "least", "greatest", "aim at"}}
	dash := func(l unit.Length) string {
		if l == 0 {
			return "–"
		}
		return number(l, sys)
	}
	for _, r := range []struct {
		key, name string
		l         plan.Limit
	}{{"limits.major", "major diameter", m.Major}, {"limits.pitch", "pitch diameter", m.Pitch}, {"limits.minor", "minor diameter", m.Minor}} {
		tab.Rows = append(tab.Rows, Row{Key: r.key, Cells: []string{r.name, dash(r.l.Min), dash(r.l.Max), dash(r.l.Target)}, Note: r.l.Why})
	}
	return tab
}

func (s sheet) hazards() Section {
	sec := Section{ID: "hazards", Title: "What can go wrong here"}
	for _, level := range []plan.Level{plan.Forbidden, plan.Warning, plan.Caution} {
		for _, h := range s.p.Hazards {
			if h.Level == level {
				sec.Alerts = append(sec.Alerts, Alert{h.Level, h.Text, h.Cures})
			}
		}
	}
	return sec
}

// unitWord is the system's unit as a word.
func unitWord(sys unit.System) string {
	if sys == unit.Inches {
		return "inches"
	}
	return "millimetres"
}

func (s sheet) ending() Section {
	st := s.p.Stopping
	if st.Method == "" {
		return Section{}
	}
	sec := Section{ID: "ending", Title: "How each pass ends"}
	need := Value{"stopping.room", "room needed", "none", ""}
	if st.Room > 0 {
		need.Text = s.len(st.Room)
		need.Note = fmt.Sprintf("%.2f s, %.1f turns", st.Seconds.S(), st.Turns)
	}
	if st.Assumed {
		need.Note = strings.TrimPrefix(need.Note+"; assumed timing", "; ")
	}
	sec.Figures = []Value{{"stopping.method", "end by", EndingWords(st.Method), ""}, need}
	if st.Available > 0 {
		sec.Figures = append(sec.Figures, Value{
			"stopping.available", "room there is", s.len(st.Available),
			fmt.Sprintf("%.2f s at %s", st.AvailableTime.S(), unit.Velocity(st.Carriage).Travel(s.sys)),
		})
	}
	sec.Facts = []Value{{"stopping.words", "at the mark", st.Words, ""}}
	if st.Risk > 0 {
		sec.Facts = append(sec.Facts, Value{"stopping.risk", "chance", (&text{}).risk(st), ""})
	}
	sec.Facts = append(sec.Facts, Value{"stopping.start", "start", st.Start, ""}, Value{"stopping.return", "return", st.Return, ""})
	others := Items{Title: "Other ways to end a pass"}
	for _, o := range st.Others {
		mark := "no"
		if o.Usable {
			mark = "yes"
		}
		others.Items = append(others.Items, Item{Mark: mark, Text: EndingWords(o.Method) + ": " + o.Reason})
	}
	if len(others.Items) > 0 {
		sec.Lists = []Items{others}
	}
	return sec
}

func (s sheet) drive() Section {
	sec := Section{ID: "gears", Title: "Levers, gears, dial", Drawings: s.gearDrawing()}
	others := Items{Title: "Other ways to gear it"}
	for i, g := range s.p.Gears {
		body := strings.Join(g.Words, " · ")
		if i > 0 {
			if g.Levers != "" {
				body = "levers " + g.Levers + "; " + body
			}
			others.Items = append(others.Items, Item{Text: strings.Trim(body, "; ") + "; " + s.gearNote(g)})
			continue
		}
		if g.Levers != "" {
			sec.Figures = append(sec.Figures, Value{"gears.levers", "levers", g.Levers, ""})
		}
		if body != "" {
			sec.Figures = append(sec.Figures, Value{"gears.wheels", "wheels", body, s.gearNote(g)})
		} else {
			sec.Facts = append(sec.Facts, Value{"gears.note", "train", s.gearNote(g), ""})
		}
	}
	sec.Figures = append(sec.Figures, Value{"dial.rule", "threading dial", s.p.Dial.Rule, s.p.Dial.Detail})
	if len(others.Items) > 0 {
		sec.Lists = []Items{others}
	}
	return sec
}

// gearNote says how true the lead is, after what else is to be said of a train.
func (s sheet) gearNote(g plan.GearChoice) string {
	return strings.TrimPrefix(g.Note+"; "+leadWords(g), "; ")
}

// leadWords says how true the lead of a train is; plans that were kept before it was put
// into words have the figure alone.
func leadWords(g plan.GearChoice) string {
	switch {
	case g.LeadWords != "":
		return g.LeadWords
	case g.LeadErrorPPM == 0:
		return "exact"
	}
	return fmt.Sprintf("lead %+.0f ppm", g.LeadErrorPPM)
}

func (s sheet) blank() Section {
	w := s.p.Work
	sec := Section{ID: "blank", Title: "Blank and holding", Drawings: s.blankDrawing()}
	name := "blank diameter"
	if s.p.Thread.Internal {
		name = "bore"
	}
	sec.Figures = []Value{{"work.blank", name, s.len(w.Blank.Target), blankRange(w.Blank, s.sys)}}
	sec.Facts = []Value{
		{"work.length", "thread length", s.len(w.Length), "stands out " + s.len(w.Stickout)},
		{"work.chamfer", "chamfer", w.ChamferAngle.Format(0) + " to diameter " + s.len(w.ChamferTo), "before threading"},
	}
	if w.ReliefWidth > 0 {
		sec.Facts = append(sec.Facts, Value{
			"work.relief", "relief", s.len(w.ReliefWidth) + " wide, diameter " + s.len(w.ReliefDia),
			"corner radius about " + s.len(w.ReliefCorner),
		})
	}
	if len(w.Holding) > 0 {
		sec.Lists = []Items{plain("Holding", w.Holding)}
	}
	return sec
}

func plain(title string, lines []string) Items {
	it := Items{Title: title}
	for _, l := range lines {
		it.Items = append(it.Items, Item{Text: l})
	}
	return it
}

// clearances words the side clearances of the tool. On a steep helix the trailing side
// needs none of its own.
func clearances(leading, trailing unit.Angle) string {
	s := leading.Format(1) + " leading, "
	if trailing < 0 {
		return s + "trailing side may lean outwards by " + (-trailing).Format(1)
	}
	return s + trailing.Format(1) + " trailing side"
}

func (s sheet) tool() Section {
	t := s.p.Tool
	sec := Section{ID: "tool", Title: "Tool and compound", Drawings: s.swingDrawing()}
	end := "flat " + s.len(t.Flat)
	if t.Radius > 0 {
		end = "radius " + s.len(t.Radius)
	}
	material := t.Material
	if material == "hss" {
		material = "HSS"
	}
	if s.p.Swing.ScaleReads != "" {
		sec.Figures = append(sec.Figures, Value{"swing.reads", "compound", s.p.Swing.ScaleReads, ""})
	} else {
		sec.Figures = append(sec.Figures, Value{"swing.reads", "compound", s.p.Swing.Method + " in", ""})
	}
	sec.Facts = []Value{
		{"tool.kind", "tool", material + ", " + t.Profile + " profile, " + t.Included.Format(1) + " included", ""},
		{"tool.tip", "tip", end, ""},
		{"tool.clearance", "clearance", clearances(t.LeadingRelief, t.TrailRelief), ""},
		{"swing.direction", "swing", s.p.Swing.Direction, ""},
	}
	sec.Lists = []Items{plain("Setting the tool", t.Steps)}
	return sec
}

func (s sheet) speed() Section {
	v := s.p.Speed
	if v.RPM == 0 {
		return Section{}
	}
	sec := Section{ID: "speed", Title: "Speed and oil"}
	sec.Figures = []Value{{"speed.rpm", "spindle", fmt.Sprintf("%.4g rpm", v.RPM.RPM()), v.Setting}}
	if v.Finish > 0 {
		sec.Figures = append(sec.Figures, Value{"speed.finish", "last passes", fmt.Sprintf("%.4g rpm", v.Finish.RPM()), v.FinishHow})
	}
	sec.Facts = []Value{
		{"speed.governed", "governed by", v.Governed, ""},
		{
			"speed.surface", "surface speed", v.Surface.Format(s.sys, 0),
			"range for this material " + v.Low.Format(s.sys, 0) + " to " + v.High.Format(s.sys, 0),
		},
	}
	if v.Oil != "" {
		sec.Facts = append(sec.Facts, Value{"speed.oil", "oil", v.Oil, ""})
	}
	if v.Note != "" {
		sec.Facts = append(sec.Facts, Value{"speed.note", "finish", v.Note, ""})
	}
	return sec
}

func (s sheet) before() Section {
	r := s.p.Routine
	sec := Section{ID: "before", Title: "Before the first chip"}
	for _, l := range []struct {
		title string
		steps []plan.Step
	}{{"Zero", r.Zero}, {"Air pass", r.Air}, {"Scratch pass", r.Scratch}, {"Picking the thread up again", r.Again}} {
		if len(l.steps) > 0 {
			sec.Lists = append(sec.Lists, steps(l.title, l.steps))
		}
	}
	if len(sec.Lists) == 0 {
		return Section{}
	}
	return sec
}

func steps(title string, all []plan.Step) Items {
	it := Items{Title: title, Ordered: true}
	for _, st := range all {
		it.Items = append(it.Items, Item{Text: st.Do, Check: st.Check})
	}
	return it
}

func (s sheet) passes() Section {
	sec := Section{ID: "passes", Title: "Passes", Drawings: s.passDrawing()}
	if len(s.p.Passes) == 0 {
		sec.Facts = []Value{{"passes.none", "passes", "none: this set-up is blocked", ""}}
		if len(s.p.Blocked()) == 0 {
			sec.Facts[0].Text = "none: the thread is at size"
		}
		return sec
	}
	compound := s.p.Swing.Method != "straight"
	dial, rule, kind := "cross to", "compound stays at 0", s.p.Passes[0].Cross.Kind
	if compound {
		dial, rule, kind = "compound to", "cross back to 0 before each pass", s.p.Passes[0].Compound.Kind
	}
	last := s.p.Passes[len(s.p.Passes)-1]
	sec.Figures = []Value{
		{"passes.count", "passes", fmt.Sprint(len(s.p.Passes)), rule},
		{"passes.depth", "full depth", s.len(last.Depth), "square to the axis, from the blank's surface"},
	}
	tab := &Table{Caption: dial + " is read on a " + kind + "; depths in " + unitWord(s.sys), Head: []string{"pass", dial, "depth", "takes", "force", "governed by"}}
	for _, p := range s.p.Passes {
		r := p.Cross
		if compound {
			r = p.Compound
		}
		row := Row{Key: fmt.Sprintf("pass.%d", p.N), Strong: p.Measure, Cells: []string{
			fmt.Sprint(p.N), strings.TrimSuffix(r.Text, " ("+r.Kind+")"), number(p.Depth, s.sys), number(p.Infeed, s.sys),
			p.Force.Format(s.sys), p.GovernedBy,
		}}
		if s.p.Speed.Finish > 0 {
			row.Cells[5] += fmt.Sprintf(" · %.4g rpm", p.RPM.RPM())
		}
		if p.Measure && p.N < last.N {
			row.Note = "Stop and measure: clean, read the size, work out what is left before going on."
		}
		tab.Rows = append(tab.Rows, row)
	}
	if len(s.p.Finish) > 0 {
		tab.Rows[len(tab.Rows)-1].Note = "Measure: " + s.p.Finish[0].Check
	}
	sec.Table = tab
	if b := s.p.Bend; b != nil && b.Words != "" {
		sec.Facts = append(sec.Facts, Value{"bend.words", "bending", b.Words, ""})
	}
	return sec
}

func (s sheet) checks() Section {
	if len(s.p.Finish) == 0 && len(s.p.Size.Methods) == 0 {
		return Section{}
	}
	sec := Section{ID: "checks", Title: "Ends, burrs, final checks"}
	sec.Lists = append(sec.Lists, steps("In this order", s.p.Finish))
	if len(s.p.Size.Methods) > 0 {
		sec.Lists = append(sec.Lists, plain("What each way of checking tells", s.p.Size.Methods))
	}
	return sec
}

func (s sheet) reasons() Section {
	sec := Section{ID: "reasons", Title: "Reasons and assumptions"}
	assumed := Items{Title: "Assumed, to be replaced by a measurement"}
	for _, a := range s.p.Assumptions {
		it := Item{Text: a.About + ": " + a.Text, Check: a.Replace}
		if a.Harm {
			it.Mark = "can hurt"
		}
		assumed.Items = append(assumed.Items, it)
	}
	why := Items{Title: "Reasons"}
	for _, r := range s.p.Reasons {
		body := r.About + ": " + r.Text
		if r.Source != "" {
			body += " [" + r.Source + "]"
		}
		why.Items = append(why.Items, Item{Text: body})
	}
	for _, l := range []Items{assumed, why} {
		if len(l.Items) > 0 {
			sec.Lists = append(sec.Lists, l)
		}
	}
	return sec
}

// Number prints a length without its unit, in the places that a sheet uses.
func Number(l unit.Length, sys unit.System) string { return number(l, sys) }
