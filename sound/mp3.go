package sound

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/hajimehoshi/go-mp3"

	"thrum/unit"
)

type mp3Stream struct {
	d    *mp3.Decoder
	info Info
	buf  [16 << 10]byte
	at   int64
	err  error
}

// openMP3 skips tags itself, without holding them in memory, and looks at the
// first frame for what the decoder does not tell: how many channels there are, and
// whether it is one of the low rates (MPEG 2.5) that the decoder gets wrong.
func openMP3(r *bufio.Reader, head []byte) (Stream, error) {
	for {
		n, ok := id3Size(head)
		if !ok {
			break
		}
		if _, err := io.CopyN(io.Discard, r, int64(n)); err != nil {
			return nil, damaged(MP3, "ends inside its title tag", "the copy is incomplete; copy it again")
		}
		head, _ = r.Peek(HeadSize)
	}
	at := firstMP3Frame(head)
	if at < 0 {
		return nil, damaged(MP3, "holds no MPEG layer 3 frame where the sound should begin", "")
	}
	if head[at+1]&0x18 == 0 {
		return nil, damaged(MP3, "is MPEG 2.5, a low-rate format", "install ffmpeg, or save it as WAV or FLAC")
	}
	channels := 2
	if head[at+3]>>6 == 3 {
		channels = 1
	}
	d, err := mp3.NewDecoder(struct{ io.Reader }{r}) // never seekable: a seekable source is read to its end first
	if err != nil {
		return nil, damaged(MP3, "cannot be decoded ("+err.Error()+")", "")
	}
	return &mp3Stream{d: d, info: Info{
		Container: MP3, Encoding: "MPEG layer 3", Rate: unit.Frequency(d.SampleRate()), Channels: channels, Frames: -1, FullScale: 1, Lossy: true,
		Notes: []string{"MP3 leaves out what the ear is not meant to notice: weak tones next to strong ones may be missing, and all times are up to 51 ms late"},
	}}, nil
}

// id3Size returns the whole length of the ID3v2 tag that head begins with.
func id3Size(head []byte) (int, bool) {
	if len(head) < 10 || string(head[:3]) != "ID3" {
		return 0, false
	}
	n := 0
	for _, b := range head[6:10] {
		n = n<<7 | int(b&0x7F)
	}
	n += 10
	if head[5]&0x10 != 0 { // footer
		n += 10
	}
	return n, true
}

// firstMP3Frame returns where the first layer 3 frame begins, or -1. The bytes
// before it are padding.
func firstMP3Frame(head []byte) int {
	for i := 0; i+4 <= len(head); i++ {
		if validMP3Frame(head[i:]) {
			return i
		}
	}
	return -1
}

// validMP3Frame reports whether b starts with a layer 3 frame header: sync, a
// known version, a bit rate and a sampling rate that exist.
func validMP3Frame(b []byte) bool {
	return len(b) >= 4 && b[0] == 0xFF && b[1]&0xE0 == 0xE0 && b[1]&0x18 != 0x08 && b[1]&0x06 == 0x02 &&
		b[2]&0xF0 != 0xF0 && b[2]&0xF0 != 0 && b[2]&0x0C != 0x0C
}

func (m *mp3Stream) Info() Info { return m.info }

func (m *mp3Stream) Read(dst []float64) (int, error) {
	want := min(len(dst)/m.info.Channels, len(m.buf)/4)
	if want == 0 {
		return 0, io.ErrShortBuffer
	}
	if m.err != nil {
		return 0, m.err
	}
	n, err := guarded(MP3, func() (int, error) { return io.ReadFull(m.d, m.buf[:4*want]) })
	got := n / 4 // always two channels of 16 bits
	for i := range got {
		for c := range m.info.Channels {
			dst[i*m.info.Channels+c] = float64(int16(binary.LittleEndian.Uint16(m.buf[4*i+2*c:]))) / (1 << 15)
		}
	}
	m.at += int64(got)
	if err != nil {
		m.err = io.EOF
		if !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			m.err = damaged(MP3, fmt.Sprintf("is damaged after %.2f s", float64(m.at)/m.info.Rate.Hz()), "what comes before that can be used; copy or record it again")
		}
		if got == 0 {
			return 0, m.err
		}
	}
	return got, nil
}
