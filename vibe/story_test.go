package vibe

import (
	"fmt"
	"math"
	"testing"

	"thrum/cut"
	"thrum/internal/outside"
	"thrum/unit"
)

// runs is over how many seeds a random cut is averaged.
const runs = 8

// rmsOver is the waviness after each pass in um, over several seeds.
func rmsOver(t *testing.T, in Cutting) []float64 {
	t.Helper()
	out := make([]float64, len(in.Passes))
	for seed := range uint64(runs) {
		in.Seed = seed
		for k, p := range simulate(t, in).Passes {
			out[k] += math.Pow(1000*p.Waviness[0].MM(), 2) / runs
		}
	}
	for k := range out {
		out[k] = math.Sqrt(out[k])
	}
	return out
}

// TestWhiteSurface compares waves that grow out of a white surface with the power spectrum.
func TestWhiteSurface(t *testing.T) {
	got := map[float64][]float64{}
	for _, r := range rowsOf(t, inTime, "white") {
		q, n := r.number[0], int(r.number[1])
		if got[q] == nil {
			in := cutting(t, q, 10)
			in.Linear, in.Rough = true, 0.0001
			got[q] = rmsOver(t, in)
		}
		// 16 to 100 waves of the band fit into the thread of 8 runs: a tenth of scatter
		claim(t, fmt.Sprintf("white surface of 0.1 um, b = %g b_lim: waviness after pass %d, mean of %d runs", q, n, runs), powers, r.number[2], got[q][n-1], 0.2, "um rms")
	}
	for _, r := range rowsOf(t, inTime, "ratio") {
		in := cutting(t, 1.5, 11)
		in.Linear, in.Rough = true, 0.0001
		in.Passes[10].Speed = unit.Rotation(200 * r.number[0])
		g := rmsOver(t, in)
		claim(t, fmt.Sprintf("white surface, ten passes, b = 1.5 b_lim, one more at %g of the speed: what it leaves, mean of %d runs", r.number[0], runs), powers, r.number[1], g[10]/g[9], 0.1, "")
	}
}

// story is one of the script's stories.
func story(t *testing.T, name string) Cutting {
	deep := func(n int, d float64) (out []float64) {
		for range n {
			out = append(out, d)
		}
		return
	}
	nine := deep(9, 0.05)
	s := map[string]struct {
		q      float64
		infeed []float64
		slow   func(k int) float64
	}{
		"b0.8":       {0.8, deep(12, 0.05), nil},
		"b1.5":       {1.5, deep(12, 0.05), nil},
		"b2":         {2, deep(12, 0.05), nil},
		"alternate":  {2, deep(12, 0.05), func(k int) float64 { return 200 - 30*float64(k%2) }},
		"clean":      {2, deep(12, 0.05), func(k int) float64 { return 200 - 60*float64(k/9) }},
		"light":      {2, append(nine[:9:9], deep(3, 0.015)...), func(k int) float64 { return 200 - 60*float64(k/9) }},
		"spring":     {2, append(nine[:9:9], deep(3, 0)...), nil},
		"springslow": {2, append(nine[:9:9], deep(3, 0)...), func(k int) float64 { return 200 - 60*float64(k/9) }},
	}[name]
	limit, _ := table.Limit(tableK)
	in := Cutting{Holding: single(t, table), Force: evenForce(t, tableK, 1), Diameter: 20, Turns: 4, Rate: 20000, Unsteady: 0.02}
	depth := 0.0
	for k, d := range s.infeed {
		depth += d
		rpm := 200.0
		if s.slow != nil {
			rpm = s.slow(k)
		}
		in.Passes = append(in.Passes, Pass{atDepth(s.q*limit.MM(), d, depth), unit.Rotation(rpm)})
	}
	return in
}

// TestStoriesOfContact compares cuts with a random force and loss of contact with the other program's, as
// means over runs: theirs and ours scatter by a tenth each.
func TestStoriesOfContact(t *testing.T) {
	got := map[string][]float64{}
	for _, r := range rowsOf(t, inTime, "story") {
		name, pass := r.words[0], int(r.number[1])
		if got[name] == nil {
			got[name] = rmsOver(t, story(t, name))
		}
		if pass%3 != 0 && pass < 10 {
			continue
		}
		claim(t, fmt.Sprintf("story %q: waviness after pass %d, mean of runs", name, pass), explicit, r.number[2], got[name][pass-1], 0.3, "um rms")
	}
}

// TestNotedStories holds the same cuts against figures that an earlier independent
// program gave for one run each. They do not say below which frequency their force
// of 2 % is random; with 1 % below 10 kHz the first pass agrees, and nothing else is set.
func TestNotedStories(t *testing.T) {
	const source = "independent computation with numpy, one run each, figures as noted; scatter 20 to 30 %"
	note := func(what string, published, ours float64) {
		outside.Check(t, outside.Claim{What: what, Source: source, Status: outside.Computed, Published: published, Ours: ours, Tolerance: 0.3 * published})
	}
	run := func(name string) []float64 {
		in := story(t, name)
		in.Unsteady = 0.01
		return rmsOver(t, in)
	}
	g := run("b1.5")
	for k, v := range []float64{.044, .066, .095, .13, .19, .26, .37, .53, .76, 1.07, 1.52, 2.22} {
		note(fmt.Sprintf("b = 1.5 b_lim, pass %d: waviness, um", k+1), v, g[k])
	}
	g = run("b2")
	for k, v := range map[int]float64{9: 11.4, 10: 21.0, 11: 32.5} {
		note(fmt.Sprintf("b = 2 b_lim, pass %d: waviness, um", k+1), v, g[k])
	}
	if g = run("alternate"); g[11] > 2*g[1] {
		t.Errorf("at two speeds in turn waves grow from %.3f to %.3f um, noted is no growth", g[1], g[11])
	}
	if g = run("clean"); g[9]/g[8] > 0.35 || g[11] > 0.3 {
		t.Errorf("three real passes at 0.7 of the speed: %.3f, %.3f, %.3f, %.3f um; noted 3.9, .83, .20, .16", g[8], g[9], g[10], g[11])
	}
	g = run("spring")
	note("three passes without infeed, same speed: part left by the first", 5.2/6.1, g[9]/g[8])
	note("three passes without infeed, same speed: part left by all", 3.0/6.1, g[11]/g[8])
	g = run("springslow")
	note("three passes without infeed, 0.7 of the speed: part left by the first", 1.9/5.8, g[9]/g[8])
	note("three passes without infeed, 0.7 of the speed: part left by all", 1.4/5.8, g[11]/g[8])
}

// TestTurningLobes cuts just below and just above the border of stability at the best
// speeds of three lathes: waves must die below and grow above.
func TestTurningLobes(t *testing.T) {
	lathes := map[string]struct {
		Oscillator
		k float64
	}{
		"A": {Oscillator{250, 2.26e5, 0.012}, 1000},
		"B": {table, tableK},
		"C": {Oscillator{150, 2e4, 0.05}, 1384},
	}
	const source = "docs/validation/vibe.py: scipy, root of the characteristic equation"
	seen := 0
	for _, r := range rows(t, "lobe") {
		l := lathes[r.words[0]]
		u, j, width, rpm := r.number[1], r.number[2], r.number[3], r.number[5]
		if rpm > 10000 {
			continue
		}
		seen++
		lo, hi := 0.9*width, 1.1*width
		rate := func(b float64) float64 { return growthInTurning(t, l.Oscillator, l.k, b, u, unit.Rotation(rpm)) }
		below, above := rate(lo), rate(hi)
		if !(below < 0 && above > 0) {
			t.Errorf("lathe %s, overlap %g, lobe %g: at 0.9 of the border waves grow by %.3g a second, at 1.1 by %.3g", r.words[0], u, j, below, above)
			continue
		}
		border := lo + (hi-lo)*below/(below-above) // growth is nearly straight so close to it
		claim(t, fmt.Sprintf("turning, lathe %s, overlap %g, lobe %g: width at which waves neither grow nor die", r.words[0], u, j), source, width, border, 0.01, "mm")
	}
	if seen < 10 {
		t.Errorf("only %d lobes", seen)
	}
}

// growthInTurning is by which power of e waves grow in a second of plunge turning.
func growthInTurning(t *testing.T, o Oscillator, k, b, overlap float64, n unit.Rotation) float64 {
	in := Cutting{
		Holding: single(t, o), Force: evenForce(t, k, 1), Diameter: 20, Linear: true, Turning: overlap, Rough: 1e-4,
		Turns: math.Round(1.6 * n.Hz().Hz()), Rate: 20000,
		Passes: []Pass{{chipOf(cut.Element{Part: cut.Nose, Length: unit.Length(b), Thickness: 1e-15, Radial: 1}), n}},
	}
	s := simulate(t, in)
	h := s.Surfaces[0].Height
	size := func(from, to float64) float64 {
		sum := 0.0
		part := h[int(from*float64(len(h))):int(to*float64(len(h)))]
		for _, v := range part {
			sum += v.MM() * v.MM() / float64(len(part))
		}
		return math.Log(sum) / 2
	}
	return (size(0.75, 1) - size(0.5, 0.75)) / (0.25 * in.Turns / n.Hz().Hz())
}
