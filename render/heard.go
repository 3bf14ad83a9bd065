package render

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"thrum/sound"
)

// Knock writes the natural frequencies that taps made heard.
func Knock(w io.Writer, k *sound.KnockTest, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold}
	t.line("%s: %d heard, %d used", t.strong("taps"), len(k.Taps), k.Used())
	for i, tap := range k.Taps {
		if tap.Rejected != "" {
			t.item("  ·", fmt.Sprintf("tap %d at %.2f s left out: %s", i+1, tap.At.S(), tap.Rejected))
		}
	}
	if len(k.Modes) == 0 {
		t.item("  ·", "no natural frequency could be told from these taps")
	} else {
		t.line("")
		t.line("%10s%22s%12s%20s%9s%7s", "frequency", "95 %", "damping", "95 %", "level", "taps")
		for _, m := range k.Modes {
			t.line("%s%22s%10.2f %%%20s%6.0f dB%7d", t.strong(fmt.Sprintf("%7.1f Hz", m.Freq.Value.Hz())),
				fmt.Sprintf("%.1f to %.1f", m.Freq.Low.Hz(), m.Freq.High.Hz()), m.Damping.Value.Percent(),
				fmt.Sprintf("%.2f to %.2f", m.Damping.Low.Percent(), m.Damping.High.Percent()), m.Level, m.Taps)
		}
	}
	t.line("")
	if k.Rule != "" {
		t.item("  ·", k.Rule)
	}
	for _, n := range k.Notes {
		t.item("  ·", n)
	}
	return t.w.Flush()
}

// KnockShift writes what changed from one knock test to another.
func KnockShift(w io.Writer, c *sound.Comparison, first, second string, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold}
	t.line("")
	t.line("%s", t.strong("from "+first+" to "+second))
	for _, s := range c.Shifts {
		switch {
		case s.A == nil:
			t.line("  %7.1f Hz  only in %s", s.B.Freq.Value.Hz(), second)
		case s.B == nil:
			t.line("  %7.1f Hz  only in %s", s.A.Freq.Value.Hz(), first)
		default:
			t.line("  %7.1f to %.1f Hz  %s: %+.1f Hz (%+.1f to %+.1f); damping %s: x %.2f (%.2f to %.2f)",
				s.A.Freq.Value.Hz(), s.B.Freq.Value.Hz(), t.strong(string(s.FreqVerdict)), s.Freq.Value.Hz(), s.Freq.Low.Hz(), s.Freq.High.Hz(),
				s.DampingVerdict, float64(s.Damping.Value), float64(s.Damping.Low), float64(s.Damping.High))
		}
	}
	t.item("  ·", c.Rule)
	return t.w.Flush()
}

// tonesShown is how many tones of a pass are listed.
const tonesShown = 5

// Heard writes what a recording of cutting holds: the speed, each pass with its
// tones, and how free tones grow from pass to pass.
func Heard(w io.Writer, h *sound.Heard, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold}
	t.line("%s  %s, %.0f Hz, %d channels, %.1f s", t.strong("recording"), h.Info.Encoding, h.Info.Rate.Hz(), h.Info.Channels, h.Duration.S())
	for _, a := range LoudnessAlerts(h) {
		t.item("  !", a.Text+" "+strings.Join(a.Cures, "; ")+".")
	}
	t.fact("spindle", t.speedWords(h.Speed))
	t.line("%s", t.strong(fmt.Sprintf("%d passes", len(h.Passes))))
	for i, p := range h.Passes {
		t.line("%3d  %6.1f to %.1f s  %.0f dB, %.0f dB above the background", i+1, p.Start.S(), p.End.S(), p.Level, p.Above)
		for _, tone := range p.Tones[:min(len(p.Tones), tonesShown)] {
			t.line("     %8.1f Hz %6.0f dB  %s", tone.Freq.Value.Hz(), tone.Level, toneWords(tone))
		}
	}
	for _, g := range h.Growth {
		t.line("%s leaves x %.2f (%.2f to %.2f) per pass over %d passes", t.strong(fmt.Sprintf("%.1f Hz", g.Freq.Hz())),
			float64(g.PerPass.Value), float64(g.PerPass.Low), float64(g.PerPass.High), len(g.Passes))
	}
	for _, n := range h.Notes {
		t.item("  ·", n)
	}
	return t.w.Flush()
}

func (t *text) speedWords(s sound.Speed) string {
	body := "not heard"
	if s.Heard.Value > 0 {
		body = fmt.Sprintf("%.1f rpm (%.1f to %.1f)", s.Heard.Value.RPM(), s.Heard.Low.RPM(), s.Heard.High.RPM())
	}
	if s.Given > 0 {
		body += fmt.Sprintf("; given %.4g rpm: %s", s.Given.RPM(), s.Verdict)
	}
	if s.Reason != "" {
		body += "; " + s.Reason
	}
	return body
}

func toneWords(tone sound.Tone) string {
	what := "free"
	if !tone.Free() {
		what = tone.Line
		if tone.Multiple > 1 {
			what = fmt.Sprintf("%s x %d", what, tone.Multiple)
		}
	}
	if tone.PerTurn > 0 {
		what += fmt.Sprintf("; %.*f waves per turn", perTurnPlaces(tone), tone.PerTurn)
	}
	return what
}

// perTurnPlaces prints no more places than the standard error supports.
func perTurnPlaces(tone sound.Tone) int {
	if tone.PerTurnSE <= 0 || tone.PerTurnSE >= 0.5 {
		return 0
	}
	return int(math.Min(math.Ceil(-math.Log10(2*tone.PerTurnSE)), 3))
}
