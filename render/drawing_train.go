package render

import (
	"math"
	"slices"
	"strconv"

	"thrum/draw"
	"thrum/lathe"
	"thrum/unit"
)

// Gear is one wheel of a train where it sits: X to the right and Y up, as one
// looks at the wheels.
type Gear struct {
	Teeth  int
	Name   string // "stud", "banjo 1 driven"
	Shaft  int    // wheels of one number turn together
	X, Y   unit.Length
	Radius unit.Length // of the pitch circle
	Tip    unit.Length // outside radius; zero: a module beyond the pitch circle
}

// GearsOf returns the wheels of a train for drawing.
func GearsOf(t lathe.Train) []Gear {
	out := make([]Gear, len(t.Wheels))
	for i, w := range t.Wheels {
		out[i] = Gear{w.Teeth, w.Place, w.Shaft, w.X, w.Y, w.Radius, w.Tip}
	}
	return out
}

func (g Gear) tip() unit.Length {
	if g.Tip > g.Radius || g.Teeth <= 0 {
		return max(g.Tip, g.Radius)
	}
	return g.Radius * (1 + 2/unit.Length(g.Teeth))
}

// GearTrain draws a train as one looks at the wheels: tips as narrow circles,
// pitch circles as long dashes and dots (ISO 2203), tooth counts in the wheels
// where they fit, and beside them the list of wheels from stud to screw. A shaft
// that carries two wheels, which turn together, has a filled mark. Tips are left
// out where the scale is too small for them.
func GearTrain(l *draw.List, box draw.Box, gears []Gear) {
	gears = slices.DeleteFunc(slices.Clone(gears), func(g Gear) bool { return g.Radius <= 0 })
	if len(gears) == 0 {
		return
	}
	l.Group(draw.Group{Title: "Gear train"})
	defer l.End()
	d := trainDrawing{List: l, gears: gears, counted: map[int]bool{}}
	d.layOut(box)
	footnote(l, box, "as one looks at the wheels", "scale "+scaleWords(d.k))
	for i := range d.gears {
		d.wheel(i)
	}
	d.list()
	d.shafts()
}

type trainDrawing struct {
	*draw.List
	gears         []Gear
	k             float64
	at            draw.Pt // paper of X = Y = 0
	box, paper    draw.Box
	beside, count unit.Length  // width of the list and of its tooth counts
	counted       map[int]bool // wheels that carry their tooth count
	words         []draw.Box   // tooth counts that stand in the drawing
}

// layOut fits all tips beside the list.
func (d *trainDrawing) layOut(box draw.Box) {
	d.box = box.Trim(0, 0, 0, 7)
	d.paper = d.box
	st, strong := draw.Style{}, draw.Style{Bold: true}
	lo, hi := draw.Pt{X: math.MaxFloat64, Y: math.MaxFloat64}, draw.Pt{X: -math.MaxFloat64, Y: -math.MaxFloat64}
	for _, g := range d.gears {
		r := g.tip()
		lo.X, hi.X = min(lo.X, g.X-r), max(hi.X, g.X+r)
		lo.Y, hi.Y = min(lo.Y, -g.Y-r), max(hi.Y, -g.Y+r)
		d.beside = max(d.beside, st.Width(g.Name))
		d.count = max(d.count, strong.Width(strconv.Itoa(g.Teeth)))
	}
	d.beside += d.count + 1.5
	w, h := d.box.W-d.beside-7, d.box.H
	fit := min(float64(w/(hi.X-lo.X)), float64(h/(hi.Y-lo.Y)))
	d.k = 1 / reduction(1/fit)
	k := unit.Length(d.k)
	if spare := w - (hi.X-lo.X)*k; spare > 0 { // wheels and list stand together in the middle
		d.box = d.box.Trim(spare/2, 0, spare/2, 0)
	}
	d.at = draw.Pt{X: d.box.X - lo.X*k, Y: d.box.Y + (h-(hi.Y-lo.Y)*k)/2 - lo.Y*k}
}

// reduction returns the least handy figure that is not below v.
func reduction(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10} {
		if m*p >= v*(1-1e-9) {
			return m * p
		}
	}
	return v
}

func (d *trainDrawing) centre(g Gear) draw.Pt {
	return draw.Pt{X: d.at.X + g.X*unit.Length(d.k), Y: d.at.Y - g.Y*unit.Length(d.k)}
}

// wheel draws one wheel and writes its tooth count between its rim and whatever
// lies inside it on the same shaft.
func (d *trainDrawing) wheel(i int) {
	g, k := d.gears[i], unit.Length(d.k)
	c := d.centre(g)
	if (g.tip()-g.Radius)*k > 0.7 { // nearer, the two circles would be one blot
		d.Stroke(draw.Circle(c, g.tip()*k), draw.Thin)
	}
	d.Stroke(draw.Circle(c, g.Radius*k), draw.Centre)
	st := draw.Style{Bold: true, Anchor: draw.Middle, Rise: draw.Half}
	inner := shaftMark + 0.4
	for j, o := range d.gears {
		if j != i && o.Shaft == g.Shaft && o.Radius < g.Radius {
			inner = max(inner, o.tip()*k+0.3)
		}
	}
	text, rim := strconv.Itoa(g.Teeth), (2*g.Radius-g.tip())*k
	w, h := st.Width(text)+0.8, st.Cap()+0.8
	half := unit.Length(math.Hypot(float64(w), float64(h))) / 2
	var places []draw.Pt
	for _, a := range []unit.Angle{90, -90, 120, 60, 150, 30, 180, 0, -30, -150, -60, -120} {
		switch dir := a * unit.Degree; {
		case rim-inner >= h && rim-inner >= unit.Length(math.Abs(dir.Cos()))*w && math.Hypot(float64(w/2), float64((inner+rim+h)/2)) < float64(rim):
			places = append(places, c.Polar((inner+rim)/2, dir))
		default: // no room inside: just outside the rim
			places = append(places, c.Polar(g.tip()*k+half+0.3, dir))
		}
	}
	for _, at := range places {
		if d.clear(i, at, half, c.Dist(at) < rim) {
			d.Text(at, text, st)
			d.counted[i] = true
			d.words = append(d.words, draw.Box{X: at.X - w/2, Y: at.Y - h/2, W: w, H: h})
			return
		}
	}
}

// clear reports whether a text of a wheel lies free of the rims of the others,
// and outside of them when it stands beside its wheel.
func (d *trainDrawing) clear(i int, at draw.Pt, half unit.Length, inside bool) bool {
	k := unit.Length(d.k)
	if !d.paper.Contains(draw.Box{X: at.X - half, Y: at.Y - half, W: 2 * half, H: 2 * half}) {
		return false
	}
	for j, o := range d.gears {
		if j == i || inside && o.Shaft == d.gears[i].Shaft {
			continue
		}
		dist := d.centre(o).Dist(at)
		if dist < o.tip()*k+half && (!inside || dist > (2*o.Radius-o.tip())*k-half) {
			return false
		}
	}
	return true
}

const shaftMark unit.Length = 1.1

// shafts marks every shaft once; two wheels that turn together get a filled mark.
func (d *trainDrawing) shafts() {
	wheels := map[int]int{}
	for _, g := range d.gears {
		wheels[g.Shaft]++
	}
	for _, g := range d.gears {
		c := d.centre(g)
		switch wheels[g.Shaft] {
		case 0: // drawn before
		case 1:
			d.Fill(draw.Circle(c, shaftMark), draw.Paper)
			d.Stroke(draw.Circle(c, shaftMark), draw.Thin)
		default:
			d.Fill(draw.Circle(c, shaftMark), draw.Accent)
		}
		wheels[g.Shaft] = 0
	}
}

// list writes the wheels at the right in the order of the drive. A wheel that
// does not carry its count, or shares it with another, gets a line to its rim.
func (d *trainDrawing) list() {
	const step unit.Length = 6.2
	same := map[int]int{}
	for _, g := range d.gears {
		same[g.Teeth]++
	}
	x := d.box.Right() - d.beside
	y := d.box.Mid().Y - step*unit.Length(len(d.gears)-1)/2
	for i, g := range d.gears {
		if !d.counted[i] || same[g.Teeth] > 1 {
			rim := d.rim(i, draw.Pt{X: x - 4, Y: y})
			d.Stroke(draw.Polyline(rim, draw.Pt{X: x - 4, Y: y}, draw.Pt{X: x - 1, Y: y}), draw.Pen{Name: "leader", Width: 0.18, Colour: draw.Grey})
			d.Fill(draw.Circle(rim, 0.5), draw.Grey)
		}
		d.Text(draw.Pt{X: x + d.count, Y: y}, strconv.Itoa(g.Teeth), draw.Style{Bold: true, Anchor: draw.End, Rise: draw.Half})
		d.Text(draw.Pt{X: x + d.count + 1.5, Y: y}, g.Name, draw.Style{Rise: draw.Half})
		y += step
	}
}

// rim returns the point of a wheel's pitch circle from which its leader starts:
// one from which the leader crosses no tooth count, best to the right.
func (d *trainDrawing) rim(i int, to draw.Pt) draw.Pt {
	g := d.gears[i]
	first := 20 * unit.Degree
	for j, o := range d.gears {
		if j != i && o.Shaft == g.Shaft && (o.Radius > g.Radius || o.Radius == g.Radius && j < i) {
			first = -25 * unit.Degree
		}
	}
	at := func(a unit.Angle) draw.Pt { return d.centre(g).Polar(g.Radius*unit.Length(d.k), a) }
	for step := range 18 { // away from the first direction, to both sides by turns
		a := first + unit.Angle((step+1)/2)*10*unit.Degree
		if step%2 == 1 {
			a = first - unit.Angle((step+1)/2)*10*unit.Degree
		}
		if !slices.ContainsFunc(d.words, func(b draw.Box) bool { return crosses(at(a), to, b.Inset(-0.4)) }) {
			return at(a)
		}
	}
	return at(first)
}
