package cause

import (
	"fmt"
	"math"
	"slices"

	"thrum/unit"
)

// How a belt is told by the swelling of the sound.
const (
	beltLow, beltHigh = 3.5, 25.0 // Hz; how often the joint of a belt comes round
	sameSwell         = 0.02      // swells of two passes this near are one
	swellStands       = 16.0      // dB above the spectrum of the loudness
)

// beltClue: does the sound swell evenly, at a rate that the spindle does not have? The
// joint of a belt strikes once a round. Its multiples stand so close that the spectrum shows one
// hump, like a mode that is rung; but the loudness tells the two apart, for the joint comes back
// to the clock in every pass, and a mode that the cut rings swells at random. Work
// that runs out, and shocks of an interrupted cut, come round with the spindle; the wheels of
// the gears turn at rates of their own.
func (j *judge) beltClue(v *voice) {
	rate, n := j.evenSwell(v.cut)
	if n == 0 || v.share < beltShare {
		return
	}
	if rate == 0 {
		v.add(likely("its loudness has no even swell but that of the spindle", map[Kind]float64{Motor: 0.7, Gears: 0.88}, 0.97))
		return
	}
	v.add(likely(fmt.Sprintf("the sound swells %.1f times a second, which is no turn of the spindle", rate), map[Kind]float64{Motor: 0.3, Gears: 0.12}, 0.03))
}

// beltShare is the least share of the sound with which a tone makes the whole swell.
const beltShare = 0.05

// evenSwell returns the strongest rate, in hertz, at which the loudness swells alike in at
// least half of the passes without being a multiple of the spindle's turns; 0 when there is
// none. n is how many passes were looked at, 0 when it cannot be told.
func (j *judge) evenSwell(cut int) (rate float64, n int) {
	speed, rel := j.c.Cuts[cut].speed()
	turn := speed.RPM() / 60
	type met struct{ f, weight, passes float64 }
	var all []met
	for _, p := range j.c.Cuts[cut].Heard.Passes {
		if p.Spectrum == nil {
			continue
		}
		n++
		for _, s := range p.Swells {
			f := s.Rate.Value.Hz()
			if f < beltLow || f > beltHigh || s.Prominence < swellStands || turns(unit.Frequency(f), s.Rate.SE.Hz(), turn, rel) {
				continue
			}
			if i := slices.IndexFunc(all, func(m met) bool { return math.Abs(m.f-f) < sameSwell*f+2*s.Rate.SE.Hz() }); i >= 0 {
				all[i].weight += s.Prominence
				all[i].passes++
				continue
			}
			all = append(all, met{f, s.Prominence, 1})
		}
	}
	best := 0.0
	for _, m := range all {
		if m.passes >= math.Max(2, float64(n)/2) && m.weight > best {
			best, rate = m.weight, m.f
		}
	}
	if n < 2 {
		n = 0
	}
	return rate, n
}

// turns reports whether a rate may be a whole multiple of the spindle's turns.
func turns(f unit.Frequency, se, turn, rel float64) bool {
	if turn == 0 {
		return false
	}
	k := math.Max(math.Round(f.Hz()/turn), 1)
	return math.Abs(f.Hz()-k*turn) < 2*math.Hypot(se, k*turn*rel)+0.003*f.Hz()
}
