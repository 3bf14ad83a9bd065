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
	st, done, err := openRecording(r.Context(), u, u.path, rate, s.config.Convert)
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

// openRecording opens content as a stream of sound. What this program does not read
// by itself is converted, from the file at path or, without one, from a copy.
func openRecording(ctx context.Context, content io.ReadSeeker, path string, rate unit.Frequency, convert Convert) (sound.Stream, io.Closer, error) {
	var wav func() (io.ReadCloser, error)
	if convert != nil {
		wav = func() (io.ReadCloser, error) { return converted(ctx, content, path, convert) }
	}
	return sound.OpenOrConvert(content, sound.OpenOptions{Rate: rate}, wav)
}

func converted(ctx context.Context, content io.ReadSeeker, path string, convert Convert) (io.ReadCloser, error) {
	if path != "" {
		return convert(ctx, path)
	}
	copied, err := putCopy(content)
	if err != nil {
		return nil, err
	}
	wav, err := convert(ctx, copied.path)
	if err != nil {
		return nil, errors.Join(err, copied.Close())
	}
	return struct {
		io.Reader
		io.Closer
	}{wav, both{wav, copied}}, nil
}
