package cause

import (
	"cmp"
	"math"
	"slices"

	"thrum/sound"
	"thrum/unit"
)

// Settings for the gathering of tones.
const (
	sameTone    = 0.012 // tones of two passes this near are one
	givenSpread = 0.02  // standard error of a speed that was only read from the belt chart
	mostVoices  = 12    // per recording
)

// voice is one tone of one recording.
type voice struct {
	cut        int
	f, se      float64 // Hz
	step       float64 // Hz; spacing of the spectrum it was read from
	wander     float64 // Hz
	prominence float64 // dB, the most of any pass
	share      float64 // of the power while cutting
	tone       sound.Tone
	over       []float64 // level over the hiss around it, dB, in each pass that has a spectrum
	clues      []clue
	p          map[Kind]float64
	salience   float64
	inAir      InAir
	gear       string // line of the gears it lies on
	motor      string // line of motor or mains it lies on
}

// voicesOf gathers the tones of the passes of a recording.
func voicesOf(index int, h *sound.Heard) []*voice {
	var out []*voice
	total := 0.0
	for _, p := range h.Passes {
		total += power(p.Level)
	}
	for _, p := range h.Passes {
		for _, t := range p.Tones {
			f := t.Freq.Value.Hz()
			v := nearest(out, f, math.Max(sameTone*f, 3*t.Freq.SE.Hz()))
			if v == nil {
				v = &voice{cut: index, f: f, se: t.Freq.SE.Hz()}
				out = append(out, v)
			}
			v.share += power(t.Level) / total
			if v.tone.Freq.Value == 0 || t.Prominence > v.prominence { // the clearest pass speaks for its frequency
				v.f, v.se, v.tone, v.prominence, v.wander = f, t.Freq.SE.Hz(), t, t.Prominence, t.Wander.Hz()
				if p.Spectrum != nil {
					v.step = p.Spectrum.Step.Hz()
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b *voice) int { return cmp.Compare(b.share, a.share) })
	out = out[:min(len(out), mostVoices)]
	for _, v := range out {
		v.follow(h)
	}
	return out
}

func power(db float64) float64 { return math.Pow(10, db/10) }

func nearest(list []*voice, f, reach float64) *voice {
	var best *voice
	for _, v := range list {
		if d := math.Abs(v.f - f); d <= reach && (best == nil || d < math.Abs(best.f-f)) {
			best = v
		}
	}
	return best
}

// follow reads the level of the tone over the hiss around it in every pass, found as
// a peak there or not. A telephone that levels the sound moves both alike.
func (v *voice) follow(h *sound.Heard) {
	for _, p := range h.Passes {
		if level, floor, ok := p.Spectrum.At(unit.Frequency(v.f), unit.Frequency(math.Max(sameTone*v.f, v.step))); ok {
			v.over = append(v.over, level-floor)
		}
	}
}

// slope fits a straight line to the levels over the passes, in dB a pass. What
// rooms and codecs do to a level sets the least error.
func (v *voice) slope() (perPass, se float64, ok bool) {
	n := float64(len(v.over))
	if n < 2 {
		return 0, 0, false
	}
	var my, sxx, sxy, syy float64
	mx := (n - 1) / 2
	for _, y := range v.over {
		my += y / n
	}
	for i, y := range v.over {
		dx, dy := float64(i)-mx, y-my
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	se = levelScatter / math.Sqrt(sxx)
	if n > 2 {
		se = math.Max(se, math.Sqrt(math.Max(syy-sxy*sxy/sxx, 0)/(n-2)/sxx))
	}
	return sxy / sxx, se, true
}

// levelScatter is how far the level of a steady tone strays from pass to pass, in
// dB: echoes of the room as the tool moves along, codecs, the hand that holds the
// telephone.
const levelScatter = 2.0
