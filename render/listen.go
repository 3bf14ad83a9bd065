package render

import (
	"fmt"
	"math"

	"thrum/cause"
	"thrum/sound"
)

// CauseSection tells what made the tones or the marks, how sure that is, and the one
// cheap test that would settle it.
func CauseSection(f *cause.Finding) Section {
	sec := Section{ID: "cause", Title: "What made it"}
	verdict := "cannot tell"
	if f.Told {
		verdict = f.Cause.Words()
	}
	sec.Figures = []Value{{Key: "cause.verdict", Label: "verdict", Text: verdict, Note: f.Sentence}}
	if f.Told {
		sec.Figures = append(sec.Figures, Value{Key: "cause.sure", Label: "how sure", Text: fmt.Sprintf("%.0f in 100", 100*f.Confidence), Note: f.Because})
	} else if f.Because != "" {
		sec.Facts = append(sec.Facts, Value{Key: "cause.because", Label: "why not", Text: f.Because})
	}
	if f.Speeds != nil {
		sec.Facts = append(sec.Facts, Value{Key: "cause.speeds", Label: "two speeds", Text: f.Speeds.Sentence})
	}
	t := &Table{Caption: "Causes, likeliest first", Head: []string{"cause", "chance", "speaks for it", "speaks against it"}}
	for _, c := range f.Causes {
		if c.Probability < 0.02 {
			continue
		}
		t.Rows = append(t.Rows, Row{Key: "cause." + string(c.Kind), Strong: f.Told && c.Kind == f.Cause, Cells: []string{
			c.Words, fmt.Sprintf("%.0f in 100", 100*c.Probability), firstReason(c.For), firstReason(c.Against),
		}})
	}
	sec.Table = t
	if f.Told && len(f.Causes) > 0 && f.Causes[0].Remedy != "" {
		sec.Lists = append(sec.Lists, Items{Title: "What helps then", Items: []Item{{Text: f.Causes[0].Remedy}}})
	}
	if s := f.Test; s != nil {
		test := Items{Title: fmt.Sprintf("To be surer, in about %.0f minutes", math.Ceil(s.Minutes)), Items: []Item{{Text: s.Do}}}
		for i, k := range s.Between {
			test.Items = append(test.Items, Item{Mark: "then", Text: "if it is " + k.Words() + ": " + s.Expect[i]})
		}
		if s.Caution != "" {
			test.Items = append(test.Items, Item{Mark: "can hurt", Text: s.Caution})
		}
		sec.Lists = append(sec.Lists, test)
	}
	sec.Lists = append(sec.Lists, notesOf(f.Notes))
	return sec
}

func firstReason(rs []cause.Reason) string {
	if len(rs) == 0 {
		return "nothing"
	}
	return rs[0].Text
}

func notesOf(notes []string) Items {
	out := Items{Title: "Keep in mind"}
	for _, n := range notes {
		out.Items = append(out.Items, Item{Text: n})
	}
	return out
}

// quietest is the level below which a recording is called very quiet, -48 dB: with 16 bits,
// tones 40 dB below it drown in rounding.
const quietest = 0.004

// LoudnessAlerts say what the loudness of a recording takes from what was heard.
func LoudnessAlerts(h *sound.Heard) []Alert {
	switch {
	case h.Loudest == 0: // accelerations have no full scale
		return nil
	case h.Clipped > 0:
		return []Alert{{
			Level: "warning", Text: fmt.Sprintf("The recording is clipped: about %d samples at full scale. Clipping makes tones of its own and hides growth.", h.Clipped),
			Cures: []string{"move the phone further away and record again"},
		}}
	case h.Loudest < quietest:
		return []Alert{{
			Level: "warning", Text: fmt.Sprintf("The recording is very quiet: at most %.0f dB of full scale. Weak tones are lost in it.", 20*math.Log10(h.Loudest)),
			Cures: []string{"move the phone nearer, look whether a case covers the microphone, and record again"},
		}}
	}
	return nil
}

// HeardSection tells what a recording of cutting holds: the speed, the passes with
// their strongest tones, and how free tones grow. Its drawing is the spectrogram.
func HeardSection(id, title string, h *sound.Heard) Section {
	sec := Section{ID: id, Title: title}
	sec.Figures = []Value{
		{Key: id + ".passes", Label: "passes", Text: fmt.Sprint(len(h.Passes)), Note: fmt.Sprintf("in %.1f s", h.Duration.S())},
		{Key: id + ".speed", Label: "spindle", Text: heardSpeed(h.Speed), Note: h.Speed.Reason},
	}
	sec.Alerts = LoudnessAlerts(h)
	if h.Speed.Given > 0 && h.Speed.Verdict == sound.SpeedContradicts {
		sec.Alerts = append(sec.Alerts, Alert{Level: "warning", Text: fmt.Sprintf("The recording says %.0f rpm, you said %.4g. Waves per turn are worked out from what was heard.", h.Speed.Heard.Value.RPM(), h.Speed.Given.RPM())})
	}
	t := &Table{Caption: "Each pass with its strongest tones", Head: []string{"pass", "from, s", "to, s", "level, dB", "tones"}}
	for i, p := range h.Passes {
		tones := ""
		for j, tone := range p.Tones[:min(len(p.Tones), 3)] {
			if j > 0 {
				tones += "; "
			}
			tones += fmt.Sprintf("%.1f Hz, %s", tone.Freq.Value.Hz(), toneWords(tone))
		}
		if tones == "" {
			tones = "none stands out"
		}
		t.Rows = append(t.Rows, Row{Key: fmt.Sprint(id, ".pass", i+1), Cells: []string{
			fmt.Sprint(i + 1), fmt.Sprintf("%.1f", p.Start.S()), fmt.Sprintf("%.1f", p.End.S()), fmt.Sprintf("%.0f", p.Level), tones,
		}})
	}
	if len(t.Rows) > 0 {
		sec.Table = t
	}
	grows := Items{Title: "From pass to pass"}
	for _, g := range h.Growth {
		grows.Items = append(grows.Items, Item{Text: fmt.Sprintf("%.1f Hz: each pass leaves %.2f times (%.2f to %.2f) the last, over %d passes",
			g.Freq.Hz(), float64(g.PerPass.Value), float64(g.PerPass.Low), float64(g.PerPass.High), len(g.Passes))})
	}
	sec.Lists = []Items{grows, notesOf(h.Notes)}
	if h.Picture != nil {
		sec.Drawings = []Drawing{SpectrogramDrawing(h)}
	}
	return sec
}

func heardSpeed(s sound.Speed) string {
	if s.Heard.Value <= 0 {
		return "not heard"
	}
	return fmt.Sprintf("%.1f rpm", s.Heard.Value.RPM())
}
