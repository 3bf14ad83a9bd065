package sound

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"thrum/internal/dsp"
	"thrum/unit"
)

// LineKind groups known lines by where they come from.
type LineKind string

// Where a known line comes from.
const (
	SpindleLine LineKind = "spindle"
	MeshLine    LineKind = "gear mesh"
	MainsLine   LineKind = "mains"
	MotorLine   LineKind = "motor"
	BearingLine LineKind = "bearing"
	OtherLine   LineKind = "other"
)

// Line is a tone that is expected before listening. It is tied either to the
// spindle (PerTurn) or to the clock (Freq).
type Line struct {
	Name      string         // "spindle gear 40 into 56"
	Kind      LineKind       //
	PerTurn   unit.Ratio     // cycles per turn of the spindle; zero when not tied to it
	Freq      unit.Frequency // fixed frequency, for lines that are not tied to the spindle
	Slip      float64        // a fixed line may lie lower by up to this fraction: 0.06 for an induction motor
	Harmonics int            // how many multiples to mark; 0 means 1
}

// ListenOptions steers Listen.
type ListenOptions struct {
	Given    unit.Rotation   // spindle speed as told; zero when unknown
	Within   float64         // how far the true speed may be from it, as a fraction; default 0.15
	Lines    []Line          // known lines; the spindle's own turns are always added
	Pick     Pick            // which channel
	Low      unit.Frequency  // lowest tone sought; default 40 Hz
	High     unit.Frequency  // highest tone sought; default 4 kHz
	Most     unit.Time       // longest recording; default two hours
	Air      *Span           // a stretch in which the machine ran without cutting; nil when not known
	NoCut    bool            // the whole recording is of the machine running without cutting
	Progress func(unit.Time) // called about once per second of recording; may be nil
}

// Span is a stretch of time.
type Span struct{ Start, End unit.Time }

// Pass is one stretch in which the tool was cutting.
type Pass struct {
	Span
	Level    float64 // rms against full scale in the band listened to, in dB
	Above    float64 // louder than the background, averaged over octaves, in dB
	Uneven   float64 // how far the loudness strays within the pass, one standard deviation, in dB; 0 when the pass is too short to tell
	Crackle  float64 // short bursts over all frequencies: the loudest hundredth above the median, in dB; 2 for an even hiss
	Speed    Speed   // from this pass alone
	Tones    []Tone  // strongest first
	Spectrum *Levels `json:"-"` // nil when the pass is too short for one
	Swells   []Swell `json:"-"` // of the loudness, strongest first
}

// Whole says whether a tone has a whole number of waves per turn.
type Whole string

// The answers of the whole-number test.
const (
	WholeYes    Whole = "whole"
	WholeNo     Whole = "not whole"
	WholeCannot Whole = "cannot tell" // the speed is not known well enough, or not at all
)

// Tone is one peak of a pass's spectrum.
type Tone struct {
	Freq       Estimate[unit.Frequency]
	Level      float64        // rms against full scale, in dB
	Prominence float64        // above the spectrum around it, in dB
	Steady     float64        // share of the pass during which it stood out, 0 to 1
	Wander     unit.Frequency // how far it moves from stretch to stretch, one standard deviation
	PerTurn    float64        // waves per turn of the spindle; 0 when the speed is not known
	PerTurnSE  float64        // its standard error
	Whole      Whole          //
	Line       string         // name of the known line that it agrees with; empty when free
	Kind       LineKind       // kind of that line
	Multiple   int            // which harmonic of the line
	Track      []TrackPoint   // frequency and level along the pass
}

// Free reports whether no known line explains the tone.
func (t Tone) Free() bool { return t.Line == "" }

// Swell is an even rise and fall of the loudness: once a turn from work that runs out,
// once a round from the joint of a belt.
type Swell struct {
	Rate       Estimate[unit.Frequency] // up to 30 Hz
	Prominence float64                  // above the spectrum of the loudness around it, in dB
}

// TrackPoint is a tone at one instant.
type TrackPoint struct {
	At    unit.Time
	Freq  unit.Frequency
	Level float64 // dB
}

// Growth is the change of one free tone from pass to pass.
type Growth struct {
	Freq    unit.Frequency
	Passes  []int            // indices of the passes in which it was found
	Levels  []float64        // dB, one per pass
	PerPass Estimate[Factor] // each pass leaves this times the last
}

// Heard is everything that Listen measured.
type Heard struct {
	Info     Info
	Duration unit.Time
	Passes   []Pass
	Air      *Pass // without cutting: the stretches between the passes, or the one that was named; nil when shorter than a second
	Speed    Speed // from all passes together
	Growth   []Growth
	Picture  *Spectrogram // of the whole recording, small enough for a screen
	Loudest  float64      // the largest sample of any channel, against full scale; 0 where there is no full scale
	Clipped  int          // samples at full scale in runs of three and more
	Notes    []string
}

// Listen measures a recording of cutting, reading the stream once. Up to two hours
// of it are kept, thinned out to the band listened to and packed into two bytes a
// sample.
func Listen(ctx context.Context, s Stream, o ListenOptions) (*Heard, error) {
	o, err := o.filled(s.Info().Rate)
	if err != nil {
		return nil, err
	}
	k, err := takeIn(ctx, s, o)
	if err != nil {
		return nil, err
	}
	t := k.t
	h := &Heard{Info: s.Info(), Duration: unit.Time(float64(t.len()) / t.rate), Notes: append(s.Info().Notes, k.notes...)}
	if h.Info.FullScale > 0 {
		h.Loudest, h.Clipped = k.watch.loudest/h.Info.FullScale, k.watch.clipped
	}
	loud := measureLoudness(t, o)
	spans, note := loud.passes(o.Air)
	h.Picture = loud.picture()
	if o.NoCut {
		spans, note = nil, ""
	}
	if note != "" {
		h.Notes = append(h.Notes, note)
	}
	for _, sp := range spans {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		h.Passes = append(h.Passes, t.listenTo(sp, loud, o))
	}
	h.Air = t.listenToAir(spans, loud, o)
	h.judgeSpeed(o)
	for i := range h.Passes {
		p := &h.Passes[i]
		mark(p.Tones, p.bestSpeed(h.Speed), o)
	}
	if h.Air != nil {
		mark(h.Air.Tones, h.Speed.Heard, o)
	}
	h.Growth = growth(h.Passes)
	h.remark(o)
	return h, nil
}

func (o ListenOptions) filled(rate unit.Frequency) (ListenOptions, error) {
	set := func(v *float64, def float64) {
		if *v == 0 {
			*v = def
		}
	}
	set(&o.Within, 0.15)
	set((*float64)(&o.High), math.Min(4000, 0.4*rate.Hz()))
	set((*float64)(&o.Low), math.Min(40, o.High.Hz()/50))
	set((*float64)(&o.Most), 7200)
	var errs []error
	bad := func(field, value, reason, hint string) {
		errs = append(errs, &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint})
	}
	if !(o.Given >= 0) || o.Given > 1e5 {
		bad("spindle speed", fmt.Sprintf("%g rpm", o.Given.RPM()), "is not a spindle speed", "0 to 100000 rpm, 0 when not known")
	}
	if !(o.Within > 0 && o.Within <= 0.5) {
		bad("search range", fmt.Sprintf("%g", o.Within), "is not a fraction of the speed", "above 0 and at most 0.5")
	}
	if !(o.Low > 0 && o.Low < o.High && o.High.Hz() <= 0.45*rate.Hz()) {
		bad("band", fmt.Sprintf("%g to %g Hz", o.Low.Hz(), o.High.Hz()), "is not a band of this recording", fmt.Sprintf("the ends must lie between 0 and %g Hz", 0.45*rate.Hz()))
	}
	if !(o.Most > 0 && o.Most <= 8*3600) {
		bad("longest recording", fmt.Sprintf("%g s", o.Most.S()), "is out of range", "at most 8 hours")
	}
	if o.Air != nil && !(o.Air.End > o.Air.Start) {
		bad("air pass", fmt.Sprintf("%g to %g s", o.Air.Start.S(), o.Air.End.S()), "does not run forwards", "give its start and its end in seconds")
	}
	for _, l := range o.Lines {
		if l.PerTurn.Sign() < 0 || !(l.Freq >= 0) || (l.PerTurn.IsZero() == (l.Freq == 0)) || !(l.Slip >= 0 && l.Slip < 1) || l.Harmonics < 0 || l.Harmonics > 1000 {
			bad("known line", l.Name, "must have either cycles per turn or a frequency, a slip of 0 to 1 and up to 1000 harmonics", "")
		}
	}
	return o, errors.Join(errs...)
}

// taken is the recording as Listen keeps it: one channel, decimated to the band.
type taken struct {
	rate   float64
	chunks []*chunk
	tail   []float64 // not yet a full chunk
}

// chunk holds chunkLen samples as whole numbers with one scale: the noise that
// this adds lies 98 dB below the loudest sample of the same tenth of a second.
type chunk struct {
	scale float64
	v     [chunkLen]int16
}

const chunkLen = 1024

func (t *taken) len() int { return len(t.chunks)*chunkLen + len(t.tail) }

func (t *taken) write(x []float64) {
	t.tail = append(t.tail, x...)
	full := 0
	for ; len(t.tail)-full >= chunkLen; full += chunkLen {
		t.chunks = append(t.chunks, pack(t.tail[full:full+chunkLen]))
	}
	t.tail = t.tail[:copy(t.tail, t.tail[full:])]
}

func pack(x []float64) *chunk {
	top := 0.0
	for _, v := range x {
		top = max(top, v, -v)
	}
	c := &chunk{scale: top / math.MaxInt16}
	if c.scale > 0 {
		for i, v := range x {
			c.v[i] = int16(math.RoundToEven(v / c.scale))
		}
	}
	return c
}

// read fills dst with the samples from at on; what lies beyond the end is zero.
func (t *taken) read(dst []float64, at int) {
	for i := 0; i < len(dst); {
		k, off := (at+i)/chunkLen, (at+i)%chunkLen
		if k >= len(t.chunks) {
			n := 0
			if k == len(t.chunks) && off < len(t.tail) {
				n = copy(dst[i:], t.tail[off:])
			}
			clear(dst[i+n:])
			return
		}
		c := t.chunks[k]
		n := min(len(dst)-i, chunkLen-off)
		for j, v := range c.v[off : off+n] {
			dst[i+j] = float64(v) * c.scale
		}
		i += n
	}
}

// deciding is how much of the beginning is read before a channel is chosen.
const deciding = 10 // seconds

// intake turns what a stream hands out into what is kept.
type intake struct {
	in      Info
	pick    Pick
	d       *dsp.Decimator
	t       *taken
	head    []float64 // the beginning, until the channel is chosen
	weights []float64 // of the channels, once it is
	notes   []string  // about that choice, and of damage
	frames  float64   // read so far
	watch   watch

	mono, out []float64
}

// takeIn reads the stream to its end.
func takeIn(ctx context.Context, s Stream, o ListenOptions) (*intake, error) {
	in := s.Info()
	if o.Pick.Channel < 0 || o.Pick.Channel > in.Channels {
		return nil, &unit.InputError{Field: "channel", Value: fmt.Sprint(o.Pick.Channel), Reason: fmt.Sprintf("the recording has %d", in.Channels), Hint: "count from 1"}
	}
	halvings := dsp.Halvings(in.Rate.Hz(), o.High.Hz())
	k := &intake{in: in, watch: watch{full: clipFrom * in.FullScale}, pick: o.Pick, d: dsp.NewDecimator(halvings), t: &taken{rate: in.Rate.Hz() / float64(int(1)<<halvings)}}
	told := 0.0
	buf := make([]float64, 8192*in.Channels)
	for {
		n, err := s.Read(buf)
		k.take(buf[:n*in.Channels])
		if errors.Is(err, io.EOF) {
			break
		}
		at := k.frames / in.Rate.Hz()
		if err != nil {
			if at < leastOfDamaged || ctx.Err() != nil {
				return nil, err
			}
			k.notes = append(k.notes, fmt.Sprintf("the recording %s; only the first %.1f s were heard", reasonOf(err), at))
			break
		}
		if at > o.Most.S() {
			return nil, damaged(in.Container, fmt.Sprintf("is longer than %.0f s", o.Most.S()), "cut out the part that matters")
		}
		if at >= told+1 {
			told = at
			if o.Progress != nil {
				o.Progress(unit.Time(at))
			}
			if err := ctx.Err(); err != nil {
				return nil, err
			}
		}
	}
	k.finish()
	switch {
	case k.t.len() < 64:
		return nil, damaged(in.Container, "is too short to hold a pass", "record from before the tool enters until after it has left")
	case k.watch.loudest == 0:
		return nil, damaged(in.Container, "holds nothing but silence", "allow the microphone to the recorder, look whether it is muted, and record again")
	}
	return k, nil
}

// leastOfDamaged is how much of a damaged recording must be whole for it to be heard.
const leastOfDamaged = 2.0 // s

// reasonOf puts an error about a recording in a few words.
func reasonOf(err error) string {
	var in *unit.InputError
	if errors.As(err, &in) {
		return in.Reason
	}
	return "breaks off: " + err.Error()
}

// watch follows how loud a recording ever was, and whether it is clipped.
type watch struct {
	full    float64 // what is called full scale; 0 where there is none
	loudest float64
	clipped int
	run     int
}

// How clipping is told.
const (
	clipFrom = 0.999 // of full scale
	clipRun  = 3     // samples in a row
)

func (w *watch) see(x []float64, channels int) {
	for i, v := range x {
		size := math.Abs(v)
		w.loudest = max(w.loudest, size)
		if i%channels != 0 || w.full == 0 { // one channel tells
			continue
		}
		if size < w.full {
			w.run = 0
		} else if w.run++; w.run >= clipRun {
			w.clipped++
		}
	}
}

func (k *intake) take(x []float64) {
	k.frames += float64(len(x) / k.in.Channels)
	k.watch.see(x, k.in.Channels)
	if k.weights != nil {
		k.keep(x)
		return
	}
	k.head = append(k.head, x...)
	if k.frames >= deciding*k.in.Rate.Hz() || len(k.head) > 16<<20 {
		k.decide()
	}
}

func (k *intake) decide() {
	note := ""
	if k.weights, note = direction(k.in, k.pick, k.head); note != "" {
		k.notes = append(k.notes, note)
	}
	k.keep(k.head)
	k.head = nil
}

func (k *intake) keep(x []float64) {
	k.mono = projectInto(k.mono, x, k.weights)
	k.out = k.d.Write(k.out[:0], k.mono)
	k.t.write(k.out)
}

// finish drives the last samples out of the filters.
func (k *intake) finish() {
	if k.weights == nil && len(k.head) > 0 {
		k.decide()
	}
	whole := int(math.Ceil(k.frames / float64(k.d.Factor())))
	k.out = k.d.Write(k.out[:0], make([]float64, 64*k.d.Factor()))
	k.t.write(k.out[:max(0, min(len(k.out), whole-k.t.len()))])
}

// projectInto is project into a slice that is used again.
func projectInto(dst, all, direction []float64) []float64 {
	n := len(direction)
	frames := len(all) / n
	if cap(dst) < frames {
		dst = make([]float64, frames)
	}
	dst = dst[:frames]
	clear(dst)
	for c, w := range direction {
		if w == 0 {
			continue
		}
		for i := range dst {
			dst[i] += w * all[i*n+c]
		}
	}
	return dst
}

// remark adds what the reader should know about the result as a whole.
func (h *Heard) remark(o ListenOptions) {
	if len(h.Passes) > 1 && !h.Info.Lossy && h.Info.FullScale == 1 {
		h.Notes = append(h.Notes, "levels are compared within this recording only; a phone that levels the sound as it goes hides growth")
	}
	if h.Info.Lossy {
		h.Notes = append(h.Notes, "levels from a compressed recording are rough, and growth from pass to pass is rough with them")
	}
	if h.Speed.Verdict != SpeedAgrees && h.Speed.Heard.Value == 0 && o.Given > 0 {
		h.Notes = append(h.Notes, "lines tied to the spindle are not marked, because its speed could not be heard; free tones may be gears")
	}
}
