package web

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"thrum/sound"
	"thrum/unit"
)

// Loudness of a tone that is played alone.
const (
	aloneLevel = -14.0 // dB, of the pass in which it is loudest
	mostRaise  = 50.0  // dB
	sameTone   = 0.015 // share of its frequency by which a tone may differ from pass to pass
)

// playLink is one stretch that can be played.
type playLink struct {
	Address string
	Pass    int
}

// playRow are the passes as they are, or one tone of them alone.
type playRow struct {
	Name  string
	Links []playLink
}

const mostAlone = 4 // tones that are offered alone

// plays lists what can be played of what a job has heard.
func plays(id string, res *ListenResult) []playRow {
	row := func(name, tone string) playRow {
		out := playRow{Name: name}
		for i := range res.Passes {
			out.Links = append(out.Links, playLink{fmt.Sprintf("/listen/%s/play?pass=%d%s", url.PathEscape(id), i+1, tone), i + 1})
		}
		return out
	}
	rows := []playRow{row("as it was", "")}
	for _, f := range res.Tones[:min(len(res.Tones), mostAlone)] {
		hz := strconv.FormatFloat(f.Hz(), 'g', -1, 64)
		rows = append(rows, row(hz+" Hz alone", "&tone="+hz))
	}
	return rows
}

// raise is by how much a tone is raised when it is played alone: by the same in every
// pass, so that its growth is heard.
func (r *ListenResult) raise(tone unit.Frequency) float64 {
	loudest := math.Inf(-1)
	for _, p := range r.Passes {
		for _, t := range p.Tones {
			if math.Abs(float64(t.Freq/tone)-1) <= sameTone {
				loudest = max(loudest, t.Level)
			}
		}
	}
	if math.IsInf(loudest, -1) {
		return 0
	}
	return min(max(aloneLevel-loudest, 0), mostRaise)
}

// listenPlay sends one pass of a recording as WAV, or one tone of it alone. It is
// made in memory, two minutes at most, and sent by ranges where they are asked for.
func (s *Server) listenPlay(w http.ResponseWriter, r *http.Request) {
	res, ok := s.listenResult(w, r)
	if !ok {
		return
	}
	q := r.URL.Query()
	n, err := strconv.Atoi(q.Get("pass"))
	if err != nil || n < 1 || n > len(res.Passes) {
		s.fail(w, r, http.StatusNotFound, "There is no such pass", fmt.Sprintf("This recording has %d, counted from 1.", len(res.Passes)))
		return
	}
	tone := unit.Frequency(0)
	if text := q.Get("tone"); text != "" {
		hz, err := strconv.ParseFloat(text, 64)
		if err != nil || !(hz >= 20 && hz <= 20000) {
			s.fail(w, r, http.StatusNotFound, "There is no such tone", "Write it in hertz, between 20 and 20000.")
			return
		}
		tone = unit.Frequency(hz)
	}
	wav, err := s.stretch(r, res, n, tone)
	if errors.Is(err, errGone) {
		s.fail(w, r, http.StatusNotFound, "The recording is no longer here", "It is cleared away after a day unless it is kept with a part.")
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	name := fmt.Sprintf("pass %d.wav", n)
	if tone > 0 {
		name = fmt.Sprintf("pass %d, %g Hz alone.wav", n, tone.Hz())
	}
	w.Header().Set("Content-Type", "audio/wav")
	w.Header().Set("Content-Disposition", "inline; filename="+strconv.Quote(name))
	w.Header().Set("Cache-Control", "private, max-age=600") // made anew for every range otherwise
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(wav))
}

var errGone = errors.New("the recording is gone")

// stretch makes the WAV of a pass. Two minutes lie in memory as numbers while it is made,
// so only one is made at a time.
func (s *Server) stretch(r *http.Request, res *ListenResult, n int, tone unit.Frequency) ([]byte, error) {
	s.playing.Lock()
	defer s.playing.Unlock()
	if err := r.Context().Err(); err != nil {
		return nil, err
	}
	st, done, err := s.opened(r, res.Ask.Cut)
	if err != nil {
		return nil, errors.Join(errGone, err)
	}
	defer done.Close()
	p := res.Passes[n-1]
	rec, err := sound.Excerpt(st, sound.Span{Start: p.Start, End: p.End})
	if err != nil {
		return nil, err
	}
	if tone > 0 {
		rec.Alone(tone, res.raise(tone))
	}
	var b bytes.Buffer
	if err := rec.WriteWAV(&b); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
