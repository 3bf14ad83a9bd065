package sound

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"thrum/unit"
)

// Container is the kind of a file, told from its first bytes.
type Container string

// What Sniff tells apart.
const (
	WAV      Container = "WAV"
	FLAC     Container = "FLAC"
	MP3      Container = "MP3"
	OggOpus  Container = "Ogg Opus"
	Series   Container = "time series" // text with comma-, semicolon- or tab-separated numbers
	OggOther Container = "Ogg Vorbis or another Ogg sound"
	MPEG4    Container = "MPEG-4 (m4a, mp4, mov, 3gp)"
	ADTS     Container = "bare AAC"
	Matroska Container = "Matroska (mkv, webm)"
	AIFF     Container = "AIFF"
	CAF      Container = "Core Audio"
	ASF      Container = "Windows Media"
	AMR      Container = "AMR"
	Unknown  Container = "unknown"
)

// HeadSize is how many bytes from the start of a file Sniff wants to see.
const HeadSize = 4096

// Native reports whether Open reads this kind by itself. The others, but for
// Unknown, have to be converted to WAV first.
func (c Container) Native() bool {
	switch c {
	case WAV, FLAC, MP3, OggOpus, Series:
		return true
	}
	return false
}

// Sniff tells from its first bytes what a file is. Names are never looked at:
// telephones give sound files all sorts of endings.
func Sniff(head []byte) Container {
	at := func(offset int, s string) bool {
		return len(head) >= offset+len(s) && string(head[offset:offset+len(s)]) == s
	}
	switch {
	case (at(0, "RIFF") || at(0, "RF64") || at(0, "BW64")) && at(8, "WAVE"):
		return WAV
	case at(0, "fLaC"):
		return FLAC
	case at(0, "OggS"):
		if bytes.Contains(head[:min(len(head), 300)], []byte("OpusHead")) {
			return OggOpus
		}
		return OggOther
	case at(4, "ftyp"), at(4, "moov"), at(4, "mdat"), at(4, "wide"):
		return MPEG4
	case at(0, "\x1aE\xdf\xa3"):
		return Matroska
	case at(0, "FORM") && (at(8, "AIFF") || at(8, "AIFC")):
		return AIFF
	case at(0, "caff"):
		return CAF
	case at(0, "\x30\x26\xb2\x75"):
		return ASF
	case at(0, "#!AMR"):
		return AMR
	case at(0, "ID3"):
		return behindID3(head)
	}
	return sniffFrames(head)
}

// behindID3 looks behind an ID3v2 tag: FLAC and bare AAC carry it now and then,
// everything else that does is MP3.
func behindID3(head []byte) Container {
	if n, ok := id3Size(head); ok && n < len(head) {
		if rest := Sniff(head[n:]); rest == FLAC || rest == ADTS {
			return rest
		}
	}
	return MP3
}

// sniffFrames tells bare MPEG frames and text.
func sniffFrames(head []byte) Container {
	if len(head) >= 4 && head[0] == 0xFF {
		if head[1]&0xF6 == 0xF0 {
			return ADTS
		}
		if validMP3Frame(head) {
			return MP3
		}
	}
	if looksLikeSeries(head) {
		return Series
	}
	return Unknown
}

// OpenOptions are what a file may not say of itself.
type OpenOptions struct {
	Rate unit.Frequency // of a series of values without times
}

// What is accepted at most. A header that claims more is damaged or hostile.
const (
	maxChannels = 64
	maxRate     = 4 << 20 // samples per second
)

// Open reads the header of a recording and returns it as a stream. What kind of
// file it is, is told from its contents.
func Open(r io.Reader, o OpenOptions) (Stream, error) {
	br := bufio.NewReaderSize(r, 64<<10)
	head, err := br.Peek(HeadSize)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("reading the recording: %w", err)
	}
	if len(head) == 0 {
		return nil, damaged("", "is empty", "give a WAV, FLAC, MP3 or Opus file, or an accelerometer log")
	}
	kind := Sniff(head)
	var s Stream
	switch kind {
	case WAV:
		s, err = openWAV(br)
	case FLAC:
		s, err = guarded(kind, func() (Stream, error) { return openFLAC(br) })
	case MP3:
		s, err = guarded(kind, func() (Stream, error) { return openMP3(br, head) })
	case OggOpus:
		s, err = guarded(kind, func() (Stream, error) { return openOpus(br) })
	case Series:
		s, err = openSeries(br, o)
	default:
		return nil, notNative(kind)
	}
	if err != nil {
		return nil, err
	}
	if in := s.Info(); in.Channels < 1 || in.Channels > maxChannels || !(in.Rate > 0) || in.Rate > maxRate {
		return nil, damaged(kind, fmt.Sprintf("claims %d channels at %g samples a second", in.Channels, in.Rate.Hz()),
			fmt.Sprintf("1 to %d channels and at most %d samples a second can be read", maxChannels, maxRate))
	}
	return s, nil
}

func notNative(kind Container) error {
	if kind == Unknown {
		return damaged("", "is not a sound file or a time series that can be told from its first bytes",
			"give a WAV, FLAC, MP3 or Opus file, or lines of time,value")
	}
	return damaged(kind, "cannot be read directly",
		"install ffmpeg, open it in the page (the browser decodes it), or save it as WAV or FLAC")
}

// damaged is the error for what a file holds. The caller knows the file's name.
func damaged(kind Container, reason, hint string) error {
	return &unit.InputError{Field: "recording", Value: string(kind), Reason: reason, Hint: hint}
}

// guarded calls a decoder of another library and turns a panic into an error:
// damaged files have been seen to break decoders that are otherwise good.
func guarded[T any](kind Container, f func() (T, error)) (v T, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = damaged(kind, "is damaged: the decoder gave up", "record again, or convert it to WAV with another program")
		}
	}()
	return f()
}
