package sound

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"thrum/unit"
)

// SpeedVerdict says how the speed heard compares with the speed given.
type SpeedVerdict string

// The answers about the spindle speed.
const (
	SpeedAgrees      SpeedVerdict = "agrees"
	SpeedContradicts SpeedVerdict = "contradicts"
	SpeedCannot      SpeedVerdict = "cannot tell"
)

// Speed is the spindle speed as heard.
type Speed struct {
	Given   unit.Rotation
	Heard   Estimate[unit.Rotation] // zero when it cannot be told
	Verdict SpeedVerdict
	Lines   []string // the lines it rests on: "2 x spindle at 150.0 Hz"
	Reason  string   // in words

	beats []beat
}

// How the speed is judged.
const (
	spindleOrders = 12     // turns, twice a turn... up to this
	beatOrders    = 4      // of those, the ones that may show as a swell of the loudness
	speedGrid     = 2e-4   // relative step of the speeds tried
	speedTones    = 16     // strongest tones considered
	slack         = 0.05   // belts slip and motors sag: this much is no contradiction
	wander        = 1.5e-3 // a tone whose frequency is not known to this is not taken for a forced line
	wholeKnown    = 0.003  // whole-number tests need the speed to this
	evidence      = 3.0    // natural logarithm of the odds beyond what the search itself needs
	rival         = 2.0    // another speed this near in evidence leaves it open
)

// clue is one tone, or one beat, that may lie on a line tied to the spindle.
type clue struct {
	freq, se, df float64
	beat         bool
	weight       float64 // power, to merge by
}

// tooth is one line tied to the spindle.
type tooth struct {
	order float64
	name  string
}

// clues gathers the strongest tones and beats of some passes; what several passes
// have in common is merged.
func clues(passes []Pass) []clue {
	var tones, beats []clue
	for _, p := range passes {
		for _, t := range p.Tones {
			if float64(t.Freq.SE/t.Freq.Value) > wander {
				continue
			}
			tones = merge(tones, clue{freq: t.Freq.Value.Hz(), se: t.Freq.SE.Hz(), df: t.Freq.DF, weight: math.Pow(10, t.Level/10)})
		}
		for _, b := range p.Speed.beats {
			beats = merge(beats, clue{freq: b.freq, se: b.se, df: 10, beat: true, weight: math.Pow(10, b.prominence/10)})
		}
	}
	strongest := func(a, b clue) int { return cmp.Compare(b.weight, a.weight) }
	slices.SortStableFunc(tones, strongest)
	slices.SortStableFunc(beats, strongest)
	return append(tones[:min(len(tones), speedTones)], beats[:min(len(beats), speedTones/2)]...)
}

// merge adds c to the list, or to the clue there that it agrees with.
func merge(list []clue, c clue) []clue {
	for i := range list {
		l := &list[i]
		if d := math.Abs(l.freq - c.freq); d < 3*math.Hypot(l.se, c.se) && d < 0.005*c.freq {
			wl, wc := 1/(l.se*l.se), 1/(c.se*c.se)
			l.freq = (l.freq*wl + c.freq*wc) / (wl + wc)
			l.se = math.Max(math.Sqrt(1/(wl+wc)), d/4)
			l.df += c.df
			l.weight += c.weight
			return list
		}
	}
	return append(list, c)
}

// teeth lists the lines tied to the spindle.
func teeth(lines []Line) []tooth {
	var out []tooth
	for k := 1; k <= spindleOrders; k++ {
		out = append(out, tooth{float64(k), fmt.Sprintf("%d x spindle", k)})
	}
	for _, l := range lines {
		for k := 1; !l.PerTurn.IsZero() && k <= max(l.Harmonics, 1) && len(out) < 400; k++ {
			if o := l.PerTurn.Float() * float64(k); !slices.ContainsFunc(out, func(t tooth) bool { return math.Abs(t.order-o) < 1e-9 }) {
				out = append(out, tooth{o, fmt.Sprintf("%d x %s", k, l.Name)})
			}
		}
	}
	return out
}

// fits is what one trial speed explains.
type fits struct {
	rpm, score float64
	on         []int // tooth of each clue, -1 when it lies on none
	odds       float64
}

// try weighs one speed: each clue that lies on a line speaks for it by how little
// of the band the lines cover at that clue's own sharpness; each that does not,
// speaks against it a little.
func try(rpm float64, cs []clue, ts []tooth, band float64) fits {
	f := fits{rpm: rpm, on: make([]int, len(cs))}
	turn := rpm / 60
	for i, c := range cs {
		f.on[i] = -1
		reach := 3*math.Hypot(c.se, 1e-4*c.freq) + speedGrid/2*c.freq
		width, most := band, len(ts)
		if c.beat {
			width, most = 2*beatOrders*turn, beatOrders
		}
		covered, best := 0.0, reach
		for j, t := range ts[:most] {
			if t.order*turn > width {
				continue
			}
			covered += 2 * reach / width
			if d := math.Abs(c.freq - t.order*turn); d <= best {
				best, f.on[i] = d, j
			}
		}
		if covered > 0.5 || covered == 0 { // the teeth stand too close for this clue
			f.on[i] = -1
			continue
		}
		if f.on[i] >= 0 {
			f.odds += math.Log(1 / covered)
			f.score += math.Log(0.5 / covered)
		} else {
			f.score += math.Log(0.5)
		}
	}
	return f
}

// clockwork reports whether a line that keeps to the clock explains the clue: then it
// is no evidence for a spindle speed.
func clockwork(c clue, lines []Line) bool {
	for _, l := range lines {
		if l.PerTurn.IsZero() {
			if _, _, ok := l.agrees(Estimate[unit.Frequency]{Value: unit.Frequency(c.freq), SE: unit.Frequency(c.se)}, 0, 0); ok {
				return true
			}
		}
	}
	return false
}

// hearSpeed seeks the spindle speed near the one given.
func hearSpeed(given unit.Rotation, cs []clue, o ListenOptions) Speed {
	s := Speed{Given: given, Verdict: SpeedCannot}
	if given == 0 {
		s.Reason = "no speed was given to look near"
		return s
	}
	cs = slices.DeleteFunc(slices.Clone(cs), func(c clue) bool { return !c.beat && clockwork(c, o.Lines) })
	ts := teeth(o.Lines)
	var tried []fits
	for r := 1 - o.Within; r <= 1+o.Within; r += speedGrid {
		tried = append(tried, try(r*given.RPM(), cs, ts, o.High.Hz()))
	}
	best := slices.MaxFunc(tried, func(a, b fits) int { return cmp.Compare(a.score, b.score) })
	lines := distinct(best, ts)
	need := math.Log(2*o.Within/1e-3) + evidence
	if lines < 2 || best.odds < need {
		s.Reason = "too few tones lie on lines of the spindle or its gears"
		return s
	}
	refined, names := refine(best, cs, ts)
	for _, f := range tried {
		if math.Abs(f.rpm/best.rpm-1) > 0.006 && f.score > best.score-rival && f.odds >= need && distinct(f, ts) >= 2 {
			s.Reason = fmt.Sprintf("%.0f and %.0f rpm fit about equally well", best.rpm, f.rpm)
			return s
		}
	}
	s.Heard, s.Lines = refined, names
	off := refined.Value.RPM()/given.RPM() - 1
	switch {
	case math.Abs(off) <= slack || refined.Contains(given):
		s.Verdict = SpeedAgrees
		s.Reason = fmt.Sprintf("%.1f rpm heard, %+.1f %% from the %.4g rpm given; belts slip and motors sag by so much", refined.Value.RPM(), 100*off, given.RPM())
	default:
		s.Verdict = SpeedContradicts
		s.Reason = fmt.Sprintf("%.1f rpm heard, %+.1f %% from the %.4g rpm given: %s", refined.Value.RPM(), 100*off, given.RPM(), strings.Join(names, ", "))
	}
	return s
}

// distinct counts the different lines that clues lie on.
func distinct(f fits, ts []tooth) int {
	seen := map[int]bool{}
	for _, j := range f.on {
		if j >= 0 {
			seen[j] = true
		}
	}
	return len(seen)
}

// refine fits the speed to the clues that lie on lines:
//
//	N = 60 sum (r f/s^2) / sum (r^2/s^2),   s the standard error of f, r its order
//
// and widens the error when they disagree among themselves.
func refine(b fits, cs []clue, ts []tooth) (Estimate[unit.Rotation], []string) {
	var num, den, df, m float64
	sigma := func(c clue) float64 { return math.Hypot(c.se, 2e-5*c.freq) }
	var names []string
	for i, j := range b.on {
		if j < 0 {
			continue
		}
		r, w := ts[j].order/60, 1/(sigma(cs[i])*sigma(cs[i]))
		num, den = num+r*cs[i].freq*w, den+r*r*w
		df += cs[i].df
		m++
		how := "at"
		if cs[i].beat {
			how = "as a beat at"
		}
		names = append(names, fmt.Sprintf("%s %s %.2f Hz", ts[j].name, how, cs[i].freq))
	}
	n := num / den
	chi := 0.0
	for i, j := range b.on {
		if j >= 0 {
			d := (cs[i].freq - ts[j].order/60*n) / sigma(cs[i])
			chi += d * d
		}
	}
	se := math.Sqrt(math.Max(1, chi/math.Max(m-1, 1)) / den)
	return estimate(unit.Rotation(n), unit.Rotation(se), math.Max(df, 2)), names
}

// judgeSpeed hears the speed of each pass and of all together.
func (h *Heard) judgeSpeed(o ListenOptions) {
	h.Speed = hearSpeed(o.Given, clues(h.Passes), o)
	var heard []float64
	for i := range h.Passes {
		p := &h.Passes[i]
		p.Speed = hearSpeed(o.Given, clues(h.Passes[i:i+1]), o)
		if p.Speed.Heard.Value > 0 {
			heard = append(heard, p.Speed.Heard.Value.RPM())
		}
	}
	if len(heard) > 1 && slices.Max(heard) > 1.01*slices.Min(heard) {
		h.Notes = append(h.Notes, fmt.Sprintf("the spindle did not run alike in all passes: %.0f to %.0f rpm", slices.Min(heard), slices.Max(heard)))
	}
}

// bestSpeed returns the speed of the pass itself, or else that of all passes.
func (p *Pass) bestSpeed(all Speed) Estimate[unit.Rotation] {
	if p.Speed.Heard.Value > 0 {
		return p.Speed.Heard
	}
	return all.Heard
}

// mark puts known lines and waves per turn to the tones of a pass.
func mark(tones []Tone, speed Estimate[unit.Rotation], o ListenOptions) {
	lines := append([]Line{{Name: "spindle", Kind: SpindleLine, PerTurn: unit.Whole(1), Harmonics: spindleOrders}}, o.Lines...)
	rel := 0.0
	if speed.Value > 0 {
		rel = float64(speed.SE / speed.Value)
	}
	for i := range tones {
		t := &tones[i]
		t.Whole = WholeCannot
		if speed.Value > 0 {
			t.PerTurn = t.Freq.Value.Hz() / (speed.Value.RPM() / 60)
			t.PerTurnSE = t.PerTurn * math.Hypot(float64(t.Freq.SE/t.Freq.Value), rel)
			t.Whole = t.whole(float64((speed.High-speed.Low)/2) / float64(speed.Value))
		}
		best := math.Inf(1)
		for _, l := range lines {
			if !l.PerTurn.IsZero() && speed.Value == 0 {
				continue
			}
			if d, k, ok := l.agrees(t.Freq, speed.Value, rel); ok && d < best {
				best, t.Line, t.Kind, t.Multiple = d, l.Name, l.Kind, k
			}
		}
	}
}

// agrees reports whether a tone lies on a multiple of the line, and how far off.
func (l Line) agrees(f Estimate[unit.Frequency], speed unit.Rotation, rel float64) (off float64, multiple int, ok bool) {
	base, slip := l.Freq.Hz(), l.Slip
	if !l.PerTurn.IsZero() {
		base, slip = l.PerTurn.Float()*speed.RPM()/60, 0
	} else {
		rel = 0
	}
	k := max(int(math.Round(f.Value.Hz()/base)), 1)
	if slip > 0 { // the lowest multiple whose range reaches up to the tone
		k = max(int(math.Ceil(f.Value.Hz()/base-1e-3)), 1)
	}
	if k > max(l.Harmonics, 1) {
		return 0, 0, false
	}
	high := float64(k) * base
	low := high * (1 - slip)
	reach := 3*math.Hypot(f.SE.Hz(), high*rel) + 5e-4*high
	if l.PerTurn.IsZero() && slip == 0 {
		reach += 2e-3 * high // the mains wander by a few parts in a thousand
	}
	v := f.Value.Hz()
	off = math.Max(0, math.Max(low-v, v-high))
	return off / high, k, off <= reach
}

// whole tests for a whole number of waves per turn. known is the relative half
// width of the interval of the speed.
func (t *Tone) whole(known float64) Whole {
	half := t975(t.Freq.DF) * t.PerTurnSE
	if known > wholeKnown || half > 0.2 {
		return WholeCannot
	}
	if math.Abs(t.PerTurn-math.Round(t.PerTurn)) <= half {
		return WholeYes
	}
	return WholeNo
}
