package sound

import (
	"fmt"
	"math"
	"slices"

	"thrum/internal/dsp"
	"thrum/unit"
)

// Cutting is found by loudness, octave by octave, each against its own background:
// a motor that drowns the low octaves does not hide a hiss in the high ones. The
// background is the level below which an octave stays for a fifth of the time, or
// the air pass when one is named.

// Settings of the search for passes.
const (
	loudStep    = 0.046 // s; the grid on which loudness is measured
	quietShare  = 0.2
	leastGap    = 0.25 // s; shorter silences belong to the pass
	leastPass   = 0.4  // s
	leastRise   = 4.0  // dB between cutting and not cutting
	pictureCols = 1200 // most columns of the picture
	loudSmooth  = 2    // the loudness is averaged over 2*loudSmooth+1 steps
	belowMost   = 6.0  // dB; what lies further below the background is no sound: encoders fill up with silence
)

// loudness is the level of each octave on a coarse grid of time.
type loudness struct {
	rate    float64
	hop     int
	octaves [][]float64 // dB, [octave][step]
	level   []float64   // mean excess over the background, dB
	cols    [][]float32 // spectrogram, thinned out in time
	perCol  int
	floors  []float64
}

func (l *loudness) step() unit.Time { return unit.Time(float64(l.hop) / l.rate) }

// measureLoudness goes over the whole recording once.
func measureLoudness(t *taken, o ListenOptions) *loudness {
	n := 16
	for float64(2*n)/t.rate <= loudStep*1.2 {
		n *= 2
	}
	l := &loudness{rate: t.rate, hop: n}
	steps := t.len() / n
	l.perCol = max((steps+pictureCols-1)/pictureCols, 1)
	p := dsp.NewPeriodogram(n, dsp.Hann)
	edges := octaveEdges(p.Bins(), t.rate/float64(n), o.Low.Hz(), o.High.Hz())
	l.octaves = make([][]float64, len(edges)-1)
	x, power := make([]float64, n), make([]float64, p.Bins())
	var col []float64
	for s := range steps {
		t.read(x, s*n)
		clear(power)
		p.Power(power, x)
		for b := range l.octaves {
			sum := 0.0
			for _, v := range power[edges[b]:edges[b+1]] {
				sum += v
			}
			l.octaves[b] = append(l.octaves[b], dsp.DB(sum/p.NoiseBandwidth()))
		}
		if s%l.perCol == 0 {
			col = make([]float64, len(power))
		}
		for k, v := range power {
			col[k] = math.Max(col[k], v)
		}
		if s%l.perCol == l.perCol-1 || s == steps-1 {
			c := make([]float32, len(col))
			for k, v := range col {
				c[k] = float32(dsp.DB(v))
			}
			l.cols = append(l.cols, c)
		}
	}
	return l
}

// octaveEdges returns the bins at which octaves meet, from high down to low and no
// narrower than two bins.
func octaveEdges(bins int, step, low, high float64) []int {
	edges := []int{min(int(high/step)+1, bins)}
	for f := high / 2; f >= low && edges[0]-int(f/step) >= 2 && int(f/step) >= 1; f /= 2 {
		edges = append([]int{int(f / step)}, edges...)
	}
	if len(edges) == 1 {
		edges = append([]int{1}, edges...)
	}
	return edges
}

func (l *loudness) picture() *Spectrogram {
	return &Spectrogram{
		Start: l.step() * unit.Time(l.perCol) / 2, TimeStep: l.step() * unit.Time(l.perCol),
		FreqStep: unit.Frequency(l.rate / float64(l.hop)), Columns: l.cols,
	}
}

// passes returns the stretches in which the tool was cutting, and a remark when
// that could not be told.
func (l *loudness) passes(air *Span) ([]Span, string) {
	steps := len(l.octaves[0])
	if steps == 0 {
		return nil, "the recording is too short to find passes in"
	}
	l.level = make([]float64, steps)
	airLow, airHigh := 0, 0
	if air != nil {
		airLow = max(int(air.Start/l.step()), 0)
		airHigh = min(int(air.End/l.step()), steps)
	}
	for _, oct := range l.octaves {
		quiet := quantile(oct, quietShare)
		if airHigh > airLow {
			quiet = quantile(oct[airLow:airHigh], 0.5)
		}
		l.floors = append(l.floors, quiet)
		for i, v := range oct {
			l.level[i] += math.Min(math.Max(v-quiet, -belowMost), 40) / float64(len(l.octaves))
		}
	}
	smooth := movingMean(l.level, loudSmooth)
	threshold, lowMean, highMean := split(smooth)
	whole := []Span{{0, unit.Time(steps) * l.step()}}
	if airHigh > airLow { // what is louder than the air pass ever was
		threshold = math.Max(leastRise, quantile(smooth[airLow:airHigh], 0.99)+1)
		if quantile(smooth, 1) <= threshold {
			return nil, "nothing is louder than the air pass: no cutting was found"
		}
	} else if spans := l.levelled(smooth); len(spans) > 0 {
		return spans, "the passes were found by the colour of the sound, for a phone that levels it hides them in its loudness"
	} else if highMean-lowMean < leastRise {
		if spans := l.byOctave(); len(spans) > 0 {
			return spans, ""
		}
		if spans := l.byColour(); len(spans) > 0 {
			return spans, "the passes were found by the colour of the sound, for its loudness hardly changes; a phone that levels the sound does that"
		}
		return whole, fmt.Sprintf("loud and quiet stretches differ by %.1f dB only, so cutting cannot be told from not cutting; the whole recording is taken as one pass", highMean-lowMean)
	}
	spans := l.above(smooth, threshold, (highMean-lowMean)/4)
	if len(spans) == 0 {
		return whole, "no stretch of cutting longer than 0.4 s stands out; the whole recording is taken as one pass"
	}
	return spans, ""
}

// above returns the stretches in which x exceeds the threshold, ending where it
// falls below it by the slack; short gaps are closed and short stretches dropped.
func (l *loudness) above(x []float64, threshold, slack float64) []Span {
	var out []Span
	step := l.step()
	for i := 0; i < len(x); i++ {
		if x[i] < threshold {
			continue
		}
		from := i
		for from > 0 && x[from-1] >= threshold-slack {
			from--
		}
		for i < len(x) && x[i] >= threshold-slack {
			i++
		}
		s := Span{unit.Time(from) * step, unit.Time(i) * step}
		if n := len(out); n > 0 && s.Start-out[n-1].End < leastGap {
			out[n-1].End = s.End
		} else {
			out = append(out, s)
		}
	}
	return slices.DeleteFunc(out, func(s Span) bool { return s.End-s.Start < leastPass })
}

// uneven returns how far the loudness strays within a pass, one standard deviation in
// dB, by means over three steps and away from both ends. A tool that cuts is heard all
// along; speech, blows and a saw fall back to the background several times a second.
func (l *loudness) uneven(from, to int) float64 {
	const ends, least = 5, 12 // steps
	from, to = from+ends, to-ends
	if to-from < least {
		return 0
	}
	smooth := movingMean(l.level[from:to], 1)
	m, sum := mean(smooth), 0.0
	for _, v := range smooth {
		sum += (v - m) * (v - m)
	}
	return math.Sqrt(sum / float64(len(smooth)))
}

// split finds the value that parts x into two groups with the least sum of squares
// within them (Otsu 1979, IEEE Trans. Syst. Man Cybern. 9:62), and their means.
func split(x []float64) (threshold, low, high float64) {
	s := slices.Clone(x)
	slices.Sort(s)
	total := 0.0
	for _, v := range s {
		total += v
	}
	n, below, best := float64(len(s)), 0.0, -1.0
	low, high, threshold = total/n, total/n, s[len(s)-1]
	for i := 0; i+1 < len(s); i++ {
		below += s[i]
		k := float64(i + 1)
		a, b := below/k, (total-below)/(n-k)
		if between := k * (n - k) * (b - a) * (b - a); between > best {
			best, threshold, low, high = between, (a+b)/2, a, b
		}
	}
	return threshold, low, high
}

func quantile(x []float64, q float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(int(q*float64(len(s))), len(s)-1)]
}

func movingMean(x []float64, half int) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = mean(x[max(i-half, 0):min(i+half+1, len(x))])
	}
	return out
}
