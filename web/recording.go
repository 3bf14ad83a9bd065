package web

import (
	"context"
	"errors"
	"io"
	"net/http"

	"thrum/sound"
	"thrum/store"
	"thrum/unit"
)

// Convert turns the sound of a file that this program does not read by itself into
// WAV. Whoever calls it closes what it returns.
type Convert func(ctx context.Context, path string) (io.ReadCloser, error)

// recording opens an upload as a stream of sound. The stream ends with the upload.
func (s *Server) recording(r *http.Request, field string, u *upload, rate unit.Frequency) (sound.Stream, error) {
	st, done, err := openRecording(r.Context(), u, u.path, float64(rate), s.config.Convert)
	if err != nil {
		return nil, unreadable(field, u.Name, err)
	}
	u.also = append(u.also, done)
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

// both closes two things.
type both struct{ a, b io.Closer }

func (b both) Close() error { return errors.Join(b.a.Close(), b.b.Close()) }

// Recordings opens recordings in the store's content, for a job.
func Recordings(ctx context.Context, blobs store.Blobs, convert Convert) func(ListenFile) (sound.Stream, io.Closer, error) {
	return func(f ListenFile) (sound.Stream, io.Closer, error) {
		content, err := blobs.Open(ctx, f.SHA256)
		if err != nil {
			return nil, nil, err
		}
		st, done, err := openRecording(ctx, content, "", f.Rate, convert)
		if err != nil {
			return nil, nil, errors.Join(err, content.Close())
		}
		return st, both{done, content}, nil
	}
}

// nothing has nothing to close.
type nothing struct{}

func (nothing) Close() error { return nil }

// openRecording opens content as a stream of sound. What this program does not read
// by itself is converted, from the file at path or, without one, from a copy.
func openRecording(ctx context.Context, content io.ReadSeeker, path string, rate float64, convert Convert) (sound.Stream, io.Closer, error) {
	head := make([]byte, sound.HeadSize)
	n, err := io.ReadFull(content, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, nil, err
	}
	if _, err := content.Seek(0, io.SeekStart); err != nil {
		return nil, nil, err
	}
	var in io.Reader = content
	var done io.Closer = nothing{}
	if k := sound.Sniff(head[:n]); !k.Native() && k != sound.Unknown && convert != nil {
		if path == "" {
			copied, err := putCopy(content)
			if err != nil {
				return nil, nil, err
			}
			path, done = copied.path, copied
		}
		wav, err := convert(ctx, path)
		if err != nil {
			return nil, nil, errors.Join(err, done.Close())
		}
		in, done = wav, both{wav, done}
	}
	st, err := sound.Open(in, sound.OpenOptions{Rate: unit.Frequency(rate)})
	if err != nil {
		return nil, nil, errors.Join(err, done.Close())
	}
	return st, done, nil
}
