package sound

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"

	"thrum/unit"
)

type flacStream struct {
	s     *flac.Stream
	info  Info
	scale float64
	frame *frame.Frame
	next  int // first sample of frame not yet handed out
	at    int64
	err   error
}

func openFLAC(r *bufio.Reader) (Stream, error) {
	s, err := flac.New(r)
	if err != nil {
		return nil, damaged(FLAC, "has a damaged header ("+err.Error()+")", "")
	}
	in := s.Info
	f := &flacStream{s: s, scale: 1 / float64(int64(1)<<(in.BitsPerSample-1))}
	f.info = Info{
		Container: FLAC, Encoding: fmt.Sprintf("%d-bit integer", in.BitsPerSample), Rate: unit.Frequency(in.SampleRate),
		Channels: int(in.NChannels), Frames: int64(in.NSamples), FullScale: 1,
	}
	if in.NSamples == 0 { // the standard's way of saying that it is not known
		f.info.Frames = -1
	}
	return f, nil
}

func (f *flacStream) Info() Info { return f.info }

func (f *flacStream) Read(dst []float64) (int, error) {
	want := len(dst) / f.info.Channels
	if want == 0 {
		return 0, io.ErrShortBuffer
	}
	for f.frame == nil || f.next == int(f.frame.BlockSize) {
		if f.err == nil {
			f.err = f.advance()
		}
		if f.err != nil {
			return 0, f.err
		}
	}
	n := min(want, int(f.frame.BlockSize)-f.next)
	for c, sub := range f.frame.Subframes {
		for i, v := range sub.Samples[f.next : f.next+n] {
			dst[i*f.info.Channels+c] = float64(v) * f.scale
		}
	}
	f.next += n
	f.at += int64(n)
	return n, nil
}

// advance decodes the next frame and checks it against the header.
func (f *flacStream) advance() error {
	fr, err := guarded(FLAC, f.s.ParseNext)
	switch {
	case errors.Is(err, io.EOF):
		if f.info.Frames > f.at {
			return shortened(FLAC, f.info, f.at)
		}
		return io.EOF
	case err != nil && f.info.Frames >= 0 && f.at >= f.info.Frames:
		return io.EOF // a tag behind the last frame
	case err != nil:
		var in *unit.InputError
		if errors.As(err, &in) {
			return err
		}
		if errors.Is(err, io.ErrUnexpectedEOF) {
			return shortened(FLAC, f.info, f.at)
		}
		return damaged(FLAC, fmt.Sprintf("is damaged after %.2f s", float64(f.at)/f.info.Rate.Hz()), "what comes before that can be used; copy or record it again")
	}
	if len(fr.Subframes) != f.info.Channels {
		return damaged(FLAC, "changes its number of channels on the way", "")
	}
	for _, s := range fr.Subframes {
		if len(s.Samples) < int(fr.BlockSize) {
			return damaged(FLAC, fmt.Sprintf("is damaged after %.2f s", float64(f.at)/f.info.Rate.Hz()), "")
		}
	}
	f.frame, f.next = fr, 0
	return nil
}
