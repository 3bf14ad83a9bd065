package draw

import (
	"strings"

	"thrum/unit"
)

// Column is one column of a table.
type Column struct {
	Head   string
	Width  unit.Length // on paper; 0 shares what the others leave
	Anchor Anchor      // Start sets text to the left, End to the right
	Point  bool        // line numbers up by their decimal point; Anchor does not matter then
}

// Table is a table with a ruled head. Cells are wrapped; a row is as high as its
// highest cell.
type Table struct {
	Columns []Column
	Rows    [][]string
	Size    unit.Length  // of the lettering; 0 means TextSize
	Strong  map[int]bool // rows set in bold, such as the one to measure after
	Gap     unit.Length  // between columns; 0 means one size of lettering
}

// Draw sets the table into the box from its top. It returns the height used and
// the number of rows set; rows that would pass the bottom of the box are left for
// the next page. A box too low for the head and one row takes them all the same.
func (t Table) Draw(l *List, b Box) (height unit.Length, rows int) {
	st := Style{Size: t.Size}
	boxes := t.columns(b)
	pad := st.size() * 0.3
	head := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		head[i] = c.Head
	}
	y := b.Y
	if strings.Join(head, "") != "" {
		hs := st
		hs.Bold = true
		hh := t.rowHeight(head, hs, boxes)
		t.row(l, head, hs, boxes, y+pad+hh-t.rowHeight([]string{""}, hs, boxes), true)
		y += hh + 2*pad
		l.Stroke(Segment(Pt{b.X, y}, Pt{b.Right(), y}), Thin)
	}
	for i, r := range t.Rows {
		rs := st
		rs.Bold = t.Strong[i]
		h := t.rowHeight(r, rs, boxes) + 2*pad
		if y+h > b.Bottom()+1e-6 && i > 0 {
			break
		}
		t.row(l, r, rs, boxes, y+pad, false)
		y += h
		l.Stroke(Segment(Pt{b.X, y}, Pt{b.Right(), y}), Grid)
		rows++
	}
	return y - b.Y, rows
}

// columns returns the place of each column across the box.
func (t Table) columns(b Box) []Box {
	gap := t.Gap
	if gap == 0 {
		gap = Style{Size: t.Size}.size()
	}
	left, open := b.W-gap*mm(len(t.Columns)-1), 0
	for _, c := range t.Columns {
		left -= c.Width
		if c.Width == 0 {
			open++
		}
	}
	x := b.X
	out := make([]Box, len(t.Columns))
	for i, c := range t.Columns {
		w := c.Width
		if w == 0 {
			w = max(left/mm(open), 1)
		}
		out[i] = Box{x, b.Y, w, b.H}
		x += w + gap
	}
	return out
}

func (t Table) rowHeight(cells []string, st Style, boxes []Box) mm {
	lines := 1
	for i, s := range cells {
		if i < len(boxes) {
			lines = max(lines, len(st.Wrap(s, boxes[i].W)))
		}
	}
	return st.Leading()*mm(lines-1) + st.size()*1.15
}

// row sets one row. The lines of a head stand on its foot, those of other rows
// hang from the top.
func (t Table) row(l *List, cells []string, st Style, boxes []Box, y mm, head bool) {
	for i, s := range cells {
		if i >= len(boxes) {
			break
		}
		b, c := boxes[i], t.Columns[i]
		lines := st.Wrap(s, b.W)
		top := y
		if head {
			top -= st.Leading() * mm(len(lines)-1)
		}
		for n, line := range lines {
			at := Pt{b.X, top + st.size()*0.93 + st.Leading()*mm(n)}
			ts := st
			ts.Anchor = c.Anchor
			switch {
			case c.Point && !head:
				at.X = t.pointX(i, st, b) - st.Width(beforePoint(line))
				ts.Anchor = Start
			case c.Point:
				at.X = b.Right()
				ts.Anchor = End
			case c.Anchor == Middle:
				at.X += b.W / 2
			case c.Anchor == End:
				at.X = b.Right()
			}
			l.Text(at, line, ts)
		}
	}
}

// pointX returns where the decimal points of a column lie: as far right as the
// longest fraction allows.
func (t Table) pointX(col int, st Style, b Box) mm {
	after := mm(0)
	for _, r := range t.Rows {
		if col < len(r) {
			after = max(after, st.Width(r[col][len(beforePoint(r[col])):]))
		}
	}
	return b.Right() - after
}

// beforePoint returns what stands before the decimal point, or the whole number.
func beforePoint(s string) string {
	if i := strings.IndexAny(s, ".,"); i >= 0 {
		return s[:i]
	}
	if i := strings.IndexByte(s, ' '); i > 0 {
		return s[:i]
	}
	return s
}
