package cause

import (
	"errors"
	"math"
	"testing"

	"thrum/sound"
	"thrum/unit"
)

// take is a recording as it would be measured: passes that each hold the given tones, with
// nothing else known. The levels are those of an invented workshop; what is tested is what
// a change of speed, a count of marks and a known mode say of the cause.
func take(rpm float64, hiss float64, tones ...sound.Tone) *sound.Heard {
	h := &sound.Heard{
		Duration: 40,
		Speed:    sound.Speed{Given: unit.Rotation(rpm), Heard: sound.Estimate[unit.Rotation]{Value: unit.Rotation(rpm), SE: unit.Rotation(0.001 * rpm)}},
	}
	total := math.Pow(10, hiss/10)
	for _, t := range tones {
		total += math.Pow(10, t.Level/10)
	}
	for i := range 4 {
		start := unit.Time(2 + 9*i)
		h.Passes = append(h.Passes, sound.Pass{Span: sound.Span{Start: start, End: start + 3}, Level: 10 * math.Log10(total), Above: 20, Crackle: 3, Tones: tones})
	}
	return h
}

func toneAt(f, level float64) sound.Tone {
	return sound.Tone{Freq: sound.Estimate[unit.Frequency]{Value: unit.Frequency(f), SE: 0.3}, Level: level, Prominence: 25, Steady: 1, Wander: 1}
}

func judgeCase(t *testing.T, c Case) *Finding {
	t.Helper()
	f, err := Judge(c)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, k := range f.Causes {
		sum += k.Probability
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("the probabilities add up to %g", sum)
	}
	return f
}

func chance(f *Finding, k Kind) float64 {
	for _, c := range f.Causes {
		if c.Kind == k {
			return c.Probability
		}
	}
	return 0
}

func two(f1, rpm1, f2, rpm2 float64, lines ...sound.Line) Case {
	return Case{
		Cuts: []Cut{
			{Name: "slow", Heard: take(rpm1, -30, toneAt(f1, -20))},
			{Name: "fast", Heard: take(rpm2, -30, toneAt(f2, -20))},
		},
		Lines: lines,
	}
}

// TestTwoSpeeds: what swings at its natural frequency is heard there at any spindle speed,
// and its marks per turn go as one over the speed; teeth are passed so many times a turn
// whatever the speed. That is kinematics: f = z N / 60 for teeth; F. Koenigsberger and
// J. Tlusty, Machine Tool Structures, tell forced from self-excited vibration by it (from
// memory).
func TestTwoSpeeds(t *testing.T) {
	f := judgeCase(t, two(417, 200, 417, 254))
	if p := f.Speeds; p == nil || !p.Enough || len(p.Pairs) != 1 || !p.Pairs[0].SameFrequency || p.Pairs[0].SamePerTurn {
		t.Fatalf("same frequency: %+v", p)
	}
	if g := chance(f, Gears); f.Cause == Gears || g > 0.1 {
		t.Errorf("same frequency at both speeds: gears %.2f, %s", g, f.Sentence)
	}

	// 125 waves a turn at both speeds: 416.7 and 529.2 Hz. No tooth count is given.
	f = judgeCase(t, two(125*200/60., 200, 125*254/60., 254))
	if p := f.Speeds; p == nil || len(p.Pairs) != 1 || p.Pairs[0].SameFrequency || !p.Pairs[0].SamePerTurn {
		t.Fatalf("same waves per turn: %+v", p)
	}
	if !f.Told || f.Cause != Gears {
		t.Errorf("same waves per turn at both speeds: %s", f.Sentence)
	}

	// The same with the gear known: 40 teeth on the spindle, 133.3 and 169.3 Hz.
	f = judgeCase(t, two(40*200/60., 200, 40*254/60., 254, trainLines...))
	if !f.Told || f.Cause != Gears || f.Confidence < 0.9 || f.Causes[0].Words != "gear 40 on the spindle" {
		t.Errorf("a known gear at both speeds: %s", f.Sentence)
	}

	// Mains hum keeps its frequency too, without any cut: 100 Hz is not to be taken for a gear.
	f = judgeCase(t, two(100, 200, 100, 254, trainLines...))
	if f.Cause != Motor {
		t.Errorf("100 Hz at both speeds: %s", f.Sentence)
	}

	// 200 and 204 rpm: a tone kept and a tone moved lie 2 % apart, no more than a mode drifts.
	f = judgeCase(t, two(417, 200, 417, 204))
	if f.Speeds == nil || f.Speeds.Enough || len(f.Speeds.Pairs) != 0 {
		t.Errorf("speeds too close: %+v", f.Speeds)
	}
}

// TestMarksCounted: waves on the thread are m = 60 f / N a turn, so a tone of 420 Hz at
// 200 rpm leaves 126 of them (kinematics). Counted, they say which of two equally loud
// tones made the marks: here a free one, and 106 2/3 Hz that is 32 a turn.
func TestMarksCounted(t *testing.T) {
	h := take(200, -30, toneAt(420, -20), toneAt(32*200/60., -20))
	lines := []sound.Line{{Name: "gear 32", Kind: sound.MeshLine, PerTurn: unit.Whole(32), Harmonics: 3}}
	plain := judgeCase(t, Case{Cuts: []Cut{{Heard: h}}, Lines: lines})
	for _, c := range []struct {
		perTurn float64
		grows   Kind
		falls   Kind
	}{{126, Waves, Gears}, {32, Gears, Waves}} {
		f := judgeCase(t, Case{Cuts: []Cut{{Heard: h}}, Lines: lines, Marks: []Marks{{PerTurn: c.perTurn, SE: 0.3, Pattern: Together}}})
		if !(chance(f, c.grows) > chance(plain, c.grows)+0.05) || !(chance(f, c.falls) < chance(plain, c.falls)-0.05) {
			t.Errorf("%g marks a turn: %s %.2f to %.2f, %s %.2f to %.2f", c.perTurn, c.grows, chance(plain, c.grows), chance(f, c.grows), c.falls, chance(plain, c.falls), chance(f, c.falls))
		}
	}
}

// TestMarksSeen: torn metal leaves ragged scales without a spacing, vibration leaves even
// ones (M. C. Shaw, Metal Cutting Principles, on built-up edge; from memory).
func TestMarksSeen(t *testing.T) {
	h := take(200, -20)
	for pattern, want := range map[Pattern]Kind{Ragged: Tearing, Clean: Quiet} {
		for i := range h.Passes {
			h.Passes[i].Crackle = 4.5 // between an even hiss and a crackle
		}
		f := judgeCase(t, Case{Cuts: []Cut{{Heard: h}}, Marks: []Marks{{Pattern: pattern}}})
		if !f.Told || f.Cause != want {
			t.Errorf("%s: %s", pattern, f.Sentence)
		}
	}
}

// TestKnownModes: waves and rung modes lie at a natural frequency or up to 15 % above, for a
// cut stiffens the mode: with one mode the worst frequency is f sqrt(1+2z) at the limit
// (J. Tlusty, absolute limit of width) and higher beyond it.
func TestKnownModes(t *testing.T) {
	swings := func(modes ...Mode) float64 {
		f := judgeCase(t, Case{Cuts: []Cut{{Heard: take(200, -30, toneAt(420, -20))}}, Lines: trainLines, Modes: modes})
		return chance(f, Waves) + chance(f, Ringing)
	}
	none, there, away := swings(), swings(Mode{Name: "bar", Freq: 400, Spread: 0.01}), swings(Mode{Name: "bar", Freq: 900, Spread: 0.01})
	if !(away < none-0.02 && none+0.02 < there) {
		t.Errorf("waves or ringing: %.3f with a mode elsewhere, %.3f with none known, %.3f with a mode at 400 Hz", away, none, there)
	}
	below := swings(Mode{Name: "bar", Freq: 450, Spread: 0.01})
	if !(below < none) {
		t.Errorf("a mode above the tone makes it likelier: %.3f, %.3f", below, none)
	}
}

// TestCarryOver: a pass that leaves less than the whole of the last one's waves lets them die out
// (Tlusty's absolute limit, seen from pass to pass).
func TestCarryOver(t *testing.T) {
	waves := func(c *CarryOver) float64 {
		return chance(judgeCase(t, Case{Cuts: []Cut{{Heard: take(200, -30, toneAt(420, -20))}}, Lines: trainLines, CarryOver: c}), Waves)
	}
	none, grows, dies := waves(nil), waves(&CarryOver{Freq: 418, Low: 1.1, Likely: 1.5, High: 2}), waves(&CarryOver{Freq: 418, Low: 0.2, Likely: 0.4, High: 0.8})
	if !(dies < none-0.02 && none+0.02 < grows) {
		t.Errorf("waves: %.3f when they die out by the model, %.3f without it, %.3f when they grow", dies, none, grows)
	}
}

// TestBadCases: nothing that cannot be meant is judged, and nothing panics.
func TestBadCases(t *testing.T) {
	good := []Cut{{Heard: take(200, -30, toneAt(420, -20))}}
	nan, inf := math.NaN(), math.Inf(1)
	for name, c := range map[string]Case{
		"nothing":           {},
		"not listened to":   {Cuts: []Cut{{Name: "a"}}},
		"mode of NaN":       {Cuts: good, Modes: []Mode{{Freq: unit.Frequency(nan)}}},
		"mode of 0":         {Cuts: good, Modes: []Mode{{}}},
		"mode without end":  {Cuts: good, Modes: []Mode{{Freq: unit.Frequency(inf)}}},
		"spread of NaN":     {Cuts: good, Modes: []Mode{{Freq: 400, Spread: nan}}},
		"marks of NaN":      {Cuts: good, Marks: []Marks{{PerTurn: nan}}},
		"marks below 0":     {Cuts: good, Marks: []Marks{{PerTurn: -1}}},
		"marks' error NaN":  {Cuts: good, Marks: []Marks{{PerTurn: 12, SE: nan}}},
		"marks' speed NaN":  {Cuts: good, Marks: []Marks{{PerTurn: 12, Speed: unit.Rotation(nan)}}},
		"diameter NaN":      {Cuts: good, Diameter: unit.Length(nan)},
		"carry-over of NaN": {Cuts: good, CarryOver: &CarryOver{Likely: nan, High: nan}},
		"carry-over turned": {Cuts: good, CarryOver: &CarryOver{Low: 2, Likely: 1, High: 0.5}},
	} {
		var in *unit.InputError
		if f, err := Judge(c); !errors.As(err, &in) {
			t.Errorf("%s: %v, %+v", name, err, f)
		}
	}
}

// TestNothingHeard: a recording without a pass is no fault of the input, and tells nothing.
func TestNothingHeard(t *testing.T) {
	if f := judgeCase(t, Case{Cuts: []Cut{{Heard: &sound.Heard{}}}}); f.Confidence > capWhole {
		t.Errorf("%s", f.Sentence)
	}
}

// TestSwell: waves that start from an unsteady force fill a band and gain 20 log10 of the
// carry-over a pass, here 3 dB for 1.41; with no line, and coming in bursts, they were once
// taken for torn metal. What tears follows the width of the cut, which goes with the root of the
// pass's number. The rise alone does not decide, for torn metal can get worse as well; it only
// must not be called torn metal with confidence.
func TestSwell(t *testing.T) {
	torn := func(gain func(pass int) float64) (float64, *Finding) {
		h := take(200, -40)
		h.Passes = append(h.Passes, h.Passes...)[:6]
		for i := range h.Passes {
			h.Passes[i].Level, h.Passes[i].Crackle = -40+gain(i), 6.4
		}
		f := judgeCase(t, Case{Cuts: []Cut{{Heard: h}}})
		return chance(f, Tearing), f
	}
	level, f := torn(func(int) float64 { return 0 })
	if f.Cause != Tearing || level < 0.75 {
		t.Errorf("crackle that stays: %s", f.Sentence)
	}
	width, f := torn(func(i int) float64 { return 10 * math.Log10(float64(i+1)) })
	if f.Cause != Tearing {
		t.Errorf("crackle that follows the width: %s", f.Sentence)
	}
	rising, f := torn(func(i int) float64 { return 20 * math.Log10(math.Sqrt2) * float64(i) })
	if rising > 0.7 || rising > width-0.1 || chance(f, Waves) < 0.25 {
		t.Errorf("crackle that gains 3 dB a pass: %s; waves %.2f", f.Sentence, chance(f, Waves))
	}
	if f.Test == nil {
		t.Error("no test that would settle it")
	}
}
