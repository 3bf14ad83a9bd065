package sound

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"thrum/unit"
)

// The WAV reader is our own because the library at hand reads neither 64-bit
// floats, nor the sub-format of WAVE_FORMAT_EXTENSIBLE, nor RF64, and needs a
// seekable file; a test keeps watch over that, and compares the two where both can
// read.
//
// Sources: Multimedia Programming Interface 1.0 (RIFF, WAVE_FORMAT_PCM);
// WAVEFORMATEXTENSIBLE; EBU Tech 3306 (RF64, ds64 chunk).

// Format tags of the fmt chunk.
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// notTags names the compressed formats met most often.
var wavTags = map[uint16]string{
	0x0002: "ADPCM", 0x0006: "A-law", 0x0007: "mu-law", 0x0011: "IMA ADPCM", 0x0031: "GSM", 0x0050: "MPEG", 0x0055: "MP3", 0x00FF: "AAC",
}

// extensibleTail is the part of a sub-format that follows the tag: the GUID
// xxxxxxxx-0000-0010-8000-00AA00389B71.
var extensibleTail = []byte{0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71}

type wavStream struct {
	r       *bufio.Reader
	info    Info
	sample  func([]byte) float64
	width   int   // bytes of one sample
	left    int64 // bytes of the data chunk still to come; math.MaxInt64 when it does not say
	endless bool  // the data run to the end of the file
	buf     []byte
	at      int64 // frames read
}

func (w *wavStream) Info() Info { return w.info }

type wavFormat struct {
	tag, channels, align, bits uint16
	rate                       uint32
}

// openWAV walks the chunks up to the samples.
func openWAV(r *bufio.Reader) (Stream, error) {
	var riff [12]byte
	if _, err := io.ReadFull(r, riff[:]); err != nil {
		return nil, damaged(WAV, "ends inside its header", "")
	}
	w := &wavStream{r: r}
	var format *wavFormat
	long := int64(-1) // size of the data chunk from ds64
	for {
		var h [8]byte
		if _, err := io.ReadFull(r, h[:]); err != nil {
			return nil, damaged(WAV, "holds no samples: it ends before a data chunk", "the copy is incomplete; copy or record it again")
		}
		id, size := string(h[:4]), int64(binary.LittleEndian.Uint32(h[4:]))
		switch id {
		case "data":
			if format == nil {
				return nil, damaged(WAV, "has its samples before their format", "")
			}
			return w, w.begin(*format, size, long)
		case "fmt ":
			f, err := readFormat(r, size)
			if err != nil {
				return nil, err
			}
			format = f
		case "ds64":
			body, err := readChunk(r, size, 24)
			if err != nil {
				return nil, err
			}
			if n := binary.LittleEndian.Uint64(body[8:]); n <= math.MaxInt64 {
				long = int64(n)
			}
		default: // title, cue points, padding
			if _, err := io.CopyN(io.Discard, r, size+size%2); err != nil {
				return nil, damaged(WAV, fmt.Sprintf("ends inside its %q chunk, before any sound", id), "the copy is incomplete; copy or record it again")
			}
		}
	}
}

// readChunk reads the least bytes that are wanted of a small chunk and skips the rest.
func readChunk(r *bufio.Reader, size int64, least int) ([]byte, error) {
	if size < int64(least) {
		return nil, damaged(WAV, fmt.Sprintf("has a chunk of %d bytes where %d are needed", size, least), "")
	}
	body := make([]byte, min(size, 64))
	_, err := io.ReadFull(r, body)
	if err == nil {
		_, err = io.CopyN(io.Discard, r, size+size%2-int64(len(body)))
	}
	if err != nil {
		return nil, damaged(WAV, "ends inside its header", "")
	}
	return body, nil
}

func readFormat(r *bufio.Reader, size int64) (*wavFormat, error) {
	b, err := readChunk(r, size, 16)
	if err != nil {
		return nil, err
	}
	le := binary.LittleEndian
	f := &wavFormat{tag: le.Uint16(b), channels: le.Uint16(b[2:]), rate: le.Uint32(b[4:]), align: le.Uint16(b[12:]), bits: le.Uint16(b[14:])}
	if f.tag == tagExtensible {
		if len(b) < 40 || !bytes.Equal(b[26:40], extensibleTail) {
			return nil, damaged(WAV, "has an extended format that is not known", "save it as plain WAV or FLAC")
		}
		f.tag = le.Uint16(b[24:])
	}
	return f, nil
}

// begin checks the format against itself and prepares to read samples.
func (w *wavStream) begin(f wavFormat, size, long int64) error {
	if f.tag != tagPCM && f.tag != tagFloat {
		name := wavTags[f.tag]
		if name == "" {
			name = fmt.Sprintf("format 0x%04X", f.tag)
		}
		return damaged(WAV, "holds compressed sound ("+name+")", "install ffmpeg, or save it as uncompressed WAV or FLAC")
	}
	if f.channels == 0 || f.rate == 0 || f.align%f.channels != 0 {
		return damaged(WAV, fmt.Sprintf("has a header that contradicts itself (%d channels, %d bytes a frame, %d samples a second)", f.channels, f.align, f.rate), "")
	}
	w.width = int(f.align / f.channels)
	var encoding string
	if w.sample, encoding = wavSample(f, w.width); w.sample == nil {
		return damaged(WAV, fmt.Sprintf("has samples of %d bits in %d bytes", f.bits, w.width), "integers of 8 to 32 bits and floats of 32 or 64 bits can be read")
	}
	w.info = Info{Container: WAV, Encoding: encoding, Rate: unit.Frequency(f.rate), Channels: int(f.channels), Frames: -1, FullScale: 1}
	w.left = size
	if size == math.MaxUint32 {
		w.left = long
	}
	// A program that writes to a pipe cannot know the length: it leaves the largest
	// number, or zero, and the samples run to the end.
	if w.left < 0 || (size == math.MaxUint32 && long <= 0) || size == 0 {
		w.left, w.endless = math.MaxInt64, true
		return nil
	}
	w.info.Frames = w.left / int64(f.align)
	return nil
}

// wavSample returns the conversion of one sample to full scale = 1. Integers of
// fewer bits than their bytes hold are left-justified, so all bytes count.
func wavSample(f wavFormat, width int) (convert func([]byte) float64, encoding string) {
	le := binary.LittleEndian
	if f.tag == tagFloat {
		switch {
		case width == 4 && f.bits == 32:
			return func(b []byte) float64 { return finite(float64(math.Float32frombits(le.Uint32(b)))) }, "32-bit float"
		case width == 8 && f.bits == 64:
			return func(b []byte) float64 { return finite(math.Float64frombits(le.Uint64(b))) }, "64-bit float"
		}
		return nil, ""
	}
	if f.bits < 1 || int(f.bits) > 8*width {
		return nil, ""
	}
	encoding = fmt.Sprintf("%d-bit integer", f.bits)
	switch width {
	case 1: // unsigned, unlike all others
		return func(b []byte) float64 { return (float64(b[0]) - 128) / 128 }, encoding
	case 2:
		return func(b []byte) float64 { return float64(int16(le.Uint16(b))) / (1 << 15) }, encoding
	case 3:
		return func(b []byte) float64 {
			return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
		}, encoding
	case 4:
		return func(b []byte) float64 { return float64(int32(le.Uint32(b))) / (1 << 31) }, encoding
	}
	return nil, ""
}

// finite replaces what is not a number by silence and bounds the rest, so that
// one bad sample cannot spoil a whole spectrum.
func finite(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return math.Max(-1e6, math.Min(1e6, v))
}

func (w *wavStream) Read(dst []float64) (int, error) {
	frame := w.width * w.info.Channels
	frames := min(len(dst)/w.info.Channels, (64<<10)/frame+1)
	if int64(frames) > w.left/int64(frame) {
		frames = int(w.left / int64(frame))
	}
	if frames == 0 {
		if len(dst) < w.info.Channels && w.left >= int64(frame) {
			return 0, io.ErrShortBuffer
		}
		return 0, io.EOF
	}
	if cap(w.buf) < frames*frame {
		w.buf = make([]byte, frames*frame)
	}
	n, err := io.ReadFull(w.r, w.buf[:frames*frame])
	got := n / frame
	for i := range got * w.info.Channels {
		dst[i] = w.sample(w.buf[i*w.width:])
	}
	w.at += int64(got)
	if !w.endless {
		w.left -= int64(n)
	}
	switch {
	case err == nil:
		return got, nil
	case !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF):
		return got, fmt.Errorf("reading the recording: %w", err)
	case w.endless && got == 0:
		return 0, io.EOF
	case w.endless:
		return got, nil
	}
	return got, shortened(WAV, w.info, w.at)
}

// shortened is the error for a file that ends before its header says.
func shortened(kind Container, in Info, at int64) error {
	return damaged(kind, fmt.Sprintf("ends after %.2f s of the %.2f s that its header states", float64(at)/in.Rate.Hz(), in.Duration().S()),
		"the copy is incomplete; copy or record it again")
}
