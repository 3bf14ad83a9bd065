package cause

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"thrum/sound"
	"thrum/unit"
)

// Settings of the verdict.
const (
	hissWeight = 0.08 // share of the sound above which a tone says more than what it stands out of
	burstShare = 0.05 // added to it for each dB of crackle beyond that of an even hiss
	evenHiss   = 4.0  // dB of crackle that an even hiss, a room and a codec may give
	sameInAir  = 0.3  // a tone that is as loud without cutting counts by this much
	markWeight = 8.0  // a tone whose waves were counted on the thread counts by this much
	told       = 0.5  // probability below which nothing is told
	capOne     = 0.90 // most that one recording at one speed can support
	capMore    = 0.97 // most that anything can
	capTalk    = 0.60 // for torn metal, when somebody may have spoken over the cut
	capStill   = 0.70 // when nothing is heard that only a running machine makes
	capWhole   = 0.75 // when passes could not be told from what lies between them
	capBare    = 0.45 // when it is not even known that something was cut, or the loudness speaks against it
	bareShare  = 0.97 // a tone with more of the sound than this leaves nothing that a cut would make
)

// judge is the work of one verdict.
type judge struct {
	c      Case
	voices []*voice
	speeds *Speeds
	hiss   []clue           // what speaks of the noise of the cut
	swell  []clue           // those of them about its rise from pass to pass
	noise  map[Kind]float64 // the causes that can make it, with their weight beforehand
	p      map[Kind]float64
	notes  []string

	restless bool // a recording holds nothing whose loudness is as steady as that of a cut
}

// Judge weighs the causes.
func Judge(c Case) (*Finding, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	j := &judge{c: c, noise: noiseKinds}
	j.steadyCuts()
	for i, cut := range j.c.Cuts {
		j.voices = append(j.voices, voicesOf(i, cut.Heard)...)
	}
	j.speeds = j.compareSpeeds()
	for _, v := range j.voices {
		j.lineClues(v)
		j.airClue(v)
	}
	for i := range c.Cuts {
		overMachine(slices.DeleteFunc(slices.Clone(j.voices), func(v *voice) bool { return v.cut != i }))
	}
	for _, v := range j.voices {
		v.growthClue()
		v.widthClue()
		j.burstClue(v)
		j.beltClue(v)
		j.seriesClue(v)
		j.modeClue(v)
		j.modelClue(v)
		j.speedClue(v)
		v.p = probable(v.clues, toneKinds)
	}
	j.hissClues()
	j.swellClues()
	j.mix()
	return j.finding(), nil
}

// check finds faults in the case.
func (c Case) check() error {
	bad := func(field, value, reason, hint string) error {
		return &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint}
	}
	if len(c.Cuts) == 0 {
		return bad("recordings", "none", "is no evidence", "give a recording of cutting")
	}
	for _, cut := range c.Cuts {
		if cut.Heard == nil {
			return bad("recording", cut.Name, "was not listened to", "")
		}
	}
	for _, m := range c.Modes {
		if !(m.Freq > 0) || math.IsInf(m.Freq.Hz(), 0) || !(m.Spread >= 0 && m.Spread <= 1) {
			return bad("natural frequency", m.Name, "needs a frequency above 0 and a spread of 0 to 1", "")
		}
	}
	for _, m := range c.Marks {
		if !(m.PerTurn >= 0 && m.SE >= 0) || math.IsInf(m.PerTurn, 0) || !(m.Speed >= 0) {
			return bad("marks per turn", fmt.Sprint(m.PerTurn), "are counted from 0 up", "")
		}
	}
	if m := c.CarryOver; m != nil && !(m.Low >= 0 && m.Low <= m.High && m.Likely >= 0) {
		return bad("carry-over", fmt.Sprintf("%g, %g, %g", m.Low, m.Likely, m.High), "needs a low, a likely and a high figure from 0 up, the low one first", "")
	}
	if !(c.Diameter >= 0) {
		return bad("diameter", fmt.Sprint(c.Diameter.MM()), "cannot be below 0", "")
	}
	return nil
}

// hissClues weigh what the tones leave over: crackle or an even hiss; and what the
// marks look like.
func (j *judge) hissClues() {
	crackle, n := j.crackle()
	if n > 0 {
		text := fmt.Sprintf("the hiss of the cut is even: its loudest hundredth is %.1f dB above the median", crackle)
		if crackle > evenHiss {
			text = fmt.Sprintf("the cut crackles: short bursts over all frequencies, %.1f dB above the median", crackle)
		}
		j.hiss = append(j.hiss, likely(text, map[Kind]float64{
			Tearing: bell(crackle, 7, 2.5), Quiet: bell(crackle, 3, 0.6), Waves: bell(crackle, 4, 3), Other: bell(crackle, 3, 3),
		}, bell(crackle, 3, 1)))
	}
	for _, m := range j.c.Marks {
		switch m.Pattern {
		case Ragged:
			j.hiss = append(j.hiss, likely("the marks are ragged, without an even spacing", map[Kind]float64{Tearing: 0.9, Other: 0.3}, 0.1))
		case Clean:
			j.hiss = append(j.hiss, likely("there are no marks on the thread", map[Kind]float64{Quiet: 0.9}, 0.05))
		case Together, Opposed:
			j.hiss = append(j.hiss, likely("the marks are evenly spaced", map[Kind]float64{Tearing: 0.05, Quiet: 0.02}, 0.5))
		}
	}
}

// crackle returns the mean over the passes in which it could be measured.
func (j *judge) crackle() (mean float64, n int) {
	for _, c := range j.c.Cuts {
		for _, p := range c.Heard.Passes {
			if p.Crackle > 0 {
				mean += p.Crackle
				n++
			}
		}
	}
	return mean / math.Max(float64(n), 1), n
}

// mix lets each tone speak by its share of the sound, and the rest by its crackle:
//
//	P(cause) = sum m P(cause | tone),   m proportional to the square of the share
//
// The square lets the loudest speak for the recording, and still hears the others
// when they are nearly as loud.
func (j *judge) mix() {
	crackle, _ := j.crackle()
	tones := 0.0
	for _, v := range j.voices {
		tones += v.share / float64(len(j.c.Cuts))
	}
	rest := hissWeight + burstShare*math.Max(0, crackle-evenHiss)*math.Max(0, 1-2*tones)
	noise := probable(j.hiss, j.noise)
	for _, m := range j.c.Marks {
		if m.Pattern == Ragged || m.Pattern == Clean {
			rest += 0.3
		}
	}
	total := rest * rest
	running := j.running()
	for _, v := range j.voices {
		s := v.share / float64(len(j.c.Cuts))
		if v.inAir == AirSame {
			s *= sameInAir * running[v.cut]
		}
		if j.marked(v) {
			s *= markWeight
		}
		v.salience = s * s
		total += v.salience
	}
	j.p = map[Kind]float64{}
	for k, p := range noise {
		j.p[k] += p * rest * rest / total
	}
	for _, v := range j.voices {
		v.salience /= total
		for k, p := range v.p {
			j.p[k] += p * v.salience
		}
	}
}

// running returns, for each cut, by how much more the tones that are as loud without cutting
// count than each by itself. The machine runs as a whole: the lines of one hum belong
// together, and the share of all of them says how much of the sound it is, not that
// of the loudest. So their squares are made to add up to the square of their sum.
func (j *judge) running() []float64 {
	sum, squares := make([]float64, len(j.c.Cuts)), make([]float64, len(j.c.Cuts))
	for _, v := range j.voices {
		if v.inAir == AirSame {
			sum[v.cut] += v.share
			squares[v.cut] += v.share * v.share
		}
	}
	for i := range sum {
		sum[i] = math.Min(sum[i], 1) / math.Sqrt(math.Max(squares[i], 1e-12))
		sum[i] = math.Max(sum[i], 1)
	}
	return sum
}

// marked reports whether waves counted on the thread are those of the tone.
func (j *judge) marked(v *voice) bool {
	for _, m := range j.c.Marks {
		speed, rel := j.c.Cuts[v.cut].speed()
		if m.PerTurn == 0 || speed == 0 || (m.Speed > 0 && math.Abs(float64(m.Speed/speed)-1) > 0.03) {
			continue
		}
		n := v.f / (speed.RPM() / 60)
		if math.Abs(n-m.PerTurn) < 2.5*math.Hypot(math.Max(m.SE, 0.005*m.PerTurn), n*rel) {
			return true
		}
	}
	return false
}

// whole reports whether no passes were found in any recording, and nothing else shows
// when the tool was cutting.
func (j *judge) whole() bool {
	for _, c := range j.c.Cuts {
		h := c.Heard
		if len(h.Passes) != 1 || h.Air != nil || h.Passes[0].End-h.Passes[0].Start < 0.95*h.Duration {
			return false
		}
	}
	return j.c.Air == nil && len(j.c.Marks) == 0
}

// bare reports whether it is not even known that something was cut: one tone, and
// hardly anything else.
func (j *judge) bare() bool {
	if !j.whole() {
		return false
	}
	for _, c := range j.c.Cuts {
		if c.Heard.Speed.Heard.Value > 0 {
			return false
		}
	}
	for _, v := range j.voices {
		if v.share < bareShare && v.salience > 0.01 {
			return false
		}
	}
	return true
}

// limit returns the most that this evidence can support, and why.
func (j *judge) limit() (float64, string) {
	switch {
	case j.bare():
		return capBare, "nothing in this sound shows that something was cut: there is no start or end of a pass, and no line of the spindle"
	case j.restless:
		return capBare, "the loudness comes and goes as that of speech, blows or handling does; a cut is heard all along a pass"
	case j.talkedOver():
		return capTalk, "the loudness comes and goes more slowly than single bursts make it: somebody may have spoken over the cut"
	case !j.anythingTurns() && len(j.c.Marks) == 0:
		return capStill, "nothing in this sound shows that a lathe was running: no line of the spindle, its gears, the motor or the mains"
	case j.whole():
		return capWhole, "passes could not be told from what lies between them, so nothing is known of growth or of the machine without cutting"
	case j.speeds != nil && j.speeds.Enough, len(j.c.Marks) > 0:
		return capMore, ""
	}
	return capOne, fmt.Sprintf("one recording at one speed supports %.0f %% at most", 100*capOne)
}

// finding puts the answer together.
func (j *judge) finding() *Finding {
	most, why := j.limit()
	j.cap(most)
	f := &Finding{Speeds: j.speeds, Notes: j.notes}
	for _, k := range Kinds() {
		f.Causes = append(f.Causes, j.candidate(k))
	}
	slices.SortStableFunc(f.Causes, func(a, b Candidate) int { return cmp.Compare(b.Probability, a.Probability) })
	best, next := f.Causes[0], f.Causes[1]
	f.Cause, f.Confidence = best.Kind, best.Probability
	f.Told = best.Probability >= told && best.Kind != Other
	if best.Probability > most-0.005 || j.bare() || j.restless {
		f.Because = why
	}
	if f.Told {
		f.Sentence = fmt.Sprintf("%s: %s (%.0f %%)", sure(best.Probability), best.Words, 100*best.Probability)
	} else {
		f.Sentence = fmt.Sprintf("cannot tell: %s (%.0f %%), or %s (%.0f %%)", best.Words, 100*best.Probability, next.Words, 100*next.Probability)
	}
	f.Test = j.cheapest(best.Kind, next.Kind)
	for _, v := range j.voices {
		f.Tones = append(f.Tones, j.voiceOf(v))
	}
	slices.SortStableFunc(f.Tones, func(a, b Voice) int { return cmp.Compare(b.Share, a.Share) })
	return f
}

// cap takes from the likeliest cause what exceeds the limit and gives it to the
// others in proportion, a little of it to each.
func (j *judge) cap(most float64) {
	best := Kinds()[0]
	for _, k := range Kinds() {
		if j.p[k] > j.p[best] {
			best = k
		}
	}
	over := j.p[best] - most
	if over <= 0 {
		return
	}
	rest := 0.0
	for _, k := range Kinds() {
		if k != best {
			rest += j.p[k] + 0.01
		}
	}
	for _, k := range Kinds() {
		if k != best {
			j.p[k] += over * (j.p[k] + 0.01) / rest
		}
	}
	j.p[best] = most
}

func sure(p float64) string {
	switch {
	case p >= 0.9:
		return "very likely"
	case p >= 0.7:
		return "likely"
	}
	return "more likely than not"
}

// speaker returns the tone that speaks loudest for a cause; nil when none does.
func (j *judge) speaker(k Kind) *voice {
	var best *voice
	for _, v := range j.voices {
		if best == nil || v.salience*v.p[k] > best.salience*best.p[k] {
			best = v
		}
	}
	return best
}

// reasonLeast is the least weight, in natural logarithms of odds, that is worth a line.
const reasonLeast = 0.3

func (j *judge) candidate(k Kind) Candidate {
	c := Candidate{Kind: k, Words: k.Words(), Probability: j.p[k], Remedy: k.remedy()}
	v, among, clues := j.speaker(k), toneKinds, []clue(nil)
	switch k {
	case Tearing, Quiet:
		among, clues = j.noise, j.hiss
		if v := j.loudest(); v != nil && v.salience > 0.5 {
			c.Against = append(c.Against, Reason{fmt.Sprintf("a tone of %s stands out, with %.0f %% of the sound", hz(v.f), 100*v.share), -1})
		}
	default:
		if v != nil {
			clues = v.clues
			if k == Gears && v.gear != "" {
				c.Words = v.gear
			}
			if k == Motor && v.motor != "" {
				c.Words = v.motor
			}
		}
		if v == nil || v.salience < 0.05 {
			c.Against = append(c.Against, Reason{"no tone stands out of the sound of the cut", -2})
		}
	}
	if k == Waves {
		for _, e := range j.swell {
			if w := e.weight(k, j.noise); w > reasonLeast {
				c.For = append(c.For, Reason{e.text, w})
			}
		}
	}
	for _, e := range clues {
		switch w := e.weight(k, among); {
		case w > reasonLeast:
			c.For = append(c.For, Reason{e.text, w})
		case w < -reasonLeast:
			c.Against = append(c.Against, Reason{e.text, w})
		}
	}
	heavy := func(a, b Reason) int { return cmp.Compare(math.Abs(b.Weight), math.Abs(a.Weight)) }
	slices.SortStableFunc(c.For, heavy)
	slices.SortStableFunc(c.Against, heavy)
	return c
}

func (j *judge) loudest() *voice {
	var best *voice
	for _, v := range j.voices {
		if best == nil || v.salience > best.salience {
			best = v
		}
	}
	return best
}

func (j *judge) voiceOf(v *voice) Voice {
	o := Voice{
		Cut: j.c.Cuts[v.cut].Name, Freq: unit.Frequency(v.f), SE: unit.Frequency(v.se), Share: math.Min(v.share, 1),
		Line: v.tone.Line, InAir: v.inAir, Weight: v.salience,
	}
	if o.InAir == "" {
		o.InAir = AirUnknown
	}
	if o.Line == "" && v.gear != "" {
		o.Line = v.gear
	}
	if speed, _ := j.c.Cuts[v.cut].speed(); speed > 0 {
		o.PerTurn = v.f / (speed.RPM() / 60)
	}
	if g, se, ok := v.slope(); ok {
		e := sound.Estimate[sound.Factor]{Value: ratio(g), Low: ratio(g - 2*se), High: ratio(g + 2*se), SE: ratio(g) * sound.Factor(se*math.Ln10/20)}
		o.Growth = &e
	}
	for _, k := range Kinds() {
		if o.Likely == "" || v.p[k] > v.p[o.Likely] {
			o.Likely = k
		}
	}
	return o
}

func ratio(db float64) sound.Factor { return sound.Factor(math.Pow(10, db/20)) }
