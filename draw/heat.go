package draw

import (
	"math"
	"strconv"
	"strings"
)

// Heat is a heat map: a figure for each cell of a grid, told by the depth of the
// tint. Cells beyond the limit are hatched and outlined, so that they are seen
// without the tint.
type Heat struct {
	Name           string // what the tint tells, with its unit
	X0, X1, Y0, Y1 float64
	Values         [][]float64 // rows from Y0 up, each from X0
	Limit          float64     // 0 means none
	LimitName      string
}

// span returns the least and the greatest figure.
func (h *Heat) span() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, row := range h.Values {
		for _, v := range row {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	if !(hi > lo) {
		return 0, 1
	}
	return lo, hi
}

// levels returns the first figure and the width of the steps of tint: a nice
// number, so that the key can be read.
func (h *Heat) levels() (first, step float64) {
	lo, hi := h.span()
	step = niceStep((hi - lo) / HeatSteps)
	first = math.Floor(lo/step) * step
	for first+HeatSteps*step < hi { // the floor may have cost one step
		step = niceStep(step * 1.01)
		first = math.Floor(lo/step) * step
	}
	return first, step
}

func (h *Heat) draw(f *frame) {
	first, step := h.levels()
	if len(h.Values) == 0 {
		return
	}
	ny := float64(len(h.Values))
	for j, row := range h.Values {
		nx := float64(len(row))
		at := func(i, j float64) Pt {
			return f.pt(h.X0+(h.X1-h.X0)*i/nx, h.Y0+(h.Y1-h.Y0)*j/ny)
		}
		rect := func(i, k int) *Path { // a hair larger, so that no seam shows
			a, b := at(float64(i), float64(j)), at(float64(k), float64(j+1))
			return Rect(Box{a.X, b.Y, b.X - a.X, a.Y - b.Y}.Inset(-0.03))
		}
		runs(len(row), func(i int) int { return h.level(row[i], first, step) }, func(i, k, level int) {
			if level >= 0 {
				f.l.Fill(rect(i, k), HeatColour(level))
			}
		})
		if h.Limit != 0 {
			runs(len(row), func(i int) int { return btoi(row[i] > h.Limit) }, func(i, k, over int) {
				if over == 1 {
					f.l.Hatch(rect(i, k), HatchAngle, 2, HatchLine.In(Ink))
				}
			})
			h.edge(f, j, at)
		}
	}
}

func (h *Heat) level(v, first, step float64) int {
	if math.IsNaN(v) {
		return -1
	}
	return max(0, min(HeatSteps-1, int((v-first)/step)))
}

// runs calls do for every stretch of equal keys.
func runs(n int, key func(int) int, do func(from, to, key int)) {
	for i := 0; i < n; {
		k := i + 1
		for k < n && key(k) == key(i) {
			k++
		}
		do(i, k, key(i))
		i = k
	}
}

// edge draws the border of the hatched cells of one row.
func (h *Heat) edge(f *frame, j int, at func(i, j float64) Pt) {
	p := new(Path)
	row := h.Values[j]
	for i, v := range row {
		if i > 0 && (v > h.Limit) != (row[i-1] > h.Limit) {
			p.Move(at(float64(i), float64(j))).Line(at(float64(i), float64(j+1)))
		}
		if j > 0 && i < len(h.Values[j-1]) && (v > h.Limit) != (h.Values[j-1][i] > h.Limit) {
			p.Move(at(float64(i), float64(j))).Line(at(float64(i+1), float64(j)))
		}
	}
	if len(p.steps) > 0 {
		f.l.Stroke(p, Pen{Name: "limit", Width: 0.5})
	}
}

const keyBar mm = 4

func (h *Heat) keyWidth(st Style) mm {
	first, step := h.levels()
	w := st.Width(h.LimitName)
	for word := range strings.FieldsSeq(h.Name) {
		w = max(w, st.Width(word)-keyBar)
	}
	for i := range HeatSteps + 1 {
		w = max(w, st.Width(figure(first+step*float64(i), step)))
	}
	return w + keyBar + 6
}

// key draws the scale of tints beside the plot, with its figures.
func (h *Heat) key(f *frame) {
	first, step := h.levels()
	x := f.plot.Right() + 3
	ch := max(2, min((f.plot.H-3*f.st.Leading())/(HeatSteps+3), 8))
	y0 := f.plot.Bottom()
	st := f.st
	st.Rise = Half
	for i := range HeatSteps {
		b := Box{x, y0 - ch*mm(i+1), keyBar, ch}
		f.l.Fill(Rect(b), HeatColour(i))
		f.l.Stroke(Rect(b), Grid)
	}
	every := max(1, int(math.Ceil(float64(st.Size*1.1/ch))))
	for i := 0; i <= HeatSteps; i += every {
		f.l.Text(Pt{x + keyBar + 1.2, y0 - ch*mm(i)}, figure(first+step*float64(i), step), st)
	}
	if h.Limit != 0 {
		b := Box{x, y0 - ch*(HeatSteps+2), keyBar, ch}
		f.l.Hatch(Rect(b), HatchAngle, 2, HatchLine.In(Ink))
		f.l.Stroke(Rect(b), Pen{Name: "limit", Width: 0.5})
		name := h.LimitName
		if name == "" {
			name = "> " + strconv.FormatFloat(h.Limit, 'g', 4, 64)
		}
		f.l.Text(Pt{x + keyBar + 1.2, b.Mid().Y}, name, st)
	}
	if h.Name != "" {
		st.Rise, st.Colour = Foot, Grey
		w := h.keyWidth(f.st)
		lines := st.Wrap(h.Name, w)
		f.l.Paragraph(Box{x, y0 - ch*(HeatSteps+3) - st.Leading()*mm(len(lines)), w, 0}, h.Name, st)
	}
}
