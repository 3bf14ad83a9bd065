package sound

import (
	"fmt"
	"math"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

func TestSpectraAgainstScipy(t *testing.T) {
	const source = "docs/validation/sound/spectra.py (scipy 1.10)"
	r := loadKept(t, "bar.wav")
	rate := r.Rate.Hz()
	w, err := Welch(r, unit.Time(2048/rate))
	if err != nil {
		t.Fatal(err)
	}
	g, err := STFT(r, unit.Time(512/rate), unit.Time(300/rate))
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range csvRows(t, "testdata/spectra.csv") {
		k, want := int(value(t, row, "bin")), value(t, row, "value")
		c := outside.Claim{Source: source, Status: outside.Computed, Published: want}
		if row["what"] == "welch" {
			c.What, c.Ours, c.Unit, c.Tolerance = fmt.Sprintf("bar.wav, density at bin %d", k), w.Density[k], "1/Hz", 1e-9*math.Abs(want)+1e-22
		} else {
			col := int(value(t, row, "column"))
			c.What, c.Ours, c.Unit, c.Tolerance = fmt.Sprintf("bar.wav, spectrogram column %d bin %d", col, k), float64(g.Columns[col][k]), "dB", 1e-4
		}
		outside.Check(t, c)
	}
}

func TestSpectrumRefused(t *testing.T) {
	r := loadKept(t, "bar.wav")
	for _, s := range []unit.Time{0, -1, 1e-5, 100, unit.Time(math.NaN()), unit.Time(math.Inf(1))} {
		_, err := Welch(r, s)
		wantInputError(t, fmt.Sprint(s), err, "")
	}
	_, err := STFT(r, 0.1, 0)
	wantInputError(t, "step 0", err, "")
	_, err = STFT(r, 1, unit.Time(1/r.Rate.Hz()))
	wantInputError(t, "step of one sample", err, "longer step")
}
