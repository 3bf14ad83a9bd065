package web

import (
	"context"
	"errors"
	"io"
	"net/http"

	"thrum/sound"
	"thrum/unit"
)

// Convert turns the sound of a file that this program does not read by itself into
// WAV. Whoever calls it closes what it returns.
type Convert func(ctx context.Context, path string) (io.ReadCloser, error)

// recording opens an upload as a stream of sound. The stream ends with the upload.
func (s *Server) recording(r *http.Request, field string, u *upload, rate unit.Frequency) (sound.Stream, error) {
	head := make([]byte, sound.HeadSize)
	n, err := io.ReadFull(u, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	if err := u.again(); err != nil {
		return nil, err
	}
	var in io.Reader = u
	if k := sound.Sniff(head[:n]); !k.Native() && k != sound.Unknown && s.config.Convert != nil {
		wav, err := s.config.Convert(r.Context(), u.path)
		if err != nil {
			return nil, unreadable(field, u.Name, err)
		}
		u.also = append(u.also, wav)
		in = wav
	}
	st, err := sound.Open(in, sound.OpenOptions{Rate: rate})
	if err != nil {
		return nil, unreadable(field, u.Name, err)
	}
	return st, nil
}

// unreadable says of a file what is wrong with it.
func unreadable(field, name string, err error) error {
	out := &unit.InputError{Field: field, Value: name, Reason: err.Error(), Hint: "send a WAV, FLAC, MP3 or Opus recording, or a table of times and values"}
	var in *unit.InputError
	if errors.As(err, &in) {
		out.Reason, out.Hint = in.Reason, in.Hint
	}
	return out
}
