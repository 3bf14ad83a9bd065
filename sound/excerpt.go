package sound

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"thrum/internal/dsp"
	"thrum/unit"
)

// MostExcerpt is the longest stretch that Excerpt takes.
const MostExcerpt unit.Time = 120

// aloneShare is the width of what Alone lets through, as a share of the tone's
// frequency: tones wander by up to 1.5 % from pass to pass, and a narrower band rings.
const aloneShare = 0.06

// Excerpt reads a stretch of a recording, at most MostExcerpt of it, and makes one
// channel of it: the louder one. What lies before it is read and let go.
func Excerpt(s Stream, at Span) (*Recording, error) {
	in := s.Info()
	if !(at.Start >= 0 && at.End > at.Start) || math.IsInf(at.End.S(), 0) || in.Channels < 1 {
		return nil, &unit.InputError{Field: "stretch", Value: fmt.Sprintf("%.1f to %.1f s", at.Start.S(), at.End.S()), Reason: "is no stretch of a recording", Hint: "give a beginning and a later end"}
	}
	at.End = min(at.End, at.Start+MostExcerpt)
	first, end := int(at.Start.S()*in.Rate.Hz()), int(math.Ceil(at.End.S()*in.Rate.Hz()))
	if n := maxLoaded / in.Channels; end-first > n {
		end = first + n
	}
	var all []float64
	buf := make([]float64, 8192*in.Channels)
	for here := 0; here < end; {
		n, err := s.Read(buf)
		lo, hi := min(max(first-here, 0), n), min(end-here, n)
		if lo < hi {
			all = append(all, buf[lo*in.Channels:hi*in.Channels]...)
		}
		here += n
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
	}
	if len(all) == 0 {
		return nil, damaged(in.Container, fmt.Sprintf("ends before %.1f s", at.Start.S()), "")
	}
	r := &Recording{Info: in, Rate: in.Rate}
	var note string
	if r.Direction, note = direction(in, Pick{}, all); note != "" {
		r.Notes = append(r.Notes, note)
	}
	r.Samples = project(all, r.Direction)
	return r, nil
}

// Alone leaves of a recording one tone, six hundredths of its frequency wide, and
// raises it by a number of decibels, for the ear to follow.
func (r *Recording) Alone(tone unit.Frequency, raise float64) {
	dsp.PeakFilter(r.Samples, r.Rate.Hz(), tone.Hz(), aloneShare*tone.Hz())
	gain := math.Pow(10, raise/20)
	for i := range r.Samples {
		r.Samples[i] *= gain
	}
}

// WriteWAV writes one channel as WAV with 16 bits. What is beyond full scale is cut
// off there.
func (r *Recording) WriteWAV(w io.Writer) error {
	n, rate := 2*len(r.Samples), uint32(math.Round(r.Rate.Hz()))
	out := make([]byte, 0, 44+n)
	le := binary.LittleEndian
	out = le.AppendUint32(append(out, "RIFF"...), uint32(36+n))
	out = le.AppendUint32(append(out, "WAVEfmt "...), 16)
	out = le.AppendUint16(le.AppendUint16(out, 1), 1) // whole numbers, one channel
	out = le.AppendUint32(le.AppendUint32(out, rate), 2*rate)
	out = le.AppendUint16(le.AppendUint16(out, 2), 16) // bytes of an instant, bits of a sample
	out = le.AppendUint32(append(out, "data"...), uint32(n))
	for _, v := range r.Samples {
		out = le.AppendUint16(out, uint16(int16(math.Round(min(max(v, -1), 1)*math.MaxInt16))))
	}
	_, err := w.Write(out)
	return err
}
