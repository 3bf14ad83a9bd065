// Package ffmpeg has recordings that this program cannot decode by itself (AAC,
// Vorbis, the sound of a video) converted to WAV by the ffmpeg command, when the
// machine has it. It is used by commands only, never by the packages that measure.
//
// The file is untrusted, so ffmpeg is held short: it may open that one local file
// and nothing else (no network, no playlists that lead to other files), reads no
// standard input, and its output is cut off at a limit.
package ffmpeg

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
)

// ErrMissing says that there is no ffmpeg on this machine's path.
var ErrMissing = errors.New("ffmpeg is not on the path; install it, or save the recording as WAV, FLAC, MP3 or Opus")

// ErrTooLong says that the sound goes on for longer than was allowed.
var ErrTooLong = errors.New("the recording is longer than can be taken; cut out the part that matters")

// ErrNoSound says that a file, a silent video perhaps, has no sound in it.
var ErrNoSound = errors.New("there is no sound in the file")

// ErrDamaged says that ffmpeg gave up.
var ErrDamaged = errors.New("ffmpeg could not decode the recording")

// Tool is an ffmpeg that was found.
type Tool struct{ path string }

// Find looks for ffmpeg on the path.
func Find() (*Tool, error) {
	p, err := exec.LookPath("ffmpeg")
	if err != nil {
		return nil, ErrMissing
	}
	return &Tool{path: p}, nil
}

// formats are the containers that may be read: none of them can refer to other files.
const formats = "mov,matroska,ogg,aac,amr,aiff,caf,asf,avi,mpegts,mpeg,flv,wav,flac,mp3,w64,au"

// mostOutput is how many bytes of WAV are taken at most: two hours of stereo at
// 48 kHz in 32-bit floats.
const mostOutput = 2 * 3600 * 48000 * 2 * 4

// Wav starts converting the sound of a file and returns it as a stream of WAV with
// 32-bit floats at the file's own rate. Close ends ffmpeg and says what it had to
// complain of; read to the end first.
func (t *Tool) Wav(ctx context.Context, file string) (io.ReadCloser, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: not a file", file)
	}
	full, err := filepath.Abs(file)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(ctx)
	c := exec.CommandContext(ctx, t.path,
		"-nostdin", "-hide_banner", "-v", "error", "-xerror",
		"-protocol_whitelist", "file", "-format_whitelist", formats,
		"-i", "file:"+full,
		"-map", "0:a:0", "-vn", "-sn", "-dn", "-map_metadata", "-1",
		"-c:a", "pcm_f32le", "-f", "wav", "-protocol_whitelist", "pipe", "pipe:1")
	c.Env = []string{"PATH=" + os.Getenv("PATH"), "SYSTEMROOT=" + os.Getenv("SYSTEMROOT"), "LC_ALL=C"}
	s := &stream{cmd: c, file: full, cancel: cancel, left: mostOutput}
	c.Stderr = &s.complaints
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		cancel()
		return nil, fmt.Errorf("starting ffmpeg: %w", err)
	}
	s.out = out
	return s, nil
}

// stream is the output of a running ffmpeg.
type stream struct {
	cmd        *exec.Cmd
	file       string
	cancel     context.CancelFunc
	out        io.ReadCloser
	complaints short
	left       int64
	ended      bool
	done       sync.Once
	err        error
}

// Read hands out WAV. At the end it asks whether ffmpeg was content: a file that
// broke off in the middle is an error, not a shorter recording.
func (s *stream) Read(p []byte) (int, error) {
	if s.ended {
		return 0, io.EOF
	}
	if s.left <= 0 {
		return 0, ErrTooLong
	}
	n, err := s.out.Read(p[:min(int64(len(p)), s.left)])
	s.left -= int64(n)
	if errors.Is(err, io.EOF) {
		s.ended = true
		if bad := s.wait(); bad != nil {
			return n, bad
		}
	}
	return n, err
}

// Close ends ffmpeg.
func (s *stream) Close() error {
	if s.ended {
		return s.wait()
	}
	s.cancel() // given up before the end: what ffmpeg says of that does not matter
	_ = s.wait()
	return nil
}

func (s *stream) wait() error {
	s.done.Do(func() {
		err := s.cmd.Wait()
		s.cancel()
		if err == nil {
			return
		}
		text := strings.TrimSpace(s.complaints.String())
		if i := strings.LastIndexByte(text, '\n'); i >= 0 {
			text = text[i+1:]
		}
		if text == "" {
			text = err.Error()
		}
		if strings.Contains(s.complaints.String(), "matches no streams") {
			s.err = ErrNoSound
			return
		}
		text = strings.TrimPrefix(text, "file:"+s.file+": ")
		s.err = fmt.Errorf("%w: %s", ErrDamaged, text)
	})
	return s.err
}

// short keeps the beginning of what is written to it.
type short struct{ bytes.Buffer }

func (s *short) Write(p []byte) (int, error) {
	if room := 8<<10 - s.Len(); room > 0 {
		s.Buffer.Write(p[:min(len(p), room)])
	}
	return len(p), nil
}
