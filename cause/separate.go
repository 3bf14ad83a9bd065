package cause

import (
	"math"

	"thrum/unit"
)

func rotation(rpm float64) unit.Rotation { return unit.Rotation(rpm) }
func freq(f float64) unit.Frequency      { return unit.Frequency(f) }

// trial is a test that could be made: how likely each of its outcomes is under each
// cause, and what is seen when that cause is true. The chances are round figures
// from the physics of docs/cause.md, not measured ones.
type trial struct {
	do, caution string
	minutes     float64
	outcomes    map[Kind][]float64
	see         map[Kind]string
	done        func(j *judge) bool
}

// trials lists the tests, cheapest first.
func trials() []trial {
	return []trial{airTrial(), loupeTrial(), growthTrial(), speedTrial(), knockTrial(), oilTrial()}
}

func airTrial() trial {
	return trial{
		do:      "record ten seconds of the machine running at the same speed, half nuts closed, with the tool clear of the work, and listen again with it as the recording without cutting",
		caution: "leave the room a pass needs before the shoulder: the carriage moves as in a pass",
		minutes: 2,
		outcomes: map[Kind][]float64{ // the tone is there; it is not
			Waves: {0.05, 0.95}, Gears: {0.8, 0.2}, Ringing: {0.12, 0.88}, Motor: {0.94, 0.06}, Tearing: {0.04, 0.96}, Quiet: {0.3, 0.7}, Other: {0.4, 0.6},
		},
		see: map[Kind]string{
			Waves: "the tone is gone without cutting", Gears: "the tone is there, weaker", Ringing: "the tone is gone without cutting", Motor: "the tone is as loud as before",
			Tearing: "the crackle is gone without cutting", Quiet: "nothing stands out", Other: "either",
		},
		done: func(j *judge) bool { return j.c.Air != nil },
	}
}

func loupeTrial() trial {
	return trial{
		do:      "stop the machine, clean the thread and look at both flanks with a loupe: are there marks, are they evenly spaced, and how many come in a quarter of a turn",
		caution: "spindle stopped and isolated; no rag or finger near turning work",
		minutes: 3,
		outcomes: map[Kind][]float64{ // even, their number times the speed gives the tone; ragged; none
			Waves: {0.9, 0.05, 0.05}, Gears: {0.75, 0.05, 0.2}, Ringing: {0.6, 0.1, 0.3}, Motor: {0.4, 0.1, 0.5}, Tearing: {0.05, 0.9, 0.05}, Quiet: {0.02, 0.08, 0.9}, Other: {0.3, 0.4, 0.3},
		},
		see: map[Kind]string{
			Waves: "even marks whose number per turn, times the turns per second, is the tone", Gears: "even marks, as many in a turn as a tooth count of the train", Ringing: "even marks, deepest where the tool enters",
			Motor: "faint marks or none", Tearing: "ragged scales without an even spacing", Quiet: "no marks", Other: "something else",
		},
		done: func(j *judge) bool { return len(j.c.Marks) > 0 },
	}
}

func growthTrial() trial {
	return trial{
		do:      "record the next four passes in one take, at the same speed and infeed, the phone in one place and its automatic level off if it can be",
		caution: "set the phone down out of the line of chips before the spindle starts",
		minutes: 5,
		outcomes: map[Kind][]float64{ // each pass louder by a factor; it is not
			Waves: {0.85, 0.15}, Gears: {0.1, 0.9}, Ringing: {0.12, 0.88}, Motor: {0.05, 0.95}, Tearing: {0.2, 0.8}, Quiet: {0.05, 0.95}, Other: {0.3, 0.7},
		},
		see: map[Kind]string{
			Waves: "the tone grows by about the same factor each pass", Gears: "the tone stays as loud", Ringing: "the tone stays as loud, or grows no faster than the cut",
			Motor: "the tone stays as loud", Tearing: "bursts, no tone", Quiet: "nothing grows", Other: "either",
		},
		done: func(j *judge) bool {
			for _, c := range j.c.Cuts {
				if len(c.Heard.Passes) >= 4 {
					return true
				}
			}
			return false
		},
	}
}

func speedTrial() trial {
	return trial{
		do:      "take the next pass at a speed a fifth away, at the usual infeed, and record it",
		caution: "the tool keeps its place in the thread only when the change of speed lies before the feed take-off; otherwise pick the thread up again first. Stay within the speed limit of chuck and work",
		minutes: 5,
		outcomes: map[Kind][]float64{ // same frequency, as loud; same frequency, much weaker; moved with the speed; no tone
			Waves: {0.2, 0.6, 0.05, 0.15}, Gears: {0.04, 0.04, 0.87, 0.05}, Ringing: {0.75, 0.1, 0.05, 0.1}, Motor: {0.88, 0.04, 0.04, 0.04},
			Tearing: {0.03, 0.03, 0.04, 0.9}, Quiet: {0.03, 0.03, 0.04, 0.9}, Other: {0.25, 0.25, 0.25, 0.25},
		},
		see: map[Kind]string{
			Waves: "the same tone, much weaker in that very pass", Gears: "the tone moves with the speed", Ringing: "the same tone, as loud",
			Motor: "the same tone, as loud", Tearing: "bursts, no tone", Quiet: "no tone", Other: "none of these",
		},
		done: func(j *judge) bool { return j.speeds != nil && j.speeds.Enough },
	}
}

func knockTrial() trial {
	return trial{
		do:      "tap the part, the tool and the tailstock with the spindle stopped, record it, and see whether one of them rings at the tone",
		caution: "spindle stopped and the machine isolated",
		minutes: 5,
		outcomes: map[Kind][]float64{ // something rings there; nothing does
			Waves: {0.85, 0.15}, Gears: {0.12, 0.88}, Ringing: {0.85, 0.15}, Motor: {0.12, 0.88}, Tearing: {0.2, 0.8}, Quiet: {0.2, 0.8}, Other: {0.3, 0.7},
		},
		see: map[Kind]string{
			Waves: "something rings within 15 % below the tone", Gears: "nothing rings at the tone", Ringing: "something rings at the tone", Motor: "nothing rings at the tone",
			Tearing: "nothing in particular", Quiet: "nothing in particular", Other: "either",
		},
		done: func(j *judge) bool {
			for _, m := range j.c.Modes {
				if m.Spread > 0 && m.Spread < 0.05 {
					return true
				}
			}
			return false
		},
	}
}

func oilTrial() trial {
	return trial{
		do:      "take the next pass at half the speed with plenty of active cutting oil, and record it",
		caution: "the tool keeps its place in the thread only when the change of speed lies before the feed take-off. Mist and smoke of oil: keep the air moving",
		minutes: 6,
		outcomes: map[Kind][]float64{ // the crackle goes; it stays; there was none
			Waves: {0.1, 0.1, 0.8}, Gears: {0.05, 0.05, 0.9}, Ringing: {0.1, 0.1, 0.8}, Motor: {0.05, 0.05, 0.9}, Tearing: {0.7, 0.25, 0.05}, Quiet: {0.1, 0.05, 0.85}, Other: {0.2, 0.3, 0.5},
		},
		see: map[Kind]string{
			Waves: "the tone changes", Gears: "the tone falls to half", Ringing: "the tone stays", Motor: "the tone stays", Tearing: "the crackle goes and the flank turns smooth", Quiet: "no change", Other: "no change",
		},
		done: func(*judge) bool { return false },
	}
}

// cheapest returns the test, among those not yet made, that is expected to tell most
// about the two causes for the time it takes; nil when all are made.
func (j *judge) cheapest(a, b Kind) *Test {
	var best *Test
	value := 0.0
	for _, t := range trials() {
		if t.done(j) {
			continue
		}
		gain := information(t.outcomes[a], t.outcomes[b])
		if v := gain / (t.minutes + 2); gain > 0.02 && v > value {
			value = v
			best = &Test{Do: t.do, Caution: t.caution, Between: [2]Kind{a, b}, Expect: [2]string{t.see[a], t.see[b]}, Minutes: t.minutes, Gain: gain}
		}
	}
	return best
}

// information is the expected gain in bits about which of two equally likely causes
// is true (the Jensen-Shannon divergence of the outcomes).
func information(p, q []float64) float64 {
	sum := 0.0
	for i := range p {
		m := (p[i] + q[i]) / 2
		for _, x := range []float64{p[i], q[i]} {
			if x > 0 {
				sum += x / 2 * math.Log2(x/m)
			}
		}
	}
	return sum
}
