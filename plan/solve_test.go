package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// stated evaluates the objective as it is stated, independently of the solver.
func stated(l ladder, ends []int) (cost float64, ok bool) {
	at := 0
	met := l.window[1] < l.window[0]
	for _, e := range ends {
		if e <= at || e-at < l.least(at) && e != l.n {
			return 0, false
		}
		for _, b := range l.bounds {
			if e > b.reach(at, 1) {
				return 0, false
			}
		}
		if e >= l.window[0] && e <= l.window[1] {
			met = true
		}
		cost++
		if e != l.n && !l.round(e) {
			cost += 3
		}
		s := l.load(at, e)
		cost += s * s / 2
		at = e
	}
	return cost, met && at == l.n
}

// everyPath calls f with every increasing path from 0 to n.
func everyPath(n, most int, f func([]int)) {
	var walk func(path []int, at int)
	walk = func(path []int, at int) {
		if at == n {
			f(path)
			return
		}
		if len(path) == most {
			return
		}
		for j := at + 1; j <= n; j++ {
			walk(append(path, j), j)
		}
	}
	walk(nil, 0)
}

// randomLadder invents a part: up to 0.02 mm x 24 deep, force rising with depth and step.
func randomLadder(r *rand.Rand) ladder {
	n := 8 + r.IntN(17)
	k := 0.5 + r.Float64()
	force := func(i, j int) float64 { return k * float64(i+j) / 2 * math.Pow(float64(j-i), 0.8) }
	cap1, cap2, capF := 3+r.IntN(5), 5+r.IntN(6), k*(40+60*r.Float64())
	every := 2 + r.IntN(4)
	l := ladder{
		n:     n,
		round: func(i int) bool { return i%every == 0 },
		load:  func(i, j int) float64 { return force(i, j) / capF },
		least: func(int) int { return 1 },
		bounds: []bound{
			{"first pass", func(i int, f float64) int {
				if i > 0 {
					return n
				}
				return int(math.Floor(float64(cap1)*f + 1e-9))
			}},
			{"largest infeed", func(i int, f float64) int { return i + int(math.Floor(float64(cap2)*f+1e-9)) }},
			{"force", func(i int, f float64) int {
				j := i
				for j < n && force(i, j+1) <= capF*f {
					j++
				}
				return j
			}},
		},
	}
	l.window = [2]int{n - 4, n - 2}
	return l
}

func TestScheduleEqualsBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	compared := 0
	for tries := 0; compared < 50 && tries < 2000; tries++ {
		l := randomLadder(r)
		found := l.solve()
		ends, kept := found.ends, len(found.broken) == 0
		if !kept || len(ends) > 6 {
			continue
		}
		compared++
		best := math.Inf(1)
		everyPath(l.n, 6, func(p []int) {
			if c, ok := stated(l, p); ok {
				best = min(best, c)
			}
		})
		cost, ok := stated(l, ends)
		if !ok || cost > best+1e-9 {
			t.Fatalf("part %d: solver %v costs %.6f (allowed: %v), brute force %.6f", compared, ends, cost, ok, best)
		}
	}
	if compared < 50 {
		t.Fatalf("only %d parts of 6 passes or fewer were found", compared)
	}
}

func TestGoverningBoundChangesItsPass(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	named := 0
	for range 600 {
		l := randomLadder(r)
		found := l.solve()
		ends := found.ends
		if len(found.broken) > 0 {
			continue
		}
		for k, name := range found.governed {
			at := slices.IndexFunc(l.bounds, func(b bound) bool { return b.name == name })
			if at < 0 {
				continue
			}
			named++
			relaxed := l
			relaxed.bounds = slices.Clone(l.bounds)
			tight := l.bounds[at].reach
			relaxed.bounds[at].reach = func(i int, f float64) int { return tight(i, f*1.1) }
			other := relaxed.solve().ends
			if k < len(other) && other[k] == ends[k] {
				t.Fatalf("pass %d of %v is said to be governed by %q, but relaxing that by a tenth gives %v", k+1, ends, name, other)
			}
		}
	}
	if named < 50 {
		t.Fatalf("a bound governed only %d passes: the test shows nothing", named)
	}
}
