package lathe

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"thrum/unit"
)

// Options govern a search for trains.
type Options struct {
	Hand      Hand
	MaxStages int     // 1 to 3; 0 means 3
	MaxPPM    float64 // largest lead error in parts per million; 0 means 5000
	GoodPPM   float64 // lead errors up to this count as none, so that a simple train beats a nearer one of many wheels
	Keep      int     // how many trains to return; 0 means 50
	Levers    string  // only this gearbox position; empty for all

	otherHand bool // a search for the reason why another found nothing
}

// rank orders trains: lead error first (as none up to Options.GoodPPM), then the
// fewest stages, the fewest idlers, exact before near, the fewest wheels to move, the largest smallest wheel (large wheels run truer and
// carry more), the order of the gearbox positions, and last the tooth counts, so
// that the order never depends on luck.
type rank struct {
	err float64 // |cut - wanted| / wanted, or 0 when that is good enough
	tie uint64
}

func tieOf(stages, idlers int, near bool, moved int, least int16, pos int) uint64 {
	t := uint64(stages)<<40 | uint64(idlers)<<36 | uint64(moved)<<28 | uint64(mostTeeth-least)<<16 | uint64(pos)
	if near {
		t |= 1 << 35
	}
	return t
}

func (a rank) compare(b rank) int {
	if c := cmp.Compare(a.err, b.err); c != 0 {
		return c
	}
	return cmp.Compare(a.tie, b.tie)
}

// candidate is a choice of wheels and gearbox position whose lead is near enough.
// Its rank is the best that any arrangement of the wheels could reach.
type candidate struct {
	rank
	drivers, driven int32
	pos             int16
	stages          int8
	near            bool // good enough but not exact
}

func (a candidate) compare(b candidate) int {
	return cmp.Or(a.rank.compare(b.rank), cmp.Compare(a.drivers, b.drivers), cmp.Compare(a.driven, b.driven))
}

// found is an arrangement that fits.
type found struct {
	rank
	chain chain
	pos   int
}

func (a found) compare(b found) int {
	return cmp.Or(a.rank.compare(b.rank), compareChains(&a.chain, &b.chain))
}

func compareChains(a, b *chain) int {
	return cmp.Or(slices.Compare(a.out[:], b.out[:]), slices.Compare(a.in[:], b.in[:]))
}

// target is the ratio that the change gears must make in one gearbox position:
// drivers x num = driven x den would be exact.
type target struct {
	den, num int64
	pos      int
	meshes   int // 0 even wanted, 1 odd wanted, 2 either
}

// search is one search for trains.
type search struct {
	stock   stock
	yard    yard
	sets    [4][]set // by number of wheels
	targets []target
	present chain
	mounted uint64 // sizes of the wheels mounted now
	keep    int
	stages  int
	good    float64
	tried   int // arrangements laid out so far
	seen    int // pairs of sets looked at
	best    []found
	refused map[Reason]int
}

// Trains finds the best trains for a lead, in millimetres a turn: exact ones
// first, then by lead error. Drivers and driven wheels are what counts for the
// ratio, so of all arrangements and idlers of the same wheels only the best that
// fits is returned. When there is none the error is a *NoTrain that says why.
//
// The choices of one, two or three driving wheels are sorted by their product, and
// so are those of driven wheels. For each gearbox position the pairs whose ratio
// lies within a narrow band of the wanted one are found by walking both lists side
// by side; the band starts at nothing and widens fourfold until enough trains are
// found. Only then, in order of rank, are the wheels laid out and tried for reach
// and clearance. Simple trains are tried with up to two idlers, two-stage ones with
// up to one, three-stage ones with none.
func Trains(l *Lathe, lead unit.Ratio, opt Options) ([]Train, error) {
	opt = opt.defaults()
	if lead.Length() < leastLead || lead.Length() > mostLead {
		return nil, &unit.InputError{Field: "lead", Value: lead.String() + " mm", Reason: "is not the lead of a thread", Hint: "from 0.05 mm to 200 mm a turn"}
	}
	positions, err := l.positions(opt.Levers)
	if err != nil {
		return nil, err
	}
	if l.Leadscrew.Electronic {
		return l.electronic(lead, opt)
	}
	if l.Gears == nil {
		return l.gearboxOnly(lead, positions, opt)
	}
	s, err := newSearch(l, lead, positions, opt)
	if err != nil {
		return nil, err
	}
	s.run(opt.MaxPPM * 1e-6)
	if len(s.best) == 0 {
		return nil, l.noTrain(lead, opt, s)
	}
	trains := make([]Train, len(s.best))
	for i, b := range s.best {
		if trains[i], err = l.train(b.chain, positions[b.pos], opt.Hand); err != nil {
			return nil, err
		}
		trains[i].measure(lead)
		trains[i].Moved = moved(&b.chain, &s.present)
	}
	return trains, nil
}

// widestPPM is a lead that is hardly the one asked for any more.
const widestPPM = 0.9e6

func (o Options) defaults() Options {
	if o.MaxStages < 1 || o.MaxStages > 3 {
		o.MaxStages = 3
	}
	if !(o.MaxPPM > 0) {
		o.MaxPPM = 5000
	}
	o.MaxPPM = min(o.MaxPPM, widestPPM)
	if !(o.GoodPPM > 0) {
		o.GoodPPM = 0
	}
	if o.Keep < 1 {
		o.Keep = 50
	}
	return o
}

// positions returns the gearbox positions to be tried; a lathe without a gearbox
// has one that is nil.
func (l *Lathe) positions(levers string) ([]*Position, error) {
	if levers != "" {
		p, err := l.position(levers)
		return []*Position{p}, err
	}
	if l.Gearbox == nil {
		return []*Position{nil}, nil
	}
	ps := make([]*Position, len(l.Gearbox.Positions))
	for i := range ps {
		ps[i] = &l.Gearbox.Positions[i]
	}
	return ps, nil
}

// measure fills in how far a train's lead is from the one wanted.
func (t *Train) measure(lead unit.Ratio) {
	t.Exact = t.Lead == lead
	if q, err := t.Lead.Quo(lead); err == nil {
		if d, err := q.Sub(unit.Whole(1)); err == nil {
			t.LeadErrorPPM = d.Float() * 1e6
			return
		}
	}
	t.LeadErrorPPM = (t.Lead.Float()/lead.Float() - 1) * 1e6
}

func newSearch(l *Lathe, lead unit.Ratio, positions []*Position, opt Options) (*search, error) {
	s := &search{
		stock: stockOf(l.Gears.Owned), yard: yardOf(l), keep: opt.Keep, stages: opt.MaxStages,
		good:    opt.GoodPPM * 1e-6,
		refused: map[Reason]int{},
	}
	s.stages = min(s.stages, 1+s.yard.studs, 1+s.yard.bushes)
	if s.yard.planes < 2 {
		s.stages = 1
	}
	for n := 1; n <= s.stages; n++ {
		s.sets[n] = s.stock.sets(n)
	}
	if l.Present != nil && len(l.Present.Wheels) > 0 {
		c, err := chainOf(l.Present.Wheels)
		if err != nil {
			return nil, err
		}
		s.present, s.mounted = c, s.stock.mask(&c)
	}
	base, err := l.screwPerSpindle(unit.Whole(1))
	if err != nil {
		return nil, err
	}
	for i, p := range positions {
		per := base
		if p != nil {
			if per, err = base.Mul(p.Ratio); err != nil {
				continue
			}
		}
		want, err := lead.Quo(per)
		// 400^3 x 1.4e11 still fits in 63 bits.
		if err != nil || want.Num() > 140e9 || want.Den() > 140e9 {
			continue
		}
		s.targets = append(s.targets, target{want.Den(), want.Num(), i, l.meshesFor(opt.Hand, p)})
	}
	if len(s.targets) == 0 {
		return nil, &unit.InputError{Field: "lead", Value: lead.String() + " mm", Reason: "has too many digits to be kept exact through the gearing", Hint: "give it with at most six decimal places"}
	}
	return s, nil
}

// meshesFor tells whether an even (0) or odd (1) number of meshes cuts the hand,
// or either (2).
func (l *Lathe) meshesFor(h Hand, p *Position) int {
	switch {
	case l.Drive.Tumbler != nil:
		return 2
	case l.plainHand(0, p) == h:
		return 0
	}
	return 1
}

// run widens the band until enough trains are found or it reaches most.
func (s *search) run(most float64) {
	for n := 1; n <= s.stages && len(s.best) < s.keep; n++ {
		s.round(n, n, -1, min(s.good, most)) // good: more stages only when fewer do not suffice
	}
	for low, high := s.good, max(1e-7, 2*s.good); len(s.best) < s.keep && low < most && s.tried < mostTried && s.seen < mostSeen; low, high = high, high*4 {
		s.round(1, s.stages, low, min(high, most))
	}
}

// mostTried and mostSeen bound the time of a search in which hardly anything can be
// mounted, in arrangements laid out and in pairs of sets looked at. Real lathes stay
// far below them.
const mostTried, mostSeen = 3_000_000, 100_000_000

// mostHeld bounds the memory of one round; a round with more candidates is
// worked through in portions.
const mostHeld = 1 << 18

// round tries the candidates with an error above low and up to high, best first.
func (s *search) round(fewest, stages int, low, high float64) {
	var after *candidate
	for {
		h := heldBack{after: after}
		for n := fewest; n <= stages; n++ {
			for i := range s.targets {
				s.gather(n, &s.targets[i], low, high, &h)
			}
		}
		slices.SortFunc(h.list, candidate.compare)
		for i := range h.list {
			c := &h.list[i]
			if s.tried > mostTried || len(s.best) == s.keep && c.rank.compare(s.best[s.keep-1].rank) > 0 {
				return
			}
			s.arrange(c)
		}
		if !h.cut || len(h.list) == 0 {
			return
		}
		last := h.list[len(h.list)-1]
		after = &last
	}
}

// heldBack holds the best candidates of a round, at most about mostHeld.
type heldBack struct {
	list  []candidate
	after *candidate // only those that rank below it
	limit *candidate // only those that rank above it
	cut   bool       // some were dropped
}

func (h *heldBack) add(c candidate) {
	if h.after != nil && c.compare(*h.after) <= 0 || h.limit != nil && c.compare(*h.limit) >= 0 {
		return
	}
	h.list = append(h.list, c)
	if len(h.list) < 2*mostHeld {
		return
	}
	slices.SortFunc(h.list, candidate.compare)
	limit := h.list[mostHeld]
	h.list, h.limit, h.cut = h.list[:mostHeld], &limit, true
}

// gather walks the two sorted lists of one stage number for one gearbox position.
func (s *search) gather(stages int, t *target, low, high float64, h *heldBack) {
	all := s.sets[stages]
	want := float64(t.num) / float64(t.den)
	from, slack := 0, 1e-12
	fewest := s.fewestIdlers(stages, t)
	for j := range all {
		if s.seen > mostSeen {
			return
		}
		q := &all[j]
		least := float64(q.product) * want * (1 - high - slack)
		most := float64(q.product) * want * (1 + high + slack)
		for from < len(all) && float64(all[from].product) < least {
			from++
		}
		right := q.product * t.num
		i := from
		for ; i < len(all) && float64(all[i].product) <= most; i++ {
			p := &all[i]
			if !s.stock.together(p, q, stages) {
				continue
			}
			off := p.product*t.den - right
			err := math.Abs(float64(off)) / float64(right)
			if !(err > low && err <= high) {
				continue
			}
			moved := bits.OnesCount64((p.mask | q.mask) &^ s.mounted)
			if s.mounted == 0 {
				moved = 0
			}
			c := candidate{drivers: int32(i), driven: int32(j), pos: int16(t.pos), stages: int8(stages)}
			if err > s.good {
				c.err = err
			} else {
				c.near = err > 0
			}
			c.tie = tieOf(stages, fewest, c.near, moved, min(p.least, q.least), t.pos)
			h.add(c)
		}
		s.seen += i - from
	}
}

// electronic returns the one train of a leadscrew that is driven in step.
func (l *Lathe) electronic(lead unit.Ratio, opt Options) ([]Train, error) {
	return []Train{{Ratio: unit.Whole(1), Lead: lead, Exact: true, Hand: opt.Hand}}, nil
}

// gearboxOnly searches a lathe whose train is fixed.
func (l *Lathe) gearboxOnly(lead unit.Ratio, positions []*Position, opt Options) ([]Train, error) {
	var all []Train
	nearest := math.Inf(1)
	hand := false
	for _, p := range positions {
		t, err := l.train(chain{}, p, opt.Hand)
		if err != nil {
			hand = true
			continue
		}
		t.measure(lead)
		nearest = min(nearest, math.Abs(t.LeadErrorPPM))
		if math.Abs(t.LeadErrorPPM) <= opt.MaxPPM {
			all = append(all, t)
		}
	}
	slices.SortStableFunc(all, func(a, b Train) int {
		return cmp.Compare(math.Abs(a.LeadErrorPPM), math.Abs(b.LeadErrorPPM))
	})
	switch {
	case len(all) > 0:
		return all[:min(len(all), opt.Keep)], nil
	case math.IsInf(nearest, 1) && hand:
		return nil, &NoTrain{WrongHand, "no position cuts " + opt.Hand.String() + " hand, and there is no tumbler reverse"}
	}
	return nil, &NoTrain{NoRatio, "the nearest gearbox position is " + offBy(nearest)}
}

// noTrain finds out why a search came back empty: whether no wheels come near the
// lead, or wheels do but cannot be mounted, and then what stopped most of them.
func (l *Lathe) noTrain(lead unit.Ratio, opt Options, s *search) error {
	if l.Drive.Tumbler == nil && !opt.otherHand {
		other := opt
		other.Hand, other.Keep, other.otherHand = 1-opt.Hand, 1, true
		if ts, err := Trains(l, lead, other); err == nil {
			return &NoTrain{WrongHand, fmt.Sprintf("%s cuts this lead %s hand; for %s hand there is no tumbler reverse, and no train with one idler more or less can be mounted", ts[0], ts[0].Hand, opt.Hand)}
		}
	}
	if len(s.refused) > 0 {
		worst, n := Reason(""), 0
		for r, k := range s.refused {
			if k > n || k == n && r < worst {
				worst, n = r, k
			}
		}
		return &NoTrain{worst, fmt.Sprintf("there are wheels within %.0f parts in a million of this lead, but none of their arrangements can be mounted; this stopped most of the %d tried", opt.MaxPPM, total(s.refused))}
	}
	if opt.MaxPPM >= widestPPM {
		return &NoTrain{NoRatio, "no train of the wheels owned can be mounted for this hand"}
	}
	wide := opt
	wide.MaxPPM, wide.Keep = widestPPM, 1
	ts, err := Trains(l, lead, wide)
	if err != nil {
		return err
	}
	return &NoTrain{NoRatio, fmt.Sprintf("the nearest is %s: %s a turn instead of %s, %s", ts[0], turnOf(ts[0].Lead), turnOf(lead), offBy(ts[0].LeadErrorPPM))}
}

func turnOf(lead unit.Ratio) string { return fmt.Sprintf("%.4g mm", lead.Float()) }

// offBy says a lead error: in parts in a million while it is small, else in percent.
func offBy(ppm float64) string {
	if math.Abs(ppm) < 10000 {
		return fmt.Sprintf("off by %+.0f parts in a million", ppm)
	}
	return fmt.Sprintf("off by %+.1f %%", ppm/1e4)
}

func total(m map[Reason]int) int {
	n := 0
	for _, k := range m {
		n += k
	}
	return n
}
