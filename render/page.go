package render

import (
	"fmt"
	"strings"

	"thrum/draw"
	"thrum/lathe"
	"thrum/plan"
	"thrum/unit"
)

// PageOptions say on what paper the sheet is set.
type PageOptions struct {
	Paper draw.Size // zero: Letter where the plan is in inches, A4 where it is in millimetres
}

// Smallest paper on which everything that page one must say stays legible.
const (
	leastPaperW unit.Length = 190
	leastPaperH unit.Length = 250
)

// Page sets the sheet on upright paper. Page one hangs on the lathe and holds all
// that the hands need, in the order of the work; passes that have no room there go
// on upon the next page; reasons, assumptions and what else could be done follow.
func Page(p *plan.Plan, o PageOptions) (*draw.List, error) {
	size := o.Paper
	if size == (draw.Size{}) {
		size = draw.A4
		if p.Request.Units == unit.Inches {
			size = draw.Letter
		}
	}
	if size.W < leastPaperW || size.H < leastPaperH {
		return nil, &unit.InputError{
			Field: "paper", Value: fmt.Sprintf("%.0f x %.0f mm", size.W.MM(), size.H.MM()),
			Reason: "is too small for the sheet", Hint: "use a4 or letter, upright",
		}
	}
	front := bestFront(p, size)
	pages := setPages(p, size, front, 0)
	return setPages(p, size, front, pages.Pages()), nil
}

// setPages sets all pages; total is printed in the foot.
func setPages(p *plan.Plan, size draw.Size, f front, total int) *draw.List {
	pg := newPage(p, size, f)
	shown := pg.one().shown
	pg.foot(total)
	pg.morePasses(shown, total)
	pg.two(total)
	return pg.List
}

// front says how closely page one is set. Most plans need no more than the first
// step; long warnings and many passes need less lettering and smaller drawings.
type front struct {
	tight int         // 0 to tightest
	extra unit.Length // further height of the drawings, where there is room
}

const tightest = 6

// ample is how many passes page one holds at least before it is set closer; what
// is beyond goes on upon the next page.
const ample = 18

// fewest is how many it holds at least before the steps that come before the first
// chip are sent to the next page.
const fewest = 12

// bestFront finds the widest setting in which page one holds what it must, and
// gives the drawings what room is left.
func bestFront(p *plan.Plan, size draw.Size) front {
	f := front{}
	for {
		got := newPage(p, size, f).one()
		most := ample
		if f.tight == tightest-1 {
			most, got.short = fewest, false
		}
		if got.left >= -1e-6 && got.shown >= min(len(p.Passes), most) && !got.short {
			f.extra = max(0, min(got.left*0.6, 14))
			return f
		}
		if f.tight == tightest {
			return f
		}
		f.tight++
	}
}

// page is the sheet while it is set.
type page struct {
	*draw.List
	s    sheet
	box  draw.Box // within the margins
	f    front
	late []func(c *flow) // what page one had no room for
}

func newPage(p *plan.Plan, size draw.Size, f front) *page {
	pg := &page{List: draw.New(size, "Set-up sheet "+p.Thread.Designation), s: sheet{p, p.Request.Units}, f: f}
	pg.Meta.Desc = p.Thread.Form + "; " + p.Thread.Words
	pg.Meta.Subject = "set-up sheet for one threaded part"
	pg.box = size.Box(9).Trim(1, 0, 1, 4)
	return pg
}

// body is the lettering of what is read with the nose at the paper.
func (pg *page) body() draw.Style {
	return draw.Style{Size: []unit.Length{3, 2.9, 2.75, 2.6, draw.SmallText, draw.SmallText, draw.SmallText}[pg.f.tight]}
}

// fine is the lettering of what everybody knows and must still be there.
func (pg *page) fine() draw.Style {
	return draw.Style{Size: min(pg.body().Size, 2.7), Colour: draw.Grey}
}

// gap is the room between blocks.
func (pg *page) gap() unit.Length { return []unit.Length{4, 3.4, 2.8, 2.4, 2, 2, 1.6}[pg.f.tight] }

// drawingHeight is the height of the drawing of the blank, the highest of its row.
func (pg *page) drawingHeight() unit.Length {
	return []unit.Length{60, 57, 54, 50, 46, 44, 44}[pg.f.tight] + pg.f.extra
}

// terse tells that what the hands need not know goes to the page of reasons.
func (pg *page) terse() bool { return pg.f.tight >= 2 }

// runIn tells that steps follow each other in one paragraph.
func (pg *page) runIn() bool { return pg.f.tight >= 3 }

// curesLater tells that the cures of warnings go to the page of reasons.
func (pg *page) curesLater() bool { return pg.f.tight >= 4 }

// rowHeight is the least height of a row of the pass table.
func (pg *page) rowHeight() unit.Length {
	return []unit.Length{4.9, 4.7, 4.4, 4.2, 4, 4, 4}[pg.f.tight]
}

// measure returns how high a block would become, without setting it.
func (pg *page) measure(b draw.Box, set func(*page, draw.Box) unit.Length) unit.Length {
	trial := *pg
	trial.List = draw.New(pg.Size(0), "")
	return set(&trial, b) - b.Y
}

// outcome tells how page one came out.
type outcome struct {
	shown int         // passes
	left  unit.Length // below everything; negative when it does not fit
	short bool        // something that belongs on page one had to go on the next
}

// one sets page one.
func (pg *page) one() outcome {
	b := pg.box
	next := func(y unit.Length) { b = draw.Box{X: b.X, Y: y, W: b.W, H: pg.box.Bottom() - y} }
	next(pg.head(b) + pg.gap())
	next(pg.hazardBox(b) + pg.gap())
	cols := b.Columns(2, 6)
	next(max(pg.ending(cols[0]), pg.drive(cols[1])) + pg.gap())
	next(pg.drawings(b) + pg.gap())
	cols = pg.lower(b)
	low := pg.before(cols[0], pg.speed(cols[0]))
	if pg.blockedPlan() {
		low = max(low, pg.passTable(cols[1], 0, 0, 0))
		return outcome{left: pg.box.Bottom() - low}
	}
	checks := pg.measure(cols[0], (*page).checks)
	need := pg.passesHeight(len(pg.s.p.Passes), pg.rowHeight())
	out := outcome{}
	room := pg.box.Bottom() - b.Y
	switch {
	case need+pg.gap()+checks <= room:
		row := pg.rowFor(room - pg.gap() - checks)
		y := pg.passTable(cols[1], 0, len(pg.s.p.Passes), row)
		low = max(low, pg.checks(below(cols[1], y+pg.gap())))
		out.shown = len(pg.s.p.Passes)
	case low+pg.gap()+checks <= pg.box.Bottom():
		low = pg.checks(below(cols[0], low+pg.gap()))
		out.shown = pg.passesIn(room)
		low = max(low, pg.passTable(cols[1], 0, out.shown, pg.rowFor(room)))
	default:
		const line = 5.4
		out.short = true
		pg.late = append(pg.late, pg.checkList)
		out.shown = pg.passesIn(room - line)
		c := pg.column(below(cols[1], pg.passTable(cols[1], 0, out.shown, pg.rowFor(room-line))+0.6))
		c.one("9  Ends, burrs, final checks: next page", pg.strong())
		low = max(low, c.y)
	}
	out.left = pg.box.Bottom() - low
	return out
}

// holdingLater and stepsLater tell what else goes there when nothing less will do.
func (pg *page) holdingLater() bool { return pg.f.tight >= 5 }
func (pg *page) stepsLater() bool   { return pg.f.tight >= 6 }

// lower divides the lowest part of the page between the steps before the first chip
// and the passes, so that both end at about the same height.
func (pg *page) lower(b draw.Box) []draw.Box {
	var best []draw.Box
	least := unit.Length(1e6)
	for _, share := range []unit.Length{0.5, 0.54, 0.58} {
		left, right := b.Left(b.W * share)
		cols := []draw.Box{left.Trim(0, 0, 3, 0), right.Trim(3, 0, 0, 0)}
		steps := pg.measure(cols[0], func(p *page, b draw.Box) unit.Length { return p.before(b, p.speed(b)) })
		passes := pg.passesHeight(len(pg.s.p.Passes), pg.rowHeight())
		checks := pg.gap() + pg.measure(cols[1], (*page).checks)
		if high := min(max(steps, passes+checks), max(steps+checks, passes)); high < least-2 {
			best, least = cols, high
		}
	}
	return best
}

// blockedPlan tells that nothing may be cut.
func (pg *page) blockedPlan() bool { return len(pg.s.p.Blocked()) > 0 }

func below(b draw.Box, y unit.Length) draw.Box {
	return draw.Box{X: b.X, Y: y, W: b.W, H: b.Bottom() - y}
}

// foot says whose page it is, for the day when the sheets fall off the magnet.
func (pg *page) foot(total int) {
	st := draw.Style{Size: draw.SmallText, Colour: draw.Grey}
	y := pg.box.Bottom() + 4
	words := pg.s.p.Thread.Designation
	if la, err := lathe.Parse("lathe", []byte(pg.s.p.Request.Lathe)); err == nil && la.Name != "" {
		words += " · " + la.Name
	}
	if pg.s.p.Request.Material != "" {
		words += " · " + pg.s.p.Request.Material
	}
	right := fmt.Sprintf("%s · page %d of %d", unitNote(pg.s.sys), pg.Pages(), total)
	pg.Text(draw.Pt{X: pg.box.X, Y: y}, st.Shorten(words, pg.box.W-st.Width(right)-6), st)
	st.Anchor = draw.End
	pg.Text(draw.Pt{X: pg.box.Right(), Y: y}, right, st)
}

// column sets lines from the top of a box down.
type column struct {
	*draw.List
	draw.Box
	y unit.Length
}

func (pg *page) column(b draw.Box) *column { return &column{pg.List, b, b.Y} }

// say sets wrapped text over the width of the column.
func (c *column) say(text string, st draw.Style) { c.sayAt(0, text, st) }

// sayAt sets wrapped text with an indent.
func (c *column) sayAt(in unit.Length, text string, st draw.Style) {
	if text == "" {
		return
	}
	st.Rise = draw.Cap
	for _, line := range st.Wrap(text, c.W-in) {
		c.Text(draw.Pt{X: c.X + in, Y: c.y + (leading(st)-st.Cap())/2}, line, st)
		c.y += leading(st)
	}
}

// leading sets the lines of the sheet a little closer than in a drawing.
func leading(st draw.Style) unit.Length { return st.Size * 1.25 }

// sayAfter sets wrapped text that begins on the line of a heading.
func (c *column) sayAfter(head string, hs draw.Style, text string, st draw.Style) {
	in := hs.Width(head) + 1.6
	c.item(head, "", 0, hs)
	words := strings.Fields(text)
	first := ""
	for len(words) > 0 && st.Width(first+" "+words[0]) <= c.W-in {
		first = strings.TrimSpace(first + " " + words[0])
		words = words[1:]
	}
	if first == "" {
		c.y += leading(st)
	}
	c.sayAt(in, first, st)
	c.say(strings.Join(words, " "), st)
}

// one sets a single line, smaller where it would be too wide; what is too wide even
// at the smallest lettering is wrapped.
func (c *column) one(text string, st draw.Style) {
	high := leading(st)
	st = fit(st, text, c.W-0.1)
	if st.Width(text) > c.W {
		c.say(text, st)
		return
	}
	st.Rise = draw.Half
	c.Text(draw.Pt{X: c.X, Y: c.y + high/2}, text, st)
	c.y += high
}

// item sets a mark and the text beside it.
func (c *column) item(mark, text string, in unit.Length, st draw.Style) {
	top := st
	top.Rise = draw.Cap
	c.Text(draw.Pt{X: c.X, Y: c.y + (leading(st)-st.Cap())/2}, mark, top)
	c.sayAt(in, text, st)
}

// fit returns the style, made smaller until the text is no wider than w; never
// below the smallest lettering.
func fit(st draw.Style, text string, w unit.Length) draw.Style {
	if got := st.Width(text); got > w {
		st.Size = max(draw.SmallText, st.Size*w/got)
	}
	return st
}

// title sets the head of a block: its number, its name and a rule above.
func (c *column) title(n int, name string) {
	c.Stroke(draw.Segment(draw.Pt{X: c.X, Y: c.y}, draw.Pt{X: c.Right(), Y: c.y}), draw.Visible)
	st := draw.Style{Size: 3.6, Bold: true, Rise: draw.Cap}
	at := draw.Pt{X: c.X, Y: c.y + 1.2}
	num := st
	num.Colour = draw.Accent
	c.Text(at, fmt.Sprint(n), num)
	c.Text(draw.Pt{X: at.X + 4.2, Y: at.Y}, name, st)
	c.y += 5.2
}

// warningSign draws the triangle that marks what can hurt, its top left corner at
// the point.
func warningSign(l *draw.List, at draw.Pt, h unit.Length) {
	w := h * 1.15
	l.Fill(draw.Polygon(draw.Pt{X: at.X + w/2, Y: at.Y}, draw.Pt{X: at.X + w, Y: at.Y + h}, draw.Pt{X: at.X, Y: at.Y + h}), draw.Ink)
	x := at.X + w/2
	l.Fill(draw.Polygon(draw.Pt{X: x - 0.09*h, Y: at.Y + 0.34*h}, draw.Pt{X: x + 0.09*h, Y: at.Y + 0.34*h}, draw.Pt{X: x + 0.05*h, Y: at.Y + 0.68*h}, draw.Pt{X: x - 0.05*h, Y: at.Y + 0.68*h}), draw.Paper)
	l.Fill(draw.Circle(draw.Pt{X: x, Y: at.Y + 0.81*h}, 0.075*h), draw.Paper)
}
