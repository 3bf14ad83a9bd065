package sound

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"thrum/unit"
)

// Pick says how the channels of a recording become one. The zero value takes the
// louder channel of a stereo sound, and the principal direction of an
// accelerometer log.
//
// The length of the acceleration vector is never used: it folds each swing over,
// so that every tone would be heard an octave high.
type Pick struct {
	Channel   int  // 1 for the first channel, 0 to leave the choice to the rule above
	Principal bool // the direction in which most of the movement lies, for sound too
}

// Recording is one channel held in memory.
type Recording struct {
	Info      Info
	Rate      unit.Frequency
	Samples   []float64
	Direction []float64 // weight of each channel in Samples
	Notes     []string
}

// Duration returns the length of the recording.
func (r *Recording) Duration() unit.Time {
	return unit.Time(float64(len(r.Samples)) / r.Rate.Hz())
}

// defaultMost is the longest recording that Load takes when nothing is said.
const defaultMost = unit.Time(600)

// maxLoaded bounds what Load holds, whatever the rate and the channels.
const maxLoaded = 64 << 20 // samples

// Load reads a stream to its end, but no longer than most (ten minutes when zero),
// and makes one channel of it.
func Load(s Stream, p Pick, most unit.Time) (*Recording, error) {
	if most <= 0 {
		most = defaultMost
	}
	in := s.Info()
	if p.Channel < 0 || p.Channel > in.Channels {
		return nil, &unit.InputError{Field: "channel", Value: fmt.Sprint(p.Channel), Reason: fmt.Sprintf("the recording has %d", in.Channels), Hint: "count from 1"}
	}
	limit := int(math.Min(most.S()*in.Rate.Hz(), maxLoaded/float64(in.Channels))) * in.Channels
	var all []float64
	buf := make([]float64, 8192*in.Channels)
	for {
		n, err := s.Read(buf)
		all = append(all, buf[:n*in.Channels]...)
		if len(all) > limit {
			return nil, damaged(in.Container, fmt.Sprintf("is longer than %.0f s", float64(limit/in.Channels)/in.Rate.Hz()), "cut out the part that matters")
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
	}
	r := &Recording{Info: s.Info(), Rate: in.Rate}
	if len(all) == 0 {
		return nil, damaged(in.Container, "holds no samples", "")
	}
	var note string
	r.Direction, note = direction(r.Info, p, all)
	r.Notes = append(r.Notes, r.Info.Notes...)
	if note != "" {
		r.Notes = append(r.Notes, note)
	}
	r.Samples = project(all, r.Direction)
	return r, nil
}

// project returns the weighted sum of the channels.
func project(all, direction []float64) []float64 {
	n := len(direction)
	out := make([]float64, len(all)/n)
	for i := range out {
		for c, w := range direction {
			out[i] += w * all[i*n+c]
		}
	}
	return out
}

// direction returns the weight of each channel and a sentence about the choice.
func direction(in Info, p Pick, all []float64) (weights []float64, note string) {
	n := in.Channels
	weights = make([]float64, n)
	switch {
	case n == 1:
		weights[0] = 1
		return weights, ""
	case p.Channel > 0:
		weights[p.Channel-1] = 1
		return weights, "channel " + channelName(in, p.Channel-1)
	case in.Container == Series || p.Principal:
		weights = principal(all, n)
		parts := make([]string, n)
		for c, w := range weights {
			parts[c] = fmt.Sprintf("%+.2f %s", w, channelName(in, c))
		}
		return weights, "along the direction of most movement: " + strings.Join(parts, " ")
	}
	best, most := 0, -1.0
	for c := range n {
		if v := covariance(all, n, c, c); v > most {
			best, most = c, v
		}
	}
	weights[best] = 1
	return weights, fmt.Sprintf("channel %d of %d, the loudest", best+1, n)
}

func channelName(in Info, c int) string {
	if c < len(in.Names) && in.Names[c] != "" {
		return in.Names[c]
	}
	return fmt.Sprint(c + 1)
}

// covariance returns the covariance of two channels. Slow changes, such as gravity
// on a telephone that is moved, are kept out by taking it of the differences from
// one sample to the next.
func covariance(all []float64, n, a, b int) float64 {
	s := 0.0
	for i := n; i+n <= len(all); i += n {
		s += (all[i+a] - all[i-n+a]) * (all[i+b] - all[i-n+b])
	}
	return s
}

// principal returns the eigenvector of the largest eigenvalue of the covariance,
// its largest part positive.
func principal(all []float64, n int) []float64 {
	m := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			m.SetSym(a, b, covariance(all, n, a, b))
		}
	}
	w := make([]float64, n)
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		w[0] = 1
		return w
	}
	var v mat.Dense
	e.VectorsTo(&v)
	mat.Col(w, n-1, &v) // eigenvalues come in rising order
	big := 0
	for c := range w {
		if math.Abs(w[c]) > math.Abs(w[big]) {
			big = c
		}
	}
	if w[big] < 0 {
		for c := range w {
			w[c] = -w[c]
		}
	}
	return w
}
