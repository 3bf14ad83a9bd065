package lathe

import (
	"cmp"
	"slices"
)

// fewestIdlers returns how many idlers a train needs at least to cut the hand.
func (s *search) fewestIdlers(stages int, t *target) int {
	if t.meshes == 2 || stages%2 == t.meshes {
		return 0
	}
	return 1
}

// mostIdlers by number of stages.
var mostIdlers = [4]int{0, 2, 1, 0}

// arrange finds the best arrangement of a candidate's wheels that fits.
func (s *search) arrange(c *candidate) {
	n := int(c.stages)
	p, q := &s.sets[n][c.drivers], &s.sets[n][c.driven]
	a := arranger{search: s, stages: n, err: c.err, near: c.near, least: min(p.least, q.least), pos: int(c.pos)}
	t := s.targetAt(int(c.pos))
	for m := s.fewestIdlers(n, t); m <= min(mostIdlers[n], s.yard.studs-(n-1)); m++ {
		if t.meshes != 2 && (n+m)%2 != t.meshes {
			continue
		}
		for _, x := range orders[n] {
			for _, y := range orders[n] {
				var ch chain
				for k := range n {
					ch.out[k] = s.stock.teeth[p.wheels[x[k]]]
					ch.in[k+1] = s.stock.teeth[q.wheels[y[k]]]
				}
				ch.last = int8(n)
				a.idlers = m
				a.try(&ch, m, 0)
			}
		}
		if a.any {
			s.insert(a.best)
			return
		}
	}
	if a.tried == 0 {
		s.refused[WrongHand]++
	}
}

func (s *search) targetAt(pos int) *target {
	i, _ := slices.BinarySearchFunc(s.targets, pos, func(t target, p int) int { return cmp.Compare(t.pos, p) })
	return &s.targets[i]
}

func (s *search) insert(f found) {
	i, _ := slices.BinarySearchFunc(s.best, f, found.compare)
	if i >= s.keep {
		return
	}
	s.best = slices.Insert(s.best, i, f)
	if len(s.best) > s.keep {
		s.best = s.best[:s.keep]
	}
}

// orders are the permutations of 0, 0-1 and 0-1-2.
var orders = [4][][3]int8{
	{},
	{{0}},
	{{0, 1}, {1, 0}},
	{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}},
}

// arranger tries arrangements of one candidate and keeps the best.
type arranger struct {
	*search
	stages, idlers int
	err            float64
	near           bool
	least          int16
	pos            int
	best           found
	any            bool
	tried          int
}

// try puts m idlers into the meshes from the given one on, in every way, and lays
// each chain out.
func (a *arranger) try(c *chain, m int, from int8) {
	if m == 0 {
		a.layOut(c)
		return
	}
	for k := from; k < c.last; k++ {
		for i, z := range a.stock.teeth {
			if a.left(c, i) < 1 {
				continue
			}
			d := *c
			d.insert(k, z)
			a.try(&d, m-1, k+1)
		}
	}
}

// left returns how many wheels of a size a chain leaves over.
func (a *arranger) left(c *chain, i int) int {
	z, n := a.stock.teeth[i], int(a.stock.count[i])
	for k := int8(0); k <= c.last; k++ {
		if c.in[k] == z {
			n--
		}
		if c.out[k] == z && !c.idler[k] {
			n--
		}
	}
	return n
}

// insert puts an idler between shafts k and k+1.
func (c *chain) insert(k int8, z int16) {
	copy(c.in[k+2:], c.in[k+1:c.last+1])
	copy(c.out[k+2:], c.out[k+1:c.last+1])
	copy(c.idler[k+2:], c.idler[k+1:c.last+1])
	c.in[k+1], c.out[k+1], c.idler[k+1] = z, z, true
	c.last++
}

func (a *arranger) layOut(c *chain) {
	f := found{rank{a.err, tieOf(a.stages, a.idlers, a.near, moved(c, &a.present), a.least, a.pos)}, *c, a.pos}
	if a.any && f.compare(a.best) >= 0 {
		return
	}
	a.tried++
	a.search.tried++
	var sp spot
	if o := a.yard.place(c, &sp); o.reason != "" {
		a.refused[o.reason]++
		return
	}
	a.best, a.any = f, true
}

// moved counts the wheels of a chain that are not in their place in the present
// set-up; zero when there is none.
func moved(c, present *chain) int {
	if present.last == 0 {
		return 0
	}
	n := 0
	if c.out[0] != present.out[0] {
		n++
	}
	if c.in[c.last] != present.in[present.last] {
		n++
	}
	for k := int8(1); k < c.last; k++ {
		there := k < present.last
		if c.idler[k] {
			if !there || !present.idler[k] || present.in[k] != c.in[k] {
				n++
			}
			continue
		}
		if !there || present.idler[k] || present.in[k] != c.in[k] {
			n++
		}
		if !there || present.idler[k] || present.out[k] != c.out[k] {
			n++
		}
	}
	return n
}
