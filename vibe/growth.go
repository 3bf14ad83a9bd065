package vibe

import (
	"math"

	"thrum/cut"
	"thrum/unit"
)

// run is a schedule made ready: gains, speeds and which earlier pass each one
// cuts again.
type run struct {
	h      *Holding
	p      *place
	gains  []Gain
	speeds []unit.Rotation
	memory []int
	rub    []float64 // C/v of each pass, N s/mm^2
	trial  trial
	give   []compliance // of the place under the trial
}

// under returns the run with uncertain things as in a trial.
func (r *run) under(t trial, d unit.Length) *run {
	v := *r
	v.trial, v.rub = t, make([]float64, len(r.speeds))
	for k, n := range r.speeds {
		v.rub[k] = rubs(t.process, n, d)
	}
	v.give = r.p.varied(r.h.hz, t.scale)
	return &v
}

// at puts the run at a place.
func (r *run) at(p *place) {
	r.p, r.give = p, p.varied(r.h.hz, r.trial.scale)
}

// largest returns the largest carry-over of pass k and its frequency, from its
// spectrum.
func (r *run) largest(k int, sp spectrum) (float64, unit.Frequency) {
	return r.h.largest(r.p, &r.gains[k], r.trial.scale, r.rub[k], sp)
}

// exactAt is T of pass k at a frequency.
func (r *run) exactAt(k int, f unit.Frequency) complex128 {
	return r.p.exactAt(f, &r.gains[k], r.trial.scale, r.rub[k])
}

// exactOwn is T of pass k and what it leaves of a starter's own wave.
func (r *run) exactOwn(k int, f unit.Frequency) (t, own complex128) {
	t = r.exactAt(k, f)
	g := &r.gains[k]
	if g.Spring() {
		return t, 1 - t
	}
	return t, g.ownWave(r.p.exact(f, r.trial.scale), r.trial.cut, r.rub[k]*2*math.Pi*f.Hz(), t)
}

// one samples pass k with its own or another rub.
func (r *run) one(k int, rub float64, dst spectrum) spectrum {
	return r.h.spectrum(r.give, &r.gains[k], r.trial.cut, rub, dst)
}

// rubs returns C/v, the rubbing force per speed of movement and length of edge.
func rubs(c unit.Stiffness, n unit.Rotation, d unit.Length) float64 {
	return float64(c) / n.Surface(d).MMPerS()
}

// memories tells for each pass which one before it left the surface it cuts: 1,
// or 2 where it works one flank and the last pass worked the other.
func memories(chips []cut.Chip) []int {
	const oneSided = 4 // how much thicker a flank's chip must be than the other's
	side := func(c cut.Chip) int {
		l, t := c.Edges[cut.LeadingFlank].Thickness, c.Edges[cut.TrailingFlank].Thickness
		switch {
		case l > oneSided*t:
			return 1
		case t > oneSided*l:
			return -1
		}
		return 0
	}
	out := make([]int, len(chips))
	for i := range chips {
		out[i] = 1
		if i > 0 && side(chips[i])*side(chips[i-1]) < 0 {
			out[i] = 2
		}
	}
	return out
}

// grown returns, for each frequency of the holding at the speed ref, 1/G^2 of the
// waves after the last pass: G is the largest product of carry-overs from any
// pass to the end, for a wave of the same size may start in every pass.
func (r *run) grown(sp []spectrum, ref unit.Rotation, dst spectrum) spectrum {
	n := len(sp)
	shifts := make([]shift, n)
	for k := range sp {
		shifts[k] = shifted(float64(r.speeds[k]/ref), r.h.ratio)
	}
	dst = dst[:0]
	chain := make([]float64, n)
	for i := range r.h.hz {
		for k := range sp {
			before := 1.0 // 1/G^2 of what this pass meets, at most that of a fresh wave
			if b := k - r.memory[k]; b >= 0 {
				before = min(chain[b], 1)
			}
			t := sp[k][i]
			if shifts[k].by != 0 || r.speeds[k] != ref {
				t = shifts[k].read(sp[k], i)
			}
			chain[k] = before * t
		}
		dst = append(dst, r.left(chain))
	}
	return dst
}

// left is what stands on the thread at the end: what the last pass left, and with
// alternating flanks what the last but one left on the other.
func (r *run) left(chain []float64) float64 {
	n := len(chain)
	if n > 1 && r.memory[n-1] == 2 {
		return min(chain[n-1], chain[n-2])
	}
	return chain[n-1]
}

// exact is G for one wave, given by its frequency at the speed ref.
func (r *run) exact(f unit.Frequency, ref unit.Rotation) float64 {
	chain := make([]float64, len(r.gains))
	for k := range r.gains {
		before := 1.0
		if b := k - r.memory[k]; b >= 0 {
			before = min(chain[b], 1)
		}
		t := size(r.exactAt(k, f*unit.Frequency(r.speeds[k]/ref)))
		chain[k] = before / max(t, 1/still)
	}
	return 1 / math.Sqrt(r.left(chain))
}

// lowest finds the least of a product of as many parabolas as there are passes, and
// its frequency, zero at the slow end: their nth root is nearly a parabola again.
func (r *run) lowest(product spectrum) (unit.Frequency, float64) {
	n := float64(len(r.gains))
	at, least := unit.Frequency(0), product[0]
	var near [3]float64
	for i := 1; i < len(product)-1; i++ {
		if product[i] > product[i-1] || product[i] > product[i+1] {
			continue
		}
		for j := range near {
			near[j] = math.Pow(product[i-1+j], 1/n)
		}
		x := r.h.x[i-1 : i+2]
		y, b, c := parabola(x[0], near[0], x[1], near[1], x[2], near[2])
		dx := 0.0
		if c > 0 {
			dx = min(max(-b/(2*c), x[0]-x[1]), x[2]-x[1])
			y += dx * (b + c*dx)
		}
		if v := min(math.Pow(max(y, 1e-9), n), product[i]); v < least {
			at, least = unit.Frequency(math.Sqrt(x[1]+dx)), v
		}
	}
	return at, least
}

// most returns the largest growth of any wave and its frequency at the speed ref,
// looked for once more close by.
func (r *run) most(sp []spectrum, ref unit.Rotation) (float64, unit.Frequency) {
	f, _ := r.lowest(r.grown(sp, ref, nil))
	best := r.exact(f, ref)
	if f == 0 {
		return best, f
	}
	root := -2 / float64(len(sp))
	d := unit.Frequency(1 + 0.2*(r.h.ratio-1))
	x := func(f unit.Frequency) float64 { return f.Hz() * f.Hz() }
	y := func(f unit.Frequency) float64 { return math.Pow(r.exact(f, ref), root) }
	if _, b, c := parabola(x(f/d), y(f/d), x(f), math.Pow(best, root), x(f*d), y(f*d)); c > 0 {
		moved := min(max(x(f)-b/(2*c), x(f/d)), x(f*d))
		g := unit.Frequency(math.Sqrt(moved))
		if v := r.exact(g, ref); v > best {
			return v, g
		}
	}
	return best, f
}

// spectra samples every pass.
func (r *run) spectra() []spectrum {
	out := make([]spectrum, len(r.gains))
	all := make([]float64, len(r.gains)*len(r.h.hz))
	for k := range r.gains {
		out[k] = r.one(k, r.rub[k], all[k*len(r.h.hz):k*len(r.h.hz):(k+1)*len(r.h.hz)])
	}
	return out
}
