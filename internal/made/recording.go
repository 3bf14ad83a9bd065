package made

import (
	"encoding/binary"
	"io"
	"math"
	"math/rand/v2"

	"thrum/unit"
	"thrum/vibe"
)

// Ear is how a cut is listened to.
type Ear struct {
	Rate  unit.Frequency // samples per second; zero: 44100
	Gap   unit.Time      // between passes, before the first and after the last; zero: 1.2 s
	Full  unit.Velocity  // of vibration at which the recording is full; zero: so that its loudest is half
	Noise float64        // of the room, rms with full scale 1; zero: 0.002
	Tones []Tone         // that sound all the time, such as motor and mains
	Mesh  []Tone         // that sound while the spindle turns under a cut; Waves count
	Seed  uint64
}

// Tone is a sine that belongs to the lathe and not to the cut.
type Tone struct {
	Frequency unit.Frequency
	Waves     float64 // a turn of the spindle, for a wheel's teeth, in place of Frequency
	Level     float64 // amplitude with full scale 1
}

// Recording is what was made to be heard.
type Recording struct {
	Samples []float64 // within -1 and 1
	Rate    unit.Frequency
	Passes  []Span        // where each pass cuts
	Full    unit.Velocity // speed of vibration of full scale: give it to the next Ear to compare levels
}

// Span is a piece of a recording.
type Span struct{ Start, End unit.Time }

const loudest = 0.5

// Listen turns a simulation that kept its Series into a recording. The sound pressure
// is taken as proportional to the speed of the vibration between tool and work,
//
//	p = (radial' + axial') / Full + noise + tones
//
// as a surface that is large beside the wave in air radiates; a small one radiates
// less of the low tones. Between passes there is the room only.
func Listen(s *vibe.Simulation, e Ear) *Recording {
	if e.Rate == 0 {
		e.Rate = 44100
	}
	if e.Gap == 0 {
		e.Gap = 1.2
	}
	if e.Noise == 0 {
		e.Noise = 0.002
	}
	rate := e.Rate.Hz()
	r := &Recording{Rate: e.Rate}
	r.silence(e.Gap)
	for _, p := range s.Passes {
		if p.Series == nil {
			continue
		}
		start := len(r.Samples)
		r.Samples = append(r.Samples, resampled(speed(p.Series), p.Rate.Hz(), rate)...)
		r.Passes = append(r.Passes, Span{unit.Time(float64(start) / rate), unit.Time(float64(len(r.Samples)) / rate)})
		r.silence(e.Gap)
	}
	r.Full = e.Full
	if r.Full == 0 {
		most := 0.0
		for _, v := range r.Samples {
			most = max(most, math.Abs(v))
		}
		r.Full = unit.Velocity(max(most, 1e-9) / loudest)
	}
	random := rand.New(rand.NewPCG(e.Seed, 0x50))
	pass := 0
	for i, v := range r.Samples {
		t := float64(i) / rate
		v = v/float64(r.Full) + e.Noise*random.NormFloat64()
		for _, tone := range e.Tones {
			v += tone.Level * math.Sin(2*math.Pi*tone.Frequency.Hz()*t)
		}
		for pass < len(r.Passes) && t > r.Passes[pass].End.S() {
			pass++
		}
		if pass < len(r.Passes) && t >= r.Passes[pass].Start.S() {
			for _, m := range e.Mesh {
				v += m.Level * math.Sin(2*math.Pi*m.Waves*s.Passes[pass].Speed.Hz().Hz()*t)
			}
		}
		r.Samples[i] = min(max(v, -1), 1)
	}
	return r
}

func (r *Recording) silence(d unit.Time) {
	r.Samples = append(r.Samples, make([]float64, int(d.S()*r.Rate.Hz()))...)
}

// speed is how fast tool and work move against each other, in mm/s.
func speed(s *vibe.Series) []float64 {
	out := make([]float64, len(s.Radial))
	for i := 1; i < len(out); i++ {
		out[i] = (s.Radial[i] - s.Radial[i-1] + s.Axial[i] - s.Axial[i-1]).MM() / s.Step.S()
	}
	return out
}

// resampled brings a series to another rate by the mean over each new sample's
// time, or between the two nearest where the new rate is the higher one. Above a
// quarter of the lower rate levels are no longer true.
func resampled(x []float64, from, to float64) []float64 {
	sum := make([]float64, len(x)+1) // whose differences are the means
	for i, v := range x {
		sum[i+1] = sum[i] + v
	}
	until := func(t float64) float64 { // of the sum at a step and its part
		t = min(max(t, 0), float64(len(x)))
		i := min(int(t), len(x)-1)
		return sum[i] + (t-float64(i))*x[i]
	}
	n, per := int(float64(len(x))*to/from), from/to
	wide := max(per, 1)
	out := make([]float64, n)
	for i := range out {
		mid := (float64(i) + 0.5) * per
		out[i] = (until(mid+wide/2) - until(mid-wide/2)) / wide
	}
	return out
}

// WAV writes the recording as 16 bit mono.
func (r *Recording) WAV(w io.Writer) error {
	n := len(r.Samples) * 2
	rate := uint32(math.Round(r.Rate.Hz()))
	head := make([]byte, 0, 44)
	head = append(head, "RIFF"...)
	head = binary.LittleEndian.AppendUint32(head, uint32(36+n))
	head = append(head, "WAVEfmt "...)
	for _, v := range []any{uint32(16), uint16(1), uint16(1), rate, 2 * rate, uint16(2), uint16(16)} {
		switch v := v.(type) {
		case uint16:
			head = binary.LittleEndian.AppendUint16(head, v)
		case uint32:
			head = binary.LittleEndian.AppendUint32(head, v)
		}
	}
	head = append(head, "data"...)
	head = binary.LittleEndian.AppendUint32(head, uint32(n))
	if _, err := w.Write(head); err != nil {
		return err
	}
	body := make([]byte, n)
	for i, v := range r.Samples {
		binary.LittleEndian.PutUint16(body[2*i:], uint16(int16(math.Round(min(max(v, -1), 1)*32767))))
	}
	_, err := w.Write(body)
	return err
}
