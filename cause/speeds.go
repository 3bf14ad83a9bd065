package cause

import (
	"fmt"
	"math"
)

// Settings of the comparison of two speeds.
const (
	leastRatio = 0.06  // the speeds must differ by this much, for a tone and its shifted self must not be taken for one
	modeDrift  = 0.015 // a mode moves by this much as the cut and the place along the work change
)

// compareSpeeds takes the recordings whose speeds lie furthest apart.
func (j *judge) compareSpeeds() *Speeds {
	slow, fast := -1, -1
	for i := range j.c.Cuts {
		s := j.speedOf(i)
		if s == 0 {
			continue
		}
		if slow < 0 || s < j.speedOf(slow) {
			slow = i
		}
		if fast < 0 || s > j.speedOf(fast) {
			fast = i
		}
	}
	if slow < 0 || slow == fast || j.speedOf(slow) == j.speedOf(fast) {
		return nil
	}
	a, b := j.speedOf(slow), j.speedOf(fast)
	s := &Speeds{Slow: rotation(a), Fast: rotation(b), Ratio: b / a}
	s.Enough = s.Ratio > 1+leastRatio
	if !s.Enough {
		s.Sentence = fmt.Sprintf("%.0f and %.0f rpm lie too close together to tell constant frequency from constant marks per turn; take two that differ by a fifth", a, b)
		return s
	}
	for _, v := range j.voices {
		if v.cut != slow {
			continue
		}
		same, scaled := j.partner(v, fast, 1), j.partner(v, fast, s.Ratio)
		if (same == nil) == (scaled == nil) {
			continue
		}
		o := same
		if o == nil {
			o = scaled
		}
		r := o.f / v.f
		s.Pairs = append(s.Pairs, Pair{Slow: freq(v.f), Fast: freq(o.f), SameFrequency: same != nil, SamePerTurn: scaled != nil, Ratio: r, RatioSE: r * math.Hypot(v.se/v.f, o.se/o.f)})
	}
	s.Sentence = s.words()
	return s
}

func (s *Speeds) words() string {
	if len(s.Pairs) == 0 {
		return fmt.Sprintf("no tone at %.0f rpm was found again at %.0f rpm", s.Slow.RPM(), s.Fast.RPM())
	}
	p := s.Pairs[0]
	if p.SameFrequency {
		return fmt.Sprintf("from %.0f to %.0f rpm the tone stays at its frequency, %.1f and %.1f Hz: it belongs to something that swings, or to the clock, and not to a gear",
			s.Slow.RPM(), s.Fast.RPM(), p.Slow.Hz(), p.Fast.Hz())
	}
	return fmt.Sprintf("from %.0f to %.0f rpm the tone rises with the spindle, %.1f to %.1f Hz: its marks per turn stay the same, so it turns with the spindle",
		s.Slow.RPM(), s.Fast.RPM(), p.Slow.Hz(), p.Fast.Hz())
}

func (j *judge) speedOf(cut int) float64 {
	s, _ := j.c.Cuts[cut].speed()
	return s.RPM()
}

// partner finds the tone of another recording at the same frequency (ratio 1), or
// at the frequency that the same waves per turn have there.
func (j *judge) partner(v *voice, cut int, ratio float64) *voice {
	var best *voice
	want := v.f * ratio
	reach := j.reach(v, cut, ratio)
	for _, o := range j.voices {
		if d := math.Abs(o.f - want); o.cut == cut && d <= reach && (best == nil || d < math.Abs(best.f-want)) {
			best = o
		}
	}
	return best
}

func (j *judge) reach(v *voice, cut int, ratio float64) float64 {
	want := v.f * ratio
	if ratio == 1 {
		return math.Hypot(3*v.se, modeDrift*want)
	}
	_, ra := j.c.Cuts[v.cut].speed()
	_, rb := j.c.Cuts[cut].speed()
	return 3*math.Hypot(v.se*ratio, want*math.Hypot(ra, rb)) + 1e-3*want
}

// chance is the share of frequencies around f at which a recording has some tone
// within reach.
func (j *judge) chance(cut int, f, reach float64) float64 {
	n := 0.0
	for _, o := range j.voices {
		if o.cut == cut && o.f > f/2 && o.f < 2*f {
			n++
		}
	}
	return math.Min(0.02+n*2*reach/(1.5*f), 0.9)
}

// speedClue: at another speed, did the tone keep its frequency or its waves per turn?
func (j *judge) speedClue(v *voice) {
	if j.speeds == nil || !j.speeds.Enough {
		return
	}
	for i := range j.c.Cuts {
		if i == v.cut || j.speedOf(i) == 0 || j.speedOf(v.cut) == 0 {
			continue
		}
		r := j.speedOf(i) / j.speedOf(v.cut)
		if math.Abs(math.Log(r)) < math.Log(1+leastRatio) {
			continue
		}
		reachSame, reachScaled := j.reach(v, i, 1), j.reach(v, i, r)
		if reachSame+reachScaled > math.Abs(r-1)*v.f {
			continue // the two cannot be told apart here
		}
		same, scaled := j.partner(v, i, 1) != nil, j.partner(v, i, r) != nil
		c1, c2 := j.chance(i, v.f, reachSame), j.chance(i, v.f*r, reachScaled)
		both := func(pSame, pScaled float64) float64 { return yes(same, pSame) * yes(scaled, pScaled) }
		text := ""
		switch {
		case same && scaled:
			text = fmt.Sprintf("%s is met at %.0f rpm at the same frequency, and at the same waves per turn as well", hz(v.f), j.speedOf(i))
		case same:
			text = fmt.Sprintf("%s keeps its frequency at %.0f rpm", hz(v.f), j.speedOf(i))
		case scaled:
			text = fmt.Sprintf("%s keeps its waves per turn at %.0f rpm", hz(v.f), j.speedOf(i))
		default:
			text = fmt.Sprintf("%s is not found again at %.0f rpm", hz(v.f), j.speedOf(i))
		}
		v.add(likely(text, map[Kind]float64{
			Waves: both(0.75, c2), Ringing: both(0.85, c2), Motor: both(0.9, c2), Gears: both(c1, 0.88),
		}, both(math.Max(0.3, c1), c2)))
		return
	}
}

func yes(seen bool, p float64) float64 {
	if seen {
		return p
	}
	return 1 - p
}
