package sound

import (
	"errors"
	"io"
)

// OpenOrConvert opens content as Open does. Of a kind that is not native, or that turns out to
// hold a variety that is not (a WAV of compressed sound), it opens what convert gives
// instead, which is to be WAV; without convert such content is refused as by Open. The closer ends the conversion and is never nil; content stays
// open and has to live as long as the stream.
func OpenOrConvert(content io.ReadSeeker, o OpenOptions, convert func() (io.ReadCloser, error)) (Stream, io.Closer, error) {
	head := make([]byte, HeadSize)
	n, err := io.ReadFull(content, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, nil, err
	}
	if _, err := content.Seek(0, io.SeekStart); err != nil {
		return nil, nil, err
	}
	kind := Sniff(head[:n])
	if kind.Native() || kind == Unknown || convert == nil {
		st, err := Open(content, o)
		if err == nil || convert == nil || kind != WAV && kind != MP3 {
			return st, io.NopCloser(nil), err
		}
		if st, closer, again := converted(o, convert); again == nil {
			return st, closer, nil
		}
		return nil, nil, err
	}
	return converted(o, convert)
}

func converted(o OpenOptions, convert func() (io.ReadCloser, error)) (Stream, io.Closer, error) {
	in, err := convert()
	if err != nil {
		return nil, nil, err
	}
	st, err := Open(in, o)
	if err != nil {
		_ = in.Close() // what it says is the reason that Open gave
		return nil, nil, err
	}
	return st, in, nil
}
