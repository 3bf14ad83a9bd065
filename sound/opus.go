package sound

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"github.com/pion/opus"
	"github.com/pion/opus/pkg/oggreader"

	"thrum/unit"
)

// Opus always runs at 48 kHz inside, whatever it was recorded at; a packet holds
// at most 120 ms (RFC 6716, 2.1.4).
const (
	opusRate  = 48000
	opusFrame = opusRate * 120 / 1000
)

type opusStream struct {
	ogg  *oggreader.OggReader
	d    opus.Decoder
	info Info
	buf  []float32 // decoded and not yet handed out
	mem  []float32
	skip int   // frames still to be dropped from the start (pre-skip, RFC 7845, 4.2)
	at   int64 // frames decoded, those dropped included
	err  error
}

func openOpus(r *bufio.Reader) (Stream, error) {
	ogg, head, err := oggreader.NewWith(r)
	if err != nil {
		return nil, damaged(OggOpus, "has a damaged header ("+err.Error()+")", "")
	}
	if head.ChannelMap != 0 || head.Channels < 1 || head.Channels > 2 {
		return nil, damaged(OggOpus, fmt.Sprintf("has %d channels in several streams", head.Channels), "install ffmpeg, or save it as mono or stereo")
	}
	d, err := opus.NewDecoderWithOutput(opusRate, int(head.Channels))
	if err != nil {
		return nil, damaged(OggOpus, "cannot be decoded ("+err.Error()+")", "")
	}
	// The second packet holds tags (RFC 7845, 5.2).
	if _, _, err := ogg.ParseNextPacket(); err != nil {
		return nil, damaged(OggOpus, "ends inside its header", "the copy is incomplete; copy it again")
	}
	return &opusStream{
		ogg: ogg, d: d, skip: int(head.PreSkip), mem: make([]float32, opusFrame*int(head.Channels)),
		info: Info{
			Container: OggOpus, Encoding: "Opus", Rate: opusRate, Channels: int(head.Channels), Frames: -1, FullScale: 1, Lossy: true,
			Notes: []string{"Opus leaves out what the ear is not meant to notice: weak tones next to strong ones may be missing"},
		},
	}, nil
}

func (o *opusStream) Info() Info { return o.info }

func (o *opusStream) Read(dst []float64) (int, error) {
	want := len(dst) / o.info.Channels
	if want == 0 {
		return 0, io.ErrShortBuffer
	}
	for len(o.buf) == 0 {
		if o.err == nil {
			o.err = o.advance()
		}
		if o.err != nil {
			return 0, o.err
		}
	}
	n := min(want, len(o.buf)/o.info.Channels)
	for i, v := range o.buf[:n*o.info.Channels] {
		dst[i] = finite(float64(v))
	}
	o.buf = o.buf[n*o.info.Channels:]
	return n, nil
}

// advance decodes the next packet into buf.
func (o *opusStream) advance() error {
	packet, page, err := o.ogg.ParseNextPacket()
	if errors.Is(err, io.EOF) {
		return io.EOF
	}
	if err != nil {
		return o.broken("the container", err)
	}
	n, err := guarded(OggOpus, func() (int, error) { return o.d.DecodeToFloat32(packet, o.mem) })
	if err != nil {
		return o.broken("a packet", err)
	}
	o.at += int64(n)
	out := o.mem[:n*o.info.Channels]
	// A page says how many frames there are up to its end. Only the last page can
	// say fewer than its packets hold: the rest is padding (RFC 7845, 4.4).
	if end := int64(page.GranulePosition); end > 0 && end < o.at {
		out = out[:max(0, int64(n)-(o.at-end))*int64(o.info.Channels)]
	}
	drop := min(o.skip, len(out)/o.info.Channels)
	o.skip -= drop
	o.buf = out[drop*o.info.Channels:]
	return nil
}

func (o *opusStream) broken(what string, err error) error {
	var in *unit.InputError
	if errors.As(err, &in) {
		return err
	}
	return damaged(OggOpus, fmt.Sprintf("is damaged after %.2f s (%s: %v)", float64(o.at)/opusRate, what, err), "what comes before that can be used; copy or record it again")
}
