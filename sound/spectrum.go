package sound

import (
	"fmt"
	"math"

	"thrum/internal/dsp"
	"thrum/unit"
)

// Spectrum is a power spectral density.
type Spectrum struct {
	Step     unit.Frequency // Density[k] belongs to the frequency k*Step
	Density  []float64      // one-sided, full scale squared per hertz
	Averages int            // number of stretches averaged
}

// Spectrogram is a spectrum against time.
type Spectrogram struct {
	Start    unit.Time      // middle of the first column
	TimeStep unit.Time      // column k belongs to the time Start + k*TimeStep
	FreqStep unit.Frequency // row j belongs to the frequency j*FreqStep
	Columns  [][]float32    // level of a sine in each cell: its rms against full scale, in dB
}

// maxCells bounds a spectrogram, whatever is asked for.
const maxCells = 32 << 20

// Welch returns the power spectral density of a recording, averaged over
// half-overlapping Hann-windowed stretches of the given length. The mean of each
// stretch is taken away first.
//
// Source: Welch 1967, IEEE Trans. Audio Electroacoust. 15:70.
func Welch(r *Recording, stretch unit.Time) (*Spectrum, error) {
	n, err := r.stretch(stretch)
	if err != nil {
		return nil, err
	}
	d, k := dsp.Welch(r.Samples, r.Rate.Hz(), n, n-n/2, dsp.Hann)
	return &Spectrum{Step: r.Rate / unit.Frequency(n), Density: d, Averages: k}, nil
}

// STFT returns the spectrogram of a recording: Hann-windowed stretches of the
// given length, each step after the last.
func STFT(r *Recording, stretch, step unit.Time) (*Spectrogram, error) {
	n, err := r.stretch(stretch)
	if err != nil {
		return nil, err
	}
	hop := int(math.Round(step.S() * r.Rate.Hz()))
	if hop < 1 {
		return nil, &unit.InputError{Field: "step", Value: fmt.Sprintf("%g s", step.S()), Reason: "is shorter than one sample"}
	}
	if ((len(r.Samples)-n)/hop+1)*(n/2+1) > maxCells {
		return nil, &unit.InputError{Field: "step", Value: fmt.Sprintf("%g s", step.S()), Reason: "makes a spectrogram that is too large", Hint: "take a longer step or a shorter piece"}
	}
	p := dsp.NewPeriodogram(n, dsp.Hann)
	s := &Spectrogram{
		Start: unit.Time(float64(n) / 2 / r.Rate.Hz()), TimeStep: unit.Time(float64(hop) / r.Rate.Hz()), FreqStep: r.Rate / unit.Frequency(n),
	}
	power := make([]float64, p.Bins())
	for at := 0; at+n <= len(r.Samples); at += hop {
		clear(power)
		p.Power(power, r.Samples[at:at+n])
		col := make([]float32, len(power))
		for k, v := range power {
			col[k] = float32(dsp.DB(v))
		}
		s.Columns = append(s.Columns, col)
	}
	return s, nil
}

// stretch turns a length of time into an even number of samples that fits.
func (r *Recording) stretch(t unit.Time) (int, error) {
	n := math.Round(t.S() * r.Rate.Hz())
	if !(n >= 8) || n > float64(len(r.Samples)) {
		return 0, &unit.InputError{
			Field: "stretch", Value: fmt.Sprintf("%g s", t.S()), Reason: fmt.Sprintf("does not fit a recording of %.3g s at %.4g samples a second", r.Duration().S(), r.Rate.Hz()),
			Hint: "take at least 8 samples and at most the whole recording",
		}
	}
	return int(n) &^ 1, nil
}
