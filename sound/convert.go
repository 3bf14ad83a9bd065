package sound

import (
	"errors"
	"io"
)

// OpenOrConvert opens content as Open does. Of a kind that is not native it opens
// what convert gives instead, which is to be WAV; without convert such content is
// refused as by Open. The closer ends the conversion and is never nil; content stays
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
	in := io.NopCloser(content)
	if k := Sniff(head[:n]); !k.Native() && k != Unknown && convert != nil {
		if in, err = convert(); err != nil {
			return nil, nil, err
		}
	}
	st, err := Open(in, o)
	if err != nil {
		return nil, nil, errors.Join(err, in.Close())
	}
	return st, in, nil
}
