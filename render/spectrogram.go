package render

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"

	"thrum/draw"
	"thrum/sound"
	"thrum/unit"
)

// How a spectrogram is set.
const (
	spectrogramRows   = 360  // pixels
	spectrogramLines  = 8    // known lines that are drawn and named
	spectrogramTones  = 4    // free tones that are
	spectrogramShades = 32   // of the tint
	spectrogramDark   = 0.25 // share of cells left blank, as background
)

// SpectrogramDrawing shows a recording: time across, frequency up on a logarithmic
// axis, loud parts dark. Passes are numbered; known lines and free tones are named at
// the right.
func SpectrogramDrawing(h *sound.Heard) Drawing {
	desc := fmt.Sprintf("Spectrogram of %.0f s with %d passes.", h.Duration.S(), len(h.Passes))
	for _, t := range namedTones(h) {
		desc += " " + t.name + "."
	}
	return Drawing{
		ID: "spectrogram", Title: "What was heard", Desc: desc,
		Draw: func(l *draw.List, b draw.Box) { spectrogramChart(h).Draw(l, b) },
	}
}

// namedTone is one line across the spectrogram.
type namedTone struct {
	name string
	freq float64
	free bool
	from []unit.Time // ends of the stretches in which it was heard
	to   []unit.Time
}

// namedTones gathers the strongest known lines and free tones over all passes.
func namedTones(h *sound.Heard) []namedTone {
	var out []namedTone
	known, free := 0, 0
	add := func(t sound.Tone, s sound.Span) {
		name := fmt.Sprintf("%.0f Hz", t.Freq.Value.Hz())
		if !t.Free() {
			name = t.Line
			if t.Multiple > 1 {
				name = fmt.Sprintf("%d × %s", t.Multiple, t.Line)
			}
		}
		for i := range out {
			o := &out[i]
			if o.free == t.Free() && math.Abs(o.freq-t.Freq.Value.Hz()) < 0.012*o.freq && (o.free || o.name == name) {
				o.from, o.to = append(o.from, s.Start), append(o.to, s.End)
				return
			}
		}
		n, most := &known, spectrogramLines
		if t.Free() {
			n, most = &free, spectrogramTones
		}
		if *n < most {
			*n++
			out = append(out, namedTone{name, t.Freq.Value.Hz(), t.Free(), []unit.Time{s.Start}, []unit.Time{s.End}})
		}
	}
	for rank := range 24 { // the strongest of every pass first
		for _, p := range h.Passes {
			if rank < len(p.Tones) {
				add(p.Tones[rank], p.Span)
			}
		}
	}
	return out
}

// SpectrogramRange is between which frequencies the picture of a spectrogram stands;
// rows stand at equal factors.
func SpectrogramRange(h *sound.Heard) (low, high unit.Frequency) {
	low, high = 40, 4000
	if p := h.Picture; p != nil && len(p.Columns) > 0 {
		high = min(high, p.FreqStep*unit.Frequency(len(p.Columns[0])-1))
		low = min(low, high/50)
	}
	return low, high
}

func spectrogramChart(h *sound.Heard) draw.Chart {
	from, to := SpectrogramRange(h)
	low, high := from.Hz(), to.Hz()
	top := high * math.Pow(high/low, 0.06)
	end := h.Duration.S()
	c := draw.Chart{
		X: draw.Axis{Title: "time, s", Min: 0, Max: end},
		Y: draw.Axis{Title: "frequency, Hz", Min: low, Max: top, Log: true},
	}
	if data := spectrogramImage(h, low, high); data != nil {
		c.Under = &draw.Picture{X0: 0, X1: end, Y0: low, Y1: high, Data: data, Alt: "Spectrogram: the darker, the louder."}
	}
	for _, t := range namedTones(h) {
		s := draw.Series{Name: t.name, Line: draw.Dashed, Accent: t.free}
		if t.free {
			s.Line = draw.Continuous
		}
		for i := range t.from {
			s.X = append(s.X, t.from[i].S(), t.to[i].S(), t.to[i].S())
			s.Y = append(s.Y, t.freq, t.freq, math.NaN())
		}
		c.Series = append(c.Series, s)
	}
	bars := draw.Series{Name: "passes"}
	for i, p := range h.Passes {
		bars.X = append(bars.X, p.Start.S(), p.End.S(), p.End.S())
		bars.Y = append(bars.Y, math.Sqrt(high*top), math.Sqrt(high*top), math.NaN())
		if len(h.Passes) <= 40 {
			c.Limits = append(c.Limits, draw.Limit{Name: fmt.Sprint(i + 1), At: p.Start.S(), Upright: true})
		}
	}
	if len(h.Passes) > 0 {
		c.Series = append(c.Series, bars)
	}
	return c
}

// evenOut returns half of what each row has without cutting (the level below which it
// stays for a fifth of the time), so that hum does not blacken the picture.
func evenOut(p *sound.Spectrogram) []float32 {
	lift := make([]float32, len(p.Columns[0]))
	row := make([]float32, len(p.Columns))
	for k := range lift {
		for i, col := range p.Columns {
			row[i] = col[k]
		}
		slices.Sort(row)
		lift[k] = row[len(row)/5] / 2
	}
	return lift
}

// spectrogramImage tints the cells; rows stand at equal factors of frequency.
func spectrogramImage(h *sound.Heard, low, high float64) []byte {
	p := h.Picture
	if p == nil || len(p.Columns) == 0 {
		return nil
	}
	lift := evenOut(p)
	levels := make([]float32, 0, len(p.Columns)*64)
	for i, col := range p.Columns {
		for k := i % 4; k < len(col); k += 4 {
			levels = append(levels, col[k]-lift[k])
		}
	}
	slices.Sort(levels)
	if len(levels) == 0 {
		return nil
	}
	dark := float64(levels[int(spectrogramDark*float64(len(levels)))])
	light := math.Max(float64(levels[len(levels)*999/1000]), dark+10)
	theme := draw.Light()
	palette := make(color.Palette, spectrogramShades)
	for i := range palette {
		f := float64(i) / (spectrogramShades - 1)
		mix := func(a, b uint8) uint8 { return uint8(float64(a) + (float64(b)-float64(a))*f + 0.5) }
		palette[i] = color.RGBA{mix(theme.Paper.R, theme.Ink.R), mix(theme.Paper.G, theme.Ink.G), mix(theme.Paper.B, theme.Ink.B), 255}
	}
	im := image.NewPaletted(image.Rect(0, 0, len(p.Columns), spectrogramRows), palette)
	for y := range spectrogramRows {
		edge := func(y int) float64 {
			return low * math.Pow(high/low, 1-float64(y)/spectrogramRows) / p.FreqStep.Hz()
		}
		from, to := int(math.Round(edge(y+1))), int(math.Round(edge(y)))
		for x, col := range p.Columns {
			v := math.Inf(-1)
			for k := max(from, 0); k <= min(max(to-1, from), len(col)-1); k++ {
				v = math.Max(v, float64(col[k]-lift[k]))
			}
			f := (v - dark) / (light - dark)
			im.SetColorIndex(x, y, uint8(math.Max(0, math.Min(spectrogramShades-1, f*spectrogramShades))))
		}
	}
	var b bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestCompression}
	if err := e.Encode(&b, im); err != nil {
		return nil
	}
	return b.Bytes()
}
