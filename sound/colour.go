package sound

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// byOctave finds passes in which few octaves rise, as a lone tone makes them: the
// root mean square of the rises over the octaves takes the place of their mean.
func (l *loudness) byOctave() []Span {
	const most = 15 // dB; what an octave counts at most
	x := make([]float64, len(l.octaves[0]))
	for b, oct := range l.octaves {
		for i, v := range movingMean(oct, loudSmooth) {
			r := math.Max(0, math.Min(v-l.floors[b], most))
			x[i] += r * r / float64(len(l.octaves))
		}
	}
	for i := range x {
		x[i] = math.Sqrt(x[i])
	}
	threshold, low, high := split(x)
	if high-low < leastRise {
		return nil
	}
	return l.above(x, threshold, (high-low)/4)
}

// How passes are told by colour.
const (
	colourApart  = 3.3  // distance of the two groups over the scatter within them; one bell-shaped group split in two gives 2.7
	colourStay   = 0.8  // s; a pass, and the time between two, last at least this long
	colourMasked = 30.0 // dB
	colourLeast  = 2.0  // dB along the direction that parts them
)

// audible returns the octaves that a loud one does not mask: what lies further below it
// is mostly the codec's own noise.
func (l *loudness) audible() [][]float64 {
	top := math.Inf(-1)
	medians := make([]float64, len(l.octaves))
	for b, oct := range l.octaves {
		medians[b] = quantile(oct, 0.5)
		top = math.Max(top, medians[b])
	}
	var out [][]float64
	for b, oct := range l.octaves {
		if medians[b] > top-colourMasked {
			out = append(out, oct)
		}
	}
	return out
}

// lasting reports whether passes and the stretches between them last as such things do;
// chance changes sides faster.
func (l *loudness) lasting(spans []Span) bool {
	for i, s := range spans {
		if s.End-s.Start < colourStay || i > 0 && s.Start-spans[i-1].End < colourStay {
			return false
		}
	}
	return true
}

// byColour finds passes where the loudness as a whole tells nothing, because a
// telephone levels it or a motor drowns it: cutting still changes which octaves are
// loud. The octaves' levels are projected on the direction in which they vary most
// (the first principal component) and split into two groups, which must lie well
// apart. Cutting is the group that is louder, or that has more of the high octaves
// where neither is. It returns nil when there are no two such groups.
func (l *loudness) byColour() []Span {
	octaves := l.audible()
	bands := len(octaves)
	steps := len(l.octaves[0])
	if bands < 2 || steps < 20 {
		return nil
	}
	smooth := make([][]float64, bands)
	for b, oct := range octaves {
		smooth[b] = movingMean(oct, loudSmooth)
		m := mean(smooth[b])
		for i := range smooth[b] {
			smooth[b][i] -= m
		}
	}
	cov := mat.NewSymDense(bands, nil)
	for a := range bands {
		for b := a; b < bands; b++ {
			sum := 0.0
			for i := range steps {
				sum += smooth[a][i] * smooth[b][i]
			}
			cov.SetSym(a, b, sum)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(cov, true) {
		return nil
	}
	var v mat.Dense
	e.VectorsTo(&v)
	x := make([]float64, steps)
	louder, higher := 0.0, 0.0
	for b := range bands {
		w := v.At(b, bands-1)
		louder += w
		higher += w * (float64(b) - float64(bands-1)/2)
		for i := range steps {
			x[i] += w * smooth[b][i]
		}
	}
	if louder < -0.3 || (louder < 0.3 && higher < 0) {
		for i := range x {
			x[i] = -x[i]
		}
	}
	threshold, low, high := split(x)
	within := 0.0
	for _, y := range x {
		d := y - low
		if y >= threshold {
			d = y - high
		}
		within += d * d / float64(steps)
	}
	spans := l.above(x, threshold, (high-low)/4)
	if high-low < colourLeast || high-low < colourApart*math.Sqrt(within) || !l.lasting(spans) {
		return nil
	}
	return spans
}
