package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"

	"thrum/render"
	"thrum/sound"
	"thrum/unit"
)

// listenValues are the figures behind the picture of a recording: what lies under a
// finger is read from them.
type listenValues struct {
	End      float64     `json:"end_s"`
	Low      float64     `json:"low_hz"` // foot and head of the picture
	High     float64     `json:"high_hz"`
	RPM      float64     `json:"rpm,omitempty"`
	RPMFrom  string      `json:"rpm_from,omitempty"` // "heard" or "given"
	Start    float64     `json:"start_s"`            // middle of the first column
	TimeStep float64     `json:"time_step_s"`
	FreqStep float64     `json:"freq_step_hz"`
	Rows     int         `json:"rows"`
	Levels   []byte      `json:"levels"` // column by column; half decibels below full scale
	Passes   []valuePass `json:"passes"`
	Lines    []valueLine `json:"lines"`
	Strong   []valueJump `json:"strong"` // where the keyboard jumps to
}

type valuePass struct {
	Start float64     `json:"start_s"`
	End   float64     `json:"end_s"`
	Tones []valueTone `json:"tones"`
}

type valueTone struct {
	Hz    float64 `json:"hz"`
	Level float64 `json:"level"`
	Name  string  `json:"name"` // empty when free
}

// valueLine is where a known line would stand.
type valueLine struct {
	Hz   float64 `json:"hz"`
	Slip float64 `json:"slip,omitempty"` // it may lie lower by this share
	Name string  `json:"name"`
}

type valueJump struct {
	Hz   float64 `json:"hz"`
	Name string  `json:"name"`
}

const (
	mostValueLines = 300
	mostJumps      = 12
)

// valuesOf gathers the figures of a recording that was heard against known lines.
func valuesOf(h *sound.Heard, lines []sound.Line) *listenValues {
	p := h.Picture
	if p == nil || len(p.Columns) == 0 {
		return nil
	}
	low, high := render.SpectrogramRange(h)
	v := &listenValues{
		End: h.Duration.S(), Low: low.Hz(), High: high.Hz(), Start: p.Start.S(), TimeStep: p.TimeStep.S(), FreqStep: p.FreqStep.Hz(),
		Rows: min(len(p.Columns[0]), int(high.Hz()/p.FreqStep.Hz())+2),
	}
	for _, col := range p.Columns {
		for _, db := range col[:v.Rows] {
			v.Levels = append(v.Levels, uint8(math.Round(2*min(max(-float64(db), 0), 127))))
		}
	}
	switch {
	case h.Speed.Heard.Value > 0:
		v.RPM, v.RPMFrom = h.Speed.Heard.Value.RPM(), "heard"
	case h.Speed.Given > 0:
		v.RPM, v.RPMFrom = h.Speed.Given.RPM(), "given"
	}
	for _, pass := range h.Passes {
		out := valuePass{Start: pass.Start.S(), End: pass.End.S(), Tones: []valueTone{}}
		for _, t := range pass.Tones {
			out.Tones = append(out.Tones, valueTone{t.Freq.Value.Hz(), t.Level, lineName(t.Line, t.Multiple)})
			v.jump(t)
		}
		v.Passes = append(v.Passes, out)
	}
	v.known(lines)
	return v
}

// jump adds a tone to those that the keyboard jumps to.
func (v *listenValues) jump(t sound.Tone) {
	for _, have := range v.Strong {
		if math.Abs(have.Hz/t.Freq.Value.Hz()-1) <= sameTone {
			return
		}
	}
	if len(v.Strong) < mostJumps {
		name := lineName(t.Line, t.Multiple)
		if name == "" {
			name = "free"
		}
		v.Strong = append(v.Strong, valueJump{t.Freq.Value.Hz(), fmt.Sprintf("%.0f Hz, %s", t.Freq.Value.Hz(), name)})
	}
}

// known puts the known lines at the speed.
func (v *listenValues) known(lines []sound.Line) {
	turn := v.RPM / 60
	if turn > 0 {
		lines = append([]sound.Line{{Name: "spindle", Kind: sound.SpindleLine, PerTurn: unit.Whole(1), Harmonics: 12}}, lines...)
	}
	for _, l := range lines {
		at := l.Freq.Hz()
		if at <= 0 {
			at = l.PerTurn.Float() * turn
		}
		for k := 1; k <= max(l.Harmonics, 1) && at > 0 && len(v.Lines) < mostValueLines; k++ {
			if f := at * float64(k); f >= v.Low && f <= v.High {
				v.Lines = append(v.Lines, valueLine{f, l.Slip, lineName(l.Name, k)})
			}
		}
	}
}

func lineName(name string, multiple int) string {
	if multiple > 1 {
		return fmt.Sprintf("%d × %s", multiple, name)
	}
	return name
}

// listenValuesSend sends the figures behind the picture of the first recording.
func (s *Server) listenValuesSend(w http.ResponseWriter, r *http.Request) {
	res, ok := s.listenResult(w, r)
	if !ok {
		return
	}
	if res.Values == nil {
		s.fail(w, r, http.StatusNotFound, "There are no figures behind this picture", "Send the recording again.")
		return
	}
	b, err := json.Marshal(res.Values)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	send(w, "application/json", b)
}

// opened opens a recording of the store's content as a stream.
func (s *Server) opened(r *http.Request, f ListenFile) (sound.Stream, io.Closer, error) {
	return Recordings(context.WithoutCancel(r.Context()), s.config.Store.Blobs(), s.config.Convert)(f)
}
