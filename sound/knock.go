package sound

import (
	"fmt"
	"math"
	"slices"

	"thrum/unit"
)

// KnockOptions steers Knock. The zero value is what a part in a lathe needs.
type KnockOptions struct {
	Low, High unit.Frequency // band in which modes are sought; default 40 Hz to 6 kHz, or 0.4 of the sampling rate
	MaxModes  int            // default 6
}

// Mode is one natural frequency with its damping.
type Mode struct {
	Freq    Estimate[unit.Frequency] // damped natural frequency f_d, what the ear hears
	Damping Estimate[Damping]        // zeta
	Level   float64                  // initial amplitude against the strongest mode, in dB (0 or less)
	Taps    int                      // number of taps in which it was found
}

// Natural returns the undamped natural frequency f_n = f_d / sqrt(1 - zeta^2).
func (m Mode) Natural() unit.Frequency { return natural(m.Freq.Value, m.Damping.Value) }

// Tap is one stroke found in the recording.
type Tap struct {
	At       unit.Time // of the stroke, from the start of the recording
	Rejected string    // why it was not used; empty when it was
	SNR      float64   // energy of the ring against the background over the fitted stretch, in dB
	Modes    []Mode    // fitted to this tap alone, strongest first
}

// KnockTest is everything that a recording of taps gave.
type KnockTest struct {
	Taps  []Tap
	Modes []Mode   // averaged over taps, lowest first
	Rule  string   // how the number of modes was chosen
	Notes []string // what to do better, what was assumed
}

// Used returns the number of taps that were not rejected.
func (k *KnockTest) Used() int {
	n := 0
	for _, t := range k.Taps {
		if t.Rejected == "" {
			n++
		}
	}
	return n
}

// Verdict is the outcome of comparing one mode of two tests.
type Verdict string

// A mode moved, did not visibly move, or was heard in one test only.
const (
	Moved              Verdict = "moved"
	NotDistinguishable Verdict = "not distinguishable"
	OnlyFirst          Verdict = "only in the first"
	OnlySecond         Verdict = "only in the second"
)

// ModeShift compares one mode of two tests.
type ModeShift struct {
	A, B           *Mode                    // nil when the mode was heard in the other test only
	Freq           Estimate[unit.Frequency] // frequency of B less that of A
	Damping        Estimate[Factor]         // damping of B over that of A
	FreqVerdict    Verdict
	DampingVerdict Verdict
}

// Comparison is the outcome of CompareKnock.
type Comparison struct {
	Shifts []ModeShift // lowest frequency first
	Rule   string      // how modes were matched
}

// Knock finds the taps in a recording, fits dying sine waves to each and averages
// over the taps.
//
// Each tap gives frequency and damping with 95 % intervals from least squares, the
// noise being taken from the spectrum around the mode itself. The intervals of the
// average come from how the taps differ (Student's t on the number of taps less
// one), so they include what no single tap can know: that the next tap lands
// elsewhere.
func Knock(r *Recording, o KnockOptions) (*KnockTest, error) {
	rate := r.Rate.Hz()
	o, err := o.filled(rate)
	if err != nil {
		return nil, err
	}
	if len(r.Samples) < 64 {
		return nil, damaged(r.Info.Container, "is too short to hold a tap", "")
	}
	low, high := o.Low.Hz(), o.High.Hz()
	l := prepare(r.Samples, rate, low, high)
	step := int(math.Round(rate / l.rate))
	clip := clippedIn(r.Samples, r.Info.FullScale)
	found := l.rings(l.strokes(), func(from, to int) bool { return clip(from*step, to*step) })
	k := &KnockTest{Rule: modeRule, Notes: slices.Clone(r.Notes)}
	for _, g := range found {
		tap := Tap{At: unit.Time(float64(g.stroke) / l.rate), Rejected: g.rejected, SNR: g.snr}
		if g.rejected == "" {
			tap.fit(l, g, o)
		}
		k.Taps = append(k.Taps, tap)
	}
	k.average()
	k.remark(l)
	return k, nil
}

func (o KnockOptions) filled(rate float64) (KnockOptions, error) {
	if o.High == 0 {
		o.High = unit.Frequency(math.Min(6000, 0.4*rate))
	}
	if o.Low == 0 {
		o.Low = unit.Frequency(math.Min(40, rate/40))
	}
	if o.MaxModes == 0 {
		o.MaxModes = 6
	}
	if !(o.Low > 0 && o.Low < o.High) || o.High.Hz() > 0.45*rate {
		return o, &unit.InputError{
			Field: "band", Value: fmt.Sprintf("%g to %g Hz", o.Low.Hz(), o.High.Hz()), Reason: "is not a band of this recording",
			Hint: fmt.Sprintf("the ends must lie between 0 and %g Hz", 0.45*rate),
		}
	}
	if o.MaxModes < 1 || o.MaxModes > 12 {
		return o, &unit.InputError{Field: "modes", Value: fmt.Sprint(o.MaxModes), Reason: "is not a number of modes to look for", Hint: "1 to 12"}
	}
	return o, nil
}

// fit finds the modes of one tap.
func (t *Tap) fit(l *listening, g ring, o KnockOptions) {
	waves := fitRing(l.x[g.from:g.to], l.rate, o.Low.Hz(), o.High.Hz(), o.MaxModes, l.noise)
	if len(waves) == 0 {
		t.Rejected = "no ring that dies away"
		return
	}
	// Amplitudes are given for the moment of the stroke.
	lead := float64(g.from-g.stroke) / l.rate
	loudest := 0.0
	for i, w := range waves {
		grow := math.Exp(w.Decay * lead)
		waves[i].C, waves[i].S = w.C*grow, w.S*grow
		loudest = math.Max(loudest, waves[i].Amplitude())
	}
	for _, w := range waves {
		t.Modes = append(t.Modes, w.mode(loudest))
	}
}

// found is one mode of one tap.
type found struct {
	tap  int
	mode Mode
}

// average gathers what the taps agree on. Modes of different taps are the same when
// they lie within 2 % of each other, or within three standard errors.
func (k *KnockTest) average() {
	var all []found
	for i, t := range k.Taps {
		if t.Rejected == "" {
			for _, m := range t.Modes {
				all = append(all, found{i, m})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b found) int { // the surest first: they lead the groups
		if relativeSE(a.mode) < relativeSE(b.mode) {
			return -1
		}
		return 1
	})
	used := k.Used()
	taken := make([]bool, len(all))
	for i := range all {
		if taken[i] {
			continue
		}
		group := []found{all[i]}
		taken[i] = true
		for tap := range k.Taps {
			if j := nearest(all, taken, all[i], tap); j >= 0 {
				taken[j] = true
				group = append(group, all[j])
			}
		}
		if 2*len(group) >= used && (len(group) > 1 || used == 1) {
			k.Modes = append(k.Modes, averaged(group))
		}
	}
	slices.SortFunc(k.Modes, func(a, b Mode) int {
		if a.Freq.Value < b.Freq.Value {
			return -1
		}
		return 1
	})
}

func relativeSE(m Mode) float64 { return float64(m.Freq.SE / m.Freq.Value) }

// nearest returns the mode of a tap that belongs with lead, or -1.
func nearest(all []found, taken []bool, lead found, tap int) int {
	best, at := math.Inf(1), -1
	for j, f := range all {
		if taken[j] || f.tap != tap || f.tap == lead.tap {
			continue
		}
		d := math.Abs(float64(f.mode.Freq.Value - lead.mode.Freq.Value))
		reach := math.Max(0.02*float64(lead.mode.Freq.Value), 3*math.Hypot(float64(f.mode.Freq.SE), float64(lead.mode.Freq.SE)))
		if d <= reach && d < best {
			best, at = d, j
		}
	}
	return at
}

// averaged combines the same mode of several taps.
func averaged(group []found) Mode {
	if len(group) == 1 {
		return group[0].mode
	}
	var f, fse, z, zse, level []float64
	for _, g := range group {
		f, fse = append(f, g.mode.Freq.Value.Hz()), append(fse, g.mode.Freq.SE.Hz())
		z = append(z, math.Log(float64(g.mode.Damping.Value)))
		zse = append(zse, float64(g.mode.Damping.SE/g.mode.Damping.Value))
		level = append(level, g.mode.Level)
	}
	slices.Sort(level)
	mf, sf, df := combine(f, fse)
	mz, sz, _ := combine(z, zse)
	return Mode{
		Freq:    estimate(unit.Frequency(mf), unit.Frequency(sf), df),
		Damping: logEstimate(Damping(math.Exp(mz)), sz, df),
		Level:   level[len(level)/2],
		Taps:    len(group),
	}
}

// remark adds what would make the test better.
func (k *KnockTest) remark(l *listening) {
	used := k.Used()
	switch {
	case len(k.Taps) == 0:
		k.Notes = append(k.Notes, "no tap was found: nothing rises suddenly above the background")
	case used == 0:
		k.Notes = append(k.Notes, "every tap was rejected; see the reasons")
	case used == 1:
		k.Notes = append(k.Notes, "one tap only: the intervals tell how well this one was read, not how taps differ; tap five to ten times")
	case used < 4:
		k.Notes = append(k.Notes, fmt.Sprintf("%d taps: intervals are wide with so few; tap five to ten times", used))
	}
	if l.noise == nil && len(k.Taps) > 0 {
		k.Notes = append(k.Notes, "no silence between the taps: the background is not known; wait until the ring has died away")
	}
}

func natural(fd unit.Frequency, z Damping) unit.Frequency {
	return unit.Frequency(float64(fd) / math.Sqrt(1-float64(z*z)))
}
