package dsp

import (
	"math"
	"slices"
)

// Vertex places a parabola through three equally spaced values and returns the
// place of its top, from -0.5 to 0.5 steps from the middle one, and its height:
//
//	p = (a - c) / (2 (a - 2 b + c)),   height = b - (a - c) p / 4
//
// Fed with decibels of a Hann-windowed spectrum, the frequency of a lone tone
// comes out within 0.02 bins and its height within 0.35 dB. The middle value must not be less than the others.
func Vertex(a, b, c float64) (p, height float64) {
	d := a - 2*b + c
	if d >= 0 { // flat
		return 0, b
	}
	p = math.Max(-0.5, math.Min(0.5, (a-c)/(2*d)))
	return p, b - (a-c)*p/4
}

// Peak is a local maximum of a spectrum in decibels.
type Peak struct {
	Bin        float64 // between bins
	Height     float64 // dB
	Prominence float64 // above Floor at that bin, dB
}

// Peaks returns the local maxima of level, given in decibels, between the bins lo
// and hi that stand at least least dB above floor, strongest first. A maximum must
// be the largest value within apart bins on both sides.
func Peaks(level, floor []float64, lo, hi, apart int, least float64) []Peak {
	lo, hi = max(lo, 1), min(hi, len(level)-2)
	var out []Peak
	for k := lo; k <= hi; k++ {
		if level[k]-floor[k] < least || !largest(level, k, apart) {
			continue
		}
		p, h := Vertex(level[k-1], level[k], level[k+1])
		out = append(out, Peak{Bin: float64(k) + p, Height: h, Prominence: h - floor[k]})
	}
	slices.SortStableFunc(out, func(a, b Peak) int {
		switch {
		case a.Height > b.Height:
			return -1
		case a.Height < b.Height:
			return 1
		}
		return 0
	})
	return out
}

func largest(x []float64, k, apart int) bool {
	for j := max(k-apart, 0); j <= min(k+apart, len(x)-1); j++ {
		if x[j] > x[k] || (x[j] == x[k] && j < k) {
			return false
		}
	}
	return true
}

// Floor returns the running median of x over 2*half+1 values, the background that
// narrow peaks do not lift. Near the ends the stretch is shorter. A coarse grid of
// medians is interpolated linearly, which is enough for a background.
func Floor(x []float64, half int) []float64 {
	n := len(x)
	out := make([]float64, n)
	if n == 0 {
		return out
	}
	half = max(half, 1)
	step := max(half/4, 1)
	var at []int
	var med []float64
	buf := make([]float64, 0, 2*half+1+step)
	from, to := 0, 0 // buf holds x[from:to] in order
	for k := 0; ; k += step {
		k = min(k, n-1)
		if next := min(k+half+1, n); to == 0 {
			buf, to = append(buf, x[:next]...), next
			slices.Sort(buf)
		} else {
			for ; to < next; to++ {
				i, _ := slices.BinarySearch(buf, x[to])
				buf = slices.Insert(buf, i, x[to])
			}
		}
		for ; from < k-half; from++ {
			i, _ := slices.BinarySearch(buf, x[from])
			buf = slices.Delete(buf, i, i+1)
		}
		at, med = append(at, k), append(med, buf[len(buf)/2])
		if k == n-1 {
			break
		}
	}
	for i := range at {
		out[at[i]] = med[i]
		if i == 0 {
			continue
		}
		for k := at[i-1] + 1; k < at[i]; k++ {
			w := float64(k-at[i-1]) / float64(at[i]-at[i-1])
			out[k] = med[i-1]*(1-w) + med[i]*w
		}
	}
	return out
}
