package photo

import (
	"fmt"
	"math"

	"thrum/unit"
)

// Point is a place in the picture, in pixels from its upper left corner.
type Point struct{ X, Y float64 }

// Edge is one silhouette: the line along the crest tips against the background.
type Edge struct {
	Seen   bool    // in the frame, and told from the background
	Offset float64 // pixels from the centre line, measured across it
	Doubt  float64 // pixels, one standard deviation
}

// Geometry says how the screw lies in the picture. Everything that is measured
// later rests on it, so it is shown over the picture (see Overlay), put right by
// hand where it does not fit (see Marks and FromMarks) and confirmed. All pixels
// are those of the upright picture.
//
// The model is a pin-hole camera square to the axis: a point of the screw at the
// angle th round from the line facing the camera, at radius r, lies at the depth
//
//	z = D - r cos th
//
// and shows at f x/z along and f r sin(th)/z across the axis.
type Geometry struct {
	Roll          unit.Angle // of the axis against the picture's rows, clockwise as seen
	RollDoubt     unit.Angle
	Centre        Point   // on the centre line, nearest the middle of the picture
	CentreDoubt   float64 // pixels, across the axis
	Upper, Lower  Edge
	PitchPixels   float64 // pixels from crest to crest, on the line facing the camera
	PitchDoubt    float64
	Distance      unit.Length // from the camera's lens to the axis
	DistanceDoubt unit.Length
	Crest         float64 // where a crest crosses the centre line, in pitches along the axis from Centre, 0 to 1
	CrestDoubt    float64 // pitches
	LeftHand      bool    // the hand that the lean of the threads shows
	HandSeen      bool    // the lean could be told from the roll
	Unfit         bool    // the parts contradict each other; to be put right by hand
	Confirmed     bool    // by a person, over the picture
	Notes         []string
	width, height int
}

// camera is a Geometry ready for reckoning with.
type camera struct {
	f             float64 // focal length in pixels
	d             float64 // distance of the axis, mm
	cx, cy        float64 // Centre
	cos, sin      float64 // of the roll
	mid           float64 // where the optical axis meets the axis, pixels along the axis from Centre
	x0            float64 // of a crest at th = 0, mm from the optical axis
	width, height int
	radius        float64
}

func (g *Geometry) camera(f form) (camera, error) {
	d := g.Distance.MM()
	bad := func(field, value, reason string) (camera, error) {
		return camera{}, &unit.InputError{Field: field, Value: value, Reason: reason, Hint: "confirm the outline over the picture"}
	}
	switch {
	case !(g.PitchPixels > 2 && g.PitchPixels < 1e5):
		return bad("pitch in the picture", fmt.Sprintf("%.4g pixels", g.PitchPixels), "is not between 2 pixels and the width of a picture")
	case !(d > f.radius*1.2 && d < 1e5):
		return bad("camera distance", millimetres(g.Distance), "is not in front of the thread")
	case !(math.Abs(float64(g.Roll)) <= math.Pi):
		return bad("roll", fmt.Sprint(float64(g.Roll)), "is not an angle")
	case !(math.Abs(g.Centre.X) < 1e6 && math.Abs(g.Centre.Y) < 1e6 && math.Abs(g.Crest) < 1e6):
		return bad("centre line", fmt.Sprintf("%.4g, %.4g", g.Centre.X, g.Centre.Y), "is not near the picture")
	}
	c := camera{d: d, cx: g.Centre.X, cy: g.Centre.Y, width: g.width, height: g.height, radius: f.radius}
	c.sin, c.cos = math.Sincos(float64(g.Roll))
	c.f = g.PitchPixels * (d - f.radius) / f.pitch
	c.mid = (float64(g.width)/2-c.cx)*c.cos + (float64(g.height)/2-c.cy)*c.sin
	c.x0 = (g.Crest*g.PitchPixels - c.mid) * (d - f.radius) / c.f
	return c, nil
}

// pixel returns where the point at x mm along the axis from the optical axis, at
// angle th and radius r, shows in the picture.
func (c *camera) pixel(x, r, sinTh, cosTh float64) (px, py float64) {
	k := c.f / (c.d - r*cosTh)
	along, across := c.mid+k*x, k*r*sinTh
	return c.cx + along*c.cos - across*c.sin, c.cy + along*c.sin + across*c.cos
}

// distanceFrom returns the distance of the axis from the half height of the
// silhouette and the pitch, both in pixels:
//
//	S = f R / sqrt(D^2 - R^2),  p = f P / (D - R)
//	q = S P / (p R) = sqrt((D-R)/(D+R)),  D = R (1+q^2) / (1-q^2)
//
// Beyond q = 0.995 the two cannot be told from a camera far away.
func distanceFrom(f form, half, pitch float64) (d, q float64) {
	q = half * f.pitch / (pitch * f.radius)
	qq := q * q
	if q >= 0.995 {
		qq = 0.995 * 0.995
	}
	return f.radius * (1 + qq) / (1 - qq), q
}

// readAngle is how far round from the line facing the camera the surface is read.
// Beyond it marks are squeezed together by more than a third.
const readAngle = 48 * math.Pi / 180

// Overlay is what to draw over the picture for a person to judge the fit.
type Overlay struct {
	Axis, Upper, Lower [2]Point  // the centre line and the two silhouettes; zero where not seen
	Crests             [][]Point // each crest line, from the upper to the lower limit of what is read
	Roots              [][]Point
}

// Overlay projects the thread back into the picture.
func (g *Geometry) Overlay(t Thread) (*Overlay, error) {
	f, err := t.form()
	if err != nil {
		return nil, err
	}
	c, err := g.camera(f)
	if err != nil {
		return nil, err
	}
	o := &Overlay{}
	reach := math.Hypot(float64(g.width), float64(g.height)) / 2
	line := func(across float64) [2]Point {
		at := func(along float64) Point {
			return Point{c.cx + along*c.cos - across*c.sin, c.cy + along*c.sin + across*c.cos}
		}
		return [2]Point{at(-reach), at(reach)}
	}
	o.Axis = line(0)
	if g.Upper.Seen {
		o.Upper = line(g.Upper.Offset)
	}
	if g.Lower.Seen {
		o.Lower = line(g.Lower.Offset)
	}
	most := int(reach/g.PitchPixels) + 2
	if most > 400 {
		return nil, &unit.InputError{Field: "pitch in the picture", Value: fmt.Sprintf("%.4g pixels", g.PitchPixels), Reason: "is too small against the picture", Hint: "come closer"}
	}
	for n := -most; n <= most; n++ {
		o.Crests = appendLine(o.Crests, &c, f, c.x0+f.pitch*float64(n), f.radius)
		o.Roots = appendLine(o.Roots, &c, f, c.x0+f.pitch*(float64(n)+0.5), f.radius-f.depth)
	}
	return o, nil
}

func appendLine(lines [][]Point, c *camera, f form, x, r float64) [][]Point {
	var pts []Point
	for k := -12; k <= 12; k++ {
		th := float64(k) / 12 * readAngle
		s, co := math.Sincos(th)
		px, py := c.pixel(x+f.lead*th/(2*math.Pi), r, s, co)
		if px >= 0 && py >= 0 && px < float64(c.width) && py < float64(c.height) {
			pts = append(pts, Point{px, py})
		}
	}
	if len(pts) < 2 {
		return lines
	}
	return append(lines, pts)
}

// Marks are the places that a person can set with a finger: two on each
// silhouette, and two crests on the centre line some whole number of pitches apart.
// They say the same as a Geometry.
type Marks struct {
	Upper, Lower [2]Point // both X and Y zero in both: not in the picture
	Crests       [2]Point
	Pitches      int // from the first crest to the second
}

// Marks returns the places that stand for g, for a person to move.
func (g *Geometry) Marks() Marks {
	s, c := math.Sincos(float64(g.Roll))
	reach := 0.35 * float64(g.width)
	if math.Abs(s) > math.Abs(c) {
		reach = 0.35 * float64(g.height)
	}
	at := func(along, across float64) Point {
		return Point{g.Centre.X + along*c - across*s, g.Centre.Y + along*s + across*c}
	}
	var m Marks
	if g.Upper.Seen {
		m.Upper = [2]Point{at(-reach, g.Upper.Offset), at(reach, g.Upper.Offset)}
	}
	if g.Lower.Seen {
		m.Lower = [2]Point{at(-reach, g.Lower.Offset), at(reach, g.Lower.Offset)}
	}
	m.Pitches = 1
	first := g.Crest
	if g.PitchPixels > 0 {
		m.Pitches = min(1000, max(1, int(2*reach/g.PitchPixels)-1))
		first -= math.Floor(float64(m.Pitches)/2 + g.Crest)
	}
	m.Crests = [2]Point{at(first*g.PitchPixels, 0), at((first+float64(m.Pitches))*g.PitchPixels, 0)}
	return m
}

// FromMarks turns places set by a person into a Geometry of the picture p. Where a
// silhouette is not in the picture the distance is that of old, or, with old nil,
// taken as 12 diameters, with a large doubt.
func FromMarks(p *Picture, t Thread, m Marks, old *Geometry) (*Geometry, error) {
	f, err := t.form()
	if err != nil {
		return nil, err
	}
	if err := m.check(p); err != nil {
		return nil, err
	}
	g := &Geometry{Confirmed: true, HandSeen: true, LeftHand: t.Left, width: p.w, height: p.h}
	var dirs []Point
	for _, e := range [][2]Point{m.Upper, m.Lower, m.Crests} {
		if d := (Point{e[1].X - e[0].X, e[1].Y - e[0].Y}); e != [2]Point{} {
			if len(dirs) > 0 && d.X*dirs[0].X+d.Y*dirs[0].Y < 0 {
				d = Point{-d.X, -d.Y}
			}
			dirs = append(dirs, d)
		}
	}
	edges := dirs[:max(1, len(dirs)-1)] // crests alone give the direction where no silhouette does
	dir := Point{}
	for _, d := range edges {
		n := math.Hypot(d.X, d.Y)
		dir.X, dir.Y = dir.X+d.X/n, dir.Y+d.Y/n
	}
	roll := math.Atan2(dir.Y, dir.X)
	if roll > math.Pi/2 {
		roll -= math.Pi
	} else if roll <= -math.Pi/2 {
		roll += math.Pi
	}
	g.Roll, g.RollDoubt = unit.Angle(roll), 0.003
	g.settle(f, m, old)
	if _, err := g.camera(f); err != nil {
		return nil, err
	}
	return g, nil
}

// settle fills in everything but the roll.
func (g *Geometry) settle(f form, m Marks, old *Geometry) {
	s, c := math.Sincos(float64(g.Roll))
	along := func(p Point) float64 {
		return (p.X-float64(g.width)/2)*c + (p.Y-float64(g.height)/2)*s
	}
	across := func(p Point) float64 {
		return -(p.X-float64(g.width)/2)*s + (p.Y-float64(g.height)/2)*c
	}
	mid := func(e [2]Point) float64 { return (across(e[0]) + across(e[1])) / 2 }
	up, low := mid(m.Upper), mid(m.Lower)
	if m.Upper != ([2]Point{}) && m.Lower != ([2]Point{}) && up > low {
		up, low = low, up
	}
	g.Upper.Seen, g.Lower.Seen = m.Upper != [2]Point{}, m.Lower != [2]Point{}
	first, second := along(m.Crests[0]), along(m.Crests[1])
	g.PitchPixels = math.Abs(second-first) / float64(m.Pitches)
	g.PitchDoubt = 1.5 / float64(m.Pitches)
	centre := mid(m.Crests)
	g.CentreDoubt = 4
	d, doubt := 24*f.radius, 12*f.radius
	if old != nil && old.Distance > 0 {
		d, doubt = old.Distance.MM(), math.Max(old.DistanceDoubt.MM(), 0.3*old.Distance.MM())
	}
	half := g.PitchPixels * f.radius / f.pitch * math.Sqrt((d-f.radius)/(d+f.radius))
	switch {
	case g.Upper.Seen && g.Lower.Seen:
		centre, half = (up+low)/2, (low-up)/2
		g.CentreDoubt = 1.5
		var q float64
		d, q = distanceFrom(f, half, g.PitchPixels)
		doubt = distanceDoubt(f, q, q*math.Hypot(1.5/half, g.PitchDoubt/g.PitchPixels))
	case g.Upper.Seen:
		centre = up + half
	case g.Lower.Seen:
		centre = low - half
	}
	g.Upper.Offset, g.Lower.Offset = -half, half
	g.Upper.Doubt, g.Lower.Doubt = 1.5, 1.5
	g.Distance, g.DistanceDoubt = unit.Length(d), unit.Length(doubt)
	g.Centre = Point{float64(g.width)/2 - centre*s, float64(g.height)/2 + centre*c}
	g.Crest = math.Mod(first/g.PitchPixels, 1)
	if g.Crest < 0 {
		g.Crest++
	}
	g.CrestDoubt = 2 / g.PitchPixels
}

// distanceDoubt carries a doubt of q into the distance: dD/dq = 4 q R / (1-q^2)^2.
func distanceDoubt(f form, q, doubt float64) float64 {
	q = math.Min(q, 0.995)
	return math.Min(4*q*f.radius/((1-q*q)*(1-q*q))*doubt, 1e4)
}

func (m Marks) check(p *Picture) error {
	all := []Point{m.Upper[0], m.Upper[1], m.Lower[0], m.Lower[1], m.Crests[0], m.Crests[1]}
	for _, q := range all {
		if !(q.X >= -1 && q.Y >= -1 && q.X <= float64(p.w)+1 && q.Y <= float64(p.h)+1) {
			return &unit.InputError{Field: "mark", Value: fmt.Sprintf("%.0f, %.0f", q.X, q.Y), Reason: "is outside the picture", Hint: fmt.Sprintf("0, 0 to %d, %d", p.w, p.h)}
		}
	}
	pairs := []struct {
		name string
		at   [2]Point
	}{{"upper silhouette", m.Upper}, {"lower silhouette", m.Lower}, {"crests", m.Crests}}
	for _, e := range pairs {
		apart := math.Hypot(e.at[1].X-e.at[0].X, e.at[1].Y-e.at[0].Y)
		if apart < 10 && (e.at != [2]Point{} || e.name == "crests") {
			return &unit.InputError{Field: e.name, Value: fmt.Sprintf("%.0f, %.0f", e.at[0].X, e.at[0].Y), Reason: "needs two places that lie apart", Hint: "set them as far apart as the picture allows"}
		}
	}
	if m.Pitches < 1 || m.Pitches > 1000 {
		return &unit.InputError{Field: "pitches between the crests", Value: fmt.Sprint(m.Pitches), Reason: "is not a count of pitches", Hint: "count the grooves between the two crests"}
	}
	return nil
}
