package photo

import (
	"math"
	"slices"

	"thrum/unit"
)

// finder works out how the screw lies, in pixels of the reduced picture, in a frame
// with the origin in the middle of the picture and its first axis along the screw.
type finder struct {
	p *Picture
	q *reduced
	f form

	roll, rollDoubt float64
	pitch           float64 // of the pattern of shading, pixels
	pitchDoubt      float64
	upper, lower    silhouette
	lean            float64 // along over across of the crests, in the turned frame
	leanDoubt       float64
	d, dDoubt       float64
	centre          float64
	centreDoubt     float64
	notes           []string
	unfit           bool
}

// Pictures longer than findSide are made smaller for finding, to about reducedSide.
const (
	findSide    = 1400
	reducedSide = 1000
)

// Find works out how the screw lies in the picture: the direction of its axis, the
// silhouettes, the pitch in pixels, the distance of the camera, where the crests are
// and which hand the thread shows. Each comes with its doubt; what could not be seen
// is said in Notes. An error means that there is no row of parallel grooves to be
// found, and says what kind of photograph would do.
func Find(p *Picture, t Thread) (*Geometry, error) {
	f, err := t.form()
	if err != nil {
		return nil, err
	}
	w := &finder{p: p, q: p.reduce(), f: f}
	dir, even := w.q.direction()
	if even < 0.08 {
		return nil, noThread("no common direction of grooves can be seen")
	}
	s := w.q.turned(dir)
	pitch, strength := s.pitch()
	if pitch == 0 || strength < 2.5 {
		return nil, noThread("no row of equally spaced grooves can be seen")
	}
	w.pitch = pitch
	// The crests lean by the lead angle from square to the axis, and brightness changes
	// square to the crests.
	w.roll = dir + math.Atan(f.lead/(2*math.Pi*f.mean()))
	w.rollDoubt = 0.02
	w.straightenUp()
	w.outline()
	w.settlePitch()
	w.settleDistance()
	return w.geometry(t), nil
}

// straightenUp corrects the first roll by the lean of the crests near the middle of
// the picture. Strong chatter marks lie nearly along the axis and can pull the common
// direction of all edges well off that of the crests.
func (w *finder) straightenUp() {
	expected := w.f.lead / (2 * math.Pi * w.f.mean())
	for range 3 {
		v := w.q.turned(w.roll)
		slope, _, lean, doubt, ok := v.phases(w.pitch, float64(v.h)/2, 0.22*float64(v.h))
		if !ok || doubt > 0.05 || math.Abs(slope) > 0.2 || math.Abs(lean-expected) > 0.7 {
			return
		}
		w.pitch *= 1 + slope
		w.roll -= math.Atan(lean - expected)
		if math.Abs(lean-expected) < 0.02 {
			return
		}
	}
}

func noThread(reason string) error {
	return &unit.InputError{
		Field: "picture", Value: "photograph", Reason: reason,
		Hint: "fill the frame with the thread, axis across the picture, both edges against a plain background",
	}
}

// mean is the radius half way down the groove.
func (f form) mean() float64 { return f.radius - f.depth/2 }

// direction returns the direction in which brightness changes most, which is nearly
// that of the axis, and how much of the change lies in it (0 none, 1 all). The
// structure tensor summed over the picture gives it:
//
//	angle = atan2(2 Jxy, Jxx - Jyy) / 2
func (q *reduced) direction() (angle, even float64) {
	// Gradients over a few pixels, so that noise and the grain of the metal count little.
	const step = 3
	var xx, yy, xy float64
	for y := step; y < q.h-step; y += 2 {
		row := q.grey[y*q.w:]
		up, down := q.grey[(y-step)*q.w:], q.grey[(y+step)*q.w:]
		for x := step; x < q.w-step; x += 2 {
			gx, gy := float64(row[x+step]-row[x-step]), float64(down[x]-up[x])
			n := gx*gx + gy*gy
			// The root of the magnitude, so that one bright edge does not outweigh all else.
			if n < 1e-6 {
				continue
			}
			n = 1 / math.Sqrt(n)
			xx, yy, xy = xx+gx*gx*n, yy+gy*gy*n, xy+gx*gy*n
		}
	}
	total := xx + yy
	if total == 0 {
		return 0, 0
	}
	return 0.5 * math.Atan2(2*xy, xx-yy), math.Hypot(2*xy, xx-yy) / total
}

// turnedView is the reduced picture turned so that its rows run along a direction.
type turnedView struct {
	w, h int
	grey []float32 // negative outside the picture
}

// turned resamples the picture with rows along angle; its middle stays the middle.
func (q *reduced) turned(angle float64) *turnedView {
	sin, cos := math.Sincos(angle)
	v := &turnedView{
		w: int(float64(q.w)*math.Abs(cos) + float64(q.h)*math.Abs(sin)),
		h: int(float64(q.h)*math.Abs(cos) + float64(q.w)*math.Abs(sin)),
	}
	v.grey = make([]float32, v.w*v.h)
	inBands(v.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			b := float64(y) - float64(v.h)/2
			row := v.grey[y*v.w:][:v.w]
			px, py := float64(q.w)/2-float64(v.w)/2*cos-b*sin, float64(q.h)/2-float64(v.w)/2*sin+b*cos
			for x := range row {
				g, ok := q.at(px, py)
				if !ok {
					g = -1
				}
				row[x] = g
				px, py = px+cos, py+sin
			}
		}
	})
	return v
}

// geometry puts what was found into full pixels.
func (w *finder) geometry(t Thread) *Geometry {
	k := float64(w.q.factor)
	s, c := math.Sincos(w.roll)
	g := &Geometry{
		Roll: unit.Angle(w.roll), RollDoubt: unit.Angle(w.rollDoubt),
		PitchPixels: w.pitch * k, PitchDoubt: w.pitchDoubt * k,
		Distance: unit.Length(w.d), DistanceDoubt: unit.Length(w.dDoubt),
		CentreDoubt: w.centreDoubt * k, Notes: w.notes, Unfit: w.unfit,
		width: w.p.w, height: w.p.h,
	}
	mx, my := float64(w.q.w)/2*k, float64(w.q.h)/2*k
	g.Centre = Point{mx - w.centre*k*s, my + w.centre*k*c}
	g.Upper = Edge{w.upper.seen, (w.upper.at - w.centre) * k, math.Max(w.upper.doubt*k, 0.5)}
	g.Lower = Edge{w.lower.seen, (w.lower.at - w.centre) * k, math.Max(w.lower.doubt*k, 0.5)}
	w.crest(g)
	w.hand(g, t)
	return g
}

// crest works out where a crest crosses the centre line from the tips on the two
// silhouettes. A tip is seen at cos th = R/D, where it has gone on along the axis by
// the lead for that angle.
func (w *finder) crest(g *Geometry) {
	g.CrestDoubt = 0.3
	back := math.Acos(w.f.radius / w.d)
	squeeze := w.d / (w.d + w.f.radius) // pitch at the silhouette over pitch at the front
	var phases, doubts []float64
	for _, e := range []struct {
		silhouette
		th float64
	}{{w.upper, -back}, {w.lower, back}} {
		if !e.seen || e.teeth < 3 {
			continue
		}
		// Pitches from the optical axis, at the front; the middle of the frame is the optical axis.
		x := e.tip / (w.pitch * squeeze)
		phases = append(phases, x-w.f.lead/w.f.pitch*e.th/(2*math.Pi))
		doubts = append(doubts, math.Max(e.tipDoubt/w.pitch, 0.01))
	}
	switch len(phases) {
	case 0:
		w.note("the tips of the crests could not be made out against the background")
		g.Notes = w.notes
		return
	case 1:
		g.Crest, g.CrestDoubt = phases[0], math.Hypot(doubts[0], 0.06)
	case 2:
		gap := phases[1] - phases[0]
		gap -= math.Round(gap)
		g.Crest = phases[0] + gap/2
		g.CrestDoubt = math.Max(math.Hypot(doubts[0], doubts[1])/2, math.Abs(gap)/2)
		if math.Abs(gap) > 0.12 {
			g.Unfit = true
			w.note("the crests on the two silhouettes do not fit together")
			g.Notes = w.notes
		}
	}
	g.Crest -= math.Floor(g.Crest)
}

// hand compares the lean of the crests with what each hand would give.
func (w *finder) hand(g *Geometry, t Thread) {
	expected := math.Abs(w.f.lead) / (2 * math.Pi * w.f.mean())
	g.LeftHand = t.Left
	if !(w.upper.seen || w.lower.seen) || w.leanDoubt > expected/7 {
		return
	}
	g.HandSeen = math.Abs(w.lean) > 0.4*expected
	if g.HandSeen {
		g.LeftHand = w.lean < 0
		if g.LeftHand != t.Left {
			w.note("the threads lean the other way: another hand than was given, or a mirrored picture")
			g.Notes = w.notes
		}
	}
}

func (w *finder) note(s string) {
	if !slices.Contains(w.notes, s) {
		w.notes = append(w.notes, s)
	}
}
