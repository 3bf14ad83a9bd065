package sound

import (
	"context"
	"errors"

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
	Pick     Pick            // which channel, default the mean
	Low      unit.Frequency  // lowest tone sought; default 40 Hz
	High     unit.Frequency  // highest tone sought; default 5 kHz
	Most     unit.Time       // longest recording; default two hours
	Progress func(unit.Time) // called about once per second of recording; may be nil
}

// Pass is one stretch in which the tool was cutting.
type Pass struct {
	Start, End unit.Time
	Level      float64 // rms against full scale, in dB
	Above      float64 // level above the background between passes, in dB
	Tones      []Tone  // strongest first
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
	Level      float64      // rms against full scale, in dB
	Prominence float64      // above the spectrum around it, in dB
	Steady     float64      // share of the pass during which it stood out, 0 to 1
	PerTurn    float64      // waves per turn of the spindle; 0 when the speed is not known
	PerTurnSE  float64      // its standard error
	Whole      Whole        //
	Line       string       // name of the known line that it agrees with; empty when free
	Kind       LineKind     // kind of that line
	Multiple   int          // which harmonic of the line
	Track      []TrackPoint // frequency and level along the pass
}

// Free reports whether no known line explains the tone.
func (t Tone) Free() bool { return t.Line == "" }

// TrackPoint is a tone at one instant.
type TrackPoint struct {
	At    unit.Time
	Freq  unit.Frequency
	Level float64 // dB
}

// SpeedVerdict says how the speed heard compares with the speed given.
type SpeedVerdict string

// The answers about the spindle speed.
const (
	SpeedAgrees      SpeedVerdict = "agrees"
	SpeedContradicts SpeedVerdict = "contradicts"
	SpeedCannot      SpeedVerdict = "cannot tell"
)

// Speed is the spindle speed as heard.
type Speed struct {
	Given   unit.Rotation
	Heard   Estimate[unit.Rotation] // zero when it cannot be told
	Verdict SpeedVerdict
	Lines   []string // the lines it rests on: "2 x spindle at 150.0 Hz"
	Reason  string   // in words
}

// Growth is the change of one free tone from pass to pass.
type Growth struct {
	Freq    unit.Frequency
	Passes  []int            // indices of the passes in which it was measured
	Levels  []float64        // dB, one per pass
	PerPass Estimate[Factor] // factor per pass: each pass leaves this times the last
}

// Heard is everything that Listen measured.
type Heard struct {
	Info     Info
	Duration unit.Time
	Step     unit.Time // spacing of Envelope
	Envelope []float64 // level in dB against full scale
	Passes   []Pass
	Speed    Speed
	Growth   []Growth
	Picture  *Spectrogram // of the whole recording, small enough for a screen
	Notes    []string
}

// Listen measures a recording of cutting, reading the stream once.
func Listen(ctx context.Context, s Stream, o ListenOptions) (*Heard, error) {
	return nil, errors.New("not built yet")
}
