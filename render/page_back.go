package render

import (
	"fmt"
	"strings"

	"thrum/draw"
	"thrum/plan"
	"thrum/unit"
)

// flow sets text into two columns, page after page.
type flow struct {
	*page
	c     *column
	rest  []draw.Box
	total int
	title string
}

// two sets the pages of reasons and assumptions.
func (pg *page) two(total int) {
	f := &flow{page: pg, total: total, title: "Reasons and assumptions"}
	f.turn()
	f.more()
	f.harmful()
	for _, do := range pg.late {
		do(f)
	}
	f.vibration()
	f.groove()
	f.limits()
	f.ends()
	f.trains()
	f.speeds()
	f.detail()
	f.words("Picking the thread up again", stepWords(pg.s.p.Routine.Again))
	f.words("Tool", pg.s.p.Tool.Steps)
	f.words("What each way of checking tells", pg.s.p.Size.Methods)
	f.reasons()
	pg.foot(total)
}

// turn goes to the next column, or to the next page.
func (f *flow) turn() {
	if len(f.rest) == 0 {
		if f.c != nil {
			f.foot(f.total)
		}
		f.Page(f.Size(0))
		c := f.column(f.box)
		head := f.s.p.Thread.Designation + ": " + strings.ToLower(f.title)
		c.say(head, fit(draw.Style{Size: 6, Bold: true}, head, f.box.W))
		c.y += 2
		f.rest = below(f.box, c.y).Columns(2, 7)
	}
	f.c = f.column(f.rest[0])
	f.rest = f.rest[1:]
}

// room turns when less than h is left in the column.
func (f *flow) room(h unit.Length) {
	if f.c.y+h > f.c.Bottom() && f.c.y > f.c.Y {
		f.turn()
	}
}

var backStyle = draw.Style{Size: 2.9}

// lines sets text, turning between lines where it must.
func (f *flow) lines(in unit.Length, text string, st draw.Style) {
	for _, line := range st.Wrap(text, f.c.W-in) {
		f.room(leading(st))
		f.c.sayAt(in, line, st)
	}
}

func (f *flow) heading(text string) {
	f.room(14)
	if f.c.y > f.c.Y {
		f.c.y += 2.5
	}
	st := draw.Style{Size: 3.6, Bold: true}
	f.Stroke(draw.Segment(draw.Pt{X: f.c.X, Y: f.c.y}, draw.Pt{X: f.c.Right(), Y: f.c.y}), draw.Thin)
	f.c.y += 0.8
	f.c.say(text, st)
	f.c.y += 0.5
}

func (f *flow) item(mark, text string, st draw.Style) {
	lines := st.Wrap(text, f.c.W-4)
	f.room(leading(st) * unit.Length(min(len(lines), 2)))
	m := st
	m.Rise = draw.Cap
	f.c.Text(draw.Pt{X: f.c.X, Y: f.c.y + (leading(st)-st.Cap())/2}, mark, m)
	for _, line := range lines {
		f.room(leading(st))
		f.c.sayAt(4, line, st)
	}
	f.c.y += 0.4
}

func (f *flow) words(title string, all []string) {
	if len(all) == 0 {
		return
	}
	f.heading(title)
	for _, w := range all {
		f.item("·", w, backStyle)
	}
}

func stepWords(all []plan.Step) []string {
	var out []string
	for _, s := range all {
		w := s.Do
		if s.Check != "" {
			w += " → " + s.Check
		}
		out = append(out, w)
	}
	return out
}

// more sets what page one left out to stay one page.
func (f *flow) more() {
	if f.curesLater() {
		var all []string
		for _, h := range f.s.p.Hazards {
			if h.Level == plan.Warning && len(h.Cures) > 0 {
				all = append(all, h.Text+" → "+strings.Join(h.Cures, "; "))
			}
		}
		f.words("What cures the warnings", all)
	}
	if !f.blockedPlan() {
		if f.holdingLater() {
			f.words("Holding", f.s.p.Work.Holding)
		}
		if r := f.s.p.Routine; f.stepsLater() {
			f.words("Zero", stepWords(r.Zero))
			f.words("Air pass", stepWords(r.Air))
			f.words("Scratch pass", stepWords(r.Scratch))
		}
	}
	s := f.s.p.Stopping
	if !f.terse() || s.Method == "" {
		return
	}
	all := []string{"start: " + s.Start}
	if s.Risk > 0 {
		all = append(all, "chance: "+(&text{}).risk(s))
	}
	if f.s.p.Swing.ScaleReads != "" {
		all = append(all, "compound: "+f.s.p.Swing.Direction)
	}
	f.words("More on this set-up", all)
}

// harmful sets the assumptions, those that can hurt first and with a sign.
func (f *flow) harmful() {
	if len(f.s.p.Assumptions) == 0 {
		return
	}
	f.heading("Assumed, to be replaced by a measurement")
	for _, harm := range []bool{true, false} {
		for _, a := range f.s.p.Assumptions {
			if a.Harm != harm {
				continue
			}
			text, mark, st := a.About+": "+a.Text, "·", backStyle
			if harm {
				text, mark, st.Bold = "CAN HURT · "+text, "", true
				f.room(leading(st) * 2)
				warningSign(f.List, draw.Pt{X: f.c.X, Y: f.c.y + 0.2}, 3.1)
			}
			f.item(mark, text, st)
			if a.Replace != "" {
				f.c.y -= 0.4
				f.lines(4, "→ "+a.Replace, backStyle)
				f.c.y += 0.4
			}
		}
	}
}

// checkList is for plans whose page one is full.
func (pg *page) checkList(f *flow) { f.words("Ends, burrs, final checks", stepWords(pg.s.p.Finish)) }

// groove draws the groove as the passes leave it.
func (f *flow) groove() {
	d := f.s.passDrawing()
	if len(d) == 0 {
		return
	}
	const high = 74
	f.room(high + 14)
	f.heading("The groove, pass by pass")
	d[0].Draw(f.List, draw.Box{X: f.c.X, Y: f.c.y, W: f.c.W, H: high})
	f.c.y += high + 1
}

// table sets a table that goes on in the next column.
func (f *flow) table(t draw.Table) {
	for len(t.Rows) > 0 {
		f.room(14)
		h, n := t.Draw(f.List, draw.Box{X: f.c.X, Y: f.c.y, W: f.c.W, H: f.c.Bottom() - f.c.y})
		f.c.y += h
		rest := map[int]bool{}
		for i := range t.Strong {
			rest[i-n] = true
		}
		t.Rows, t.Strong = t.Rows[n:], rest
		if len(t.Rows) > 0 {
			f.turn()
		}
	}
}

func (f *flow) limits() {
	tab := LimitRows(f.s.p.Limits.Member(), f.s.sys)
	if tab == nil {
		return
	}
	f.heading(tab.Caption)
	t := draw.Table{Size: 2.9, Columns: []draw.Column{{}, {Width: 17, Point: true}, {Width: 17, Point: true}, {Width: 17, Point: true}}}
	for i, h := range tab.Head {
		t.Columns[i].Head = h
	}
	for _, r := range tab.Rows {
		t.Rows = append(t.Rows, r.Cells)
	}
	f.table(t)
	for _, r := range tab.Rows {
		if r.Note != "" {
			f.item("·", r.Cells[0]+": "+r.Note, backStyle)
		}
	}
}

// ends lists the other ways to end a pass.
func (f *flow) ends() {
	if len(f.s.p.Stopping.Others) == 0 {
		return
	}
	f.heading("Other ways to end a pass")
	for _, o := range f.s.p.Stopping.Others {
		state := "no: "
		if o.Usable {
			state = "yes: "
		}
		f.item("·", o.Method+", "+state+o.Reason, backStyle)
	}
}

// trains lists the other ways to gear the lathe.
func (f *flow) trains() {
	if len(f.s.p.Gears) < 2 {
		return
	}
	f.heading("Other ways to gear it")
	for _, g := range f.s.p.Gears[1:] {
		var parts []string
		if g.Levers != "" {
			parts = append(parts, "levers "+g.Levers)
		}
		if len(g.Words) > 0 {
			parts = append(parts, strings.Join(g.Words, " · "))
		}
		f.item("·", strings.Join(append(parts, f.s.gearNote(g)), "; "), backStyle)
	}
}

// speeds lists every speed of the lathe with what it would mean here.
func (f *flow) speeds() {
	steps := f.s.p.Speed.Steps
	if len(steps) == 0 {
		return
	}
	f.heading("Every speed of this lathe, for this thread")
	t := draw.Table{Size: 2.7, Gap: 2, Strong: map[int]bool{}, Columns: []draw.Column{
		{Head: "rpm", Width: 9, Anchor: draw.End},
		{Head: "surface", Width: 15, Anchor: draw.End},
		{Head: "room", Width: 12, Anchor: draw.End},
		{Head: "ending a pass"},
	}}
	for i, s := range steps {
		t.Strong[i] = s.Usable && s.Fastest
		t.Rows = append(t.Rows, []string{fmt.Sprintf("%.4g", s.RPM.RPM()), s.Surface.Format(f.s.sys, 0), number(s.Room, f.s.sys), speedVerdict(s, f.s.p.Speed)})
	}
	f.table(t)
}

// speedVerdict says in a few words whether a speed of the lathe would do.
func speedVerdict(s plan.SpeedStep, all plan.Speed) string {
	why, _, _ := strings.Cut(s.Why, ";")
	words := s.Ending
	switch {
	case s.Usable && s.Fastest:
		words += "; fastest at the risk chosen"
	case !s.Usable:
		words += ": " + why
	}
	switch {
	case s.InRange:
	case s.Surface > all.High:
		words += "; above the range"
	default:
		words += "; below the range"
	}
	return words
}

// detail sets what governs each pass.
func (f *flow) detail() {
	if len(f.s.p.Passes) == 0 {
		return
	}
	f.heading("What governs each pass")
	if b := f.s.p.Bend; b != nil && b.Words != "" {
		f.item("·", "bending: "+b.Words, backStyle)
	}
	t := draw.Table{Size: 2.7, Gap: 2, Strong: map[int]bool{}, Columns: []draw.Column{
		{Head: "pass", Width: 9, Anchor: draw.End},
		{Head: "takes, " + f.s.sys.String(), Width: 16, Anchor: draw.End},
		{Head: "force", Width: 13, Anchor: draw.End},
		{Head: "governed by"},
	}}
	for i, p := range f.s.p.Passes {
		t.Strong[i] = p.Measure
		t.Rows = append(t.Rows, []string{fmt.Sprint(p.N), number(p.Infeed, f.s.sys), p.Force.Format(f.s.sys), p.GovernedBy})
	}
	f.table(t)
}

func (f *flow) reasons() {
	if len(f.s.p.Reasons) == 0 {
		return
	}
	f.heading("Reasons")
	for _, r := range f.s.p.Reasons {
		body := r.About + ": " + r.Text
		if r.Source != "" {
			body += " [" + r.Source + "]"
		}
		f.item("·", body, backStyle)
	}
}
