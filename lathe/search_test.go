package lathe

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"thrum/unit"
)

// randomLathe makes a lathe of eight wheels with a banjo that some trains fit.
func randomLathe(r *rand.Rand) *Lathe {
	l := &Lathe{
		Leadscrew: Leadscrew{Lead: []unit.Ratio{unit.MustRatio(127, 40), unit.Whole(4), unit.Whole(6), unit.MustRatio(127, 30)}[r.IntN(4)], Starts: 1},
		Drive:     Drive{StudRatio: []unit.Ratio{unit.Whole(1), unit.MustRatio(1, 2)}[r.IntN(2)], Cuts: Hand(r.IntN(2))},
		Gears:     &Gears{Module: []unit.Length{1, 1.25, 1.5}[r.IntN(3)]},
	}
	sizes := []int{20, 24, 25, 28, 30, 32, 35, 36, 40, 42, 44, 45, 48, 50, 52, 54, 55, 56, 60, 63, 64, 65, 70, 72, 75, 80, 100, 120, 127}
	for range 8 {
		l.Gears.Owned = append(l.Gears.Owned, sizes[r.IntN(len(sizes))])
	}
	m := l.Gears.Module
	l.Banjo = &Banjo{
		Centres: m * unit.Length(70+r.IntN(60)), SlotMin: m * unit.Length(20+r.IntN(20)), SlotMax: m * unit.Length(90+r.IntN(80)),
		SwingMin: unit.Angle(r.IntN(15)) * unit.Degree, SwingMax: unit.Angle(90+r.IntN(90)) * unit.Degree, Tilt: unit.Angle(r.IntN(180)) * unit.Degree,
		Studs: 1 + r.IntN(3), Bushes: r.IntN(4), Planes: 1 + r.IntN(3), StudDia: 10 + unit.Length(r.IntN(8)), ScrewDia: 14, BushDia: 12 + unit.Length(r.IntN(4)),
	}
	if r.IntN(4) == 0 {
		l.Banjo.StudMost, l.Banjo.ScrewMost = 60, 100
	}
	if r.IntN(2) == 0 {
		l.Drive.Tumbler = &Tumbler{"A", "B"}
	}
	if r.IntN(2) == 0 {
		l.Gearbox = &Gearbox{}
		for i, q := range []unit.Ratio{unit.Whole(1), unit.MustRatio(1, 2), unit.MustRatio(9, 16)} {
			l.Gearbox.Positions = append(l.Gearbox.Positions, Position{Levers: fmt.Sprint(i), Ratio: q, Reverses: i == 2})
		}
	}
	if r.IntN(3) == 0 {
		g := l.Gears.Owned
		l.Present = &Present{Wheels: []int{g[0], g[1], g[1], g[2]}}
	}
	return l
}

// layout is one way of mounting wheels, found by the exhaustive search of this
// test: the shafts in order, each with its one or two wheels.
type layout struct {
	mesh   []int // driver, driven, ...
	idlers int
}

// everyLayout mounts every ordered choice of single wheels, with idlers, and keeps
// what fits. It shares nothing with the search but the description of the lathe.
func everyLayout(l *Lathe, drivers int) []layout {
	var fit []layout
	own := l.Gears.Owned
	idlersAllowed := []int{0, 2, 1, 0}[drivers]
	seen := map[teeth]bool{}
	var pick func(used int, mesh []int, idlers int)
	pick = func(used int, mesh []int, idlers int) {
		if len(mesh)%2 == 0 && len(mesh)/2 == drivers+idlers {
			if key := keyOf(mesh); !seen[key] {
				seen[key] = true
				if mounts(l, mesh) {
					fit = append(fit, layout{slices.Clone(mesh), idlers})
				}
			}
			return
		}
		for i, z := range own {
			if used&(1<<i) != 0 {
				continue
			}
			u := used | 1<<i
			if len(mesh)%2 == 0 { // a driver
				pick(u, append(mesh, z), idlers)
				continue
			}
			pick(u, append(mesh, z), idlers) // the driven wheel of a mesh
		}
	}
	pick(0, nil, 0)
	// Put idlers in: one wheel that is driven and drives on.
	for m := 1; m <= idlersAllowed; m++ {
		for _, mesh := range ordered(own, 2*drivers+m) {
			for _, with := range idled(mesh, drivers, m) {
				if key := keyOf(with); !seen[key] {
					seen[key] = true
					if mounts(l, with) {
						fit = append(fit, layout{with, m})
					}
				}
			}
		}
	}
	return fit
}

// teeth is a list of tooth counts as a key.
type teeth [12]uint8

func keyOf(lists ...[]int) (k teeth) {
	n := 0
	for _, list := range lists {
		for _, z := range list {
			k[n] = uint8(z)
			n++
		}
	}
	return k
}

// ordered lists the distinct ordered choices of n wheels.
func ordered(own []int, n int) [][]int {
	var all [][]int
	seen := map[teeth]bool{}
	var pick func(used int, cur []int)
	pick = func(used int, cur []int) {
		if len(cur) == n {
			if k := keyOf(cur); !seen[k] {
				seen[k] = true
				all = append(all, slices.Clone(cur))
			}
			return
		}
		for i, z := range own {
			if used&(1<<i) == 0 {
				pick(used|1<<i, append(cur, z))
			}
		}
	}
	pick(0, nil)
	return all
}

// idled takes the last m wheels as idlers and puts them into the meshes of the rest.
func idled(ws []int, drivers, m int) [][]int {
	base, extra := ws[:2*drivers], ws[2*drivers:]
	var all [][]int
	for a := range drivers {
		if m == 1 {
			all = append(all, slices.Insert(slices.Clone(base), 2*a+1, extra[0], extra[0]))
			continue
		}
		for b := a; b < drivers; b++ {
			with := slices.Insert(slices.Clone(base), 2*b+1, extra[1], extra[1])
			all = append(all, slices.Insert(with, 2*a+1, extra[0], extra[0]))
		}
	}
	return all
}

type disc struct {
	x, y, r float64
	shaft   int
	plane   int
	driven  bool // by the shaft before
	drives  bool // the shaft after
}

// mounts finds the places of the shafts by elementary geometry, step by step, and
// tries all discs against each other.
func mounts(l *Lathe, mesh []int) bool {
	b, m := l.Banjo, l.Gears.Module.MM()
	n := len(mesh) / 2
	pairs := 0
	for k := 1; k < n; k++ {
		if mesh[2*k-1] != mesh[2*k] {
			pairs++
		}
	}
	if n-1 > b.Studs || pairs > b.Bushes || pairs > 0 && b.Planes < 2 {
		return false
	}
	if b.StudMost > 0 && mesh[0] > b.StudMost || b.ScrewMost > 0 && mesh[len(mesh)-1] > b.ScrewMost {
		return false
	}
	pitch := func(z int) float64 { return m * float64(z) / 2 }
	d := b.Centres.MM()
	first := pitch(mesh[0]) + pitch(mesh[1])
	along := make([]float64, n+1) // distance from the screw
	for k := n - 1; k >= 1; k-- {
		along[k] = along[k+1] + pitch(mesh[2*k]) + pitch(mesh[2*k+1])
		if along[k] < b.SlotMin.MM()-edge || along[k] > b.SlotMax.MM()+edge {
			return false
		}
	}
	angle := 0.0
	if n == 1 {
		if first > d+edge || first < d-0.1*m-edge {
			return false
		}
	} else {
		// bisect for the swing at which the first mesh closes
		gap := func(a float64) float64 { return math.Hypot(d-along[1]*math.Cos(a), along[1]*math.Sin(a)) - first }
		lo, hi := 0.0, math.Pi
		if gap(lo) > edge || gap(hi) < -edge {
			return false
		}
		for range 60 {
			if mid := (lo + hi) / 2; gap(mid) > 0 {
				hi = mid
			} else {
				lo = mid
			}
		}
		angle = lo
		if lo < b.SwingMin.Rad()-edge || lo > b.SwingMax.Rad()+edge {
			return false
		}
	}
	var wheels, shafts []disc
	plane := 0
	for k := 0; k <= n; k++ {
		x, y := along[k]*math.Cos(angle), along[k]*math.Sin(angle)
		r := b.BushDia.MM() / 2
		switch k {
		case 0:
			x, y, r = d, 0, b.StudDia.MM()/2
		case n:
			x, y, r = 0, 0, b.ScrewDia.MM()/2
		}
		shafts = append(shafts, disc{x: x, y: y, r: r, shaft: k})
		tip := func(z int) float64 { return pitch(z) + m }
		if k > 0 {
			idler := k < n && mesh[2*k-1] == mesh[2*k]
			wheels = append(wheels, disc{x, y, tip(mesh[2*k-1]), k, plane, true, idler})
		}
		if k < n && (k == 0 || mesh[2*k-1] != mesh[2*k]) {
			if k > 0 {
				if plane++; b.Planes == 2 {
					plane %= 2
				}
			}
			wheels = append(wheels, disc{x, y, tip(mesh[2*k]), k, plane, false, true})
		}
	}
	return apart(wheels, shafts)
}

// apart checks every disc against every other but its mate. Two pairs that would
// mesh at both ends at once are not mates: the train would be locked.
func apart(wheels, shafts []disc) bool {
	for i, a := range wheels {
		for _, s := range shafts {
			if s.shaft != a.shaft && math.Hypot(a.x-s.x, a.y-s.y) < a.r+s.r+1-edge {
				return false
			}
		}
		for _, b := range wheels[:i] {
			d := math.Hypot(a.x-b.x, a.y-b.y)
			meshing := a.shaft-b.shaft == 1 && a.driven && b.drives
			if a.shaft != b.shaft && a.plane == b.plane && !meshing && d < a.r+b.r+1-edge {
				return false
			}
		}
	}
	return true
}

// exhaustive ranks every layout for every gearbox position and keeps the best of
// each choice of drivers, driven wheels and position.
func exhaustive(l *Lathe, lead unit.Ratio, hand Hand, keep int, most, good float64) []string {
	type entry struct {
		err  unit.Ratio
		tie  [6]int
		mesh []int
		pos  int
	}
	best := map[teeth]entry{}
	better := func(a, b entry) int {
		return cmp.Or(a.err.Cmp(b.err), slices.Compare(a.tie[:], b.tie[:]), slices.Compare(evens(a.mesh), evens(b.mesh)), slices.Compare(odds(a.mesh), odds(b.mesh)))
	}
	var present []int
	if l.Present != nil {
		present = l.Present.Wheels
	}
	ps, _ := l.positions("")
	for stages := 1; stages <= 3; stages++ {
		for _, lay := range everyLayout(l, stages) {
			up, down := drivers(lay.mesh)
			if stages > 1 && slices.ContainsFunc(up, func(z int) bool { return slices.Contains(down, z) }) {
				continue
			}
			for pi, p := range ps {
				cut := unit.MustRatio(product(up), product(down))
				cut, _ = cut.Mul(l.Leadscrew.Lead)
				cut, _ = cut.Mul(l.Drive.StudRatio)
				odd := (stages + lay.idlers) % 2
				if p != nil {
					cut, _ = cut.Mul(p.Ratio)
					if p.Reverses {
						odd ^= 1
					}
				}
				if l.Drive.Tumbler == nil && (int(l.Drive.Cuts)+odd)%2 != int(hand) {
					continue
				}
				q, err := cut.Quo(lead)
				if err != nil {
					continue
				}
				off, _ := q.Sub(unit.Whole(1))
				if off.Sign() < 0 {
					off = off.Neg()
				}
				if off.Float() > most*1e-6 {
					continue
				}
				near := 0
				if off.Float() <= good*1e-6 && off.Sign() > 0 {
					off, near = unit.Ratio{}, 1
				}
				e := entry{off, [6]int{stages, lay.idlers, near, toMove(lay.mesh, present), -min(slices.Min(up), slices.Min(down)), pi}, lay.mesh, pi}
				key := keyOf(up, down, []int{pi + 1})
				if old, ok := best[key]; !ok || better(e, old) < 0 {
					best[key] = e
				}
			}
		}
	}
	var all []entry
	for _, e := range best {
		all = append(all, e)
	}
	slices.SortFunc(all, better)
	var words []string
	for _, e := range all[:min(keep, len(all))] {
		words = append(words, fmt.Sprint(e.mesh, e.pos))
	}
	return words
}

func evens(ws []int) (e []int) {
	for i := 0; i < len(ws); i += 2 {
		e = append(e, ws[i])
	}
	return append(e, 0)
}

func odds(ws []int) (o []int) {
	for i := 1; i < len(ws); i += 2 {
		o = append(o, ws[i])
	}
	return append(o, 0)
}

// drivers splits a train into its driving and driven wheels without idlers, each
// in rising order.
func drivers(mesh []int) (up, down []int) {
	ws := slices.Clone(mesh)
	for k := 1; k+1 < len(ws); {
		if ws[k] == ws[k+1] {
			ws = slices.Delete(ws, k, k+2)
		} else {
			k += 2
		}
	}
	up, down = evens(ws), odds(ws)
	up, down = up[:len(up)-1], down[:len(down)-1]
	slices.Sort(up)
	slices.Sort(down)
	return up, down
}

func product(ws []int) int64 {
	p := int64(1)
	for _, z := range ws {
		p *= int64(z)
	}
	return p
}

// toMove counts wheels that are not where the present set-up has them.
func toMove(mesh, present []int) int {
	if len(present) == 0 {
		return 0
	}
	at := func(ws []int) map[string]int {
		m := map[string]int{"stud": ws[0], "screw": ws[len(ws)-1]}
		for k := 1; k < len(ws)/2; k++ {
			if ws[2*k-1] == ws[2*k] {
				m[fmt.Sprint("idler ", k)] = ws[2*k]
			} else {
				m[fmt.Sprint("driven ", k)], m[fmt.Sprint("driving ", k)] = ws[2*k-1], ws[2*k]
			}
		}
		return m
	}
	old, n := at(present), 0
	for place, z := range at(mesh) {
		if old[place] != z {
			n++
		}
	}
	return n
}

// The search returns the same fifty trains in the same order as trying everything.
func TestTrainsEqualExhaustiveSearch(t *testing.T) {
	leads := []unit.Ratio{unit.Whole(1), unit.MustRatio(3, 2), unit.MustRatio(5, 4), unit.MustRatio(127, 65), unit.MustRatio(127, 50), unit.MustRatio(254, 115), unit.MustRatio(7, 4)}
	sets, some, found := 200, 0, 0
	if testing.Short() {
		sets = 20
	}
	for seed := range sets {
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		l := randomLathe(r)
		lead, hand := leads[r.IntN(len(leads))], Hand(r.IntN(2))
		most := []float64{5000, 50_000, 300_000}[r.IntN(3)]
		good := []float64{0, 0, 1000, 1e6}[r.IntN(4)]
		want := exhaustive(l, lead, hand, 50, most, good)
		ts, err := Trains(l, lead, Options{Hand: hand, MaxPPM: most, GoodPPM: good})
		var none *NoTrain
		if err != nil && !errors.As(err, &none) {
			t.Fatal(err)
		}
		var got []string
		ps, _ := l.positions("")
		for _, tr := range ts {
			got = append(got, fmt.Sprint(tr.Teeth(), slices.Index(ps, tr.Position)))
			redraw(t, l, tr)
		}
		if !slices.Equal(got, want) {
			t.Fatalf("set %d: owned %v, lead %v:\n got %v\nwant %v", seed, l.Gears.Owned, lead, got, want)
		}
		found += len(want)
		if len(want) > 0 {
			some++
		}
	}
	t.Logf("%d sets of %d had trains, %d trains in all", some, sets, found)
	if some < sets/3 {
		t.Errorf("only %d of %d sets had any train: the trial says little", some, sets)
	}
}

// redraw takes the circles of a train as drawn and checks reach and clearance.
func redraw(t *testing.T, l *Lathe, tr Train) {
	t.Helper()
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-6 }
	if len(tr.Wheels) == 0 {
		t.Fatalf("%v has no wheels", tr)
	}
	last := tr.Wheels[len(tr.Wheels)-1].Shaft
	for i, a := range tr.Wheels {
		for _, s := range tr.Shafts {
			own := near(a.X.MM(), s.X.MM()) && near(a.Y.MM(), s.Y.MM())
			if d := math.Hypot((a.X - s.X).MM(), (a.Y - s.Y).MM()); !own && d < (a.Tip+s.Radius+Clearance).MM()-1e-9 {
				t.Errorf("%v: %d %s is %.3f mm from the shaft of %s", tr, a.Teeth, a.Place, d-(a.Tip+s.Radius).MM(), s.Name)
			}
		}
		for _, b := range tr.Wheels[:i] {
			d := math.Hypot((a.X - b.X).MM(), (a.Y - b.Y).MM())
			if a.Shaft == b.Shaft || a.Plane != b.Plane {
				continue
			}
			mesh := a.Shaft-b.Shaft == 1 && !strings.Contains(a.Place, "driving") && !strings.Contains(b.Place, "driven")
			if !mesh && d < (a.Tip+b.Tip+Clearance).MM()-1e-9 {
				t.Errorf("%v: %d and %d of plane %d are %.3f mm apart", tr, a.Teeth, b.Teeth, a.Plane, d-(a.Tip+b.Tip).MM())
			}
		}
	}
	for k := 1; k <= last; k++ { // each mesh closes
		var closes bool
		for _, a := range tr.Wheels {
			for _, b := range tr.Wheels {
				if a.Shaft == k-1 && b.Shaft == k && a.Plane == b.Plane {
					d := math.Hypot((a.X - b.X).MM(), (a.Y - b.Y).MM())
					closes = closes || near(d, (a.Radius+b.Radius).MM()) || last == 1
				}
			}
		}
		if !closes {
			t.Errorf("%v: shafts %d and %d do not mesh", tr, k-1, k)
		}
	}
	stud := tr.Shafts[0]
	if d := math.Hypot(stud.X.MM(), stud.Y.MM()); !near(d, l.Banjo.Centres.MM()) {
		t.Errorf("%v: stud %.3f mm from the screw", tr, d)
	}
	for _, s := range tr.Shafts[1 : len(tr.Shafts)-1] {
		if d := unit.Length(math.Hypot(s.X.MM(), s.Y.MM())); d < l.Banjo.SlotMin-1e-9 || d > l.Banjo.SlotMax+1e-9 {
			t.Errorf("%v: %s stands %v from the screw, outside the slot", tr, s.Name, d)
		}
	}
}

// Every train that the example lathes offer for every usual thread is redrawn.
func TestExampleTrainsRedrawn(t *testing.T) {
	for _, name := range []string{"inch-bench.toml", "metric-geared.toml"} {
		l := example(t, name)
		for _, hand := range []Hand{Right, Left} {
			for _, f := range usualPitch {
				lead, _ := unit.ParseRatio(f)
				ts, err := Trains(l, lead, Options{Hand: hand, Keep: 10})
				if err != nil {
					t.Errorf("%s: %s mm: %v", name, f, err)
				}
				for _, tr := range ts {
					redraw(t, l, tr)
					if tr.Hand != hand {
						t.Errorf("%v cuts %v hand", tr, tr.Hand)
					}
				}
			}
		}
	}
}
