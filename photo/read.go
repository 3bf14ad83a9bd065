package photo

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// strip is one part of one groove, straightened: relative brightness at equal steps
// of angle, and its spectrum.
type strip struct {
	groove int
	band   int // 0 left flank, 1 root, 2 right flank
	signal []float64
	moving []float64 // signal less what all turns have in common
	seen   []bool
	first  int // of what can be seen
	last   int
	burnt  float64 // share not seen within the angles read
	coef   []complex128
	level  []float64 // |coef|^2 over its background
	even   []float64 // the same, of equal steps in the picture instead of on the thread
	rough  float64   // root mean square of signal
}

const (
	strips       = 3
	lowestMarks  = 36
	highestMarks = 520
	spectrumLen  = 8192
)

// reader takes one picture through Read.
type reader struct {
	p    *Picture
	f    form
	g    *Geometry
	o    Options
	c    camera
	step float64 // of angle, radian
	n    int     // angles
	sin  []float64
	cos  []float64
	// evenAt is where, in steps of angle, each of as many equal steps across the
	// picture falls; the steps are alike on the line facing the camera.
	evenAt []float64
	all    []*strip
	lo     int // bins
	hi     int
	r      *Reading
}

// Read measures the marks on the flanks. g comes from Find, or from FromMarks where a
// person put it right. An error means that the input cannot be worked with at all; a
// picture that shows no regular marks gives a Reading that is refused, with the reason.
func Read(p *Picture, t Thread, g *Geometry, o Options) (*Reading, error) {
	f, err := t.form()
	if err != nil {
		return nil, err
	}
	c, err := g.camera(f)
	if err != nil {
		return nil, err
	}
	w := &reader{p: p, f: f, g: g, o: o, c: c, r: &Reading{Verdict: Refused, Geometry: g}}
	w.grid()
	w.collect()
	w.removeCommon()
	if !w.enough() {
		w.appearance()
		return w.r, nil
	}
	w.spectra()
	w.judge()
	return w.r, nil
}

// Measure is Find followed by Read. Where no thread can be found in the picture the
// reading is refused and says so.
func Measure(p *Picture, t Thread, o Options) (*Reading, error) {
	if _, err := t.form(); err != nil {
		return nil, err
	}
	g, err := Find(p, t)
	if err != nil {
		return &Reading{
			Verdict: Refused, Reason: "no thread could be made out in the picture",
			Advice:     []string{adviceFrame, adviceBack, adviceLight},
			Appearance: Appearance{Unclear, []string{"no flanks could be followed"}},
		}, nil
	}
	return Read(p, t, g, o)
}

// grid lays out the angles. A step is about a pixel on the line facing the camera,
// and never coarser than a sixth of the finest mark.
func (w *reader) grid() {
	perRadian := w.c.f * (w.f.radius - w.f.depth) / (w.c.d - w.f.radius)
	w.step = math.Min(math.Max(0.8/perRadian, 2*math.Pi/highestMarks/10), 2*math.Pi/highestMarks/5)
	w.n = int(2*readAngle/w.step) | 1
	w.sin, w.cos = make([]float64, w.n), make([]float64, w.n)
	for i := range w.n {
		w.sin[i], w.cos[i] = math.Sincos(float64(i-w.n/2) * w.step)
	}
	w.evenAt = evenSteps(w.sin, w.cos, (w.f.radius-w.f.depth)/w.c.d, w.step)
	// Four pixels a mark where the marks are squeezed together most.
	w.r.Readable = 2 * math.Pi * perRadian * math.Cos(readAngle) / 4
	lo, hi := lowestMarks, highestMarks
	if w.o.Low > 0 {
		lo = max(w.o.Low, 12)
	}
	if w.o.High > 0 {
		hi = min(w.o.High, highestMarks)
	}
	w.lo = int(math.Ceil(w.bin(float64(lo))))
	w.hi = int(w.bin(math.Min(float64(hi), w.r.Readable)))
}

// evenSteps inverts y = sin th (1 - k)/(1 - k cos th), the place across the picture of
// the angle th at a radius that is k of the camera's distance. Negative where y is
// beyond the angles that are read.
func evenSteps(sin, cos []float64, k, step float64) []float64 {
	n := len(sin)
	y := func(i int) float64 { return sin[i] * (1 - k) / (1 - k*cos[i]) }
	out := make([]float64, n)
	j := 0
	for i := range out {
		want := float64(i-n/2) * step
		for j+1 < n-1 && y(j+1) < want {
			j++
		}
		f := (want - y(j)) / (y(j+1) - y(j))
		out[i] = float64(j) + f
		if f < 0 || f > 1 {
			out[i] = -1
		}
	}
	return out
}

// bin is where a number of marks per turn lies in the spectra, and marks the reverse.
func (w *reader) bin(marks float64) float64 { return marks * spectrumLen * w.step / (2 * math.Pi) }
func (w *reader) marks(bin float64) float64 { return bin * 2 * math.Pi / (spectrumLen * w.step) }

// collect straightens every groove that the picture shows.
func (w *reader) collect() {
	half := math.Hypot(float64(w.p.w), float64(w.p.h))/2/w.g.PitchPixels + 2
	mid := math.Floor(-w.c.x0 / w.f.pitch)
	most := math.Min(half, 80)
	for n := -int(most); n <= int(most); n++ {
		for b := range strips {
			if s := w.straighten(int(mid)+n, b); s != nil {
				w.all = append(w.all, s)
			}
		}
	}
}

// across returns the places across the groove, in pitches from its middle, that a
// band is read at: the middle parts, clear of the edges between flank, root and crest.
func (w *reader) across(band int) (from, to float64) {
	in, out := w.f.root/2, 0.5-w.f.crest/2
	margin := 0.15 * (out - in)
	switch band {
	case 0:
		return -(out - margin), -(in + margin)
	case 2:
		return in + margin, out - margin
	}
	return -0.8 * in, 0.8 * in
}

const mostRows = 14

// straighten follows one band of one groove round and averages its rows, each first
// made relative to its own brightness nearby. Nil where too little of it shows.
func (w *reader) straighten(groove, band int) *strip {
	from, to := w.across(band)
	rows := min(max(int((to-from)*w.g.PitchPixels/1.5), 2), mostRows)
	sum, count := make([]float64, w.n), make([]int, w.n)
	raw, ok := make([]float64, w.n), make([]bool, w.n)
	rel := newRelative(w.n, int(3*math.Pi/180/w.step))
	middle := w.c.x0 + w.f.pitch*(float64(groove)+0.5)
	for k := range rows {
		u := from + (to-from)*(float64(k)+0.5)/float64(rows)
		r := w.f.r(u)
		for i := range w.n {
			th := float64(i-w.n/2) * w.step
			px, py := w.c.pixel(middle+w.f.pitch*u+w.f.lead*th/(2*math.Pi), r, w.sin[i], w.cos[i])
			g, good := w.p.at(px, py)
			raw[i], ok[i] = float64(g), good
		}
		for i, v := range rel.of(raw, ok) {
			if ok[i] {
				sum[i] += v
				count[i]++
			}
		}
	}
	s := &strip{groove: groove, band: band, signal: sum, moving: make([]float64, w.n), seen: make([]bool, w.n), first: -1}
	seen := 0
	for i := range sum {
		if 2*count[i] < rows {
			sum[i] = 0
			continue
		}
		sum[i] /= float64(count[i])
		s.seen[i] = true
		if s.first < 0 {
			s.first = i
		}
		s.last = i
		seen++
	}
	if seen < w.n/3 {
		return nil
	}
	s.burnt = 1 - float64(seen)/float64(s.last-s.first+1)
	s.rough = s.clip()
	return s
}

// removeCommon takes away what is the same at the same angle in every turn, or changes
// evenly from turn to turn: the shading by the lamp, reflections, and what the camera
// adds. Marks move round from turn to turn, by the part of their count beyond a whole
// number, and stay; a count within about a twentieth of a whole number is lost, and the
// strips before the removal are kept for that.
func (w *reader) removeCommon() {
	for b := range strips {
		var list []*strip
		for _, s := range w.all {
			if s.band == b {
				list = append(list, s)
			}
		}
		for i := range w.n {
			var n, sx, sxx, sy, sxy float64
			for _, s := range list {
				if s.seen[i] {
					x := float64(s.groove - list[0].groove)
					n, sx, sxx, sy, sxy = n+1, sx+x, sxx+x*x, sy+s.signal[i], sxy+x*s.signal[i]
				}
			}
			if n < 3 {
				continue
			}
			slope, det := 0.0, n*sxx-sx*sx
			if n >= 7 && det > 0 {
				slope = (n*sxy - sx*sy) / det
			}
			base := (sy - slope*sx) / n
			for _, s := range list {
				if s.seen[i] {
					s.moving[i] = s.signal[i] - base - slope*float64(s.groove-list[0].groove)
				}
			}
		}
	}
}

// clip holds specks of dirt down: values beyond four times the median deviation are
// cut off there. It returns the root mean square of what is left.
func (s *strip) clip() float64 {
	var size []float64
	for i, v := range s.signal {
		if s.seen[i] {
			size = append(size, math.Abs(v))
		}
	}
	limit := 4 * 1.48 * median(size)
	sq := 0.0
	for i, v := range s.signal {
		s.signal[i] = math.Max(-limit, math.Min(limit, v))
		sq += s.signal[i] * s.signal[i]
	}
	return math.Sqrt(sq / float64(len(size)))
}

// relative turns brightness into its relative difference from a running mean, with
// what is not seen left out of the mean.
type relative struct {
	half       int
	value, one []float64
	out        []float64
}

// newRelative prepares for n values; two running means over width values each stand
// in for a bell curve of that standard deviation or so.
func newRelative(n, width int) *relative {
	return &relative{half: max(width, 2), value: make([]float64, n+1), one: make([]float64, n+1), out: make([]float64, n)}
}

func (r *relative) of(x []float64, ok []bool) []float64 {
	n := len(x)
	v, one := r.value, r.one
	for i := range n {
		v[i+1], one[i+1] = v[i], one[i]
		if ok[i] {
			v[i+1] += x[i]
			one[i+1]++
		}
	}
	for i := range n {
		a, b := max(i-r.half, 0), min(i+r.half+1, n)
		r.out[i] = 0
		if c := one[b] - one[a]; c > 0 {
			r.out[i] = (v[b] - v[a]) / c
		}
	}
	// The second pass runs over the first one's means.
	for i := range n {
		v[i+1] = v[i] + r.out[i]
	}
	for i := range n {
		a, b := max(i-r.half, 0), min(i+r.half+1, n)
		m := (v[b] - v[a]) / float64(b-a)
		r.out[i] = 0
		if ok[i] && m > 1e-4 {
			r.out[i] = math.Max(-0.8, math.Min(0.8, (x[i]-m)/m))
		}
	}
	return r.out
}

// spectra transforms every strip: once at equal steps of angle, and once at equal
// steps across the picture, where a pattern of the lamp or the camera would be even.
func (w *reader) spectra() {
	fft := fourier.NewFFT(spectrumLen)
	buf := make([]float64, spectrumLen)
	coef := make([]complex128, spectrumLen/2+1)
	keep := func(level []float64) []float64 { return whiten(level, w.lo, w.hi, w.marks(1)) }
	for _, s := range w.all {
		scale := w.window(buf, s, func(i int) (float64, bool) { return s.moving[i], s.seen[i] })
		fft.Coefficients(coef, buf)
		s.coef = make([]complex128, w.hi+1)
		// Phases count from th = 0, the middle of the signal.
		for k := range s.coef {
			s.coef[k] = coef[k] * cmplx.Rect(scale, 2*math.Pi*float64(k)*float64(w.n/2)/spectrumLen)
		}
		s.level = keep(powers(s.coef))
		scale = w.window(buf, s, func(i int) (float64, bool) {
			at := w.evenAt[i]
			j := int(at)
			if at < 0 || j+1 >= w.n || !s.seen[j] || !s.seen[j+1] {
				return 0, false
			}
			f := at - float64(j)
			return s.moving[j]*(1-f) + s.moving[j+1]*f, true
		})
		fft.Coefficients(coef, buf)
		s.even = powers(coef[:w.hi+1])
		for k := range s.even {
			s.even[k] *= scale * scale
		}
	}
}

// window weights what is seen with a Hann window over its extent; the scale returned
// turns the transform into amplitudes.
func (w *reader) window(buf []float64, s *strip, at func(i int) (float64, bool)) (scale float64) {
	clear(buf)
	sum, span := 0.0, float64(s.last-s.first+2)
	for i := s.first; i <= s.last; i++ {
		v, ok := at(i)
		if !ok {
			continue
		}
		g := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i-s.first+1)/span)
		buf[i] = g * v
		sum += g
	}
	if sum == 0 {
		return 0
	}
	return 2 / sum
}

func powers(c []complex128) []float64 {
	out := make([]float64, len(c))
	for k, v := range c {
		out[k] = real(v)*real(v) + imag(v)*imag(v)
	}
	return out
}
