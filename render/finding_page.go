package render

import (
	"fmt"
	"slices"
	"strings"

	"thrum/draw"
	"thrum/trial"
	"thrum/unit"
)

// FindingPage sets a report on paper: the picture, the three answers, what changed
// and what was held, every sample, and how it was worked out.
func FindingPage(r *trial.Report, paper draw.Size) *draw.List {
	if paper == (draw.Size{}) {
		paper = draw.A4
	}
	s := r.Settled
	pg := &findingPage{List: draw.New(paper, s.Question), r: r, box: paper.Box(15)}
	pg.Meta.Subject, pg.Meta.Desc = "finding of a trial", s.Question
	pg.y = pg.box.Y
	pg.foot()
	pg.say(s.Question, draw.Style{Size: 7, Bold: true})
	pg.say(fmt.Sprintf("%s against %s (%s). %s.", s.Factor.Changed, s.Factor.Baseline, s.Factor.Name, s.Design.Words(s.Factor)), draw.Style{Size: draw.TextSize, Colour: draw.Grey})
	pg.y += 3
	if r.Finding == nil {
		pg.say(r.Waiting, draw.Style{Size: 4.2})
	} else {
		pg.picture()
		pg.answers()
		pg.conditions()
	}
	pg.samples()
	pg.notes()
	return pg.List
}

type findingPage struct {
	*draw.List
	r   *trial.Report
	box draw.Box
	y   unit.Length
}

// room starts a new page when less than h is left.
func (pg *findingPage) room(h unit.Length) {
	if pg.y+h > pg.box.Bottom()-6 {
		pg.Page(pg.Size(0))
		pg.y = pg.box.Y
		pg.foot()
	}
}

func (pg *findingPage) say(text string, st draw.Style) { pg.sayAt(0, text, st) }

func (pg *findingPage) sayAt(in unit.Length, text string, st draw.Style) {
	st.Rise = draw.Cap
	for _, line := range st.Wrap(text, pg.box.W-in) {
		pg.room(st.Size * 1.35)
		pg.Text(draw.Pt{X: pg.box.X + in, Y: pg.y}, line, st)
		pg.y += st.Size * 1.35
	}
}

func (pg *findingPage) head(title string) {
	pg.y += 3
	pg.room(22)
	pg.Stroke(draw.Segment(draw.Pt{X: pg.box.X, Y: pg.y}, draw.Pt{X: pg.box.Right(), Y: pg.y}), draw.Visible)
	pg.y += 1.8
	pg.say(title, draw.Style{Size: 4.4, Bold: true})
	pg.y += 0.8
}

func (pg *findingPage) picture() {
	size := draw.Size{W: 260, H: 100}
	k := float64(pg.box.W / size.W)
	pg.Place(FindingDots(pg.r.Finding, size), 0, draw.Pt{X: pg.box.X, Y: pg.y}, k)
	pg.y += size.H * unit.Length(k)
}

func (pg *findingPage) answers() {
	f := pg.r.Finding
	pg.head("Three answers, never merged")
	for _, a := range Answers(pg.r) {
		pg.room(14)
		st := draw.Style{Size: draw.TextSize, Bold: true, Rise: draw.Cap, Colour: draw.Accent}
		pg.Text(draw.Pt{X: pg.box.X, Y: pg.y}, a.Name, st)
		pg.sayAt(26, a.Words, draw.Style{Size: draw.TextSize})
		for _, d := range a.Detail {
			pg.sayAt(26, d, draw.Style{Size: 3, Colour: draw.Grey})
		}
		pg.y += 1.2
	}
	if f.Caused.Settle != "" {
		st := draw.Style{Size: draw.TextSize, Bold: true, Rise: draw.Cap}
		pg.Text(draw.Pt{X: pg.box.X, Y: pg.y}, "to settle it", st)
		pg.sayAt(26, f.Caused.Settle, draw.Style{Size: draw.TextSize})
	}
}

func (pg *findingPage) conditions() {
	pg.head("What changed, what was held")
	t := draw.Table{Size: 3, Columns: []draw.Column{{Head: "condition", Width: 38}, {Head: "became", Width: 33}, {Head: pg.r.Settled.Factor.Baseline}, {Head: pg.r.Settled.Factor.Changed}}}
	for _, c := range pg.r.Finding.Conditions {
		name := c.Name
		if c.Warning != "" {
			name += ": " + c.Warning
		}
		t.Rows = append(t.Rows, []string{name, string(c.Status), some(c.Baseline), some(c.Changed)})
	}
	pg.table(t)
	if len(pg.r.Finding.Conditions) == 1 {
		pg.say("Nothing else was written down, so nothing else is known to have been held.", draw.Style{Size: draw.TextSize})
	}
}

// table sets a table over as many pages as it takes.
func (pg *findingPage) table(t draw.Table) {
	for len(t.Rows) > 0 {
		pg.room(18)
		h, n := t.Draw(pg.List, draw.Box{X: pg.box.X, Y: pg.y, W: pg.box.W, H: pg.box.Bottom() - 6 - pg.y})
		pg.y += h + 2
		t.Rows = t.Rows[n:]
		if len(t.Rows) > 0 {
			pg.y = pg.box.Bottom()
		}
	}
}

func (pg *findingPage) samples() {
	pg.head("Every sample, in the order it was cut")
	block := pg.r.Settled.Design.Kind.Block()
	t := draw.Table{Size: 3, Columns: []draw.Column{
		{Head: "run", Width: 10, Anchor: draw.End},
		{Head: "code", Width: 15},
		{Head: block, Width: 16},
		{Head: pg.r.Settled.Factor.Name},
		{Head: pg.r.Settled.ScoreIs, Anchor: draw.End},
		{Head: "mean over wires, " + pg.r.Units.String(), Anchor: draw.End},
		{Head: "taper, " + pg.r.SmallUnit(), Anchor: draw.End},
		{Head: "beyond limit, " + pg.r.SmallUnit(), Anchor: draw.End},
	}}
	for _, s := range SampleRows(pg.r) {
		row := []string{s.Run, s.Code, s.Block, s.Arm, s.Score, s.Mean, s.Taper, s.Beyond}
		if s.LeftOut != "" {
			row[4] = "left out: " + s.LeftOut
		}
		t.Rows = append(t.Rows, row)
	}
	if block == "" {
		t.Columns = slices.Delete(t.Columns, 2, 3)
		for i, row := range t.Rows {
			t.Rows[i] = slices.Delete(row, 2, 3)
		}
	}
	pg.table(t)
}

func (pg *findingPage) notes() {
	s := pg.r.Settled
	pg.head("How it was done")
	lines := []string{fmt.Sprintf("Run order and codes were drawn before the first cut with seed %d; whoever has the seed can draw them again.", s.Seed)}
	if s.Design.Kind == trial.KindTable {
		lines = nil
	} else if !s.Design.Drawn() {
		lines[0] = fmt.Sprintf("The order was fixed by the plan, not drawn; the codes were drawn with seed %d.", s.Seed)
	}
	if pg.r.Finding != nil {
		lines = append(lines, "This plan: "+pg.r.Finding.Reach.Words+".")
		for _, n := range pg.r.Finding.Notes {
			lines = append(lines, upperFirst(n)+".")
		}
	}
	if s.Watch != "" {
		lines = append(lines, "Easily missed: "+s.Watch+".")
	}
	lines = append(lines, "Trial cuts are cuts: guard, eye protection, no gloves, chuck key out; your machine's manual and local rules come first.")
	for _, l := range lines {
		pg.say(l, draw.Style{Size: 3.2})
		pg.y += .6
	}
}

// foot says whose page it is, for the day when the sheets fall apart.
func (pg *findingPage) foot() {
	st := draw.Style{Size: draw.SmallText, Colour: draw.Grey, Anchor: draw.End}
	pg.Text(draw.Pt{X: pg.box.Right(), Y: pg.box.Bottom() + 4}, fmt.Sprintf("%s · page %d", st.Shorten(pg.r.Settled.Question, pg.box.W-30), pg.Pages()), st)
}

// Answer is one of the answers of a trial, under its own name.
type Answer struct {
	Name   string
	Words  string
	Detail []string
}

// Answers lists seen, measured, size where it was lost or moved, and caused.
func Answers(r *trial.Report) []Answer {
	f := r.Finding
	if f == nil {
		return nil
	}
	measured := Answer{Name: "measured", Words: f.Measured.Words}
	if m := f.Measured; m.Test.Counted > 0 {
		measured.Detail = append(measured.Detail, pWords(m.Test))
		if m.Bell != nil {
			measured.Detail = append(measured.Detail, fmt.Sprintf("for comparison, under a bell curve: t = %.3g, p = %.2g, %.4g to %.4g", m.Bell.T, m.Bell.P, m.Bell.Interval.Low, m.Bell.Interval.High))
		}
	}
	if r.Graders != nil {
		measured.Detail = append(measured.Detail, r.Graders.Words)
	}
	for _, a := range r.Also {
		measured.Detail = append(measured.Detail, fmt.Sprintf("also looked at: %s p = %.2g, adjusted for %d scores %.2g", a.Words, a.P, len(r.Also)+1, a.Adjusted))
	}
	out := []Answer{{Name: "seen", Words: f.Seen.Words}, measured}
	size := Answer{Name: "size", Words: f.Measured.Undersize.Words}
	if r.Size != nil {
		switch n := len(r.Shapes); {
		case size.Words != "":
		case r.Judged == 0:
			size.Words = "Whether a size was lost is not known: no plan says the limits."
		default:
			size.Words = fmt.Sprintf("Of %d measured samples %d have known limits; none of these is beyond them.", n, r.Judged)
		}
		size.Words += " " + r.Size.Words
	}
	if size.Words != "" {
		out = append(out, size)
	}
	return append(out, Answer{Name: "caused", Words: f.Caused.Words, Detail: []string{"level of evidence: " + levelWords(f.Caused.Level)}})
}

// levelWords says a rung of the ladder of evidence; the rules are in docs/trials.md.
func levelWords(l trial.Level) string {
	if n, ok := strings.CutPrefix(string(l), "L"); ok {
		return n + " of 4"
	}
	return string(l)
}

// SampleRow is one sample as the pages and the paper list it.
type SampleRow struct {
	Run, Code, Block, Arm, Score, Mean, Taper, Round, Beyond, LeftOut string
}

// SampleRows lists every run in the order drawn.
func SampleRows(r *trial.Report) []SampleRow {
	var out []SampleRow
	for i, run := range r.Settled.Runs {
		row := SampleRow{Run: fmt.Sprint(run.Order), Code: run.Code, Arm: run.Arm}
		if b := r.Settled.Design.Kind.Block(); b != "" {
			row.Block = fmt.Sprintf("%s %d", b, run.Block)
		}
		if i < len(r.Evidence) {
			e := r.Evidence[i]
			row.LeftOut = e.LeftOut
			if v, ok := e.Score(r.Settled.ScoreIs); ok {
				row.Score = fmt.Sprintf("%.4g", v)
			}
		}
		if k := slices.IndexFunc(r.Shapes, func(s trial.Shape) bool { return s.Code == run.Code }); k >= 0 {
			s := r.Shapes[k]
			row.Mean, row.Taper, row.Round = number(s.Mean, r.Units), r.Signed(s.Taper), r.SmallSize(s.Round)
			if s.Beyond > 0 {
				row.Beyond = r.SmallSize(s.Beyond)
			}
		}
		out = append(out, row)
	}
	return out
}
