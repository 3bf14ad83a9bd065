package trial

import (
	"hash/fnv"
	"math"

	"gonum.org/v1/gonum/mat"

	"thrum/unit"
)

// Tally counts the votes on one pair of items with Left shown on the left. Votes
// need no other form: tallies of any number of votes add up.
type Tally struct {
	Left, Right               int // numbers of the items, from 0
	LeftWins, RightWins, Ties float64
}

// Model says what a fit of abilities allows for.
type Model struct {
	Ties bool // a tie is an outcome of its own (Davidson); otherwise half a win each way
	Side bool // the left side may have an advantage
}

// Abilities are log-abilities, item 0 at nought, with the covariance of their errors.
type Abilities struct {
	Log       []float64
	SE        []float64 // against item 0; use Contrast between others
	Side      float64   // advantage of the left in log odds
	SideSE    float64
	Nu        float64 // share of ties between equals is Nu / (2 + Nu)
	LogNuSE   float64
	LogLik    float64 // without constants
	Prior     bool    // an item, or one order of a pair, went all one way, so half a vote each way was added to every pair shown
	cov       *mat.Dense
	parameter int
}

// Contrast returns how far item i is above item j, and the standard error.
func (a *Abilities) Contrast(i, j int) (diff, se float64) {
	v := 0.0
	at := func(p, q int) float64 {
		if p == 0 || q == 0 {
			return 0
		}
		return a.cov.At(p-1, q-1)
	}
	v = at(i, i) + at(j, j) - 2*at(i, j)
	return a.Log[i] - a.Log[j], math.Sqrt(max(0, v))
}

const maxItems = 200

// Fit finds abilities by maximum likelihood, by Newton steps on
//
//	P(i) : P(j) : P(tie) = e^(a_i + s/2) : e^(a_j - s/2) : nu e^((a_i + a_j)/2)
//
// with item i on the left. Without ties this is the model of Bradley and Terry.
// Standard errors hold only if votes are independent; one judge's are not, so use
// Jackknife on real votes.
// Source: Bradley and Terry, Biometrika 39 (1952) 324; Davidson, JASA 65 (1970) 317.
func Fit(items int, ts []Tally, m Model) (*Abilities, error) {
	ts, ties, err := prepare(items, ts, m)
	if err != nil {
		return nil, err
	}
	a := &Abilities{Nu: 0}
	if !connected(items, ts) {
		a.addPrior(ts)
		if !joined(items, ts) {
			return nil, &unit.InputError{Field: "votes", Value: itoa(len(ts)) + " pairs", Reason: "leave items that were never compared, even by way of others", Hint: "show each item against at least two others"}
		}
	}
	p := fitting{items: items, ts: ts, side: -1, nu: -1, n: items - 1}
	if m.Side {
		p.side = p.n
		p.n++
	}
	if m.Ties && ties > 0 {
		p.nu = p.n
		p.n++
	}
	theta, cov, ok := p.newton()
	if !ok && !a.Prior { // one order of a pair may have gone all one way
		a.addPrior(ts)
		theta, cov, ok = p.newton()
	}
	if !ok {
		return nil, &unit.InputError{Field: "votes", Value: itoa(len(ts)) + " pairs", Reason: "do not settle the abilities", Hint: "show the pairs both ways round, and more of them"}
	}
	a.cov, a.parameter = cov, p.n
	a.Log, a.SE = make([]float64, items), make([]float64, items)
	for i := 1; i < items; i++ {
		a.Log[i], a.SE[i] = theta[i-1], math.Sqrt(cov.At(i-1, i-1))
	}
	if p.side >= 0 {
		a.Side, a.SideSE = theta[p.side], math.Sqrt(cov.At(p.side, p.side))
	}
	if p.nu >= 0 {
		a.Nu, a.LogNuSE = math.Exp(theta[p.nu]), math.Sqrt(cov.At(p.nu, p.nu))
	}
	a.LogLik, _, _ = p.likelihood(theta)
	return a, nil
}

// addPrior adds half a vote each way to every pair shown, and remembers it.
func (a *Abilities) addPrior(ts []Tally) {
	a.Prior = true
	for i := range ts {
		ts[i].LeftWins += .5
		ts[i].RightWins += .5
	}
}

func prepare(items int, ts []Tally, m Model) (out []Tally, ties float64, err error) {
	if items < 2 || items > maxItems {
		return nil, 0, &unit.InputError{Field: "items", Value: itoa(items), Reason: "is not a number of items to compare", Hint: "2 to 200"}
	}
	for _, t := range ts {
		if t.Left < 0 || t.Right < 0 || t.Left >= items || t.Right >= items || t.Left == t.Right ||
			!(t.LeftWins >= 0 && t.RightWins >= 0 && t.Ties >= 0 && t.LeftWins+t.RightWins+t.Ties < 1e12) {
			return nil, 0, &unit.InputError{Field: "votes", Value: itoa(t.Left) + " and " + itoa(t.Right), Reason: "cannot be counted", Hint: "two different items, counts from 0"}
		}
		if ties += t.Ties; !m.Ties {
			t.LeftWins, t.RightWins, t.Ties = t.LeftWins+t.Ties/2, t.RightWins+t.Ties/2, 0
		}
		if t.LeftWins+t.RightWins+t.Ties > 0 {
			out = append(out, t)
		}
	}
	return out, ties, nil
}

// fitting is an exponential family: each outcome of a pair has a vector of features.
type fitting struct {
	items, n, side, nu int
	ts                 []Tally
}

// features of left win, right win and tie, as sparse sums over theta.
func (p fitting) features(t Tally, o int) (idx []int, val []float64) {
	put := func(i int, v float64) {
		if i >= 0 && v != 0 {
			idx, val = append(idx, i), append(val, v)
		}
	}
	switch o {
	case 0:
		put(t.Left-1, 1)
		put(p.side, .5)
	case 1:
		put(t.Right-1, 1)
		put(p.side, -.5)
	default:
		put(t.Left-1, .5)
		put(t.Right-1, .5)
		put(p.nu, 1)
	}
	return idx, val
}

func (p fitting) likelihood(theta []float64) (ll float64, score []float64, info *mat.SymDense) {
	score, info = make([]float64, p.n), mat.NewSymDense(p.n, nil)
	outcomes := 2
	if p.nu >= 0 {
		outcomes = 3
	}
	for _, t := range p.ts {
		count := [3]float64{t.LeftWins, t.RightWins, t.Ties}
		var u, pr [3]float64
		f := [3][]float64{}
		big := math.Inf(-1)
		for o := range outcomes {
			f[o] = make([]float64, p.n)
			idx, val := p.features(t, o)
			for k, i := range idx {
				f[o][i] += val[k]
				u[o] += val[k] * theta[i]
			}
			big = max(big, u[o])
		}
		sum, n := 0.0, 0.0
		for o := range outcomes {
			pr[o] = math.Exp(u[o] - big)
			sum += pr[o]
			n += count[o]
		}
		m := make([]float64, p.n)
		for o := range outcomes {
			pr[o] /= sum
			ll += count[o] * (u[o] - big - math.Log(sum))
			add(m, f[o], pr[o])
		}
		for o := range outcomes {
			add(f[o], m, -1)
			add(score, f[o], count[o])
			info.SymRankOne(info, n*pr[o], mat.NewVecDense(p.n, f[o]))
		}
	}
	return ll, score, info
}

func (p fitting) newton() ([]float64, *mat.Dense, bool) {
	theta := make([]float64, p.n)
	for range 100 {
		ll, score, info := p.likelihood(theta)
		var ch mat.Cholesky
		if !ch.Factorize(info) || ch.Cond() > 1e13 {
			return nil, nil, false
		}
		var step mat.VecDense
		if err := ch.SolveVecTo(&step, mat.NewVecDense(p.n, score)); err != nil {
			return nil, nil, false
		}
		if mat.Norm(&step, math.Inf(1)) < 1e-10 {
			var inv mat.SymDense
			if err := ch.InverseTo(&inv); err != nil {
				return nil, nil, false
			}
			return theta, mat.DenseCopyOf(&inv), true
		}
		for k := 1.0; ; k /= 2 {
			next := append([]float64(nil), theta...)
			add(next, step.RawVector().Data, k)
			if l, _, _ := p.likelihood(next); l >= ll-1e-9*math.Abs(ll) || k < 1e-6 {
				theta = next
				break
			}
		}
	}
	return nil, nil, false
}

// connected reports whether every item beat every other, if need be by way of
// others; only then are the abilities finite.
func connected(items int, ts []Tally) bool {
	return reaches(items, ts, true, false) && reaches(items, ts, false, true)
}

func joined(items int, ts []Tally) bool { return reaches(items, ts, true, true) }

func reaches(items int, ts []Tally, forward, back bool) bool {
	seen := make([]bool, items)
	seen[0] = true
	queue := []int{0}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		for _, t := range ts {
			over := t.LeftWins > 0 || t.Ties > 0
			under := t.RightWins > 0 || t.Ties > 0
			for _, e := range [2]struct {
				from, to  int
				win, lose bool
			}{{t.Left, t.Right, over, under}, {t.Right, t.Left, under, over}} {
				if e.from == at && !seen[e.to] && (forward && e.win || back && e.lose) {
					seen[e.to] = true
					queue = append(queue, e.to)
				}
			}
		}
	}
	for _, s := range seen {
		if !s {
			return false
		}
	}
	return true
}

// maxGroups is how many groups of judges are left out in turn.
const maxGroups = 100

// Jackknife returns the standard error of f over judges: judges fall into groups
// by a hash of their name, each group is left out in turn.
//
//	se^2 = (G-1)/G sum (f_g - mean f)^2
//
// ok is false with fewer than five groups, or where f fails without one of them.
// Source: Quenouille, Biometrika 43 (1956) 353, with groups.
func Jackknife(votes []Vote, f func([]Vote) (float64, bool)) (se float64, groups int, ok bool) {
	judges := map[string]int{}
	for _, v := range votes {
		h := fnv.New32a()
		_, _ = h.Write([]byte(v.Judge))
		judges[v.Judge] = int(h.Sum32() % maxGroups)
	}
	in := map[int]bool{}
	for _, g := range judges {
		in[g] = true
	}
	var vals []float64
	for g := range maxGroups {
		if !in[g] {
			continue
		}
		var rest []Vote
		for _, v := range votes {
			if judges[v.Judge] != g {
				rest = append(rest, v)
			}
		}
		val, ok := f(rest)
		if !ok {
			return 0, len(in), false
		}
		vals = append(vals, val)
	}
	if len(vals) < 5 {
		return 0, len(vals), false
	}
	g := float64(len(vals))
	return math.Sqrt((g - 1) / g * variance(vals) * (g - 1)), len(vals), true
}
