package vibe

import (
	_ "embed"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/plausible.csv
var plausibleFile string

// Plausible is a figure that is not well known, with how it scatters: low and high
// are the points below which 5 and 95 of 100 cases lie, half lie below likely.
type Plausible struct {
	Quantity, Unit string
	Range          Range // Likely is zero where it is the set-up's own
	Source         string
}

// Names of the quantities in the table.
const (
	workDamping       = "damping of the work"
	dampingIsMeasured = "damping measured"
	chuckStiffness    = "stiffness of chuck"
	tailStiffness     = "stiffness of tailstock"
	toolStiffness     = "stiffness of tool side"
	stiffIsMeasured   = "stiffness measured"
	edgeWear          = "wear of the edge"
	edgeRubbing       = "rubbing of the edge"
)

var plausible = sync.OnceValue(func() []Plausible {
	rd := csv.NewReader(strings.NewReader(plausibleFile))
	rd.Comment = '#'
	rows, err := rd.ReadAll()
	if err != nil {
		panic(err) // our own file; a test reads it
	}
	var out []Plausible
	for _, r := range rows[1:] {
		figure := func(i int) float64 {
			if r[i] == "" {
				return 0
			}
			v, err := strconv.ParseFloat(r[i], 64)
			if err != nil {
				panic(err)
			}
			return v
		}
		out = append(out, Plausible{r[0], r[1], Range{figure(2), figure(3), figure(4)}, r[5]})
	}
	return out
})

// PlausibleTable returns what an outlook varies, with the sources. The cutting force
// is not in it: its doubt is that of the material and of the thickness of the chip.
func PlausibleTable() []Plausible { return append([]Plausible(nil), plausible()...) }

func plausibleRange(quantity string) Range {
	for _, p := range plausible() {
		if p.Quantity == quantity {
			return p.Range
		}
	}
	panic("vibe: no plausible range of " + quantity)
}

// fifth is the score of the normal distribution that 95 of 100 stay below.
const fifth = 1.6448536269514722

// At returns the figure at a normal score: likely at 0, high at 1.645, low at -1.645,
//
//	x = likely (high/likely)^(z/1.645)   for z >= 0,   likely (low/likely)^(-z/1.645) for z < 0
//
// so that logarithms of either side are normally distributed.
func (r Range) At(z float64) float64 {
	end := r.High
	if z < 0 {
		end, z = r.Low, -z
	}
	if r.Likely <= 0 || end == r.Likely {
		return r.Likely
	}
	return r.Likely * math.Pow(end/r.Likely, z/fifth)
}

// Case is how the things that are not well known really are in one plausible
// case, each as its normal score.
type Case struct{ Damping, Chuck, Tailstock, Tool, Cut, Wear, MinChip, Rubbing float64 }

// Cases draws n plausible cases. The same seed gives the same cases, and the first n
// of more are those of n.
func Cases(seed uint64, n int) []Case {
	out := make([]Case, n)
	for i := range out {
		g := rand.New(rand.NewPCG(seed, uint64(i)))
		c := &out[i]
		for _, to := range []*float64{&c.Damping, &c.Chuck, &c.Tailstock, &c.Tool, &c.Cut, &c.Wear, &c.MinChip, &c.Rubbing} {
			*to = g.NormFloat64()
		}
	}
	return out
}

// class sorts a score into one of n classes that are equally likely.
func class(z float64, n int) int {
	return min(int(float64(n)*math.Erfc(-z/math.Sqrt2)/2), n-1)
}

// middle is the score that stands for a class: that of its median.
func middle(i, n int) float64 { return math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(n)-1) }

// Share is how many of the plausible cases something holds in, with the interval
// that so many cases leave open.
type Share struct {
	Count int     `json:"count"`
	Of    int     `json:"of"`
	Share float64 `json:"share"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// ShareOf returns count/of with its 95 % interval after Wilson:
//
//	(p + z^2/2n -+ z sqrt(p (1-p)/n + z^2/4n^2)) / (1 + z^2/n),   z = 1.96
//
// Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209 (from memory).
func ShareOf(count, of int) Share {
	s := Share{Count: count, Of: of, High: 1}
	if of <= 0 {
		return s
	}
	const z = 1.959963984540054
	n := float64(of)
	p := float64(count) / n
	mid, half, all := p+z*z/(2*n), z*math.Sqrt(p*(1-p)/n+z*z/(4*n*n)), 1+z*z/n
	s.Share, s.Low, s.High = p, max((mid-half)/all, 0), min((mid+half)/all, 1)
	return s
}
