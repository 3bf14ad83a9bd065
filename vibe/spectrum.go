package vibe

import (
	"math"
	"math/cmplx"

	"thrum/unit"
)

// spectrum holds 1/|T|^2 at the frequencies of a Holding. For a single mode it is
// a parabola in the square of the frequency, so that three neighbours give peaks
// and edges between the samples without error; for several modes nearly so.
type spectrum []float64

// still stands for a frequency at which nothing is carried over.
const still = 1e30

// spectrum samples a pass. rub is C/v in N s/mm^2. A spring pass leaves waves as they
// are.
func (h *Holding) spectrum(sampled []compliance, g *Gain, cut, rub float64, dst spectrum) spectrum {
	dst = dst[:0]
	if g.Spring() {
		for range h.hz {
			dst = append(dst, 1)
		}
		return dst
	}
	if !g.plain(sampled[0]) { // a slant shows at every frequency
		if c := sampled[0]; c.xz == 0 && c.xy == 0 && c.zy == 0 {
			return h.coupled(sampled, g, cut, rub, dst)
		}
		for i, hz := range h.hz {
			dst = append(dst, 1/max(size(g.carryOver(sampled[i], cut, rub*2*math.Pi*hz)), 1/still))
		}
		return dst
	}
	kx, kz := cut*float64(g.Radial), cut*float64(g.Axial)
	dx, dz := rub*2*math.Pi*g.rub[0], rub*2*math.Pi*g.rub[1]
	for i, hz := range h.hz {
		c := &sampled[i]
		dst = append(dst, 1/max(part(c.xx, kx, dx*hz), part(c.zz, kz, dz*hz), 1/still))
	}
	return dst
}

// coupled samples a pass whose edges couple the two directions while work and tool
// do not, which is the usual compound infeed: Gain.carryOver with what is zero left
// out.
func (h *Holding) coupled(sampled []compliance, g *Gain, cut, rub float64, dst spectrum) spectrum {
	xx, zz, xz := cut*float64(g.Radial), cut*float64(g.Axial), cut*float64(g.Cross)
	det := xx*zz - xz*xz
	for i, hz := range h.hz {
		w := rub * 2 * math.Pi * hz
		p, q := sampled[i].xx, sampled[i].zz
		dx, dz, dc := w*g.rub[0], w*g.rub[1], w*g.rub[2]
		mxx, mzz := 1+p*complex(xx, dx), 1+q*complex(zz, dz)
		cross := complex(xz, dc)
		pq := p * q
		inv := inverse(mxx*mzz - pq*cross*cross)
		half := (mzz*p*complex(xx, 0) + mxx*q*complex(zz, 0) - pq*cross*complex(2*xz, 0)) * inv / 2
		t := larger(half, pq*complex(det, 0)*inv)
		dst = append(dst, 1/max(size(t), 1/still))
	}
	return dst
}

// parabola returns a + b (x - x1) + c (x - x1)^2 through three points.
func parabola(x0, y0, x1, y1, x2, y2 float64) (a, b, c float64) {
	d0, d2 := (y0-y1)/(x0-x1), (y2-y1)/(x2-x1)
	c = (d2 - d0) / (x2 - x0)
	return y1, d0 - c*(x0-x1), c
}

// lowest returns the least value of the parabola through sample i and its
// neighbours, and where it stands; false when i is not a local minimum.
func (h *Holding) lowest(s spectrum, i int) (x, y float64, ok bool) {
	if i == 0 || i == len(s)-1 || s[i] > s[i-1] || s[i] > s[i+1] {
		return 0, 0, false
	}
	a, b, c := parabola(h.x[i-1], s[i-1], h.x[i], s[i], h.x[i+1], s[i+1])
	if c <= 0 {
		return h.x[i], a, true
	}
	dx := min(max(-b/(2*c), h.x[i-1]-h.x[i]), h.x[i+1]-h.x[i])
	return h.x[i] + dx, max(a+dx*(b+c*dx), 1/still), true
}

// peak returns the frequency at which the most is carried over; zero when that
// is not at a resonance but at the slow end, where work and tool just give.
func (h *Holding) peak(s spectrum) unit.Frequency {
	best, where := s[0], 0.0
	for i := range s {
		if x, y, ok := h.lowest(s, i); ok && y < best {
			best, where = y, math.Sqrt(x)
		}
	}
	return unit.Frequency(where)
}

// bands returns where |T| > 1.
func (h *Holding) bands(s spectrum) []Band {
	var out []Band
	open := s[0] < 1
	low := h.hz[0]
	for i := 1; i < len(s); i++ {
		switch {
		case !open && s[i] < 1:
			low, open = h.crossing(s, i-1), true
		case open && s[i] >= 1:
			out, open = append(out, Band{unit.Frequency(low), unit.Frequency(h.crossing(s, i-1))}), false
		case !open && i < len(s)-1 && s[i+1] >= 1:
			if b, ok := h.between(s, i); ok {
				out = append(out, b)
			}
		}
	}
	if open {
		out = append(out, Band{unit.Frequency(low), unit.Frequency(h.hz[len(s)-1])})
	}
	return out
}

// crossing is where s passes 1 between samples i and i+1.
func (h *Holding) crossing(s spectrum, i int) float64 {
	j := min(max(i, 1), len(s)-2)
	if i+2 < len(s)-1 && s[i+1] < s[i] { // take the three points on the side of the peak
		j = i + 1
	}
	a, b, c := parabola(h.x[j-1], s[j-1], h.x[j], s[j], h.x[j+1], s[j+1])
	lo, hi := h.x[i], h.x[i+1]
	rising := s[i+1] > s[i]
	for range 40 {
		x := (lo + hi) / 2
		d := x - h.x[j]
		if (a+d*(b+c*d) > 1) == rising {
			hi = x
		} else {
			lo = x
		}
	}
	return math.Sqrt(lo)
}

// between finds a band so narrow that it lies between two samples.
func (h *Holding) between(s spectrum, i int) (Band, bool) {
	if _, y, ok := h.lowest(s, i); !ok || y >= 1 {
		return Band{}, false
	}
	a, b, c := parabola(h.x[i-1], s[i-1], h.x[i], s[i], h.x[i+1], s[i+1])
	disc := b*b - 4*c*(a-1)
	if c <= 0 || disc <= 0 {
		return Band{}, false
	}
	r := math.Sqrt(disc)
	return Band{unit.Frequency(math.Sqrt(h.x[i] + (-b-r)/(2*c))), unit.Frequency(math.Sqrt(h.x[i] + (-b+r)/(2*c)))}, true
}

// at interpolates s at hz[i] times the shift, for all i.
type shift struct {
	by      int
	weights [3]float64
}

// shifted prepares to read spectra at all frequencies times q. The samples stand
// in equal ratios, so the same three weights serve everywhere.
func shifted(q, ratio float64) shift {
	steps := math.Log(q) / math.Log(ratio)
	by := math.Round(steps)
	t := math.Pow(ratio, 2*(steps-by)) // in squares of frequency, relative to the middle sample
	lo, hi := 1/(ratio*ratio), ratio*ratio
	return shift{int(by), [3]float64{
		(t - 1) * (t - hi) / ((lo - 1) * (lo - hi)),
		(t - lo) * (t - hi) / ((1 - lo) * (1 - hi)),
		(t - lo) * (t - 1) / ((hi - lo) * (hi - 1)),
	}}
}

// read returns s at hz[i] times the shift's ratio; beyond the ends, the end's value.
func (f shift) read(s spectrum, i int) float64 {
	j := min(max(i+f.by, 1), len(s)-2)
	if j != i+f.by {
		return s[min(max(i+f.by, 0), len(s)-1)]
	}
	return max(f.weights[0]*s[j-1]+f.weights[1]*s[j]+f.weights[2]*s[j+1], 1/still)
}

// exactAt is T of a pass at one frequency.
func (p *place) exactAt(f unit.Frequency, g *Gain, s scale, rub float64) complex128 {
	if g.Spring() {
		return 1
	}
	return g.carryOver(p.exact(f, s), s.cut, rub*2*math.Pi*f.Hz())
}

// largest returns the largest carry-over and its frequency, zero when that is
// the static give.
func (h *Holding) largest(p *place, g *Gain, s scale, rub float64, sp spectrum) (float64, unit.Frequency) {
	if g.Spring() {
		return 1, 0
	}
	f := h.peak(sp)
	return cmplx.Abs(p.exactAt(f, g, s, rub)), f
}

// margin returns by how much the gain of a pass may rise before waves grow at any
// frequency, rubbing left out, and at which frequency they would.
func (h *Holding) margin(p *place, g *Gain) (float64, unit.Frequency) {
	best, at := math.Inf(1), -1
	for i := range p.sampled {
		if m := g.margin(&p.sampled[i]); m < best {
			best, at = m, i
		}
	}
	if at < 1 || at == len(h.hz)-1 {
		return best, 0
	}
	lo, hi := h.hz[at-1], h.hz[at+1]
	value := func(hz float64) float64 { c := p.exact(unit.Frequency(hz), likely); return g.margin(&c) }
	for range 12 {
		third := (hi - lo) / 3
		if a, b := value(lo+third), value(hi-third); a < b {
			hi, best = hi-third, min(best, a)
		} else {
			lo, best = lo+third, min(best, b)
		}
	}
	return best, unit.Frequency((lo + hi) / 2)
}
