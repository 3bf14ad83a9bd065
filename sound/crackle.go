package sound

import (
	"math"
	"slices"

	"thrum/internal/dsp"
)

// Settings of the search for crackle.
const (
	crackleCell  = 0.005 // s; about the length of one burst
	crackleLow   = 800   // Hz; below it bursts drown in hum and tones
	crackleBands = 4     // a burst lifts all of them at once, a swelling tone only one
	crackleSpan  = 0.12  // s over which the loudness is levelled out: gain control and run-out are slower
	crackleMost  = 20    // s of a pass looked at
)

// crackle measures short bursts over all frequencies, as torn metal makes them. The
// band above 800 Hz is parted into four; in each the loudness of 5 ms cells is
// set against its own median over 0.12 s; of the four the mean of the middle two
// counts, so that one tone that swells does not. The result is how far the loudest
// hundredth of the cells stands above the median, in dB. An even hiss gives about
// 2, single clicks in a hiss 5 and more.
func (t *taken) crackle(parts []stretch, o ListenOptions) float64 {
	n := 16
	for float64(n)/t.rate < crackleCell {
		n *= 2
	}
	q := dsp.NewPeriodogram(n, dsp.Hann)
	lo, hi := int(math.Ceil(crackleLow*float64(n)/t.rate)), int(o.High.Hz()*float64(n)/t.rate)
	if hi-lo < 2*crackleBands {
		return 0
	}
	half := int(crackleSpan * t.rate / float64(n) / 2)
	var rises []float64
	x, power := make([]float64, n), make([]float64, q.Bins())
	for _, s := range parts {
		cells := min((s.to-s.from)/n, int(crackleMost*t.rate)/n)
		if cells < 4*half {
			continue
		}
		var bands [crackleBands][]float64
		for c := range cells {
			t.read(x, s.from+c*n)
			clear(power)
			q.Power(power, x)
			for b := range bands {
				sum := 0.0
				for _, v := range power[lo+(hi-lo)*b/crackleBands : lo+(hi-lo)*(b+1)/crackleBands] {
					sum += v
				}
				bands[b] = append(bands[b], dsp.DB(sum))
			}
		}
		for b := range bands {
			floor := dsp.Floor(bands[b], half)
			for c := range bands[b] {
				bands[b][c] -= floor[c]
			}
		}
		for c := range cells {
			v := [crackleBands]float64{}
			for b := range bands {
				v[b] = bands[b][c]
			}
			slices.Sort(v[:])
			rises = append(rises, (v[crackleBands/2-1]+v[crackleBands/2])/2)
		}
	}
	if len(rises) < 100 {
		return 0
	}
	return quantile(rises, 0.99) - quantile(rises, 0.5)
}
