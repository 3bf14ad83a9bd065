package cause

import (
	"fmt"
	"maps"
	"math"
)

// noiseWaves is the weight beforehand of waves that are heard as noise: most grow into a
// hump that is found as a tone.
const noiseWaves = 0.3

// swellClues: does the cut as a whole get louder from pass to pass? Waves that start from an
// unsteady force are no line: every frequency at which a pass leaves more than the whole of
// the last one's waves grows, and beats like the noise that it came from. Its level
// gains 20 log10 of the carry-over a pass. Torn metal and the hiss of a sound cut follow
// the width of the cut: in passes of equal area that is the root of the pass's number, 3 dB from the
// first to the second and less than 1 dB from the fifth on. A telephone that levels the
// sound hides either, so a level that stays says little.
func (j *judge) swellClues() {
	for _, c := range j.c.Cuts {
		var level []float64
		usual := usualLength(c.Heard.Passes)
		for _, p := range c.Heard.Passes {
			if p.End-p.Start >= usual/2 {
				level = append(level, p.Level)
			}
		}
		if len(level) < swellPasses {
			continue
		}
		g, se := line(level)
		text := fmt.Sprintf("the cut as a whole gains %.1f dB a pass, give or take %.1f", g, 2*se)
		if g < 0 {
			text = fmt.Sprintf("the cut as a whole loses %.1f dB a pass, give or take %.1f", -g, 2*se)
		}
		waves, others := bell(g, 2.6, math.Hypot(1.8, se)), bell(g, widthGain(len(level)), math.Hypot(0.8, se))
		j.swell = append(j.swell, likely(text, map[Kind]float64{Waves: waves}, others))
	}
	if len(j.swell) > 0 {
		j.noise = maps.Clone(noiseKinds)
		j.noise[Waves] = noiseWaves
		j.hiss = append(j.hiss, j.swell...)
	}
}

// swellPasses is the least number of passes in which a rise is more than scatter.
const swellPasses = 4

// widthGain is what the width of the cut adds a pass, in dB, over n passes: half of what
// an amplitude that goes with the width would gain, for that is the most, and none the least.
func widthGain(n int) float64 {
	return 10 * math.Log10(float64(n)) / float64(n-1) / 2
}
