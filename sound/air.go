package sound

import (
	"math"

	"thrum/internal/dsp"
	"thrum/unit"
)

// Levels is the averaged spectrum of a pass, with the background that its tones
// stand out of.
type Levels struct {
	Step  unit.Frequency // element k belongs to the frequency k*Step
	Level []float32      // level of a sine in each cell: its rms against full scale, in dB
	Floor []float32      // running median of Level

	low, high int
	bandwidth float64
}

func newLevels(step float64, level, floor []float64, low, high int, bandwidth float64) *Levels {
	l := &Levels{Step: unit.Frequency(step), Level: make([]float32, len(level)), Floor: make([]float32, len(floor)), low: low, high: high, bandwidth: bandwidth}
	for k := range level {
		l.Level[k], l.Floor[k] = float32(level[k]), float32(floor[k])
	}
	return l
}

// At returns the level of the strongest cell within reach of f and the background
// there, both in dB; ok is false outside the band that was listened to.
func (l *Levels) At(f, reach unit.Frequency) (level, floor float64, ok bool) {
	if l == nil {
		return 0, 0, false
	}
	from, to := int(math.Round(float64((f-reach)/l.Step))), int(math.Round(float64((f+reach)/l.Step)))
	if from < l.low || to > l.high || to < from {
		return 0, 0, false
	}
	k := from
	for j := from; j <= to; j++ {
		if l.Level[j] > l.Level[k] {
			k = j
		}
	}
	return float64(l.Level[k]), float64(l.Floor[k]), true
}

// Average returns the mean of the spectra of the passes, and the mean of their power;
// nil when no pass is long enough for a spectrum. Passes whose spectra have other
// steps than the first are left out.
func (h *Heard) Average() (mean *Levels, power float64) {
	n := 0.0
	var sum, floor []float64
	for _, p := range h.Passes {
		l := p.Spectrum
		if l == nil || (mean != nil && l.Step != mean.Step) {
			continue
		}
		if mean == nil {
			c := *l
			mean, sum, floor = &c, make([]float64, len(l.Level)), make([]float64, len(l.Level))
		}
		for k := range sum {
			sum[k] += power10(l.Level[k])
			floor[k] += power10(l.Floor[k])
		}
		power += math.Pow(10, p.Level/10)
		n++
	}
	if mean == nil {
		return nil, 0
	}
	mean.Level, mean.Floor = make([]float32, len(sum)), make([]float32, len(sum))
	for k := range sum {
		mean.Level[k], mean.Floor[k] = float32(dsp.DB(sum[k]/n)), float32(dsp.DB(floor[k]/n))
	}
	return mean, power / n
}

// High returns the upper end of the band that was listened to.
func (l *Levels) High() unit.Frequency { return unit.Frequency(l.high) * l.Step }

// Power returns the mean square of what lies within reach of f, in dB.
func (l *Levels) Power(f, reach unit.Frequency) float64 {
	if l == nil {
		return math.Inf(-1)
	}
	from, to := max(int(math.Round(float64((f-reach)/l.Step))), 0), min(int(math.Round(float64((f+reach)/l.Step))), len(l.Level)-1)
	sum := 0.0
	for k := from; k <= to; k++ {
		sum += math.Pow(10, float64(l.Level[k])/10)
	}
	return dsp.DB(sum / l.bandwidth)
}

// Hiss returns the background, averaged in dB over the band above f: the hiss of the
// cut and the room without its tones.
func (l *Levels) Hiss(f unit.Frequency) float64 {
	if l == nil {
		return math.Inf(-1)
	}
	from := min(max(l.low, int(math.Round(float64(f/l.Step)))), l.high)
	sum := 0.0
	for k := from; k <= l.high; k++ {
		sum += float64(l.Floor[k])
	}
	return sum / float64(l.high-from+1)
}

// Least returns the lowest level between two frequencies, in dB.
func (l *Levels) Least(a, b unit.Frequency) float64 {
	if l == nil {
		return math.Inf(-1)
	}
	least := math.Inf(1)
	for k := max(int(min(a, b)/l.Step), 0); k <= min(int(max(a, b)/l.Step), len(l.Level)-1); k++ {
		least = math.Min(least, float64(l.Level[k]))
	}
	return least
}

// Settings of the search for what is there without cutting.
const (
	airMargin = 0.3 // s kept away from a pass: rooms ring on
	airLeast  = 1.0 // s needed in all
	airMost   = 60  // s used at most
)

// quietest returns those stretches between passes that are about as quiet as the
// quietest of them: a pass that was missed, or a hand on a wheel, is not what the
// machine sounds like without cutting.
func (l *loudness) quietest(free []Span) []Span {
	const within = 3 // dB
	var cut []Span   // long stretches in pieces
	for _, s := range free {
		n := max(1, math.Floor(s.End.S()-s.Start.S()))
		for i := range int(n) {
			d := (s.End - s.Start) / unit.Time(n)
			cut = append(cut, Span{s.Start + unit.Time(i)*d, s.Start + unit.Time(i+1)*d})
		}
	}
	free = cut
	loud, least := make([]float64, len(free)), math.Inf(1)
	for i, s := range free {
		a, b := max(int(s.Start/l.step()), 0), min(int(s.End/l.step()), len(l.level))
		if loud[i] = math.Inf(1); s.End-s.Start >= airLeast/2 && a < b {
			loud[i] = mean(l.level[a:b])
			least = math.Min(least, loud[i])
		}
	}
	var out []Span
	for i, s := range free {
		if loud[i] <= least+within {
			out = append(out, s)
		}
	}
	return out
}

// Width returns the width, in hertz, of the hump around f where it has fallen by the
// drop from its top.
func (l *Levels) Width(f unit.Frequency, drop float64) unit.Frequency {
	if l == nil {
		return 0
	}
	last := len(l.Level) - 2
	k := max(1, min(int(math.Round(float64(f/l.Step))), last))
	for j := max(1, k-2); j <= min(last, k+2); j++ {
		if l.Level[j] > l.Level[k] {
			k = j
		}
	}
	least := l.Level[k] - float32(drop)
	a, b := k, k
	for a > 1 && l.Level[a] > least {
		a--
	}
	for b < last && l.Level[b] > least {
		b++
	}
	return unit.Frequency(b-a-1) * l.Step
}

func power10(db float32) float64 { return math.Pow(10, float64(db)/10) }

// listenToAir measures what is heard without cutting: the stretches between the
// passes, the stretch that was named, or the whole recording when no cutting is
// in it. It returns nil when there is too little.
func (t *taken) listenToAir(passes []Span, l *loudness, o ListenOptions) *Pass {
	end := unit.Time(float64(t.len()) / t.rate)
	free := []Span{{0, end}}
	switch {
	case o.Air != nil:
		free[0] = Span{max(o.Air.Start, 0), min(o.Air.End, end)}
	case o.NoCut:
	case len(passes) == 0:
		return nil
	default:
		free = nil
		from := unit.Time(0)
		for _, p := range passes {
			free = append(free, Span{from, p.Start - airMargin})
			from = p.End + airMargin
		}
		free = append(free, Span{from, end})
	}
	if o.Air == nil && !o.NoCut {
		free = l.quietest(free)
	}
	var parts []stretch
	total := unit.Time(0)
	for _, s := range free {
		if s.End-s.Start < airLeast/2 || total > airMost {
			continue
		}
		parts = append(parts, t.stretch(s))
		total += s.End - s.Start
	}
	if total < airLeast {
		return nil
	}
	a := &Pass{Span: Span{unit.Time(float64(parts[0].from) / t.rate), unit.Time(float64(parts[len(parts)-1].to) / t.rate)}}
	t.measure(a, parts, o)
	if a.Spectrum == nil {
		return nil
	}
	return a
}
