package sound

import (
	"errors"
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
	OggOther Container = "Ogg"         // Vorbis and others
	MPEG4    Container = "MPEG-4"      // m4a, mp4, mov, 3gp
	ADTS     Container = "AAC"         // bare AAC
	Matroska Container = "Matroska"    // mkv, webm
	AIFF     Container = "AIFF"
	CAF      Container = "Core Audio"
	ASF      Container = "ASF" // wma, wmv
	AMR      Container = "AMR"
	Unknown  Container = "unknown"
)

// HeadSize is how many bytes from the start of a file Sniff wants to see.
const HeadSize = 4096

// Sniff tells from its first bytes what a file is. Names are never looked at.
func Sniff(head []byte) Container { return Unknown }

// Native reports whether Open reads this kind by itself. The others have to be
// converted to WAV first.
func (c Container) Native() bool { return false }

// OpenOptions are what a file may not say of itself.
type OpenOptions struct {
	Rate unit.Frequency // of a series of values without times
}

// Open reads the header of a recording and returns it as a stream.
func Open(r io.Reader, o OpenOptions) (Stream, error) {
	return nil, errors.New("not built yet")
}
