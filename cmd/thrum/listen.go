package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"thrum/internal/ffmpeg"
	"thrum/plan"
	"thrum/render"
	"thrum/sound"
	"thrum/unit"
)

type knockCmd struct {
	File    string  `arg:"" help:"Recording of taps on the part, the tool or the tailstock; - reads standard input."`
	Against string  `help:"A second recording, such as the same with the centre, to compare with." placeholder:"FILE"`
	Rate    float64 `help:"Samples per second of a list of values without times." placeholder:"HZ"`
	JSON    bool    `name:"json" help:"Print as JSON."`
}

// Run finds the natural frequencies that the taps make heard.
func (c *knockCmd) Run(s *session) error {
	first, err := s.knock(c.File, c.Rate)
	if err != nil {
		return err
	}
	var second *sound.KnockTest
	var shift *sound.Comparison
	if c.Against != "" {
		if second, err = s.knock(c.Against, c.Rate); err != nil {
			return err
		}
		shift = sound.CompareKnock(first, second)
	}
	if c.JSON {
		return s.json(map[string]any{"schema": 1, "first": first, "second": second, "shift": shift})
	}
	o := render.TextOptions{Bold: s.colour}
	if err := render.Knock(s.out, first, o); err != nil || second == nil {
		return err
	}
	fmt.Fprintln(s.out)
	return errors.Join(render.Knock(s.out, second, o), render.KnockShift(s.out, shift, c.File, c.Against, o))
}

func (s *session) knock(file string, rate float64) (*sound.KnockTest, error) {
	st, done, err := s.recording(file, rate)
	if err != nil {
		return nil, err
	}
	defer done()
	r, err := sound.Load(st, sound.Pick{}, 0)
	if err != nil {
		return nil, about(file, err)
	}
	return sound.Knock(r, sound.KnockOptions{})
}

// knocked reads natural frequencies written out, or hears them from a recording of
// taps.
func (s *session) knocked(text string) ([]plan.Knocked, error) {
	ks, err := plan.ParseKnocked(text)
	if err == nil || !looksLikeFile(text) {
		return ks, err
	}
	test, err := s.knock(text, 0)
	if err != nil {
		return nil, err
	}
	for _, m := range test.Modes {
		ks = append(ks, plan.Knocked{Frequency: m.Natural(), Damping: float64(m.Damping.Value)})
	}
	if len(ks) == 0 {
		return nil, &unit.InputError{Field: "knock", Value: text, Reason: "holds no taps that a natural frequency can be told from", Hint: "see what is wrong with it: thrum knock " + text}
	}
	return ks[:min(len(ks), plan.MostKnocked)], nil
}

// looksLikeFile tells a file's name from frequencies written out: it is there, or it
// has a folder or an ending.
func looksLikeFile(text string) bool {
	if _, err := os.Stat(text); err == nil {
		return true
	}
	return strings.ContainsAny(text, "/\\") || len(filepath.Ext(text)) > 2 && !strings.Contains(text, " ")
}

type listenCmd struct {
	File  string  `arg:"" help:"Recording of cutting; - reads standard input."`
	RPM   float64 `name:"rpm" help:"Spindle speed as set." placeholder:"N"`
	Lathe string  `help:"Lathe file: marks its gear meshes. With --part." placeholder:"FILE"`
	Part  string  `help:"Thread that was cut, as on the drawing. With --lathe." placeholder:"CALLOUT"`
	Mains float64 `help:"Mains frequency, to mark hum and motor." placeholder:"HZ"`
	Rate  float64 `help:"Samples per second of a list of values without times." placeholder:"HZ"`
	JSON  bool    `name:"json" help:"Print as JSON."`
}

// Run measures a recording: passes, speed, tones and their growth.
func (c *listenCmd) Run(s *session) error {
	if math.IsNaN(c.RPM) || c.RPM < 0 || c.RPM > 1e5 {
		return &unit.InputError{Field: "rpm", Value: fmt.Sprint(c.RPM), Reason: "is not a spindle speed", Hint: "give revolutions per minute"}
	}
	o := sound.ListenOptions{Given: unit.Rotation(c.RPM)}
	lines, err := c.lines()
	if err != nil {
		return err
	}
	o.Lines = lines
	st, done, err := s.recording(c.File, c.Rate)
	if err != nil {
		return err
	}
	defer done()
	if isTerminal(s.err) {
		o.Progress = func(at unit.Time) { fmt.Fprintf(s.err, "\rheard %.0f s ", at.S()) }
	}
	h, err := sound.Listen(s.ctx, st, o)
	if err != nil {
		return about(c.File, err)
	}
	if o.Progress != nil {
		fmt.Fprint(s.err, "\r                \r")
	}
	if c.JSON {
		h.Picture = nil // for eyes; the page and the picture file show it
		return s.json(h)
	}
	return render.Heard(s.out, h, render.TextOptions{Bold: s.colour})
}

// lines lists what is known to come round on this lathe with this thread.
func (c *listenCmd) lines() ([]sound.Line, error) {
	var lines []sound.Line
	if c.Mains > 0 {
		lines = append(lines, sound.Line{Name: "mains hum", Kind: sound.MainsLine, Freq: unit.Frequency(c.Mains), Harmonics: 6})
	}
	if (c.Lathe == "") != (c.Part == "") {
		return nil, &unit.InputError{Field: "lathe and part", Value: c.Lathe + c.Part, Reason: "are needed together", Hint: "the gear meshes follow from both"}
	}
	if c.Lathe == "" {
		return lines, nil
	}
	toml, err := readLathe(c.Lathe)
	if err != nil {
		return nil, err
	}
	// Only the gears matter here; length and material stand for anything.
	r := plan.Request{Callout: c.Part, Lathe: toml, Material: "1018", Length: 10, OpenEnd: true}
	p, err := plan.Make(r)
	if err != nil {
		return nil, err
	}
	for _, l := range p.Lines {
		kind := sound.OtherLine
		if l.Mesh {
			kind = sound.MeshLine
		}
		lines = append(lines, sound.Line{Name: l.Name, Kind: kind, PerTurn: l.PerTurn, Harmonics: 3})
	}
	return lines, nil
}

// recording opens a sound file or standard input as a stream. What the program
// does not read by itself is decoded by ffmpeg where that is installed.
func (s *session) recording(file string, rate float64) (sound.Stream, func(), error) {
	var r io.Reader = s.in
	done := func() {}
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return nil, nil, &unit.InputError{Field: "recording", Value: file, Reason: "cannot be read: " + reasonOf(err), Hint: "check the path"}
		}
		done = func() { f.Close() }
		buffered := bufio.NewReaderSize(f, sound.HeadSize)
		head, _ := buffered.Peek(sound.HeadSize) // a short file gives what it has
		r = buffered
		if kind := sound.Sniff(head); !kind.Native() && kind != sound.Unknown {
			if tool, err := ffmpeg.Find(); err == nil {
				wav, err := tool.Wav(s.ctx, file)
				if err != nil {
					done()
					return nil, nil, about(file, err)
				}
				r, done = wav, func() { wav.Close(); f.Close() }
			}
		}
	}
	st, err := sound.Open(r, sound.OpenOptions{Rate: unit.Frequency(rate)})
	if err != nil {
		done()
		return nil, nil, about(file, err)
	}
	return st, done, nil
}

// about names the file that an error concerns; input that cannot be used keeps its kind.
func about(file string, err error) error {
	var in *unit.InputError
	if errors.As(err, &in) {
		return err
	}
	return &unit.InputError{Field: "recording", Value: file, Reason: err.Error(), Hint: "a WAV, FLAC, MP3 or Opus file, or a table of times and values"}
}

func (s *session) json(v any) error {
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
