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
	f, se      float64       // Hz
	low, high  float64       // Hz; ends of the hump, for a mode that noise rings
	in         *sound.Levels // the spectrum it was read from
	step       float64       // Hz; its spacing
	wander     float64       // Hz
	width      float64       // Hz; at a quarter of its power
	prominence float64       // dB, the most of any pass
	share      float64       // of the power while cutting
	tone       sound.Tone
	over       []float64 // level over the hiss of the cut, dB, in each pass that has a spectrum
	level      []float64 // level itself, dB
	above      []float64 // level over that of the tones that are as loud without cutting, dB; nil when there are none
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
				v = &voice{cut: index, f: f, se: t.Freq.SE.Hz(), low: f, high: f}
				out = append(out, v)
			}
			v.share += power(t.Level) / total
			v.low, v.high = math.Min(v.low, f), math.Max(v.high, f)
			if v.tone.Freq.Value == 0 || t.Prominence > v.prominence { // the clearest pass speaks for its frequency
				v.f, v.se, v.tone, v.prominence, v.wander = f, t.Freq.SE.Hz(), t, t.Prominence, t.Wander.Hz()
				if v.in = p.Spectrum; v.in != nil {
					v.step = v.in.Step.Hz()
				}
			}
		}
	}
	loudest := func(a, b *voice) int { return cmp.Compare(b.share, a.share) }
	slices.SortStableFunc(out, loudest)
	out = append(humps(out), broad(index, h, out)...)
	slices.SortStableFunc(out, loudest)
	out = out[:min(len(out), mostVoices)]
	for _, v := range out {
		v.follow(h)
		v.width = v.in.Width(unit.Frequency(v.f), 6).Hz()
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

// humps puts tones together that are peaks of one hump: a mode that noise rings has
// a broad top on which chance picks another peak in every pass. Between peaks of one
// hump the spectrum does not fall far; between lines it does.
func humps(list []*voice) []*voice {
	var out []*voice
	for _, v := range list {
		if big := onHump(out, v); big != nil {
			big.share += v.share
			big.low, big.high = math.Min(big.low, v.low), math.Max(big.high, v.high)
			continue
		}
		out = append(out, v)
	}
	return out
}

func onHump(list []*voice, v *voice) *voice {
	for _, big := range list {
		if math.Abs(v.f-big.f) > humpReach*big.f+2*big.step || big.in == nil {
			continue
		}
		level, _, ok := big.in.At(unit.Frequency(v.f), unit.Frequency(big.step))
		if ok && big.in.Least(unit.Frequency(v.f), unit.Frequency(big.f)) > level-humpDip {
			return big
		}
	}
	return nil
}

// broad finds what is too broad to stand out as a tone: a well damped mode that shocks
// ring. Levels, averaged over 3 % of the frequency, are set against their median over
// an octave.
func broad(index int, h *sound.Heard, have []*voice) []*voice {
	mean, total := h.Average()
	if mean == nil {
		return nil
	}
	const per = 48 // cells an octave
	low, high := 120.0, mean.High().Hz()
	n := int(math.Log2(high/low) * per)
	if n < per {
		return nil
	}
	level := make([]float64, n)
	at := func(i int) float64 { return low * math.Exp2((float64(i)+0.5)/per) }
	for i := range level { // a density, so that wider cells do not count as louder
		level[i] = mean.Power(unit.Frequency(at(i)), unit.Frequency(0.015*at(i))) - 10*math.Log10(at(i))
	}
	var out []*voice
	for i := range level {
		a, b := max(i-per/2, 0), min(i+per/2+1, n)
		around := slices.Sorted(slices.Values(level[a:b]))
		if level[i]-around[len(around)/2] < broadRise || level[i] < slices.Max(level[max(i-6, 0):min(i+7, n)]) {
			continue
		}
		f := at(i)
		if nearest(have, f, 0.06*f) != nil {
			continue
		}
		width := mean.Width(unit.Frequency(f), 6).Hz()
		v := &voice{cut: index, f: f, se: f / per, low: f - width/2, high: f + width/2, in: mean, step: mean.Step.Hz(), prominence: level[i] - around[len(around)/2]}
		v.share = power(mean.Power(unit.Frequency(f), unit.Frequency(math.Max(width, 0.03*f)))) / total
		v.tone.Level = 10 * math.Log10(v.share*total)
		out = append(out, v)
	}
	return out
}

const broadRise = 8.0 // dB

// How humps are told.
const (
	humpReach = 0.06 // of the frequency
	humpDip   = 8.0  // dB
)

// follow reads the power around the tone in every pass, found as a peak there or not, by
// itself and over the hiss of the cut.
func (v *voice) follow(h *sound.Heard) {
	reach := math.Max((v.high-v.low)/2, math.Max(sameTone*v.f, 2*v.step))
	middle := (v.low + v.high) / 2
	usual := usualLength(h.Passes)
	for _, p := range h.Passes {
		if p.Spectrum != nil && p.End-p.Start >= usual/2 {
			level := p.Spectrum.Power(unit.Frequency(middle), unit.Frequency(reach))
			v.level = append(v.level, level)
			v.over = append(v.over, level-p.Spectrum.Hiss(hissFrom))
		}
	}
}

// usualLength returns the median length of the passes: what is less than half as long
// is a clatter or a pass broken off, and no step of the growth.
func usualLength(passes []sound.Pass) unit.Time {
	if len(passes) == 0 {
		return 0
	}
	var all []unit.Time
	for _, p := range passes {
		all = append(all, p.End-p.Start)
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// hissFrom is where the hiss of a cut is mostly free of hum.
const hissFrom unit.Frequency = 300

// slope returns how much the tone gains from pass to pass, in dB: the largest of its gain
// in level, of its gain on the hiss, and of its gain on the machine. A telephone that levels
// the sound hides the first, and a codec that hides its own noise under a loud tone
// hides the second; none of that makes a tone grow.
func (v *voice) slope() (perPass, se float64, ok bool) {
	if len(v.level) < 2 {
		return 0, 0, false
	}
	perPass, se = line(v.level)
	for _, than := range [][]float64{v.over, v.above} {
		if len(than) != len(v.level) {
			continue
		}
		if b, sb := line(than); b > perPass {
			perPass, se = b, sb
		}
	}
	return perPass, se, true
}

// overMachine sets every tone against those that are as loud without cutting. The motor
// and the mains do not know of the passes: when they seem to grow quieter from one to the next,
// it is the telephone that has turned the sound down. Their mean, weighed by
// power, is the gain.
func overMachine(voices []*voice) {
	var gain []float64
	for _, o := range voices {
		if o.inAir != AirSame || o.motor == "" || o.prominence < machineStands {
			continue
		}
		if gain == nil {
			gain = make([]float64, len(o.level))
		}
		for i, l := range o.level[:min(len(gain), len(o.level))] {
			gain[i] += power(l)
		}
	}
	if len(gain) < 3 {
		return
	}
	for _, v := range voices {
		if v.inAir == AirSame || len(v.level) != len(gain) {
			continue
		}
		v.above = make([]float64, len(gain))
		for i, l := range v.level {
			v.above[i] = l - 10*math.Log10(gain[i])
		}
	}
}

const machineStands = 12.0 // dB; what hardly stands out has no level of its own

// line fits a straight line to levels over the passes. What rooms and codecs do to a
// level sets the least error.
func line(y []float64) (slope, se float64) {
	n := float64(len(y))
	var my, sxx, sxy, syy float64
	mx := (n - 1) / 2
	for _, v := range y {
		my += v / n
	}
	for i, v := range y {
		dx, dy := float64(i)-mx, v-my
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	se = levelScatter / math.Sqrt(sxx)
	if n > 2 {
		se = math.Max(se, math.Sqrt(math.Max(syy-sxy*sxy/sxx, 0)/(n-2)/sxx))
	}
	return sxy / sxx, se
}

// levelScatter is how far the level of a steady tone strays from pass to pass, in
// dB: echoes of the room as the tool moves along, codecs, the hand that holds the
// telephone.
const levelScatter = 2.0
