package cause

import (
	"fmt"
	"math"

	"thrum/sound"
	"thrum/unit"
)

// comb is a set of frequencies on which a tone may lie.
type comb struct {
	freq, reach []float64
	name        []string
}

// gearComb lists what turns with the spindle at a speed known to within rel.
func gearComb(lines []sound.Line, speed unit.Rotation, rel, se float64) comb {
	var c comb
	add := func(name string, perTurn float64, harmonics int) {
		for k := 1; k <= max(harmonics, 1) && speed > 0; k++ {
			f := perTurn * float64(k) * speed.RPM() / 60
			c.freq = append(c.freq, f)
			c.reach = append(c.reach, 2.5*math.Hypot(se, f*rel)+5e-4*f)
			c.name = append(c.name, times(k, name))
		}
	}
	add("the spindle's turns", 1, spindleHarmonics)
	for _, l := range lines {
		if !l.PerTurn.IsZero() {
			add(l.Name, l.PerTurn.Float(), l.Harmonics)
		}
	}
	return c
}

const spindleHarmonics = 6

// motorComb lists what keeps to the clock. Where no mains line is given both 50 and
// 60 Hz are thought possible.
func motorComb(lines []sound.Line, se float64) comb {
	var c comb
	add := func(name string, f, slip float64, harmonics int) {
		for k := 1; k <= max(harmonics, 1); k++ {
			high := f * float64(k)
			c.freq = append(c.freq, high*(1-slip/2))
			c.reach = append(c.reach, high*slip/2+2.5*se+2e-3*high)
			c.name = append(c.name, times(k, name))
		}
	}
	any := false
	for _, l := range lines {
		if l.PerTurn.IsZero() && l.Freq > 0 {
			add(l.Name, l.Freq.Hz(), l.Slip, l.Harmonics)
			any = any || l.Kind == sound.MainsLine
		}
	}
	if !any {
		for _, mains := range []float64{50, 60} {
			add(fmt.Sprintf("mains of %.0f Hz", mains), mains, 0, 6)
			add(fmt.Sprintf("a motor on mains of %.0f Hz", mains), mains/2, 0.06, 2)
		}
	}
	return c
}

func times(k int, name string) string {
	if k == 1 {
		return name
	}
	return fmt.Sprintf("%d times %s", k, name)
}

// on returns the name of the nearest tooth that f lies on, and the share of the
// frequencies around f that lie on some tooth: how easily that happens by chance.
func (c comb) on(f float64) (name string, cover float64) {
	const cells, span = 400, 1.3
	best := math.Inf(1)
	for i, g := range c.freq {
		if d := math.Abs(f-g) / c.reach[i]; d <= 1 && d < best {
			best, name = d, c.name[i]
		}
	}
	hit := 0.0
	for j := range cells {
		x := f / span * math.Pow(span*span, (float64(j)+0.5)/cells)
		for i, g := range c.freq {
			if math.Abs(x-g) <= c.reach[i] {
				hit++
				break
			}
		}
	}
	return name, math.Min(math.Max(hit/cells, 0.01), 0.99)
}

// lineClues: is it on a line of the gears, or of the motor?
func (j *judge) lineClues(v *voice) {
	speed, _ := j.c.Cuts[v.cut].speed()
	lines := j.c.Cuts[v.cut].Lines
	if lines == nil {
		lines = j.c.Lines
	}
	if speed > 0 {
		j.gearClue(v, lines)
	}
	name, cover := motorComb(lines, v.se).on(v.f)
	const p = 0.6 // a belt's own rate is not on the list
	if name != "" {
		v.motor = name
		v.add(likely(fmt.Sprintf("%s lies on %s; by chance %.0f %% of tones would", hz(v.f), name, 100*cover), map[Kind]float64{Motor: p + (1-p)*cover}, cover))
	} else {
		v.add(likely(fmt.Sprintf("%s lies on no line of motor or mains", hz(v.f)), map[Kind]float64{Motor: (1 - p) * (1 - cover)}, 1-cover))
	}
}

// How often the speed that was heard is not the true one. A tone of the motor, or a
// mode, that fits some other speed with the tooth counts leads the ear astray; more
// often so the further it lies from the speed that was told.
const (
	misheard    = 0.1
	misheardFar = 0.5  // when it contradicts the speed that was told
	farOff      = 0.05 // as belts slip and motors sag
)

// gearClue weighs a tone against the lines of the spindle and its gears, at the speed that
// was heard and, should that be wrong, at the speed that was told.
func (j *judge) gearClue(v *voice, lines []sound.Line) {
	p := 0.85 // of a gear's tone to lie on a line of the list
	if len(lines) == 0 {
		p = 0.3 // the list is short
	}
	at := func(speed unit.Rotation, rel float64) (name string, cover, gears, rest float64) {
		name, cover = gearComb(lines, speed, rel, v.se).on(v.f)
		if name != "" {
			return name, cover, p + (1-p)*cover, cover
		}
		return "", cover, (1 - p) * (1 - cover), 1 - cover
	}
	speed, rel := j.c.Cuts[v.cut].speed()
	name, cover, gears, rest := at(speed, rel)
	told := ""
	if s := j.c.Cuts[v.cut].Heard.Speed; s.Heard.Value > 0 && s.Given > 0 {
		wrong := misheard
		if math.Abs(float64(s.Heard.Value/s.Given)-1) > farOff {
			wrong = misheardFar
		}
		other, c, g, r := at(s.Given, givenSpread)
		gears, rest = (1-wrong)*gears+wrong*g, (1-wrong)*rest+wrong*r
		if name == "" && other != "" && wrong == misheardFar {
			name, cover, told = other, c, ", if the speed that was told is right"
		}
	}
	text := fmt.Sprintf("%s lies on no line of the gears", hz(v.f))
	switch {
	case name != "":
		v.gear = name
		text = fmt.Sprintf("%s lies on %s%s; by chance %.0f %% of tones would", hz(v.f), name, told, 100*cover)
	case len(lines) == 0:
		text = fmt.Sprintf("%s is no low multiple of the spindle's turns; the gears are not known", hz(v.f))
	}
	v.add(likely(text, map[Kind]float64{Gears: gears}, rest))
}

// growthClue: does it grow from pass to pass against the hiss around it? A growing
// wave gains 1.2 to 1.9 times a pass, 1.6 to 5.6 dB, until it is as high as the chip
// is thick; a tone that only follows the width of the cut gains less than 1 dB.
func (v *voice) growthClue() {
	g, se, ok := v.slope()
	if !ok {
		return
	}
	how := fmt.Sprintf("%s gains %.1f dB a pass on the hiss of the cut, give or take %.1f", hz(v.f), g, 2*se)
	if g < 0 {
		how = fmt.Sprintf("%s loses %.1f dB a pass against the hiss of the cut, give or take %.1f", hz(v.f), -g, 2*se)
	}
	v.add(likely(how, map[Kind]float64{Waves: bell(g, 2.6, math.Hypot(1.8, se))}, bell(g, 0.4, math.Hypot(0.8, se))))
}

// widthClue: a mode that noise rings has a broad top, as broad as it is damped: 1.6 %
// of its frequency at half power for a damping of 0.8 %. What teeth or the mains drive
// is a line, smeared by half a per cent as the spindle sags under the cut. Waves
// narrow from pass to pass, and lie between.
func (v *voice) widthClue() {
	if v.width == 0 || v.prominence < 10 {
		return
	}
	lines := 3 * v.step // a pure tone, and some
	switch {
	case v.width > math.Max(lines, 0.02*v.f) && v.width > lines+0.006*v.f:
		v.add(likely(fmt.Sprintf("%s is broad: %.0f Hz at a quarter of its power", hz(v.f), v.width), map[Kind]float64{Waves: 0.5, Ringing: 0.75, Gears: 0.05, Motor: v.belt()}, 0.4))
	case v.width <= lines+0.006*v.f && lines < 0.025*v.f:
		v.add(likely(fmt.Sprintf("%s is narrow, a line", hz(v.f)), map[Kind]float64{Waves: 0.3, Ringing: 0.1, Gears: 0.85, Motor: 0.9}, 0.5))
	}
	if v.step > 0 && v.prominence > 20 && v.wander < 0.06*v.step {
		v.add(likely(fmt.Sprintf("%s is steady to %.2g Hz", hz(v.f), v.wander), map[Kind]float64{Waves: 0.1, Ringing: 0.07, Gears: 0.3, Motor: 0.7}, 0.3))
	}
}

// belt returns how likely a motor's or a belt's sound looks broad at this resolution. A
// motor's own lines are narrow. The joint of a belt comes round some 5 to 25 times a
// second, and its multiples merge into a hump where two lines need more than that to be
// told apart: four steps with the window that is used.
func (v *voice) belt() float64 {
	const slowest, fastest = 5.0, 25.0
	merged := math.Log(4*v.step/slowest) / math.Log(fastest/slowest)
	return 0.03 + 0.25*math.Min(math.Max(merged, 0), 1)
}

// seriesClue: what teeth, belts and mains drive comes with multiples; a mode that
// swings freely has none, and waves few.
func (j *judge) seriesClue(v *voice) {
	const within = 0.012
	others, met := 0, 0.0
	for _, o := range j.voices {
		if o == v || o.cut != v.cut || o.share < 0.003*v.share {
			continue
		}
		others++
		for _, r := range []float64{2, 3, 0.5, 1.0 / 3, 1.5, 2.0 / 3} {
			if math.Abs(o.f/v.f-r) < within*r {
				met = o.f
			}
		}
	}
	chance := math.Min(0.5, 0.03+0.03*float64(others))
	if met > 0 {
		v.add(likely(fmt.Sprintf("%s and %s are small multiples of one frequency", hz(v.f), hz(met)), map[Kind]float64{Gears: 0.75, Motor: 0.65, Waves: 0.1 + chance}, chance))
		return
	}
	v.add(likely(fmt.Sprintf("%s has no multiples beside it", hz(v.f)), map[Kind]float64{Gears: 0.25, Motor: 0.35, Waves: 0.9 - chance}, 1-chance))
}

// burstClue: shocks that ring a mode make bursts; a lone hump in the spectrum is what
// tells them from torn metal. Waves that grow surely may come in bursts as well: they beat
// like the noise they grow from, and the edge leaves the metal.
func (j *judge) burstClue(v *voice) {
	if crackle, n := j.crackle(); n > 0 && crackle > 5 {
		waves := 0.08
		if g, se, ok := v.slope(); ok && g-2*se > 1 {
			waves = 0.2
		}
		v.add(likely(fmt.Sprintf("it comes in bursts, %.1f dB above the median", crackle), map[Kind]float64{Waves: waves, Ringing: 0.35, Gears: 0.06, Motor: 0.1}, 0.15))
	}
}

// modeClue: is there a natural frequency nearby? A cut stiffens a mode, so its tone
// lies up to 15 % above.
func (j *judge) modeClue(v *voice) {
	if len(j.c.Modes) == 0 {
		return
	}
	var c comb
	for _, m := range j.c.Modes {
		low, high := m.Freq.Hz()*(1-2*m.spread()), m.Freq.Hz()*(1.15+2*m.spread())
		c.freq, c.reach, c.name = append(c.freq, (low+high)/2), append(c.reach, (high-low)/2), append(c.name, m.Name)
	}
	name, cover := c.on(v.f)
	const p = 0.75
	if name != "" {
		v.add(likely(fmt.Sprintf("%s lies where %s is expected", hz(v.f), name), map[Kind]float64{Waves: p + (1-p)*cover, Ringing: p + (1-p)*cover}, cover))
		return
	}
	v.add(likely(fmt.Sprintf("%s is at none of the natural frequencies that are known", hz(v.f)), map[Kind]float64{Waves: (1 - p) * (1 - cover), Ringing: (1 - p) * (1 - cover)}, 1-cover))
}

func (m Mode) spread() float64 {
	if m.Spread > 0 {
		return m.Spread
	}
	return 0.15
}

// rubbed is the mark wavelength below which rubbing of the edge mostly stills
// waves; its range is wide, so the clue is weak.
const rubbed unit.Length = 0.2

// modelClue: what the model of the set-up expects of waves, and whether the marks
// would be long enough for them.
func (j *judge) modelClue(v *voice) {
	if c := j.c.CarryOver; c != nil {
		switch {
		case c.Likely >= 1.2:
			v.add(likely(fmt.Sprintf("by the model each pass leaves %.2g times the last", c.Likely), map[Kind]float64{Waves: 0.6}, 0.3))
		case c.High < 1:
			v.add(likely(fmt.Sprintf("by the model waves die out: each pass leaves %.2g times the last, %.2g at most", c.Likely, c.High), map[Kind]float64{Waves: 0.15}, 0.5))
		}
	}
	speed, _ := j.c.Cuts[v.cut].speed()
	if j.c.Diameter > 0 && speed > 0 {
		if l := unit.Length(math.Pi * j.c.Diameter.MM() * speed.RPM() / 60 / v.f); l < rubbed {
			v.add(likely(fmt.Sprintf("waves of %s would be %.2f mm long, so short that rubbing of the edge mostly stills them", hz(v.f), l.MM()), map[Kind]float64{Waves: 0.2}, 0.5))
		}
	}
}

func hz(f float64) string { return fmt.Sprintf("%.0f Hz", f) }

func (v *voice) add(c clue) { v.clues = append(v.clues, c) }
