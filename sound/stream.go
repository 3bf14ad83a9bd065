package sound

import (
	"thrum/unit"
)

// Info says what a recording is, as far as its header tells.
type Info struct {
	Container Container
	Encoding  string         // "24-bit integer", "32-bit float", "MPEG layer 3"
	Rate      unit.Frequency // samples per second and channel
	Channels  int            //
	Frames    int64          // samples per channel as the header says; -1 when it does not say
	FullScale float64        // largest value that the format can hold; 0 when there is none (a log of accelerations)
	Lossy     bool           // weak tones beside strong ones may be missing
	Names     []string       // what each channel is called, for a log: "ax"; nil for sound
	Notes     []string       // what was assumed or left out while reading
}

// Duration returns the length that the header states, or zero when it does not.
func (in Info) Duration() unit.Time {
	if in.Frames < 0 || in.Rate <= 0 {
		return 0
	}
	return unit.Time(float64(in.Frames) / in.Rate.Hz())
}

// Stream is a recording that is read block by block.
type Stream interface {
	// Info describes the recording. Notes may be added while it is read.
	Info() Info
	// Read fills dst with samples, the channels of one instant next to each other,
	// and returns how many instants it wrote. Sound is scaled to full scale = 1.
	// At the end it returns 0, io.EOF. A damaged file gives an error that says
	// where; what was read before it is good.
	Read(dst []float64) (int, error)
}
