package render

import (
	"fmt"
	"strings"

	"thrum/draw"
	"thrum/plan"
	"thrum/unit"
)

// The pass table of page one is worked through with a pencil: a box to tick, the
// reading to wind to, and room for what was measured.

const passHead unit.Length = 10.5 // title, what the dial is, names of the columns

// passRow is one line of the table.
type passRow struct {
	pass plan.Pass
	dial string
	note string // a line of its own: above a change of dial, below a pass to measure after
	stop bool
}

// passRows turns passes into lines; notes are lines without a dial.
func (s sheet) passRows() []passRow {
	compound := s.p.Swing.Method != "straight"
	last := len(s.p.Passes) - 1
	var rows []passRow
	for i, ps := range s.p.Passes {
		r, prefix := ps.Cross, ""
		switch {
		case compound && ps.Cross.Slide > 0: // a last pass straight in: the compound stays
			prefix = "CROSS "
			if i > 0 && s.p.Passes[i-1].Cross.Slide == 0 {
				rows = append(rows, passRow{pass: ps, note: "from here straight in: compound stays, CROSS beyond its 0 (" + r.Kind + ")"})
			}
		case compound:
			r = ps.Compound
		}
		dial := prefix + strings.TrimSuffix(r.Text, " ("+r.Kind+")")
		if ps.Spring {
			dial += " spring"
		}
		rows = append(rows, passRow{pass: ps, dial: dial, stop: ps.Measure})
		switch {
		case ps.Measure && i < last:
			rows = append(rows, passRow{pass: ps, stop: true, note: "STOP AND MEASURE: clean, read the size, work out what is left"})
		case i == last && len(s.p.Finish) > 0:
			rows = append(rows, passRow{pass: ps, stop: true, note: "MEASURE: " + s.aim()})
		}
	}
	return rows
}

// aim is what to read when the last pass is cut, in few words.
func (s sheet) aim() string {
	if w := s.p.Wires; w != nil && w.Over.Target > 0 {
		return "over " + s.len(w.Use) + " " + wireName(s.p.Thread.Internal) + ", aim at " + number(w.Over.Target, s.sys)
	}
	return s.p.Finish[0].Check
}

// upTo returns the lines of passes from index i to before index j.
func (s sheet) upTo(i, j int) []passRow {
	if i >= j {
		return nil
	}
	first, last := s.p.Passes[i].N, s.p.Passes[j-1].N
	var out []passRow
	for _, r := range s.passRows() {
		if r.pass.N >= first && r.pass.N <= last {
			out = append(out, r)
		}
	}
	return out
}

// passesHeight is the height of a table with the first n passes.
func (pg *page) passesHeight(n int, row unit.Length) unit.Length {
	if n == 0 {
		return passHead + 6
	}
	h := passHead + row*unit.Length(len(pg.s.upTo(0, n)))
	if n < len(pg.s.p.Passes) {
		h += 5
	}
	return h
}

// passesIn is how many passes fit a height at the least height of a row.
func (pg *page) passesIn(h unit.Length) int {
	n := len(pg.s.p.Passes)
	for n > 0 && pg.passesHeight(n, pg.rowHeight()) > h+1e-9 {
		n--
	}
	return n
}

// rowFor spreads the rows over a height, within reason.
func (pg *page) rowFor(h unit.Length) unit.Length {
	n := pg.passesIn(h)
	lines := len(pg.s.upTo(0, n))
	if lines == 0 {
		return pg.rowHeight()
	}
	rest := h - passHead
	if n < len(pg.s.p.Passes) {
		rest -= 5
	}
	return max(pg.rowHeight(), min(6, rest/unit.Length(lines)))
}

// passTable sets passes from index i to before j and returns where the table ends.
func (pg *page) passTable(b draw.Box, i, j int, row unit.Length) unit.Length {
	c := pg.column(b)
	c.title(8, "Passes")
	all := pg.s.p.Passes
	if len(all) == 0 {
		words := "none: the thread is at size"
		if len(pg.s.p.Blocked()) > 0 {
			words = "none: this set-up is blocked"
		}
		c.say(words, draw.Style{Size: 4.8, Bold: true})
		return c.y
	}
	t := passColumns{page: pg, b: b, row: row, finish: pg.s.p.Speed.Finish > 0}
	c.y = t.head(c.y)
	for _, r := range pg.s.upTo(i, j) {
		c.y = t.line(c.y, r)
	}
	if j < len(all) {
		st := pg.strong()
		st.Rise = draw.Half
		pg.Text(draw.Pt{X: b.X, Y: c.y + 2.8}, fmt.Sprintf("passes %d to %d: next page", all[j].N, all[len(all)-1].N), st)
		c.y += 5
	}
	return c.y
}

// passColumns knows where the columns of the table stand.
type passColumns struct {
	*page
	b      draw.Box
	row    unit.Length
	finish bool // two spindle speeds: each row says which
}

func (t passColumns) number() unit.Length { return t.b.X + 12 }
func (t passColumns) dial() unit.Length   { return t.b.X + 15 }
func (t passColumns) depth() unit.Length  { return t.b.X + t.b.W*0.68 }
func (t passColumns) blank() unit.Length  { return t.b.X + t.b.W*0.72 }

func (t passColumns) head(y unit.Length) unit.Length {
	first := t.s.p.Passes[0]
	dial, kind, rule := "CROSS to", first.Cross.Kind, "compound stays at 0"
	if t.s.p.Swing.Method != "straight" {
		dial, kind, rule = "COMPOUND to", first.Compound.Kind, "CROSS back to 0 before each pass"
	}
	st := draw.Style{Size: 2.9, Bold: true, Rise: draw.Half}
	at := y + 2.4
	plain := draw.Style{Size: 2.6, Colour: draw.Grey, Rise: draw.Half}
	depth := "depth, " + t.s.sys.String()
	if long := dial + ", " + kind; st.Width(long) < t.depth()-plain.Width(depth)-t.dial()-1 {
		dial = long
	} else {
		rule = kind + "; " + rule
	}
	t.Text(draw.Pt{X: t.b.Right(), Y: y - 2.9}, rule, right(fit(st, rule, t.b.W-20)))
	t.Text(draw.Pt{X: t.number(), Y: at}, "pass", right(plain))
	t.Text(draw.Pt{X: t.dial(), Y: at}, dial, fit(st, dial, t.depth()-plain.Width(depth)-t.dial()-1))
	t.Text(draw.Pt{X: t.depth(), Y: at}, depth, right(plain))
	t.Text(draw.Pt{X: t.blank(), Y: at}, "measured", plain)
	y += passHead - 5.2
	t.Stroke(draw.Segment(draw.Pt{X: t.b.X, Y: y}, draw.Pt{X: t.b.Right(), Y: y}), draw.Thin)
	return y
}

func right(st draw.Style) draw.Style { st.Anchor = draw.End; return st }

// line sets one row of the table.
func (t passColumns) line(y unit.Length, r passRow) unit.Length {
	mid := y + t.row/2
	st := draw.Style{Size: min(4.2, t.row*0.8), Bold: true, Rise: draw.Half}
	if r.stop {
		t.Fill(draw.Rect(draw.Box{X: t.b.X, Y: y, W: t.b.W, H: t.row}), draw.Wash)
		t.Fill(draw.Rect(draw.Box{X: t.b.X - 1.6, Y: y, W: 1, H: t.row}), draw.Accent)
	}
	if r.dial == "" {
		note := fit(draw.Style{Size: 3, Bold: true, Rise: draw.Half}, r.note, t.b.W-2)
		if note.Width(r.note) > t.b.W-2 {
			r.note = note.Shorten(r.note, t.b.W-2)
		}
		t.Text(draw.Pt{X: t.b.X + 1, Y: mid}, r.note, note)
		t.rule(y + t.row)
		return y + t.row
	}
	side := min(3.4, t.row-1)
	t.Stroke(draw.Rect(draw.Box{X: t.b.X + 0.8, Y: mid - side/2, W: side, H: side}), draw.Thin)
	plain := st
	plain.Bold, plain.Size = r.stop, min(3.4, st.Size)
	t.Text(draw.Pt{X: t.number(), Y: mid}, fmt.Sprint(r.pass.N), right(plain))
	depth := number(r.pass.Depth, t.s.sys)
	if t.finish {
		depth = fmt.Sprintf("%.4g rpm  %s", r.pass.RPM.RPM(), depth)
	}
	t.Text(draw.Pt{X: t.depth(), Y: mid}, depth, right(plain))
	space := t.depth() - plain.Width(depth) - 2 - t.dial()
	t.Text(draw.Pt{X: t.dial(), Y: mid}, r.dial, fit(st, r.dial, space))
	if r.stop {
		t.Fill(draw.Rect(draw.Box{X: t.blank(), Y: y + 0.3, W: t.b.Right() - t.blank(), H: t.row - 0.6}), draw.Paper)
		t.Stroke(draw.Rect(draw.Box{X: t.blank(), Y: y + 0.3, W: t.b.Right() - t.blank(), H: t.row - 0.6}), draw.Visible)
	}
	t.rule(y + t.row)
	return y + t.row
}

func (t passColumns) rule(y unit.Length) {
	t.Stroke(draw.Segment(draw.Pt{X: t.b.X, Y: y}, draw.Pt{X: t.b.Right(), Y: y}), draw.Grid)
}

// morePasses sets the passes that page one had no room for, two columns a page.
func (pg *page) morePasses(from, total int) {
	all := len(pg.s.p.Passes)
	for from < all {
		pg.Page(pg.Size(0))
		st := draw.Style{Size: 8, Bold: true}
		c := pg.column(pg.box)
		c.say(pg.s.p.Thread.Designation+", passes", fit(st, pg.s.p.Thread.Designation+", passes", pg.box.W))
		c.y += 2
		const row unit.Length = 5.6
		for _, col := range below(pg.box, c.y).Columns(2, 6) {
			to := all
			for to > from+1 && passHead+row*unit.Length(len(pg.s.upTo(from, to)))+5 > col.H {
				to--
			}
			if from < all {
				pg.passTable(col, from, to, row)
				from = to
			}
		}
		pg.foot(total)
	}
}
