package photo

import (
	"math"
	"math/cmplx"
	"slices"
)

// silhouette is one edge of the thread against the background, in the finder's frame.
type silhouette struct {
	seen     bool
	at       float64 // across
	doubt    float64
	slope    float64 // across over along, what the roll is off by
	tip      float64 // along: place of one tip
	tipDoubt float64
	teeth    int
	spacing  float64 // of the tips
	spaceErr float64
}

// outline finds the silhouettes. A tooth against the background repeats every pitch
// and the background does not, so whether it is brighter or darker does not matter:
// in windows a few teeth wide, row by row, the strength of the pattern ends at the
// tips. A line is laid through the ends; its slope corrects the roll; and again.
func (w *finder) outline() {
	var v *turnedView
	for range 4 {
		v = w.q.turned(w.roll)
		w.upper, w.lower = w.edges(v)
		slope, ok := w.commonSlope()
		if !ok || math.Abs(slope) < 0.001 {
			break
		}
		w.roll += math.Atan(slope)
	}
	if w.upper.seen && w.lower.seen && math.Abs(w.upper.slope-w.lower.slope) > mostUnparallel {
		v = w.dropEdge(v)
	}
	w.fixHarmonic()
	w.tips(v, &w.upper, 1)
	w.tips(v, &w.lower, -1)
	switch {
	case w.upper.seen && w.lower.seen:
		w.rollDoubt = 0.003 + math.Abs(w.upper.slope-w.lower.slope)/2
		if math.Abs(w.upper.slope-w.lower.slope) > mostUnparallel {
			w.note("the two silhouettes are not parallel: one of them is not the edge, or the camera looks at the thread at a slant")
			w.unfit = true
		}
	case w.upper.seen || w.lower.seen:
		w.rollDoubt = 0.008
	}
}

// mostUnparallel is by how much the slopes of two silhouettes may differ.
const mostUnparallel = 0.025

// dropEdge decides which of two edges that are not parallel is a silhouette: the one
// that gives the crests their proper lean. The other, mostly the limit of a shadow on
// the thread in front of a dark background, is dropped. Where both or neither fit, both
// stay.
func (w *finder) dropEdge(v *turnedView) *turnedView {
	_, _, lean, doubt, ok := v.phases(w.pitch, (w.upper.at+w.lower.at)/2+float64(v.h)/2, 0.2*(w.lower.at-w.upper.at))
	if !ok || doubt > 0.01 {
		return v
	}
	off := lean - w.f.lead/(2*math.Pi*w.f.mean())
	up, low := math.Abs(off+w.upper.slope), math.Abs(off+w.lower.slope)
	keepUpper := up < low
	if math.Min(up, low) > 0.02 || math.Max(up, low) < 0.03 {
		return v
	}
	for range 3 {
		slope := w.lower.slope
		if keepUpper {
			slope = w.upper.slope
		}
		w.roll += math.Atan(slope)
		v = w.q.turned(w.roll)
		w.upper, w.lower = w.edges(v)
		if keepUpper {
			w.lower = silhouette{}
		} else {
			w.upper = silhouette{}
		}
		if _, ok := w.commonSlope(); !ok || math.Abs(slope) < 0.001 {
			break
		}
	}
	return v
}

// commonSlope averages the slopes of the silhouettes that were seen.
func (w *finder) commonSlope() (slope float64, ok bool) {
	n := 0.0
	for _, e := range []silhouette{w.upper, w.lower} {
		if e.seen {
			slope += e.slope
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return slope / n, true
}

// strengths is how strongly the pattern shows in one window, row by row.
type strengths struct {
	along float64 // middle of the window
	row   []float64
}

func (w *finder) windows(v *turnedView) []strengths {
	width := int(3 * w.pitch * 0.96)
	step := max(int(1.5*w.pitch), (v.w-width)/24, 1)
	var out []strengths
	line := make([]float64, width)
	for x0 := 0; x0+width <= v.w; x0 += step {
		s := strengths{along: float64(x0) + float64(width)/2 - float64(v.w)/2, row: make([]float64, v.h)}
		for y := range v.h {
			outside := false
			for x, g := range v.grey[y*v.w+x0:][:width] {
				line[x] = float64(g)
				outside = outside || g < 0
			}
			if outside {
				s.row[y] = -1
				continue
			}
			c1, _ := tone(line, x0, w.pitch*0.96, v.w)
			c2, _ := tone(line, x0, w.pitch*0.48, v.w)
			s.row[y] = math.Sqrt(real(c1*cmplx.Conj(c1)) + real(c2*cmplx.Conj(c2)))
		}
		out = append(out, s)
	}
	return out
}

// edges lays a line through where the pattern ends, above and below.
func (w *finder) edges(v *turnedView) (upper, lower silhouette) {
	var up, low [][2]float64
	mid := float64(v.h) / 2
	for _, s := range w.windows(v) {
		if y, ok := w.ends(s.row); ok {
			up = append(up, [2]float64{s.along, y - mid})
		}
		slices.Reverse(s.row)
		if y, ok := w.ends(s.row); ok {
			low = append(low, [2]float64{s.along, float64(v.h) - 1 - y - mid})
		}
	}
	return layLine(up, w.pitch), layLine(low, w.pitch)
}

// ends returns the row where the pattern begins, coming from outside at row 0; not
// ok where it begins at the frame or where nothing without pattern lies outside it.
func (w *finder) ends(row []float64) (float64, bool) {
	first := 0
	for first < len(row) && row[first] < 0 {
		first++
	}
	inside := row[first:]
	for i, v := range inside {
		if v < 0 {
			inside = inside[:i]
			break
		}
	}
	zone := int(0.5 * w.pitch)
	if len(inside) < 4*zone || zone < 3 {
		return 0, false
	}
	sorted := slices.Clone(inside)
	slices.Sort(sorted)
	quiet, loud := sorted[len(sorted)/50], sorted[len(sorted)*8/10]
	level := math.Max(0.04*loud, 4*quiet)
	run := max(zone/4, 2)
	for y := 0; y+run < len(inside); y++ {
		if slices.Min(inside[y:y+run]) < level {
			continue
		}
		// The teeth behind this edge set the level at which it is placed.
		top := slices.Max(inside[y:min(y+zone/2, len(inside))])
		mark := math.Max(0.16*top, 2*quiet)
		at := y
		for at > 0 && inside[at-1] > mark {
			at--
		}
		for at < len(inside)-1 && inside[at] < mark {
			at++
		}
		if at < 3 {
			return 0, false
		}
		below := (mark - inside[at-1]) / math.Max(inside[at]-inside[at-1], 1e-12)
		return float64(first+at) - 1 + math.Min(math.Max(below, 0), 1), true
	}
	return 0, false
}

// layLine fits a line to places that may hold gross errors: through each pair, the
// one with the smallest median distance, then least squares of what lies near it.
func layLine(pts [][2]float64, pitch float64) (s silhouette) {
	if len(pts) < 3 {
		return s
	}
	best, bestSlope, bestAt := math.Inf(1), 0.0, 0.0
	dist := make([]float64, len(pts))
	for i, a := range pts {
		for _, b := range pts[i+1:] {
			slope := (b[1] - a[1]) / (b[0] - a[0])
			if math.Abs(slope) > 0.25 {
				continue
			}
			at := a[1] - slope*a[0]
			for k, c := range pts {
				dist[k] = math.Abs(c[1] - at - slope*c[0])
			}
			slices.Sort(dist)
			if m := dist[len(dist)/2]; m < best {
				best, bestSlope, bestAt = m, slope, at
			}
		}
	}
	if best > 0.15*pitch {
		return s
	}
	var n, sx, sy, sxx, sxy, rr float64
	near := math.Max(3*best, 1.5)
	var used [][2]float64
	for _, c := range pts {
		if math.Abs(c[1]-bestAt-bestSlope*c[0]) <= near {
			used = append(used, c)
			n, sx, sy, sxx, sxy = n+1, sx+c[0], sy+c[1], sxx+c[0]*c[0], sxy+c[0]*c[1]
		}
	}
	det := n*sxx - sx*sx
	if len(used) < 3 || 2*len(used) < len(pts) || det <= 0 {
		return s
	}
	s.slope = (n*sxy - sx*sy) / det
	s.at = (sy - s.slope*sx) / n
	for _, c := range used {
		r := c[1] - s.at - s.slope*c[0]
		rr += r * r
	}
	s.doubt = math.Max(0.5, math.Sqrt(rr/math.Max(n-2, 1)))
	s.seen = true
	return s
}

// fixHarmonic settles whether the pattern's spacing is the pitch, half of it or twice
// it, by the silhouettes: S P/(p R) = sqrt((D-R)/(D+R)) lies between 0.68 for a camera
// three radii away and 1 for one far away.
func (w *finder) fixHarmonic() {
	if !w.upper.seen || !w.lower.seen {
		return
	}
	half := (w.lower.at - w.upper.at) / 2
	for _, k := range []float64{1, 2, 0.5, 3} {
		if q := half * w.f.pitch / (k * w.pitch * w.f.radius); q > 0.68 && q < 1.03 {
			w.pitch *= k
			return
		}
	}
	w.note("the height of the silhouettes does not fit the pitch and the diameter that were given")
	w.upper.seen, w.lower.seen = false, false
}

// tips finds the teeth along a silhouette. In rows half way down the teeth, what
// differs from the background just outside is tooth; the middles of the teeth are
// equally spaced. inward is 1 for the upper silhouette, whose inside lies at greater
// rows, and -1 for the lower.
func (w *finder) tips(v *turnedView, e *silhouette, inward float64) {
	if !e.seen {
		return
	}
	deep := w.pitch * w.f.depth / w.f.pitch
	tooth := make([]float64, v.w)
	row := func(off float64) int { return int(math.Round(e.at + float64(v.h)/2 + inward*off)) }
	level := w.contrast(v, row, deep)
	if level <= 0 {
		return
	}
	used := 0
	for k := 2; k <= 9; k++ {
		y := row(deep * float64(k) / 12)
		if y < 0 || y >= v.h {
			continue
		}
		used++
		for x := range tooth {
			g, back := v.grey[y*v.w+x], w.background(v, row, x, deep)
			if g < 0 || back < 0 {
				tooth[x] = math.NaN()
				continue
			}
			tooth[x] += math.Min(math.Abs(float64(g)-back)/level, 1)
		}
	}
	if used < 3 {
		return
	}
	w.spaceTips(tooth, e)
}

// background is the light just outside the tips at one place along.
func (w *finder) background(v *turnedView, row func(float64) int, x int, deep float64) float64 {
	sum, n := 0.0, 0.0
	for k := 1; k <= 4; k++ {
		y := row(-2 - deep*0.08*float64(k))
		if y < 0 || y >= v.h {
			continue
		}
		if g := v.grey[y*v.w+x]; g >= 0 {
			sum += float64(g)
			n++
		}
	}
	if n == 0 {
		return -1
	}
	return sum / n
}

// contrast is a level of difference from the background that only teeth reach: a
// third of the strong differences in the rows of the teeth.
func (w *finder) contrast(v *turnedView, row func(float64) int, deep float64) float64 {
	var diff []float64
	for k := 3; k <= 8; k++ {
		y := row(deep * float64(k) / 12)
		if y < 0 || y >= v.h {
			continue
		}
		for x := 0; x < v.w; x += 2 {
			if g, back := v.grey[y*v.w+x], w.background(v, row, x, deep); g >= 0 && back >= 0 {
				diff = append(diff, math.Abs(float64(g)-back))
			}
		}
	}
	if len(diff) < 20 {
		return 0
	}
	slices.Sort(diff)
	return diff[len(diff)*7/10] / 3
}

// spaceTips fits equally spaced tips to the tooth signal: phases of its fundamental
// in windows two pitches wide, laid on a line along the axis.
func (w *finder) spaceTips(tooth []float64, e *silhouette) {
	period := w.pitch * 0.95
	width := int(2 * period)
	var at, phase, weight []float64
	for x0 := 0; x0+width <= len(tooth); x0 += max(int(period/2), 1) {
		c, ok := tone(tooth[x0:x0+width], x0, period, len(tooth))
		if !ok {
			continue
		}
		at = append(at, float64(x0)+float64(width)/2-float64(len(tooth))/2)
		phase = append(phase, cmplx.Phase(c))
		weight = append(weight, cmplx.Abs(c))
	}
	if len(at) < 4 {
		return
	}
	// The spacing that makes the phases fall on a line best, within the range that
	// cameras from three radii away allow.
	best, bestK := -1.0, 0.0
	for k := -0.3; k <= 0.12; k += 0.002 {
		var sum complex128
		for i := range at {
			sum += cmplx.Rect(weight[i], phase[i]-2*math.Pi*k*at[i]/period)
		}
		if a := cmplx.Abs(sum); a > best {
			best, bestK = a, k
		}
	}
	k, base := bestK, 0.0
	var resid []float64
	for range 3 {
		var sum complex128
		for i := range at {
			sum += cmplx.Rect(weight[i], phase[i]-2*math.Pi*k*at[i]/period)
		}
		base = cmplx.Phase(sum)
		var sxx, sx, sw, sr, sxr float64
		resid = resid[:0]
		for i := range at {
			r := math.Remainder(phase[i]-2*math.Pi*k*at[i]/period-base, 2*math.Pi)
			g := weight[i] / (1 + 10*r*r)
			sw, sx, sxx, sr, sxr = sw+g, sx+g*at[i], sxx+g*at[i]*at[i], sr+g*r, sxr+g*at[i]*r
			resid = append(resid, math.Abs(r))
		}
		if det := sw*sxx - sx*sx; det > 0 {
			k += (sw*sxr - sx*sr) / det * period / (2 * math.Pi)
			base += (sr*sxx - sx*sxr) / det
		}
	}
	slices.Sort(resid)
	median := resid[len(resid)/2]
	if median > 0.8 { // no common spacing
		return
	}
	spacing := period / (1 + k)
	e.spacing = spacing
	// cos(2 pi x/spacing + base) has its tops at x = -base spacing / 2 pi.
	e.tip = -base * spacing / (2 * math.Pi)
	n := float64(len(at)) / 4
	e.tipDoubt = math.Max(median, 0.03) * spacing / (2 * math.Pi) / math.Sqrt(n) * 1.5
	span := float64(len(tooth))
	e.spaceErr = e.tipDoubt * 3.5 / span * spacing
	e.teeth = int(span / spacing)
}

// settleDistance takes the camera's distance from the height of the silhouettes over
// the pitch, and from the spacing of the tips over the pitch, which are as far from
// the camera as the axis nearly is, and weighs the two:
//
//	spacing of tips / pitch at the front = D / (D + R)
func (w *finder) settleDistance() {
	r := w.f.radius
	w.d, w.dDoubt = 15*r, 7*r
	both := w.upper.seen && w.lower.seen
	front := w.frontPitch()
	var sum, weight, height, heightDoubt float64
	if both {
		half := (w.lower.at - w.upper.at) / 2
		halfDoubt := math.Hypot(w.upper.doubt, w.lower.doubt) / 2
		d, q := distanceFrom(w.f, half, front)
		// 1/D is what comes out evenly.
		doubt := distanceDoubt(w.f, q, q*math.Hypot(halfDoubt/half, w.pitchDoubt/front+0.002)) / (d * d)
		sum, weight = sum+1/d/(doubt*doubt), weight+1/(doubt*doubt)
		height, heightDoubt = 1/d, doubt
	}
	for _, e := range []silhouette{w.upper, w.lower} {
		if !e.seen || e.teeth < 5 {
			continue
		}
		ratio := e.spacing / front
		inverse := (1/ratio - 1) / r
		doubt := (math.Hypot(e.spaceErr/e.spacing, w.pitchDoubt/front) + 0.003) / r
		if both && math.Abs(inverse-height) > 5*math.Hypot(doubt, heightDoubt)+0.05/r {
			w.note("the height of the thread and the spacing of its tips do not fit the same distance of the camera")
			w.unfit = true
		}
		sum, weight = sum+inverse/(doubt*doubt), weight+1/(doubt*doubt)
	}
	if weight > 0 {
		inverse := math.Min(math.Max(sum/weight, 1/(100*r)), 1/(2.5*r))
		w.d = 1 / inverse
		w.dDoubt = math.Max(w.d*w.d/math.Sqrt(weight), 0.02*w.d)
	}
	w.pitch = w.frontPitch()
	half := w.pitch * r / w.f.pitch * math.Sqrt((w.d-r)/(w.d+r))
	w.centreDoubt = 0.15 * half
	switch {
	case both:
		w.centre = (w.upper.at + w.lower.at) / 2
		w.centreDoubt = math.Hypot(w.upper.doubt, w.lower.doubt) / 2
	case w.upper.seen:
		w.centre, w.centreDoubt = w.upper.at+half, math.Hypot(w.upper.doubt, 0.02*half)
		w.note("the lower silhouette cannot be told from the background")
	case w.lower.seen:
		w.centre, w.centreDoubt = w.lower.at-half, math.Hypot(w.lower.doubt, 0.02*half)
		w.note("the upper silhouette cannot be told from the background")
	default:
		w.note("neither silhouette can be seen: the distance of the camera and the centre line are guesses")
	}
}

// frontPitch turns the spacing of the pattern, which crests and roots make together,
// into that of the crests, which are nearer: p (D - r)/(D - R).
func (w *finder) frontPitch() float64 {
	d := w.d
	if d == 0 {
		d = 15 * w.f.radius
	}
	return w.pitch * (d - w.f.mean()) / (d - w.f.radius)
}
