package lathe

import (
	"fmt"
	"testing"
	"time"

	"thrum/unit"
)

// benchLathe has 25 wheels and 40 gearbox positions.
func benchLathe() *Lathe {
	l := &Lathe{
		Leadscrew: Leadscrew{Lead: unit.MustRatio(127, 40), Starts: 1},
		Drive:     Drive{StudRatio: unit.Whole(1), Tumbler: &Tumbler{"up", "down"}},
		Gears: &Gears{Module: 1, Owned: []int{
			20, 22, 24, 26, 28, 30, 32, 34, 36, 38, 40, 42, 44, 46, 48, 50, 52, 54, 56, 60, 64, 72, 80, 100, 127,
		}},
		Banjo: &Banjo{
			Centres: 130, SlotMin: 35, SlotMax: 160, SwingMin: 5 * unit.Degree, SwingMax: 140 * unit.Degree,
			Studs: 2, Bushes: 2, Planes: 3, StudDia: 14, ScrewDia: 14, BushDia: 14,
		},
		Gearbox: &Gearbox{},
	}
	for row, num := range []int64{1, 2, 4, 8, 16} {
		for col, den := range []int64{8, 9, 10, 11, 12, 13, 14, 16} {
			l.Gearbox.Positions = append(l.Gearbox.Positions, Position{Levers: fmt.Sprint(string(rune('A'+row)), col+1), Ratio: unit.MustRatio(num, den)})
		}
	}
	return l
}

// BenchmarkTrains measures the search against a plain exhaustive one in whole
// numbers, with the same constraints, in the same run: for two stages every ordered
// choice of wheels is multiplied out, for three only every pair of sets (ordered
// choices are 36 times as many and take a minute).
func BenchmarkTrains(b *testing.B) {
	l := benchLathe()
	for _, stages := range []int{2, 3} {
		for _, lead := range []struct {
			name string
			mm   unit.Ratio
		}{{"1.5mm", unit.MustRatio(3, 2)}, {"pi-mm", unit.MustRatio(355, 113)}} {
			b.Run(fmt.Sprintf("%d-stage/%s", stages, lead.name), func(b *testing.B) {
				start := time.Now()
				want := plainSearch(l, lead.mm, stages, 50)
				plain := time.Since(start)
				for b.Loop() {
					ts, err := Trains(l, lead.mm, Options{MaxStages: stages})
					if err != nil {
						b.Fatal(err)
					}
					for i, t := range ts {
						if t.chain != want[i].chain {
							b.Fatalf("train %d is %v, exhaustive search has %v", i, t.Teeth(), want[i].chain.wheels())
						}
					}
				}
				ours := b.Elapsed() / time.Duration(b.N)
				b.ReportMetric(float64(plain)/float64(ours), "times-faster")
				b.ReportMetric(float64(plain)/1e6, "exhaustive-ms")
			})
		}
	}
}

// plainSearch is the exhaustive search that the benchmark compares with.
func plainSearch(l *Lathe, lead unit.Ratio, stages, keep int) []found {
	positions, _ := l.positions("")
	s, err := newSearch(l, lead, positions, Options{MaxStages: stages, Keep: keep}.defaults())
	if err != nil {
		panic(err)
	}
	p := plain{search: s, seen: map[[4]int64]bool{}}
	for n := 1; n <= stages; n++ {
		if n < 3 {
			p.choices(n)
		} else {
			p.pairsOfSets(n)
		}
	}
	return s.best
}

type plain struct {
	*search
	seen map[[4]int64]bool
}

// choices tries every ordered choice of wheels of one or two stages.
func (p *plain) choices(n int) {
	size := len(p.stock.teeth)
	second := 0
	if n == 2 {
		second = size
	}
	for t := range p.targets {
		t := &p.targets[t]
		for a := range size {
			for b := range size {
				if a == b {
					continue
				}
				left, right := int64(p.stock.teeth[a])*t.den, int64(p.stock.teeth[b])*t.num
				if n == 1 {
					p.weigh(n, t, left, right, 1<<a, 1<<b)
					continue
				}
				for c := range second {
					if c == a || c == b {
						continue
					}
					for d := range second {
						if d != a && d != b && d != c {
							p.weigh(n, t, left*int64(p.stock.teeth[c]), right*int64(p.stock.teeth[d]), 1<<a|1<<c, 1<<b|1<<d)
						}
					}
				}
			}
		}
	}
}

func (p *plain) pairsOfSets(n int) {
	for i := range p.sets[n] {
		up := &p.sets[n][i]
		for j := range p.sets[n] {
			down := &p.sets[n][j]
			if up.mask&down.mask != 0 {
				continue
			}
			for t := range p.targets {
				t := &p.targets[t]
				p.weigh(n, t, up.product*t.den, down.product*t.num, up.mask, down.mask)
			}
		}
	}
}

// weigh arranges a choice that would enter the list.
func (p *plain) weigh(n int, t *target, left, right int64, up, down uint64) {
	off := left - right
	if off < 0 {
		off = -off
	}
	if len(p.best) == p.keep && float64(off) > p.best[p.keep-1].err*float64(right)*(1+1e-12) {
		return
	}
	key := [4]int64{int64(up), int64(down), int64(t.pos)}
	if p.seen[key] {
		return
	}
	p.seen[key] = true
	c := candidate{rank: rank{err: float64(off) / float64(right)}, pos: int16(t.pos), stages: int8(n)}
	for i := range p.sets[n] {
		if p.sets[n][i].mask == up {
			c.drivers = int32(i)
		}
		if p.sets[n][i].mask == down {
			c.driven = int32(i)
		}
	}
	p.arrange(&c)
}
