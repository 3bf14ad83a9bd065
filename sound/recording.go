package sound

import (
	"errors"

	"thrum/unit"
)

// Pick says how the channels of a recording become one. The zero value takes the
// mean of the channels of a sound, and the principal direction of an
// accelerometer log.
type Pick struct {
	Channel   int  // 1 for the first channel, 0 to combine them
	Principal bool // the direction in which most of the movement lies
}

// Recording is one channel of sound held in memory.
type Recording struct {
	Info      Info
	Rate      unit.Frequency
	Samples   []float64
	Direction []float64 // weight of each channel in Samples
	Notes     []string
}

// Duration returns the length of the recording.
func (r *Recording) Duration() unit.Time {
	return unit.Time(float64(len(r.Samples)) / r.Rate.Hz())
}

// Load reads a stream to its end, but no longer than most (default ten minutes),
// and makes one channel of it.
func Load(s Stream, p Pick, most unit.Time) (*Recording, error) {
	return nil, errors.New("not built yet")
}
