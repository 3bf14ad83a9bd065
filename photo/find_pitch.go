package photo

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"thrum/internal/dsp"
)

// spectrum sums the amplitude spectra of bands of rows, lengthened with zeros to n.
func (v *turnedView) spectrum(n int) []float64 {
	const rows = 8
	fft := fourier.NewFFT(n)
	hann := dsp.Hann(v.w)
	sum := make([]float64, n/2+1)
	line := make([]float64, n)
	coef := make([]complex128, n/2+1)
	for y := 0; y+rows <= v.h; y += rows {
		if !v.band(line[:v.w], y, rows, hann) {
			continue
		}
		for k, c := range fft.Coefficients(coef, line) {
			sum[k] += real(c)*real(c) + imag(c)*imag(c)
		}
	}
	for k := range sum {
		sum[k] = math.Sqrt(sum[k])
	}
	return sum
}

// band averages rows into line, takes the mean off and weights it; false when most
// of it lies outside the picture.
func (v *turnedView) band(line []float64, y, rows int, weight []float64) bool {
	total, count := 0.0, 0
	for x := range line {
		sum, n := float32(0), 0
		for j := range rows {
			if g := v.grey[(y+j)*v.w+x]; g >= 0 {
				sum += g
				n++
			}
		}
		line[x] = math.NaN()
		if n > 0 {
			line[x] = float64(sum) / float64(n)
			total += line[x]
			count++
		}
	}
	if 2*count < len(line) {
		return false
	}
	mean := total / float64(count)
	for x, g := range line {
		if math.IsNaN(g) {
			line[x] = 0
			continue
		}
		line[x] = (g - mean) * weight[x]
	}
	return true
}

// pitch returns the spacing of the grooves in pixels and how far it stands out. The
// score of a spacing is the sum of its harmonics less what lies half way between them.
func (v *turnedView) pitch() (pitch, strength float64) {
	n := 1
	for n < 4*v.w {
		n *= 2
	}
	sp := v.spectrum(n)
	floor := dsp.Floor(sp, max(n/16, 8))
	rel := make([]float64, len(sp))
	for k := range sp {
		rel[k] = sp[k] / (floor[k] + 1e-12)
	}
	// From three grooves in the picture to six pixels a groove.
	lo, hi := 3*n/v.w, n/6
	best, at := 0.0, 0
	for k := lo; k <= hi; k++ {
		score := 0.0
		for h := 1; h <= 4; h++ {
			score += value(rel, float64(h*k)) - value(rel, (float64(h)-0.5)*float64(k))
		}
		if score > best {
			best, at = score, k
		}
	}
	if at == 0 {
		return 0, 0
	}
	// The sharpest harmonic that stands out places the fundamental.
	f, weight := 0.0, 0.0
	for h := 1; h <= 4; h++ {
		k := localTop(sp, h*at, max(n/v.w, 2))
		if k < 1 || k+1 >= len(sp) || rel[k] < 2 {
			continue
		}
		p, _ := dsp.Vertex(math.Log(sp[k-1]+1e-12), math.Log(sp[k]+1e-12), math.Log(sp[k+1]+1e-12))
		g := float64(h) * rel[k]
		f += g * (float64(k) + p) / float64(h)
		weight += g
	}
	if weight == 0 {
		return 0, 0
	}
	return float64(n) * weight / f, best
}

func value(x []float64, at float64) float64 {
	i := int(at)
	if i+1 >= len(x) {
		return 0
	}
	f := at - float64(i)
	return x[i]*(1-f) + x[i+1]*f
}

func localTop(x []float64, at, reach int) int {
	best := at
	for k := max(at-reach, 0); k <= at+reach && k < len(x); k++ {
		if best >= len(x) || x[k] > x[best] {
			best = k
		}
	}
	return min(best, len(x)-1)
}

// settlePitch sharpens the pitch on the line facing the camera, and measures the
// lean of the crests there. In strips across the central part the phase of the first
// two harmonics is followed along the axis, strip by strip: its slope is the error
// of the pitch, and its change from strip to strip is the lean.
func (w *finder) settlePitch() {
	v := w.q.turned(w.roll)
	expected := w.f.lead / (2 * math.Pi * w.f.mean())
	for range 3 {
		slope, slopeDoubt, lean, leanDoubt, ok := v.phases(w.pitch, w.centre+float64(v.h)/2, 0.3*w.half())
		if !ok {
			w.pitchDoubt = 0.02 * w.pitch
			w.leanDoubt = 1
			return
		}
		w.pitch *= 1 + slope
		w.pitchDoubt = math.Max(slopeDoubt, 0.0005) * w.pitch
		w.lean, w.leanDoubt = lean, leanDoubt
		if !w.upper.seen && !w.lower.seen && math.Abs(lean-expected) < 0.2 {
			// Without silhouettes the roll is what gives the crests their lean.
			w.roll -= lean - expected
			w.rollDoubt = math.Hypot(leanDoubt, 0.005)
			w.lean = expected
			v = w.q.turned(w.roll)
		}
		if math.Abs(slope) < 1e-4 {
			break
		}
	}
}

// half is the half height of the silhouette in pixels, as found or as expected.
func (w *finder) half() float64 {
	if w.upper.seen && w.lower.seen {
		return (w.lower.at - w.upper.at) / 2
	}
	d := w.d
	if d == 0 {
		d = 15 * w.f.radius
	}
	return w.pitch * w.f.radius / w.f.pitch * math.Sqrt((d-w.f.radius)/(d+w.f.radius))
}

// phases fits a plane to the phase of the pattern over windows along and strips
// across: slope is the relative error of the pitch, lean the shift along per pixel across.
func (v *turnedView) phases(pitch, centre, reach float64) (slope, slopeDoubt, lean, leanDoubt float64, ok bool) {
	type sample struct{ along, across, phase, weight float64 }
	var all []sample
	const strips = 9
	width := int(3 * pitch)
	for k := range strips {
		y0 := centre + reach*(2*float64(k)/strips-1)
		y1 := y0 + 2*reach/strips
		if y0 < 0 || int(y1)+1 >= v.h {
			continue
		}
		line := v.column(int(y0), max(int(y1), int(y0)+1))
		for x0 := 0; x0+width <= v.w; x0 += max(int(pitch), 1) {
			for h := 1; h <= 2; h++ {
				c, good := tone(line[x0:x0+width], x0, pitch/float64(h), v.w)
				if !good {
					continue
				}
				all = append(all, sample{
					float64(x0) + float64(width)/2 - float64(v.w)/2, (y0+y1)/2 - centre,
					cmplx.Phase(c) / float64(h), float64(h) * cmplx.Abs(c),
				})
				if h == 2 {
					all[len(all)-1].phase = cmplx.Phase(c) // kept whole; see below
					all[len(all)-1].weight = -all[len(all)-1].weight
				}
			}
		}
	}
	if len(all) < 12 {
		return 0, 0, 0, 0, false
	}
	// First harmonics alone give the first plane, by steps between neighbours; both refine it.
	px, py := 0.0, 0.0 // phase per pixel along and across, of the first harmonic
	var sx, sy complex128
	for i := range all {
		for j := i + 1; j < len(all); j++ {
			a, b := all[i], all[j]
			if a.weight < 0 || b.weight < 0 {
				continue
			}
			step := cmplx.Rect(a.weight*b.weight, b.phase-a.phase)
			switch {
			case a.across == b.across && math.Abs(b.along-a.along) <= 1.5*pitch:
				sx += step
			case a.along == b.along && b.across-a.across <= 2.5*reach/strips:
				sy += step
			}
		}
	}
	px, py = cmplx.Phase(sx)/math.Max(math.Floor(pitch), 1), cmplx.Phase(sy)/(2*reach/strips)
	var x0 [2]complex128
	for range 4 {
		x0 = [2]complex128{}
		for _, s := range all {
			h := harmonicOf(s.weight)
			x0[h-1] += cmplx.Rect(math.Abs(s.weight), s.phase-float64(h)*(px*s.along+py*s.across))
		}
		var aa, ab, bb, ra, rb, rr, ww float64
		for _, s := range all {
			h := float64(harmonicOf(s.weight))
			base := cmplx.Phase(x0[int(h)-1])
			res := math.Remainder(s.phase-h*(px*s.along+py*s.across)-base, 2*math.Pi)
			g := math.Abs(s.weight) / (1 + res*res*4)
			aa, ab, bb = aa+g*h*h*s.along*s.along, ab+g*h*h*s.along*s.across, bb+g*h*h*s.across*s.across
			ra, rb = ra+g*h*s.along*res, rb+g*h*s.across*res
			rr, ww = rr+g*res*res, ww+g
		}
		det := aa*bb - ab*ab
		if det <= 0 {
			return 0, 0, 0, 0, false
		}
		px, py = px+(ra*bb-rb*ab)/det, py+(rb*aa-ra*ab)/det
		sigma := rr / ww * ww / math.Max(float64(len(all))/6, 1) // neighbours overlap
		slopeDoubt = math.Sqrt(sigma*bb/det) * pitch / (2 * math.Pi)
		leanDoubt = math.Sqrt(sigma*aa/det) * pitch / (2 * math.Pi)
	}
	// A positive phase slope is a pattern of higher frequency than was tried.
	return -px * pitch / (2 * math.Pi), slopeDoubt, -py * pitch / (2 * math.Pi), leanDoubt, true
}

func harmonicOf(weight float64) int {
	if weight < 0 {
		return 2
	}
	return 1
}

// column averages the rows y0 to y1; NaN outside the picture.
func (v *turnedView) column(y0, y1 int) []float64 {
	line := make([]float64, v.w)
	one := make([]int, v.w)
	for y := max(y0, 0); y < min(y1, v.h); y++ {
		for x, g := range v.grey[y*v.w:][:v.w] {
			if g >= 0 {
				line[x] += float64(g)
				one[x]++
			}
		}
	}
	for x := range line {
		if one[x] == 0 {
			line[x] = math.NaN()
		} else {
			line[x] /= float64(one[x])
		}
	}
	return line
}

// tone is the complex amplitude of the pattern of the given period in part of a
// line that starts at pixel x0; phases count from the middle of a line of width w.
func tone(part []float64, x0 int, period float64, w int) (complex128, bool) {
	mean, n := 0.0, 0
	for _, g := range part {
		if !math.IsNaN(g) {
			mean += g
			n++
		}
	}
	if n < len(part)*9/10 {
		return 0, false
	}
	mean /= float64(n)
	turnBy := cmplx.Rect(1, -2*math.Pi/period)
	e := cmplx.Rect(1, -2*math.Pi*(float64(x0)-float64(w)/2)/period)
	hann := cmplx.Rect(1, 2*math.Pi/float64(len(part)))
	he := hann
	var sum complex128
	for _, g := range part {
		if !math.IsNaN(g) {
			sum += complex((g-mean)*(1-real(he)), 0) * e
		}
		e *= turnBy
		he *= hann
	}
	return sum / complex(float64(len(part)), 0), true
}
