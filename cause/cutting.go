package cause

import (
	"fmt"
	"strings"

	"thrum/sound"
	"thrum/unit"
)

// uneven is how far the loudness of a cut may stray within a pass, in dB (one standard
// deviation over a seventh of a second). Made cuts of all causes stray by up to 3.4; speech by
// more than 6, barking and blows by more still.
const uneven = 4.5

// steadyOnly leaves out the passes whose loudness comes and goes, as speech and
// handling do. It returns what is left, the numbers of those left out, counted from one, and
// whether they are the longer part.
func steadyOnly(h *sound.Heard) (left *sound.Heard, out []int, mostly bool) {
	var kept []sound.Pass
	var steady, restless unit.Time
	for i, p := range h.Passes {
		if p.Uneven > uneven {
			out = append(out, i+1)
			restless += p.End - p.Start
			continue
		}
		kept = append(kept, p)
		steady += p.End - p.Start
	}
	if len(kept) == 0 {
		return h, out, len(out) > 0
	}
	c := *h
	c.Passes = kept
	return &c, out, restless > steady
}

// steadyCuts puts steady recordings in the place of those that were given, and says so.
func (j *judge) steadyCuts() {
	cuts := make([]Cut, len(j.c.Cuts))
	for i, cut := range j.c.Cuts {
		h, out, mostly := steadyOnly(cut.Heard)
		cut.Heard = h
		cuts[i] = cut
		if mostly {
			j.restless = true
		} else if len(out) > 0 {
			j.notes = append(j.notes, fmt.Sprintf("left out of the judgement: pass %s, whose loudness comes and goes as that of speech or handling does", numbers(out)))
		}
	}
	j.c.Cuts = cuts
}

func numbers(list []int) string {
	words := make([]string, len(list))
	for i, n := range list {
		words[i] = fmt.Sprint(n)
	}
	return strings.Join(words, ", ")
}

// Slow and fast changes of loudness in torn metal: bursts that do not know of each other make
// the slow ones small beside the fast ones, up to a quarter in made recordings of torn metal. Somebody
// who speaks over the cut makes both, and the slow ones larger.
const (
	talkShare = 0.27 // of the crackle
	talkLeast = 2.0  // dB
)

// talkedOver reports whether what would be taken for torn metal may be a voice.
func (j *judge) talkedOver() bool {
	for _, k := range Kinds() {
		if j.p[k] > j.p[Tearing] {
			return false
		}
	}
	crackle, n := j.crackle()
	strays := 0.0
	for _, c := range j.c.Cuts {
		for _, p := range c.Heard.Passes {
			if p.Crackle > 0 {
				strays += p.Uneven / float64(n)
			}
		}
	}
	return strays > talkLeast && strays > talkShare*crackle
}

// anythingTurns reports whether something is heard that only a running machine makes: the
// spindle's speed, or a tone on a line of the spindle, its gears, the motor or the mains.
func (j *judge) anythingTurns() bool {
	for _, v := range j.voices {
		if v.gear != "" || v.motor != "" {
			return true
		}
	}
	for i, c := range j.c.Cuts {
		if c.Heard.Speed.Heard.Value > 0 {
			return true
		}
		air, _ := j.airOf(i)
		if air == nil {
			continue
		}
		for _, t := range air.Tones {
			if name, _ := motorComb(j.c.Lines, t.Freq.SE.Hz()).on(t.Freq.Value.Hz()); t.Line != "" || name != "" {
				return true
			}
		}
	}
	return false
}
