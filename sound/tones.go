package sound

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thrum/internal/dsp"
	"thrum/unit"
)

// Settings of the search for tones.
const (
	toneStretch = 0.4     // s; longest stretch of one spectrum
	toneFloor   = 150     // Hz to each side over which the background of a tone is taken
	toneLeast   = 8.0     // dB above it at least
	toneChance  = 0.01    // chance that noise alone gives one tone or more in a pass
	mostTones   = 24      // per pass
	trackPoints = 200     // per tone
	overlapLoss = 0.6     // share of half-overlapping Hann stretches that count as independent
	beatRate    = 1 / 60. // s; grid on which the loudness within a pass is taken
)

// listenTo measures one pass.
func (t *taken) listenTo(s Span, l *loudness, o ListenOptions) Pass {
	p := Pass{Span: s}
	a, b := int(s.Start/l.step()), min(int(s.End/l.step()), len(l.level))
	p.Above = mean(l.level[a:max(b, a+1)])
	p.Uneven = l.uneven(a, b)
	t.measure(&p, []stretch{t.stretch(s)}, o)
	return p
}

// stretch is a stretch of samples.
type stretch struct{ from, to int }

func (t *taken) stretch(s Span) stretch {
	return stretch{int(s.Start.S() * t.rate), min(int(s.End.S()*t.rate), t.len())}
}

// measure finds the tones of some stretches taken together.
func (t *taken) measure(p *Pass, parts []stretch, o ListenOptions) {
	long := 0
	for _, s := range parts {
		long = max(long, s.to-s.from)
	}
	n := 64
	for float64(2*n)/t.rate <= toneStretch && 2*n*3 <= long {
		n *= 2
	}
	if long < 2*n {
		return
	}
	q := dsp.NewPeriodogram(n, dsp.Hann)
	spectra := t.spectra(q, parts)
	average, count := spectra.mean, len(spectra.starts)
	level, lo, hi := make([]float64, len(average)), int(o.Low.Hz()*float64(n)/t.rate), int(o.High.Hz()*float64(n)/t.rate)
	sum := 0.0
	for k, v := range average {
		level[k] = dsp.DB(v)
		if k >= lo && k <= hi {
			sum += v
		}
	}
	p.Level = dsp.DB(sum / q.NoiseBandwidth())
	step := t.rate / float64(n)
	floor := dsp.Floor(level, max(int(toneFloor/step), 12))
	p.Spectrum = newLevels(step, level, floor, lo, hi, q.NoiseBandwidth())
	peaks := dsp.Peaks(level, floor, lo, hi, 3, leastProminence(count, hi-lo))
	for _, k := range peaks[:min(len(peaks), mostTones)] {
		p.Tones = append(p.Tones, Tone{
			Freq: Estimate[unit.Frequency]{Value: unit.Frequency(k.Bin * step)}, Prominence: k.Prominence,
			Level: toneLevel(average, floor, int(k.Bin+0.5), q.NoiseBandwidth()),
		})
	}
	spectra.track(p.Tones, floor)
	p.Crackle = t.crackle(parts, o)
	if len(parts) == 1 {
		p.Speed.beats = t.beats(parts[0].from, parts[0].to)
		for _, b := range p.Speed.beats {
			p.Swells = append(p.Swells, Swell{estimate(unit.Frequency(b.freq), unit.Frequency(b.se), 10), b.prominence})
		}
	}
}

// toneLevel returns the level of a tone: the power in the five bins that a Hann
// window spreads it over, less the background there.
func toneLevel(power, floor []float64, k int, bandwidth float64) float64 {
	sum := 0.0
	for j := max(k-2, 0); j <= min(k+2, len(power)-1); j++ {
		sum += power[j] - math.Pow(10, floor[j]/10)
	}
	return dsp.DB(math.Max(sum, power[k]/2) / bandwidth)
}

// spectra are the power spectra of half-overlapping stretches of some parts. Those of
// the first mostKept are kept, for tones are sought in their mean and then followed through
// each; later ones are computed again.
type spectra struct {
	t      *taken
	q      *dsp.Periodogram
	starts []int
	mean   []float64
	kept   [][]float64

	x, power []float64
}

// mostKept are stretches of 0.2 s each, so a pass of over a minute; at the longest stretch
// they take 6 MB.
const mostKept = 360

// spectra goes over the parts once.
func (t *taken) spectra(q *dsp.Periodogram, parts []stretch) *spectra {
	s := &spectra{t: t, q: q, mean: make([]float64, q.Bins()), x: make([]float64, q.Len()), power: make([]float64, q.Bins())}
	for _, p := range parts {
		for at := p.from; at+q.Len() <= p.to; at += q.Len() / 2 {
			s.starts = append(s.starts, at)
		}
	}
	kept := min(len(s.starts), mostKept)
	all := make([]float64, kept*q.Bins())
	for k := range s.starts {
		if k < kept {
			s.kept = append(s.kept, all[k*q.Bins():(k+1)*q.Bins()])
			s.measure(s.kept[k], k)
		}
		for i, v := range s.at(k) {
			s.mean[i] += v
		}
	}
	for i := range s.mean {
		s.mean[i] /= float64(len(s.starts))
	}
	return s
}

func (s *spectra) measure(power []float64, k int) {
	s.t.read(s.x, s.starts[k])
	s.q.Power(power, s.x)
}

// at returns the spectrum of stretch k, valid until the next call.
func (s *spectra) at(k int) []float64 {
	if k < len(s.kept) {
		return s.kept[k]
	}
	clear(s.power)
	s.measure(s.power, k)
	return s.power
}

// leastProminence returns how far, in dB, a peak of count averaged stretches must
// stand above the median of its surroundings so that noise alone would seldom do
// it in so many bins: the chi-square law with two degrees of freedom a stretch.
func leastProminence(count, bins int) float64 {
	k := math.Max(2*overlapLoss*float64(count), 2)
	chi := distuv.ChiSquared{K: k}
	ratio := chi.Quantile(1-toneChance/math.Max(float64(bins), 1)) / chi.Quantile(0.5)
	return math.Max(toneLeast, 10*math.Log10(ratio))
}

// track follows each tone along the pass, and takes the standard error of its
// frequency from there.
func (s *spectra) track(tones []Tone, floor []float64) {
	n, t := s.q.Len(), s.t
	step := t.rate / float64(n)
	every := max(len(s.starts)/trackPoints, 1)
	sums := make([]trackSum, len(tones))
	for k, at := range s.starts {
		power := s.at(k)
		for i := range tones {
			middle := int(tones[i].Freq.Value.Hz()/step + 0.5)
			f, level, w := localPeak(power, middle)
			sums[i].add(f*step, w, level > floor[min(middle, len(floor)-1)]+6)
			if k%every == 0 {
				tones[i].Track = append(tones[i].Track, TrackPoint{
					At: unit.Time((float64(at) + float64(n)/2) / t.rate), Freq: unit.Frequency(f * step), Level: level,
				})
			}
		}
	}
	for i := range tones {
		tones[i].Steady = sums[i].above / float64(len(s.starts))
		tones[i].Wander = sums[i].wander()
		tones[i].Freq = sums[i].estimate(step, tones[i].Freq.Value)
	}
}

// localPeak returns the largest value within two bins of middle, between bins.
func localPeak(power []float64, middle int) (bin, level, weight float64) {
	k := max(middle-2, 1)
	for j := k; j <= min(middle+2, len(power)-2); j++ {
		if power[j] > power[k] {
			k = j
		}
	}
	p, h := dsp.Vertex(dsp.DB(power[k-1]), dsp.DB(power[k]), dsp.DB(power[k+1]))
	return float64(k) + p, h, power[k]
}

// trackSum collects the frequency of a tone, weighted by its power.
type trackSum struct{ w, ww, wf, wff, above float64 }

func (s *trackSum) add(f, w float64, stands bool) {
	s.w += w
	s.ww += w * w
	s.wf += w * f
	s.wff += w * f * f
	if stands {
		s.above++
	}
}

// wander returns the scatter of the frequency from stretch to stretch.
func (s *trackSum) wander() unit.Frequency {
	if s.w == 0 {
		return 0
	}
	f := s.wf / s.w
	return unit.Frequency(math.Sqrt(math.Max(s.wff/s.w-f*f, 0)))
}

// estimate puts the error to the frequency read from the averaged spectrum: the
// scatter of the tone from stretch to stretch over the root of how many of them are
// independent, by their weights and less what the overlap takes. Interpolation
// between bins leaves a hundredth of a bin whatever the number.
func (s *trackSum) estimate(step float64, peak unit.Frequency) Estimate[unit.Frequency] {
	if s.w == 0 {
		return estimate(peak, unit.Frequency(step/2), 1)
	}
	f := s.wf / s.w
	n := math.Max(overlapLoss*s.w*s.w/s.ww, 1)
	if n < 2 { // one stretch tells nothing of the scatter
		return estimate(peak, unit.Frequency(step/4), 2)
	}
	se := math.Hypot(math.Sqrt(math.Max(s.wff/s.w-f*f, 0)/(n-1)), 0.01*step)
	return estimate(peak, unit.Frequency(se), n-1)
}

// beat is a slow swell of the loudness within a pass: the run-out of the work comes
// round once a turn and is heard in everything the tool does.
type beat struct{ freq, se, prominence float64 }

// beats returns the peaks of the spectrum of the loudness, strongest first.
func (t *taken) beats(from, to int) []beat {
	hop := max(int(beatRate*t.rate), 1)
	n := (to - from) / hop
	if n < 64 {
		return nil
	}
	n = min(n, 1<<15) &^ 1
	loud, x := make([]float64, n), make([]float64, hop)
	for i := range loud {
		t.read(x, from+i*hop)
		loud[i] = dsp.DB(meanSquare(x))
	}
	q := dsp.NewPeriodogram(n, dsp.Hann)
	power := make([]float64, q.Bins())
	q.Power(power, loud)
	level := make([]float64, len(power))
	for k, v := range power {
		level[k] = dsp.DB(v)
	}
	step := t.rate / float64(hop) / float64(n)
	floor := dsp.Floor(level, max(n/16, 12))
	var out []beat
	for _, p := range dsp.Peaks(level, floor, 3, len(level)-2, 2, 14) {
		if len(out) == 8 {
			break
		}
		// A lone peak of height r above the noise is placed to about 0.55 bins over
		// the square root of its power ratio.
		se := math.Max(0.55/math.Pow(10, p.Prominence/20), 0.02) * step
		out = append(out, beat{freq: p.Bin * step, se: se, prominence: p.Prominence})
	}
	return out
}
