package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"thrum/cause"
	"thrum/draw"
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
	if err := checkRate(c.Rate); err != nil {
		return err
	}
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
	Files     []string `arg:"" name:"file" help:"Recordings of cutting at one speed; - reads standard input."`
	RPM       float64  `name:"rpm" help:"Spindle speed as set." placeholder:"N"`
	Air       string   `help:"Recording of the machine running at that speed without cutting." placeholder:"FILE"`
	Second    string   `help:"A recording of cutting at another speed, with --second-rpm." placeholder:"FILE"`
	SecondRPM float64  `name:"second-rpm" help:"Spindle speed of --second." placeholder:"N"`
	Lathe     string   `help:"Lathe file: marks its gear meshes. With --part." placeholder:"FILE"`
	Part      string   `help:"Thread that was cut, as on the drawing. With --lathe." placeholder:"CALLOUT"`
	Mode      []string `help:"A natural frequency that was knocked, in Hz; may be given again." placeholder:"HZ"`
	Marks     float64  `help:"Marks counted once around the thread." placeholder:"N"`
	Pattern   string   `help:"How the marks lie: together (both flanks and root), opposed (flanks, none at the root), ragged, or clean." placeholder:"WORD"`
	Mains     float64  `help:"Mains frequency, to mark hum and motor; both 50 and 60 are thought possible when left out." placeholder:"HZ"`
	Rate      float64  `help:"Samples per second of a list of values without times." placeholder:"HZ"`
	SVG       string   `name:"svg" help:"Write the spectrogram as SVG; - is standard output." placeholder:"FILE"`
	PNG       string   `name:"png" help:"Write the spectrogram as PNG." placeholder:"FILE"`
	JSON      bool     `name:"json" help:"Print as JSON."`
}

// Run measures recordings of cutting, and weighs what made the tones.
func (c *listenCmd) Run(s *session) error {
	if err := c.check(); err != nil {
		return err
	}
	study, err := c.study()
	if err != nil {
		return err
	}
	if study.Lines, study.Diameter, err = c.turning(c.RPM); err != nil {
		return err
	}
	for _, file := range c.Files {
		h, err := c.hear(s, file, c.RPM, false, study.Lines)
		if err != nil {
			return err
		}
		study.Cuts = append(study.Cuts, cause.Cut{Name: file, Heard: h})
	}
	first := study.Cuts[0].Heard
	if c.Air != "" {
		if study.Air, err = c.hear(s, c.Air, c.RPM, true, study.Lines); err != nil {
			return err
		}
	}
	if c.Second != "" {
		lines, _, err := c.turning(c.SecondRPM)
		if err != nil {
			return err
		}
		h, err := c.hear(s, c.Second, c.SecondRPM, false, lines)
		if err != nil {
			return err
		}
		study.Cuts = append(study.Cuts, cause.Cut{Name: c.Second, Heard: h, Lines: lines})
	}
	finding, err := cause.Judge(study)
	if err != nil {
		return err
	}
	if err := c.draw(s, first); err != nil {
		return err
	}
	if c.JSON {
		return s.json(heardJSON(study, finding))
	}
	o := render.TextOptions{Bold: s.colour}
	for _, cut := range study.Cuts {
		if len(study.Cuts) > 1 {
			fmt.Fprintln(s.out, cut.Name)
		}
		if err := render.Heard(s.out, cut.Heard, o); err != nil {
			return err
		}
		fmt.Fprintln(s.out)
	}
	return render.Cause(s.out, finding, o)
}

// check finds faults in the flags before a long recording is read.
func (c *listenCmd) check() error {
	for _, r := range []struct {
		name string
		rpm  float64
	}{{"rpm", c.RPM}, {"second-rpm", c.SecondRPM}} {
		if math.IsNaN(r.rpm) || r.rpm < 0 || r.rpm > 1e5 {
			return &unit.InputError{Field: r.name, Value: fmt.Sprint(r.rpm), Reason: "is not a spindle speed", Hint: "give revolutions per minute"}
		}
	}
	dashes := 0
	for _, f := range append([]string{c.Air, c.Second}, c.Files...) {
		if f == "-" {
			dashes++
		}
	}
	switch {
	case dashes > 1:
		return &unit.InputError{Field: "recording", Value: "-", Reason: "is given more than once", Hint: "only one recording can come from standard input"}
	case (c.Second == "") != (c.SecondRPM == 0):
		return &unit.InputError{Field: "second and second-rpm", Value: strings.TrimSpace(fmt.Sprint(c.Second, " ", c.SecondRPM)), Reason: "are needed together", Hint: "the second recording is of another speed"}
	case c.Second != "" && c.RPM == 0:
		return &unit.InputError{Field: "rpm", Value: "0", Reason: "is needed to compare two speeds", Hint: "give the speed of the first recording"}
	case c.SVG == "-" && (c.JSON || c.PNG == "-"):
		return &unit.InputError{Field: "file", Value: "-", Reason: "is given more than once", Hint: "only one thing can go to standard output"}
	case (c.Lathe == "") != (c.Part == ""):
		return &unit.InputError{Field: "lathe and part", Value: c.Lathe + c.Part, Reason: "are needed together", Hint: "the gear meshes follow from both"}
	case c.Second != "" && c.RPM == c.SecondRPM:
		return &unit.InputError{Field: "second-rpm", Value: fmt.Sprint(c.SecondRPM), Reason: "is the speed of the first recording too", Hint: "the second recording is of another speed; give others of the same speed as further files"}
	case !(c.Mains == 0 || (c.Mains >= leastMains && c.Mains <= mostMains)):
		return &unit.InputError{Field: "mains", Value: fmt.Sprint(c.Mains), Reason: "is not a mains frequency", Hint: "50 or 60"}
	case !(c.Marks >= 0 && c.Marks <= mostMarks):
		return &unit.InputError{Field: "marks", Value: fmt.Sprint(c.Marks), Reason: fmt.Sprintf("are not between 0 and %d once around", mostMarks), Hint: "count them along one turn of the thread; 5 to 300 are usual"}
	}
	return checkRate(c.Rate)
}

// Mains as supplied, with what a generator may be off; and the most marks that can be
// counted once around a thread.
const (
	leastMains = 45
	mostMains  = 65
	mostMarks  = 5000
)

// checkRate refuses a rate at which nothing can be sampled; zero is one not given.
func checkRate(rate float64) error {
	if rate >= 0 && !math.IsInf(rate, 0) {
		return nil
	}
	return &unit.InputError{Field: "rate", Value: fmt.Sprint(rate), Reason: "is not a number of samples per second", Hint: "an accelerometer gives 100 to 50000"}
}

// study gathers what is known beforehand: lines, natural frequencies, marks.
func (c *listenCmd) study() (cause.Case, error) {
	var k cause.Case
	for _, m := range c.Mode {
		f, err := strconv.ParseFloat(m, 64)
		if err != nil || !(f > 0 && f < 1e5) {
			return k, &unit.InputError{Field: "mode", Value: m, Reason: "is not a frequency", Hint: "hertz, as thrum knock prints it"}
		}
		k.Modes = append(k.Modes, cause.Mode{Name: m + " Hz, as knocked", Freq: unit.Frequency(f), Spread: 0.01})
	}
	pattern, err := cause.ReadPattern(c.Pattern)
	if err != nil {
		return k, err
	}
	if m, ok := cause.Seen(c.Marks, pattern); ok {
		k.Marks = append(k.Marks, m)
	}
	return k, nil
}

// turning lists what comes round with the spindle at a speed, and what keeps to the
// clock; and the diameter of the work.
func (c *listenCmd) turning(rpm float64) (lines []sound.Line, diameter unit.Length, err error) {
	if c.Lathe != "" {
		toml, err := readLathe(c.Lathe)
		if err != nil {
			return nil, 0, err
		}
		r, err := plan.GearsOf(c.Part, toml).AtSpeed(unit.Rotation(rpm))
		if err != nil {
			return nil, 0, err
		}
		p, err := plan.Make(r)
		if err != nil {
			return nil, 0, err
		}
		k := p.Case()
		lines, diameter = k.Lines, k.Diameter
	}
	if c.Mains > 0 {
		lines = append(lines, cause.MainsLines(unit.Frequency(c.Mains))...)
	}
	return lines, diameter, nil
}

// hear listens to one recording.
func (c *listenCmd) hear(s *session, file string, rpm float64, air bool, lines []sound.Line) (*sound.Heard, error) {
	st, done, err := s.recording(file, c.Rate)
	if err != nil {
		return nil, err
	}
	defer done()
	o := sound.ListenOptions{Given: unit.Rotation(rpm), Lines: lines, NoCut: air}
	if isTerminal(s.err) {
		o.Progress = func(at unit.Time) { fmt.Fprintf(s.err, "\r%s: heard %.0f s ", file, at.S()) }
		defer fmt.Fprint(s.err, "\r\x1b[K")
	}
	h, err := sound.Listen(s.ctx, st, o)
	if err != nil {
		return nil, about(file, err)
	}
	return h, nil
}

// draw writes the spectrogram of the first recording.
func (c *listenCmd) draw(s *session, h *sound.Heard) error {
	l := render.SpectrogramDrawing(h).List(draw.Size{W: 240, H: 135})
	light := draw.Light()
	if c.SVG != "" {
		if err := s.write(c.SVG, func(w io.Writer) error { return l.SVG(w, 0, draw.SVGOptions{Theme: &light}) }); err != nil {
			return err
		}
	}
	if c.PNG == "" {
		return nil
	}
	return s.write(c.PNG, func(w io.Writer) error { return l.PNG(w, 0, draw.PNGOptions{Theme: &light, Width: 1920}) })
}

// heardJSON leaves out what is for eyes only.
func heardJSON(k cause.Case, f *cause.Finding) map[string]any {
	var cuts []map[string]any
	for _, c := range k.Cuts {
		h := *c.Heard
		h.Picture = nil
		cuts = append(cuts, map[string]any{"file": c.Name, "heard": h})
	}
	return map[string]any{"schema": 1, "cuts": cuts, "finding": f}
}

// recording opens a sound file or standard input as a stream. What the program
// does not read by itself is decoded by ffmpeg where that is installed.
func (s *session) recording(file string, rate float64) (sound.Stream, func(), error) {
	o := sound.OpenOptions{Rate: unit.Frequency(rate)}
	if file == "-" {
		st, err := sound.Open(s.in, o)
		if err != nil {
			return nil, nil, about(file, err)
		}
		return st, func() {}, nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, nil, &unit.InputError{Field: "recording", Value: file, Reason: "cannot be read: " + reasonOf(err), Hint: "check the path"}
	}
	var convert func() (io.ReadCloser, error)
	if tool, err := ffmpeg.Find(); err == nil {
		convert = func() (io.ReadCloser, error) { return tool.Wav(s.ctx, file) }
	}
	st, wav, err := sound.OpenOrConvert(f, o, convert)
	if err != nil {
		f.Close()
		return nil, nil, about(file, err)
	}
	return st, func() { wav.Close(); f.Close() }, nil
}

// about names the file that an error concerns; input that cannot be used keeps its kind.
func about(file string, err error) error {
	var in *unit.InputError
	if errors.As(err, &in) {
		if in.Field == "recording" && in.Value != file {
			named := *in
			named.Value = file
			if in.Value != "" { // the kind of file
				named.Reason = "(" + in.Value + ") " + in.Reason
			}
			return &named
		}
		return err
	}
	if info, bad := os.Stat(file); bad == nil && info.IsDir() {
		return &unit.InputError{Field: "recording", Value: file, Reason: "is a folder", Hint: "give the recordings in it, one by one: all of one speed at once"}
	}
	if errors.Is(err, ffmpeg.ErrNoSound) {
		return &unit.InputError{Field: "recording", Value: file, Reason: "has no sound in it", Hint: "film with the microphone on, or give a sound recording"}
	}
	hint := "a WAV, FLAC, MP3 or Opus file, or a table of times and values"
	if errors.Is(err, ffmpeg.ErrDamaged) {
		hint = "the copy may be incomplete, or the recorder was cut off before it closed the file; copy it again, or record again"
	}
	return &unit.InputError{Field: "recording", Value: file, Reason: err.Error(), Hint: hint}
}

func (s *session) json(v any) error {
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
