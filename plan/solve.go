package plan

import "math"

// The schedule of passes is a path over the divisions of a dial, from 0 (tip at
// the blank's surface) to n (full depth). A pass is a step from one division to a
// deeper one. What the machine, the tool and the part can bear bounds how far a
// pass may go from where it starts; among the paths that keep to every bound the
// one with the least risk of scrap is taken:
//
//	cost = 3 x readings that are not round figures + 1 x passes + 1/2 x sum of squared loads
//
// A misread dial costs the part, one pass more costs a minute, and a pass much
// heavier than the others may tear the flank or move the part; hence the weights,
// which are our own. The load of a pass is its cutting force over a tenth of what
// the whole depth would take at once. The last pass ends at the size whatever its
// figure.

// bound is one limit on a pass.
type bound struct {
	name string
	// reach returns the deepest division that a pass starting at division i may go
	// to, when the limit is multiplied by relax. It must not shrink as relax grows.
	reach func(i int, relax float64) int
}

// ladder is the problem to solve.
type ladder struct {
	n      int                    // divisions to full depth
	round  func(i int) bool       // the dial shows a round figure at division i
	load   func(i, j int) float64 // share of what may be borne; spreads the work
	least  func(i int) int        // least step that still cuts, in divisions; a last pass may be less
	window [2]int                 // a pass must end in this window, where the thread is measured; ignored when [1] < [0]
	bounds []bound
}

// tenth is by how much a bound is relaxed to see whether it governs.
const tenth = 1.1

const (
	unroundCost = 3.0
	passCost    = 1.0
	loadCost    = 0.5 // times the load squared
)

type rung struct {
	cost float64
	next int
}

// reaches lists how far each bound lets a pass go from every division.
func (l ladder) reaches(relax float64) [][]int {
	all := make([][]int, len(l.bounds))
	for k, b := range l.bounds {
		all[k] = make([]int, l.n)
		for i := range all[k] {
			all[k][i] = min(b.reach(i, relax), l.n)
		}
	}
	return all
}

// nearest returns the closest of all bounds at every division.
func nearest(n int, reaches [][]int) []int {
	reach := make([]int, n)
	for i := range reach {
		reach[i] = n
		for _, r := range reaches {
			reach[i] = min(reach[i], r[i])
		}
	}
	return reach
}

// schedule is a solved ladder.
type schedule struct {
	ends     []int    // divisions at which passes end, the last being n
	broken   []string // bounds that some pass had to go beyond
	governed []string // what governs each pass
}

// solve finds the schedule of least cost and names, for each pass, the bound whose
// relaxation by a tenth changes it: among several the one that is nearest where
// the pass starts. Where none does, the pass is settled by what the others leave.
func (l ladder) solve() schedule {
	reaches := l.reaches(1)
	var s schedule
	s.ends = l.path(nearest(l.n, reaches))
	s.broken = l.broken(s.ends, reaches)
	s.governed = make([]string, len(s.ends))
	margin := make([]int, len(s.ends))
	relaxed := l.reaches(tenth)
	for k, b := range l.bounds {
		tight := reaches[k]
		reaches[k] = relaxed[k]
		other := l.path(nearest(l.n, reaches))
		reaches[k] = tight
		start := 0
		for i, end := range s.ends {
			changed := i >= len(other) || other[i] != end
			binds := tight[start] < l.n // a bound that ends no pass from here governs none
			if changed && binds && (s.governed[i] == "" || tight[start] < margin[i]) {
				s.governed[i], margin[i] = b.name, tight[start]
			}
			start = end
		}
	}
	for k, name := range s.governed {
		if name == "" {
			s.governed[k] = l.left(s.ends, k)
		}
	}
	return s
}

// left says what settles a pass that no bound governs.
func (l ladder) left(ends []int, k int) string {
	switch {
	case k == len(ends)-1:
		return "final size"
	case l.measures(ends, k):
		return "stop to measure"
	case l.round(ends[k]):
		return "round figure"
	}
	return "even load"
}

// measures tells whether the thread is measured after pass k: the first that ends
// in the window.
func (l ladder) measures(ends []int, k int) bool {
	if l.window[1] < l.window[0] || ends[k] < l.window[0] {
		return false
	}
	return k == 0 || ends[k-1] < l.window[0]
}

// broken names the bounds that some pass goes beyond.
func (l ladder) broken(ends []int, reaches [][]int) []string {
	var names []string
	for k, b := range l.bounds {
		start := 0
		for _, end := range ends {
			if end > reaches[k][start] {
				names = append(names, b.name)
				break
			}
			start = end
		}
	}
	return names
}

// path returns the divisions at which passes end. Where no step fits, the least step
// that cuts is taken: the size must be reached.
func (l ladder) path(reach []int) (ends []int) {
	best := make([]rung, l.n+1)
	for i := l.n - 1; i >= 0; i-- {
		best[i] = rung{cost: math.Inf(1), next: -1}
		low := i + max(l.least(i), 1)
		for j := min(low, l.n); j <= max(reach[i], i+1) && j <= l.n; j++ {
			if l.skips(i, j) || best[j].next < 0 && j < l.n {
				continue
			}
			s := l.load(i, j)
			c := rung{cost: best[j].cost + passCost + loadCost*s*s, next: j}
			if j < l.n && !l.round(j) {
				c.cost += unroundCost
			}
			if c.cost < best[i].cost-1e-12 {
				best[i] = c
			}
		}
		if best[i].next < 0 { // nothing fits: the least step that cuts, or one division
			j := min(max(low, i+1), l.n)
			if l.skips(i, j) {
				j = i + 1
			}
			best[i] = rung{cost: best[j].cost + passCost + unroundCost, next: j}
		}
	}
	for i := 0; i < l.n; {
		i = best[i].next
		ends = append(ends, i)
	}
	return ends
}

// skips tells whether a step passes over the window in which to measure.
func (l ladder) skips(i, j int) bool {
	return l.window[1] >= l.window[0] && i < l.window[0] && j > l.window[1]
}
