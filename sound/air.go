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
