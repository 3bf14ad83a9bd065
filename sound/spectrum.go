package sound

import (
	"errors"

	"thrum/unit"
)

// Spectrum is a power spectral density.
type Spectrum struct {
	Step     unit.Frequency // Density[k] belongs to the frequency k*Step
	Density  []float64      // one-sided, full scale squared per hertz
	Averages int            // number of stretches averaged
}

// Spectrogram is a spectrum against time, in dB against full scale.
type Spectrogram struct {
	TimeStep unit.Time      // column k belongs to the time Start + k*TimeStep
	Start    unit.Time      //
	FreqStep unit.Frequency // row j belongs to the frequency j*FreqStep
	Columns  [][]float32    // rms in each cell, dB
}

// Welch returns the power spectral density of a recording, averaged over
// half-overlapping Hann-windowed stretches of the given length.
func Welch(r *Recording, stretch unit.Time) (*Spectrum, error) {
	return nil, errors.New("not built yet")
}

// STFT returns the spectrogram of a recording.
func STFT(r *Recording, stretch, step unit.Time) (*Spectrogram, error) {
	return nil, errors.New("not built yet")
}
