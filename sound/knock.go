package sound

import (
	"errors"
	"math"

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
	A, B           *Mode // nil when the mode was heard in the other test only
	Freq           Estimate[unit.Frequency]
	Ratio          Estimate[Damping] // damping of B / damping of A; a ratio, not per cent of critical
	FreqVerdict    Verdict
	DampingVerdict Verdict
}

// Comparison is the outcome of CompareKnock.
type Comparison struct {
	Shifts []ModeShift // lowest frequency first
	Rule   string      // how modes were matched
}

// Knock finds the taps in a recording, fits dying sine waves to each and averages.
func Knock(r *Recording, o KnockOptions) (*KnockTest, error) {
	return nil, errors.New("not built yet")
}

// CompareKnock matches the modes of two tests, usually with and without the
// centre, and gives what changed.
func CompareKnock(a, b *KnockTest) *Comparison { return &Comparison{} }

func natural(fd unit.Frequency, z Damping) unit.Frequency {
	return unit.Frequency(float64(fd) / math.Sqrt(1-float64(z*z)))
}
