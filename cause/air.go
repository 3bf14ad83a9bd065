package cause

import (
	"fmt"
	"math"

	"thrum/sound"
	"thrum/unit"
)

// airSpan is how far gain control and rooms may move a level, in dB.
const airSpan = 6

// airClue: is the tone there without cutting? Between passes the spindle may stand
// still, so a tone that is missing there says less than one that is missing from a
// recording made on purpose.
func (j *judge) airClue(v *voice) {
	air, named := j.airOf(v.cut)
	if air == nil {
		return
	}
	level, floor, ok := air.Spectrum.At(unit.Frequency(v.f), unit.Frequency(math.Max(0.006*v.f, air.Spectrum.Step.Hz())))
	if !ok {
		return
	}
	cut := v.tone.Level
	switch stands := level > floor+8; {
	case stands && cut-level < airSpan:
		v.inAir = AirSame
	case stands:
		v.inAir = AirLess
	case floor+8 < cut-airSpan:
		v.inAir = AirNone
	default:
		return // it would be hidden there
	}
	running := named || j.turning(air)
	p := map[InAir]map[Kind]float64{
		AirSame: {Waves: 0.03, Ringing: 0.07, Gears: 0.45, Motor: 0.75},
		AirLess: {Waves: 0.12, Ringing: 0.18, Gears: 0.35, Motor: 0.2},
		AirNone: {Waves: 0.85, Ringing: 0.75, Gears: 0.2, Motor: 0.05},
	}[v.inAir]
	where := "in the recording without cutting"
	if !named {
		where = "between the passes"
	}
	if !running {
		p = map[InAir]map[Kind]float64{
			AirSame: {Waves: 0.03, Ringing: 0.07, Gears: 0.4, Motor: 0.65},
			AirLess: {Waves: 0.12, Ringing: 0.18, Gears: 0.25, Motor: 0.2},
			AirNone: {Waves: 0.85, Ringing: 0.75, Gears: 0.35, Motor: 0.15},
		}[v.inAir]
	}
	text := map[InAir]string{
		AirSame: "%s is as loud %s", AirLess: "%s is weaker %s", AirNone: "%s is not there %s",
	}[v.inAir]
	v.add(likely(fmt.Sprintf(text, hz(v.f), where), p, 0.33))
}

// airOf returns what was heard without cutting: the recording made for it, or else
// the stretches between the passes.
func (j *judge) airOf(cut int) (air *sound.Pass, named bool) {
	if cut == 0 && j.c.Air != nil {
		if j.c.Air.Air != nil {
			return j.c.Air.Air, true
		}
		if len(j.c.Air.Passes) > 0 && j.c.Air.Passes[0].Spectrum != nil {
			return &j.c.Air.Passes[0], true
		}
	}
	if a := j.c.Cuts[cut].Heard.Air; a != nil {
		return a, false
	}
	return nil, false
}

// turning reports whether something that is tied to the spindle is heard.
func (j *judge) turning(air *sound.Pass) bool {
	for _, t := range air.Tones {
		if t.Kind == sound.MeshLine || t.Kind == sound.SpindleLine {
			return true
		}
	}
	return false
}
