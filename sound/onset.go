package sound

import (
	"fmt"
	"math"
	"slices"

	"thrum/internal/dsp"
)

// A stroke shows as a jump of the energy over a few milliseconds. Whether the part
// was struck once is a finer question, because two modes close together beat, and a
// beat looks like a second stroke. So the ring is predicted from its own past: a
// linear predictor knows every mode and every beat, and errs only where something
// from outside pushes. A second burst of error is a second stroke, and the end of
// the first burst is where the hammer has left and the part rings freely.

// Settings of the search. Decibels are of energy.
const (
	blockTime    = 0.5e-3 // s; the grid on which strokes are sought
	riseBlocks   = 4      // a stroke is judged over so many blocks
	beforeBlocks = 20     // against so many before it
	smoothBlocks = 40     // 20 ms: mains hum has no waves left
	riseDB       = 7      // least jump
	aboveDB      = 8      // and least height above the background
	doubleTime   = 0.1    // s; strokes closer than this are one double stroke
	longestRing  = 1.0    // s
	shortestRing = 0.015  // s; a stretch that the next stroke or the end cuts to less is not used
	leastFit     = 0.025  // s; a ring that is gone sooner is fitted over so much
	weakestDB    = 3      // least energy of the ring above the background
	margin       = 0.5e-3 // s; and ten samples at least: the recorder's own filter smears the end of the push
	longPush     = 1.5e-3 // s; how long a hard hammer may touch
	restrike     = 0.05   // a second push counts from this share of the first
)

// listening is the recording made ready for the search.
type listening struct {
	x      []float64 // band-limited
	rate   float64
	block  int       // samples in a block
	energy []float64 // mean square of each block
	smooth []float64 // the same, averaged over a turn of the mains
	quiet  float64   // background: a fifth of smooth lies below this
	noise  *background
}

// background is the power spectral density of the stretches between the rings.
type background struct {
	density []float64
	step    float64 // Hz
}

// at returns the density around f, or zero when there was no silence to take it from.
func (b *background) at(f float64) float64 {
	if b == nil {
		return 0
	}
	k := min(int(f/b.step+0.5), len(b.density)-2)
	k = max(k, 1)
	return (b.density[k-1] + b.density[k] + b.density[k+1]) / 3
}

func prepare(x []float64, rate, low, high float64) *listening {
	n := dsp.Halvings(rate, high)
	l := &listening{rate: rate / float64(int(1)<<n)}
	l.x = highPass(dsp.Decimate(x, n), l.rate, low/2)
	l.block = max(int(blockTime*l.rate), 4)
	for at := 0; at+l.block <= len(l.x); at += l.block {
		l.energy = append(l.energy, meanSquare(l.x[at:at+l.block]))
	}
	l.smooth = make([]float64, max(len(l.energy)-smoothBlocks, 0)+1)
	for i := range l.smooth {
		l.smooth[i] = mean(l.energy[i:min(i+smoothBlocks, len(l.energy))])
	}
	sorted := slices.Clone(l.smooth)
	slices.Sort(sorted)
	l.quiet = sorted[len(sorted)/5]
	l.noise = l.background()
	return l
}

// background averages the spectra of all stretches in which nothing rings.
func (l *listening) background() *background {
	const n = 1024
	p := dsp.NewPeriodogram(n, dsp.Hann)
	b := &background{density: make([]float64, p.Bins()), step: l.rate / n}
	count := 0
	for at := 0; at+n <= len(l.x); at += n / 2 {
		if i := at / l.block; i < len(l.smooth) && slices.Max(l.smooth[max(i-smoothBlocks, 0):min(i+n/l.block+1, len(l.smooth))]) < 2*l.quiet {
			p.Density(b.density, l.x[at:at+n], l.rate)
			count++
		}
	}
	if count < 3 {
		return nil
	}
	for k := range b.density {
		b.density[k] /= float64(count)
	}
	return b
}

// highPass is a second-order Butterworth high-pass, run forwards: handling noise
// and the drift of a sensor lie below the band. It adds a pole of its own at the
// cut-off, below the band too.
func highPass(x []float64, rate, cut float64) []float64 {
	k := math.Tan(math.Pi * cut / rate)
	norm := 1 / (1 + math.Sqrt2*k + k*k)
	a1, a2 := 2*(k*k-1)*norm, (1-math.Sqrt2*k+k*k)*norm
	out := make([]float64, len(x))
	if len(x) == 0 {
		return out
	}
	x1, x2 := x[0], x[0] // as if it had always been so, lest the start look like a stroke
	var y1, y2 float64
	for i, v := range x {
		y := norm*(v-2*x1+x2) - a1*y1 - a2*y2
		x2, x1, y2, y1 = x1, v, y1, y
		out[i] = y
	}
	return out
}

func meanSquare(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v * v
	}
	return s / float64(max(len(x), 1))
}

// stroke is one jump of the energy.
type stroke struct {
	at       int     // sample
	strength float64 // energy of a block just after it
}

// strokes returns the jumps of the energy. They are sought in what the background
// does not predict: a rumbling room swells slowly, and its loudness over a few
// milliseconds says nothing.
func (l *listening) strokes() []stroke {
	energy := l.sharpened()
	quiet := quantile(movingMean(energy, smoothBlocks/2), 0.2)
	rise, above := math.Pow(10, riseDB/10.0), math.Pow(10, aboveDB/10.0)
	var out []stroke
	for i := 1; i+riseBlocks <= len(energy); i++ {
		now := mean(energy[i : i+riseBlocks])
		before := mean(energy[max(i-beforeBlocks, 0):i])
		if now < rise*before || now < above*quiet || now == 0 {
			continue
		}
		out = append(out, stroke{l.start(i), slices.Max(energy[i:min(i+beforeBlocks/2, len(energy))])})
		i += beforeBlocks / 2
	}
	// Next to a stroke, what is far weaker is part of the noise or of the ring.
	near := func(a, b stroke) bool { return math.Abs(float64(a.at-b.at)) < doubleTime*l.rate }
	return slices.DeleteFunc(slices.Clone(out), func(s stroke) bool {
		return slices.ContainsFunc(out, func(o stroke) bool { return near(s, o) && s.strength < restrike*restrike*o.strength })
	})
}

// sharpened returns the energy of each block after the quietest stretch's own
// spectrum has been levelled out by linear prediction.
func (l *listening) sharpened() []float64 {
	const order, stretch = 8, 4096
	n := min(stretch, len(l.x)/2) / l.block
	best, at := math.Inf(1), 0
	for i := 0; n > 0 && i+n <= len(l.energy); i += max(n/4, 1) {
		if v := mean(l.energy[i : i+n]); v < best {
			best, at = v, i
		}
	}
	a := dsp.Predictor(l.x[at*l.block:(at+n)*l.block], order)
	if a == nil {
		return l.energy
	}
	e := dsp.PredictionError(l.x, a, order, len(l.x))
	out := make([]float64, len(l.energy))
	for i := range out {
		from := i*l.block - order
		out[i] = meanSquare(e[max(from, 0):max(from+l.block, 1)])
	}
	return out
}

// start places the stroke within its blocks: the first sample that reaches a
// quarter of the largest one.
func (l *listening) start(block int) int {
	at := block * l.block
	piece := l.x[at:min(at+2*riseBlocks*l.block, len(l.x))]
	top := 0.0
	for _, v := range piece {
		top = math.Max(top, math.Abs(v))
	}
	for i, v := range piece {
		if math.Abs(v) >= top/4 {
			return at + i
		}
	}
	return at
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(max(len(x), 1))
}

// ring is the free part of one tap: x[from:to] of a listening.
type ring struct {
	stroke, from, to int
	rejected         string
	snr              float64
}

// rings turns strokes into rings and judges each.
func (l *listening) rings(strokes []stroke, clipped func(from, to int) bool) []ring {
	var out []ring
	for i := 0; i < len(strokes); i++ {
		r := ring{stroke: strokes[i].at}
		next := len(l.x)
		last := i
		for last+1 < len(strokes) && float64(strokes[last+1].at-strokes[last].at) < doubleTime*l.rate {
			last++
		}
		if last+1 < len(strokes) {
			next = strokes[last+1].at - int(0.005*l.rate)
		}
		if last > i {
			r.rejected = fmt.Sprintf("struck again after %.0f ms", 1e3*float64(strokes[i+1].at-strokes[i].at)/l.rate)
		}
		r.to = l.fade(r.stroke, next)
		l.judge(&r, clipped)
		out = append(out, r)
		i = last
	}
	return out
}

// fade returns where the ring has sunk into the background, and a fifth more.
func (l *listening) fade(stroke, next int) int {
	end := min(next, stroke+int(longestRing*l.rate), len(l.x))
	for b := stroke/l.block + riseBlocks; b*l.block < end && b < len(l.smooth); b++ {
		if l.smooth[b] < 1.5*l.quiet {
			return min(end, stroke+max((b*l.block-stroke)*6/5, int(leastFit*l.rate)))
		}
	}
	return end
}

// judge finds the free part of the ring and the reasons against it.
func (l *listening) judge(r *ring, clipped func(from, to int) bool) {
	r.from = min(r.stroke+int(0.002*l.rate), r.to)
	if r.rejected == "" && clipped(r.stroke-l.block, r.to) {
		r.rejected = "too loud: the recording is clipped"
	}
	if float64(r.to-r.stroke) < shortestRing*l.rate {
		r.reject("cut short: less than 15 ms of ring")
		return
	}
	free, again := l.pushes(r.stroke, r.to)
	r.from = free
	if again > 0 {
		r.reject(fmt.Sprintf("struck again after %.0f ms", 1e3*float64(again-r.stroke)/l.rate))
	}
	half := r.from + (r.to-r.from)/2
	r.snr = dsp.DB(meanSquare(l.x[r.from:half])) - dsp.DB(l.quiet)
	if r.snr < weakestDB {
		r.reject(fmt.Sprintf("too weak: %.0f dB above the background", r.snr))
	}
}

func (r *ring) reject(why string) {
	if r.rejected == "" {
		r.rejected = why
	}
}

// pushes looks where the ring cannot be predicted. free is the first sample after
// the stroke's own push, found by predicting backwards in time: in the free ring
// every sample follows from those after it. again is where a second push begins,
// found by predicting forwards, or 0.
func (l *listening) pushes(stroke, to int) (free, again int) {
	const order = 24
	settle := stroke + max(int(0.004*l.rate), 8)
	free = min(stroke+int(0.002*l.rate), to)
	body := l.x[min(settle, to):min(to, settle+int(0.25*l.rate))]
	ahead := dsp.Predictor(body, order)
	reversed := slices.Clone(l.x[stroke:to])
	slices.Reverse(reversed)
	back := dsp.Predictor(reversed[max(len(reversed)-(settle-stroke)-len(body), 0):max(len(reversed)-(settle-stroke), 0)], order)
	if ahead == nil || back == nil {
		return free, 0
	}
	e := absolute(dsp.PredictionError(reversed, back, order, len(reversed)))
	slices.Reverse(e) // e[i] belongs to the sample stroke+i
	head := settle - stroke
	sigma, top := spread(e[head:]), slices.Max(e[:head])
	if top < 30*sigma { // the push is not seen well enough to tell when it ended
		free = stroke + max(int(longPush*l.rate), 1)
	} else {
		free = stroke + max(int(0.0003*l.rate), 1)
	}
	for i := head - 1; i >= 0; i-- {
		if e[i] > 5*sigma && e[i] > 0.02*top {
			free = max(free, stroke+i+1)
			break
		}
	}
	free = min(free+max(int(margin*l.rate), 10), to)
	first := max(stroke-l.block, order)
	if settle <= first { // struck before the predictor has enough to go by
		return free, 0
	}
	e = absolute(dsp.PredictionError(l.x, ahead, first, to))
	sigma, top = spread(e[settle-first:]), slices.Max(e[:settle-first])
	// The first push is in the predictor's memory for as many samples as its order.
	for i := max(settle+int(0.002*l.rate), stroke+order+12) - first; i < len(e); i++ {
		if e[i] > 8*sigma && e[i] > restrike*top {
			return free, first + i
		}
	}
	return free, 0
}

func absolute(x []float64) []float64 {
	for i, v := range x {
		x[i] = math.Abs(v)
	}
	return x
}

// spread estimates the standard deviation of normal errors from the median of
// their sizes, which a few large ones do not move.
func spread(sizes []float64) float64 {
	s := slices.Clone(sizes)
	slices.Sort(s)
	return s[len(s)/2] / 0.6745
}

// clippedIn returns a judge of whether a stretch of the original samples is
// clipped: three samples in a row at full scale, or flat tops at one and the same
// level below it.
func clippedIn(x []float64, fullScale float64) func(from, to int) bool {
	return func(from, to int) bool {
		piece := x[max(from, 0):min(to, len(x))]
		top := 0.0
		for _, v := range piece {
			top = math.Max(top, math.Abs(v))
		}
		if top == 0 {
			return false
		}
		limit := top * (1 - 1e-9)
		if fullScale > 0 && top >= 0.985*fullScale {
			limit = 0.985 * fullScale
		}
		flats, run := 0, 0
		for i, v := range piece {
			if math.Abs(v) < limit {
				run = 0
				continue
			}
			if run++; run == 3 {
				flats++
			}
			_ = i
		}
		return flats > 0 && (flats > 1 || limit < top || (fullScale > 0 && top >= 0.985*fullScale))
	}
}
