package sound

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"thrum/internal/dsp"
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
	colourSteps  = 20   // fewest steps of the loudness that can be split
)

// audible returns the octaves that a loud one does not mask: what lies further below it
// is mostly the codec's own noise. They are smoothed over time.
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
			heard := make([]float64, len(oct))
			for i, v := range oct { // silence that an encoder fills up with has no colour
				heard[i] = math.Max(v, l.floors[b]-belowMost)
			}
			out = append(out, movingMean(heard, loudSmooth))
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
// loud. Cutting is the group that is louder, or that has more of the high octaves
// where neither is. It returns nil when there are no two groups that lie well apart.
func (l *loudness) byColour() []Span {
	if len(l.octaves[0]) < colourSteps {
		return nil
	}
	var octaves [][]float64
	for _, oct := range l.audible() {
		octaves = append(octaves, centred(oct))
	}
	x, weight := principalOf(octaves)
	if x == nil {
		return nil
	}
	louder, higher := 0.0, 0.0
	for b, w := range weight {
		louder += w
		higher += w * (float64(b) - float64(len(weight)-1)/2)
	}
	if louder < -0.3 || (louder < 0.3 && higher < 0) {
		negate(x)
	}
	threshold, low, high := split(x)
	spans := l.above(x, threshold, (high-low)/4)
	if high-low < colourLeast || apart(x) < colourApart || !l.lasting(spans) {
		return nil
	}
	return spans
}

// levelled finds passes when a telephone that levels the sound turns all octaves up and down
// together, slowly, so that the room between two passes becomes as loud as the cut. A
// gain is the same for all octaves at any instant. So their mean is taken away at every
// instant; what is left moves only when something sounds other than before. It is
// used when the passes found by loudness do not last as passes do, or when it finds more and
// parts the recording into two groups much better than loudness does.
func (l *loudness) levelled(loud []float64) []Span {
	if len(loud) < colourSteps {
		return nil
	}
	octaves := l.audible()
	if len(octaves) < 2 {
		return nil
	}
	total := make([]float64, len(loud))
	for i := range total {
		sum, power := 0.0, 0.0
		for b := range octaves {
			sum += octaves[b][i] / float64(len(octaves))
			power += math.Pow(10, octaves[b][i]/10)
		}
		total[i] = dsp.DB(power)
		for b := range octaves {
			octaves[b][i] -= sum
		}
	}
	for b := range octaves {
		octaves[b] = centred(octaves[b])
	}
	x, _ := principalOf(octaves)
	if x == nil {
		return nil
	}
	threshold, low, high := split(x)
	if louderBelow(x, total, threshold) {
		negate(x)
		threshold, low, high = -threshold, -high, -low
	}
	spans := l.above(x, threshold, (high-low)/4)
	away := apart(x)
	if high-low < leastRise || away < colourApart || !l.lasting(spans) {
		return nil
	}
	middle, quiet, noisy := split(loud)
	byLoudness := l.above(loud, middle, (noisy-quiet)/4)
	better := len(byLoudness) < len(spans) && away >= levelledApart && away >= levelledBetter*apart(loud)
	if len(byLoudness) > 0 && l.lasting(byLoudness) && !better {
		return nil
	}
	return spans
}

// How clear passes must be that are found with the gain taken out.
const (
	levelledApart  = 4.0
	levelledBetter = 1.2 // times as far apart as by loudness
)

// louderBelow reports whether the sound is louder where x is below the threshold.
func louderBelow(x, loud []float64, threshold float64) bool {
	var sum, n [2]float64
	for i, v := range x {
		k := 0
		if v >= threshold {
			k = 1
		}
		sum[k] += loud[i]
		n[k]++
	}
	return sum[0]/math.Max(n[0], 1) > sum[1]/math.Max(n[1], 1)
}

// apart returns how far the two groups that x is split into lie apart, over the scatter
// within them.
func apart(x []float64) float64 {
	threshold, low, high := split(x)
	within := 0.0
	for _, y := range x {
		d := y - low
		if y >= threshold {
			d = y - high
		}
		within += d * d / float64(len(x))
	}
	return (high - low) / math.Sqrt(math.Max(within, 1e-12))
}

func centred(x []float64) []float64 {
	m := mean(x)
	for i := range x {
		x[i] -= m
	}
	return x
}

func negate(x []float64) {
	for i := range x {
		x[i] = -x[i]
	}
}

// principalOf projects the octaves' levels on the direction in which they vary most (the
// first principal component); nil when there are fewer than two octaves.
func principalOf(octaves [][]float64) (x, weight []float64) {
	bands := len(octaves)
	if bands < 2 {
		return nil, nil
	}
	cov := mat.NewSymDense(bands, nil)
	for a := range bands {
		for b := a; b < bands; b++ {
			sum := 0.0
			for i, v := range octaves[a] {
				sum += v * octaves[b][i]
			}
			cov.SetSym(a, b, sum)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(cov, true) {
		return nil, nil
	}
	var v mat.Dense
	e.VectorsTo(&v)
	weight = mat.Col(nil, bands-1, &v)
	x = make([]float64, len(octaves[0]))
	for b, w := range weight {
		for i, o := range octaves[b] {
			x[i] += w * o
		}
	}
	return x, weight
}
